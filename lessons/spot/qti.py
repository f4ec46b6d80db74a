"""Items as a package of QTI 3.0 (1EdTech, 2022): a manifest, a file an item, and their pictures, in one zip.

A kind becomes the interaction that asks for the same: a choice, an order, typed words, a place on a picture. What needs
the body under the hand (a portal that is docked) has no form there and is left out, with a reason. Who draws pictures
is given: lessons draw nothing. The same items give the same bytes.

Namespaces, names of elements and attributes, and their order follow the schema and the implementation guide of QTI 3.0
(final release, 1 May 2022); that only a select-point interaction hides its regions is said there, too.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from lessons.prose import prose
from lessons.spot.item import (
    OBJECTIVE_WORDS,
    QUARTERS,
    Chosen,
    Docked,
    Item,
    Named,
    Ordered,
    Pointed,
    Quartered,
    Rooted,
)
from lessons.spot.qtizip import SCHEMAS, XSI, text_in, written, zipped
from lessons.spot.sitting import offered
from meshes.errors import FurcalError, shown
from meshes.structures import SEGMENTS

ASI = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0"
TEMPLATES = "https://purl.imsglobal.org/spec/qti/v3p0/rptemplates"
LANGUAGE = "en"
#: Options of a choice and words of an order are written in the order that this seed gives.
SEED = 1
#: A letter or _ first, then letters, digits, _, - and full stops: what an id of ours always is.
NCNAME = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*")
#: What XML 1.0 has no way to write.
NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
#: Kinds that ask about what is seen.
NEEDS_PICTURE = ("name", "point", "wire", "differs")
#: Segments that are offered where roots are asked for.
ROOTS = SEGMENTS[SEGMENTS.index("T11") : SEGMENTS.index("S3") + 1]


@dataclass(frozen=True)
class Region:
    """A region of a picture.

    shape  : circle (x, y, radius), rect (left, top, right, bottom) or poly (x, y, x, y, ...)
    coords : whole pixels from the upper left corner
    label  : a letter that stands beside it on the picture
    """

    shape: str
    coords: tuple[int, ...]
    label: str = ""

    def __post_init__(self) -> None:
        count = len(self.coords)
        legal = {"circle": count == 3, "rect": count == 4, "poly": count >= 6 and count % 2 == 0}
        if not legal.get(self.shape, False) or min(self.coords) < 0:
            raise ValueError(f"no region: {self.shape} {self.coords}")

    @property
    def middle(self) -> tuple[int, int]:
        """A point in the middle of it."""
        if self.shape == "circle":
            return self.coords[0], self.coords[1]
        x, y = self.coords[::2], self.coords[1::2]
        return sum(x) // len(x), sum(y) // len(y)


@dataclass(frozen=True)
class Drawn:
    """The picture of an item.

    png    : as a file
    target : for `point` alone: where what is pointed to lies
    others : where else can be chosen; without them the target is hidden and any place can be clicked
    """

    png: bytes
    width: int
    height: int
    target: Region | None = None
    others: tuple[Region, ...] = ()


@dataclass(frozen=True)
class Packed:
    """A package: its bytes, the ids of the items in it, and (id, why) of those that were left out."""

    data: bytes
    items: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]


Draw = Callable[[Item], Drawn | None]
Names = Callable[[Item], Sequence[str]]


def packed(items: Iterable[Item], draw: Draw | None = None, names: Names | None = None) -> Packed:
    """Items as a package.

    draw  : draws an item's picture; None where it has none. A FurcalError of it leaves the item out, with what it says
    names : what a marked structure may be called, the usual name first; by default `accepted_names`
    Raises FurcalError for an id that comes twice, for signs that XML cannot write, and when nothing is left.
    """
    files: dict[str, bytes] = {}
    resources: list[tuple[str, list[str]]] = []
    left_out: list[tuple[str, str]] = []
    for item in items:
        _check(item, [name for name, _ in (*resources, *left_out)])
        try:
            drawn = _drawn(item, draw)
            tree = _item(item, drawn, names or accepted_names)
        except _NoFormError as error:
            left_out.append((item.id, str(error)))
            continue
        files[f"items/{item.id}.xml"] = written(tree)
        if drawn is not None:
            files[f"pictures/{item.id}.png"] = drawn.png
        resources.append(
            (item.id, [name for name in (f"items/{item.id}.xml", f"pictures/{item.id}.png") if name in files])
        )
    if not resources:
        why = f"; {left_out[0][0]}: {left_out[0][1]}" if left_out else ""
        raise FurcalError(f"qti: none of the items has a form in QTI{why}; choose others.")
    return Packed(zipped(resources, files),
                  tuple(name for name, _ in resources), tuple(left_out))  # fmt: skip


class _NoFormError(Exception):
    """Why an item has no form in QTI."""


def _drawn(item: Item, draw: Draw | None) -> Drawn | None:
    if draw is None or isinstance(item.answer, Docked):
        return None
    try:
        return draw(item)
    except FurcalError as error:
        raise _NoFormError(str(error)) from None


def _check(item: Item, before: Sequence[str]) -> None:
    where = item.where or "qti"
    if not NCNAME.fullmatch(item.id):
        raise FurcalError(f"{where}: {shown(item.id)} is no id for QTI; begin it with a letter, without spaces.")
    if item.id in before:
        raise FurcalError(f"{where}: {item.id} comes twice; give every item an id of its own.")
    words = (item.vignette, item.ask, item.explain, *offered(item, SEED), *item.own.values())
    for text in words:
        found = NO_XML.search(text)
        if found:
            raise FurcalError(
                f"{where}, {item.id}: holds the sign {shown(found[0])}, which XML cannot write; take it out."
            )


# --- one item


def _item(item: Item, drawn: Drawn | None, names: Names) -> ET.Element:
    if drawn is None and item.kind in NEEDS_PICTURE:
        raise _NoFormError("it asks about what is seen, and there is no picture of it")
    root = ET.Element("qti-assessment-item", {
        "xmlns": ASI, "xmlns:xsi": XSI, "xsi:schemaLocation": f"{ASI} {SCHEMAS}/imsqti_asiv3p0_v1p0.xsd",
        "identifier": item.id, "title": f"{OBJECTIVE_WORDS[item.objective]} ({item.kind})", "xml:lang": LANGUAGE,
        "adaptive": "false", "time-dependent": "false", "tool-name": "furcal",
    })  # fmt: skip
    response = ET.SubElement(root, "qti-response-declaration", identifier="RESPONSE")
    for name, value in (("SCORE", "0"), ("MAXSCORE", "1")):
        outcome = ET.SubElement(
            root, "qti-outcome-declaration", {"identifier": name, "cardinality": "single", "base-type": "float"}
        )
        text_in(ET.SubElement(outcome, "qti-default-value"), "qti-value", value)
    body = ET.SubElement(root, "qti-item-body")
    if item.vignette:
        text_in(body, "p", item.vignette)
    if drawn is not None and not isinstance(item.answer, Pointed):
        _picture(ET.SubElement(body, "div"), item, drawn)
    template = _interaction(item, drawn, names, response, body)
    _rubric(body, item)
    ET.SubElement(root, "qti-response-processing", template=f"{TEMPLATES}/{template}.xml")
    return root


def _interaction(
    item: Item, drawn: Drawn | None, names: Names, response: ET.Element, body: ET.Element
) -> str:  # fmt: skip
    """What is asked for and what is right; the template that scores it."""
    match item.answer:
        case Chosen(right, _):
            words = offered(item, SEED)
            _declared(response, "single", "identifier", [_id(words.index(right))])
            _choice(body, "qti-choice-interaction", item.ask, words, shuffle="true", most="1")
            return "match_correct"
        case Ordered(right_order):
            words = offered(item, SEED)
            _declared(response, "ordered", "identifier", [_id(words.index(word)) for word in right_order])
            _choice(body, "qti-order-interaction", item.ask, words, shuffle="false")
            return "match_correct"
        case Rooted(roots):
            if not set(roots) <= set(ROOTS):
                raise _NoFormError(f"its roots are not all of {ROOTS[0]} to {ROOTS[-1]}")
            _declared(response, "multiple", "identifier", [_id(ROOTS.index(root)) for root in roots])
            _choice(body, "qti-choice-interaction", item.ask, ROOTS, shuffle="false", most="0")
            return "match_correct"
        case Quartered(_, _, quarters):
            keys = [_id(QUARTERS.index(quarter)) for quarter in quarters]
            _declared(response, "single", "identifier", keys[:1])
            _mapping(response, keys)
            words = tuple(f"Quarter {quarter}" for quarter in QUARTERS)
            _choice(body, "qti-choice-interaction", item.ask, words, shuffle="false", most="1")
            return "map_response"
        case Named():
            return _typed(item, names, response, body)
        case Pointed():
            return _pointed(item, drawn, response, body)
        case Docked():
            raise _NoFormError("a portal cannot be docked on paper or on a picture")


def _declared(response: ET.Element, cardinality: str, base: str, right: Sequence[str]) -> None:
    response.set("cardinality", cardinality)
    response.set("base-type", base)
    correct = ET.SubElement(response, "qti-correct-response")
    for value in right:
        text_in(correct, "qti-value", value)


def _mapping(response: ET.Element, keys: Iterable[str]) -> None:
    mapping = ET.SubElement(response, "qti-mapping", {"lower-bound": "0", "upper-bound": "1", "default-value": "0"})
    for key in keys:
        ET.SubElement(
            mapping, "qti-map-entry", {"map-key": key, "mapped-value": "1", "case-sensitive": "false"}
        )  # fmt: skip


def _choice(body: ET.Element, name: str, ask: str, words: Sequence[str], shuffle: str, most: str = "") -> None:
    asked = ET.SubElement(body, name, {"response-identifier": "RESPONSE", "shuffle": shuffle})
    if most:
        asked.set("max-choices", most)
    text_in(asked, "qti-prompt", ask)
    for number, word in enumerate(words):
        text_in(asked, "qti-simple-choice", word).set("identifier", _id(number))


def _typed(item: Item, names: Names, response: ET.Element, body: ET.Element) -> str:
    unique: dict[str, str] = {}
    for name in names(item):
        unique.setdefault(name.casefold(), name)
    accepted = list(unique.values())
    if not accepted:
        raise _NoFormError("what is marked has no name")
    _declared(response, "single", "string", accepted[:1])
    _mapping(response, accepted)
    text_in(body, "p", item.ask)
    ET.SubElement(
        ET.SubElement(body, "p"),
        "qti-text-entry-interaction",
        {"response-identifier": "RESPONSE", "expected-length": str(max(map(len, accepted)))},
    )
    return "map_response"


def _pointed(item: Item, drawn: Drawn | None, response: ET.Element, body: ET.Element) -> str:
    if drawn is None or drawn.target is None:
        raise _NoFormError("its picture does not tell where what is asked for lies")
    regions = sorted((drawn.target, *drawn.others), key=lambda r: (r.label, r.middle))
    for region in regions:
        x, y = region.middle
        if x >= drawn.width or y >= drawn.height:
            raise _NoFormError("what is asked for lies outside its picture")
    name = "qti-hotspot-interaction" if drawn.others else "qti-select-point-interaction"
    asked = ET.SubElement(body, name, {"response-identifier": "RESPONSE", "max-choices": "1"})
    text_in(asked, "qti-prompt", item.ask)
    _picture(asked, item, drawn)
    if not drawn.others:
        _declared(response, "single", "point", ["{} {}".format(*drawn.target.middle)])
        areas = ET.SubElement(
            response, "qti-area-mapping", {"lower-bound": "0", "upper-bound": "1", "default-value": "0"}
        )
        ET.SubElement(areas, "qti-area-map-entry", {**_region(drawn.target), "mapped-value": "1"})
        return "map_response_point"
    _declared(response, "single", "identifier", [_id(regions.index(drawn.target))])
    for number, region in enumerate(regions):
        spot = ET.SubElement(asked, "qti-hotspot-choice", {"identifier": _id(number), **_region(region)})
        if region.label:
            spot.set("hotspot-label", region.label)
    return "match_correct"


def _region(region: Region) -> dict[str, str]:
    return {"shape": region.shape, "coords": ",".join(map(str, region.coords))}


def _picture(parent: ET.Element, item: Item, drawn: Drawn) -> None:
    says = "The body as the question says, with one structure marked" if isinstance(item.answer, Named) else (
        "The body as the question says"
    )  # fmt: skip
    ET.SubElement(parent, "img", src=f"../pictures/{item.id}.png", alt=says, width=str(drawn.width),
                  height=str(drawn.height))  # fmt: skip


def _rubric(body: ET.Element, item: Item) -> None:
    """The explanation with its sources, for whoever marks."""
    told = prose(item.explain, "", item.own)
    rubric = ET.SubElement(body, "qti-rubric-block", use="scoring", view="scorer tutor")
    content = ET.SubElement(rubric, "qti-content-body")
    for paragraph in told.paragraphs:
        text_in(content, "p", paragraph.plain)
    for number, source in enumerate(told.sources, start=1):
        text_in(content, "p", f"[{number}] {source}")


def _id(number: int) -> str:
    return f"choice_{number + 1}"


def accepted_names(item: Item) -> tuple[str, ...]:
    """What the marked structure may be called, the usual name first.

    Each stands with its side and without, with "nerve" and without, and is taken by
    `lessons.spot.names` as well, which also forgives slips and another order of words, as no list can.
    """
    from lessons.spot.names import is_called
    from lessons.spot.wordbook import known_structures, names_of

    if not isinstance(item.answer, Named) or item.answer.mark not in known_structures():
        return ()
    structure = known_structures()[item.answer.mark]
    found: dict[str, None] = {}
    for name in names_of(structure):
        short = re.sub(r"\s*\bnerve\b|\bnervus\b\s*", "", name, flags=re.IGNORECASE).strip()
        for form in (name, short):
            for words in (form, f"{structure.side} {form}") if structure.side else (form,):
                if words and is_called(words, structure.id, known_structures()):
                    found[words] = None
    return tuple(found)
