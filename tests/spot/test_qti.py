"""Items as a package of QTI 3.0: every file keeps to the rules of `tests.spot.qtirules`, and loses no word."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot.bank import bundled_items
from lessons.spot.item import KINDS, Answer, Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.names import named_by
from lessons.spot.qti import NCNAME, Drawn, Packed, Region, accepted_names, packed
from lessons.spot.qtizip import PACKAGE
from lessons.spot.wordbook import known_structures
from lessons.view import Placement
from meshes.errors import FurcalError
from tests.spot.anyitem import items as any_items
from tests.spot.qtirules import bare, check_item, found, words_of

PNG = b"\x89PNG of a test"
TARGET, ELSEWHERE = Region("circle", (40, 30, 6), "B"), Region("circle", (90, 60, 6), "A")


HOSTILE = (
    "<b>&amp;</b>",
    "a \"quoted\" 'word'",
    "ends ]]> here",
    "\u202eright to left\u202c שלום",
    "<!-- --> <?x ?>",
    "é \U0001f9e0",
)


def made(answer: Answer, kind: str = "predict", **fields: str) -> Item:
    item = Item("an_item", kind, "loss", "femoral_left", "What is lost?", answer, "Because of it.")
    return replace(item, **fields)  # type: ignore[arg-type]


def package_of(*items: Item, target: Region | None = TARGET, others: tuple[Region, ...] = (ELSEWHERE,)) -> Packed:
    return packed(items, lambda _: Drawn(PNG, 120, 80, target, others))


def files_of(package: Packed) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(package.data)) as opened:
        assert opened.testzip() is None
        return {name: opened.read(name) for name in opened.namelist()}


def item_of(package: Packed, name: str = "an_item") -> ET.Element:
    return ET.fromstring(files_of(package)[f"items/{name}.xml"])


# --- the package


@pytest.fixture(scope="module")
def bundled() -> Packed:
    """All items that come with furcal, with a picture that tells where things lie."""
    return package_of(*bundled_items())


def test_every_item_of_the_bank_keeps_to_the_rules(bundled: Packed) -> None:
    files = files_of(bundled)
    assert len(bundled.items) > 100
    for name in bundled.items:
        check_item(ET.fromstring(files[f"items/{name}.xml"]))


def test_only_docking_has_no_form_and_that_is_told(bundled: Packed) -> None:
    by_id = {item.id: item for item in bundled_items()}
    assert {by_id[name].kind for name, _ in bundled.left_out} == {"dock"}
    assert set(bundled.items) | {name for name, _ in bundled.left_out} == set(by_id)
    assert not set(bundled.items) & {name for name, _ in bundled.left_out}


def test_the_manifest_names_every_file_once_and_nothing_else(bundled: Packed) -> None:
    files = files_of(bundled)
    root = ET.fromstring(files["imsmanifest.xml"])
    space = f"{{{PACKAGE}}}"
    assert root.tag == f"{space}manifest"
    assert [bare(child.tag) for child in root] == ["metadata", "organizations", "resources"]
    assert root.findtext(f"{space}metadata/{space}schema") == "QTI Package"
    assert root.findtext(f"{space}metadata/{space}schemaversion") == "3.0.0"
    named = []
    identifiers = [root.get("identifier", "")]
    for resource in root.iter(f"{space}resource"):
        assert resource.get("type") == "imsqti_item_xmlv3p0"
        own = [file.get("href", "") for file in resource]
        assert resource.get("href") == own[0]
        identifiers.append(resource.get("identifier", ""))
        named += own
        item = ET.fromstring(files[own[0]])
        pictures = [img.get("src", "").removeprefix("../") for img in found(item, "img")]
        assert pictures == own[1:]
    assert sorted(named) == sorted(set(files) - {"imsmanifest.xml"})
    assert len(set(named)) == len(named)
    assert len(set(identifiers)) == len(identifiers)
    assert all(NCNAME.fullmatch(name) for name in identifiers)


def test_the_same_items_give_the_same_bytes(bundled: Packed) -> None:
    assert package_of(*bundled_items()).data == bundled.data


@given(st.lists(any_items(), min_size=1, max_size=5, unique_by=lambda item: item.id))
def test_any_item_keeps_to_the_rules_or_is_left_out(found_items: list[Item]) -> None:
    plain = [replace(item, explain="Why.", own={}) for item in found_items]  # sources are told by the bank
    try:
        package = package_of(*plain)
    except FurcalError:
        assert all(isinstance(item.answer, (Docked, Named, Rooted)) for item in plain)
        return
    files = files_of(package)
    for item in plain:
        if item.id in package.items:
            root = ET.fromstring(files[f"items/{item.id}.xml"])
            check_item(root)
            assert item.ask in words_of(root, "p") + words_of(root, "qti-prompt")
            if isinstance(item.answer, Chosen):
                assert sorted(words_of(root, "qti-simple-choice")) == sorted(item.answer.options)


# --- kinds


def test_a_choice_has_its_options_and_the_right_one() -> None:
    root = item_of(package_of(made(Chosen("right", ("wrong", "false", "no")))))
    texts = {e.get("identifier"): e.text for e in found(root, "qti-simple-choice")}
    assert sorted(texts.values()) == ["false", "no", "right", "wrong"]  # type: ignore[type-var]
    assert [texts[name] for name in words_of(found(root, "qti-correct-response")[0], "qti-value")] == ["right"]


def test_the_right_option_has_no_place_of_its_own() -> None:
    items = [replace(made(Chosen("right", ("wrong", "false", "no"))), id=f"item_{n}") for n in range(40)]
    package = package_of(*items)
    places = {words_of(item_of(package, item.id), "qti-value")[0] for item in items}
    assert places == {"choice_1", "choice_2", "choice_3", "choice_4"}


def test_an_order_is_offered_in_another_one() -> None:
    right = ("skin", "fat", "psoas", "disc")
    root = item_of(package_of(made(Ordered(right), "order")))
    texts = {e.get("identifier"): e.text for e in found(root, "qti-simple-choice")}
    assert tuple(texts.values()) != right
    assert tuple(texts[name] for name in words_of(found(root, "qti-correct-response")[0], "qti-value")) == right


def test_roots_are_ticked_and_every_quarter_that_may_be_counts() -> None:
    root = item_of(package_of(made(Rooted(("L2", "L3", "L4")), "trace")))
    texts = {e.get("identifier", ""): e.text for e in found(root, "qti-simple-choice")}
    assert [texts[name] for name in words_of(found(root, "qti-correct-response")[0], "qti-value")] == ["L2", "L3", "L4"]
    assert found(root, "qti-choice-interaction")[0].get("max-choices") == "0"
    root = item_of(package_of(made(Quartered("L4-5", "left", ("II", "III")), "quarter")))
    texts = {e.get("identifier", ""): e.text for e in found(root, "qti-simple-choice")}
    assert [texts[e.get("map-key", "")] for e in found(root, "qti-map-entry")] == ["Quarter II", "Quarter III"]


def test_a_place_is_chosen_among_spots_or_clicked_where_only_it_is_known() -> None:
    item = made(Pointed("femoral_left", 6.0), "point")
    root = item_of(package_of(item))
    spots = {e.get("identifier", ""): e for e in found(root, "qti-hotspot-choice")}
    assert [e.get("hotspot-label") for e in spots.values()] == ["A", "B"]
    right = spots[words_of(root, "qti-value")[0]]
    assert (right.get("shape"), right.get("coords"), right.get("hotspot-label")) == ("circle", "40,30,6", "B")
    root = item_of(package_of(item, others=()))
    check_item(root)
    assert not found(root, "qti-hotspot-choice")  # it would be the only one, and so tell the answer
    (area,) = found(root, "qti-area-map-entry")
    assert (area.get("coords"), area.get("mapped-value")) == ("40,30,6", "1")
    assert words_of(root, "qti-value")[0] == "40 30"


def test_the_names_that_are_accepted_name_this_structure_and_no_other() -> None:
    for mark, structure in known_structures().items():
        names = accepted_names(made(Named(mark), "name"))
        assert names[0] == structure.name
        for name in names:
            called = named_by(name, known_structures().values())
            assert mark in {s.id for s in called}
            assert {s.id.removesuffix(f"_{s.side}") for s in called} == {mark.removesuffix(f"_{structure.side}")}
    assert "DRG" not in accepted_names(made(Named("l3_ganglion_left"), "name"))  # there is one at every level


def test_typed_names_are_taken_in_capitals_and_small_letters() -> None:
    root = item_of(package_of(made(Named("femoral_left"), "name")))
    assert words_of(root, "qti-value")[0] == known_structures()["femoral_left"].name
    keys = [e.get("map-key", "").casefold() for e in found(root, "qti-map-entry")]
    assert {"femoral nerve", "left femoral nerve", "nervus femoralis", "femoral"} <= set(keys)
    assert {e.get("case-sensitive") for e in found(root, "qti-map-entry")} == {"false"}


def test_what_gives_the_answer_away_stands_only_where_it_is_marked() -> None:
    root = item_of(package_of(made(Named("obturator_left"), "name", explain="The obturator nerve.")))
    for part in found(root, "qti-rubric-block"):
        assert part.get("view") == "scorer tutor"
        part.clear()
    found(root, "qti-response-declaration")[0].clear()
    assert "obturator" not in ET.tostring(root, encoding="unicode").lower()


# --- words


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_words_come_back_as_they_were(words: str) -> None:
    item = made(
        Chosen(words, (f"{words} 2", "plain")), ask=f"What {words}?", vignette=f"A man {words}", explain=f"See {words}."
    )
    root = item_of(package_of(item))
    check_item(root)
    assert words_of(root, "qti-prompt") == [item.ask]
    assert item.vignette in words_of(root, "p")
    assert item.explain in words_of(root, "p")
    assert words in words_of(root, "qti-simple-choice")
    typed = made(Named("femoral_left"), "name")
    root = ET.fromstring(files_of(packed([typed], lambda _: Drawn(PNG, 9, 9), lambda _: [words]))["items/an_item.xml"])
    assert found(root, "qti-map-entry")[0].get("map-key") == words


def test_sources_stand_under_the_explanation() -> None:
    item = replace(made(Chosen("a", ("b", "c")), explain="It is so. [script]"), own={"script": "Script <3>, 2026"})
    assert words_of(item_of(package_of(item)), "p") == ["It is so. [1]", "[1] Script <3>, 2026"]


# --- what has no form, and what is refused


def test_what_asks_about_what_is_seen_needs_a_picture() -> None:
    seen = [replace(made(answer, kind), id=kind) for kind, answer in (
        ("name", Named("femoral_left")), ("point", Pointed("femoral_left", 6.0)), ("differs", Chosen("a", ("b", "c"))),
        ("wire", Named("femoral_left")),
    )]  # fmt: skip
    package = packed([made(Chosen("a", ("b", "c"))), *seen])
    assert package.items == ("an_item",)
    assert {name for name, why in package.left_out if "picture" in why} == {"name", "point", "differs", "wire"}
    assert packed([made(Chosen("a", ("b", "c"))), seen[1]], lambda _: Drawn(PNG, 9, 9)).left_out[0][0] == "point"


def test_a_spot_outside_its_picture_is_left_out() -> None:
    point = replace(made(Pointed("femoral_left", 6.0), "point"), id="point")
    package = package_of(made(Chosen("a", ("b", "c"))), point, target=Region("circle", (300, 20, 5)))
    assert package.left_out == (("point", "what is asked for lies outside its picture"),)


def test_what_cannot_be_drawn_is_left_out_with_the_reason() -> None:
    def draw(item: Item) -> Drawn:
        if item.id == "hidden":
            raise FurcalError("bank.toml, item 2: femoral_left cannot be seen in its view")
        return Drawn(PNG, 120, 80)

    choice = made(Chosen("a", ("b", "c")))
    package = packed([choice, replace(choice, id="hidden")], draw)
    assert package.items == ("an_item",)
    assert package.left_out == (("hidden", "bank.toml, item 2: femoral_left cannot be seen in its view"),)


def test_what_cannot_be_written_is_told() -> None:
    choice = Chosen("a", ("b", "c"))
    wrong: list[tuple[list[Item], str]] = [
        ([made(choice), made(choice)], "an_item comes twice"),
        ([replace(made(choice), id="9 lives")], "'9 lives' is no id for QTI"),
        ([made(choice, ask="bell \x07?")], r"an_item: holds the sign '\\x07', which XML cannot write"),
        ([made(Chosen("half \ud800", ("b", "c")))], "which XML cannot write"),
        ([made(Docked(Placement()), "dock")], "none of the items has a form in QTI"),
        ([], "none of the items has a form in QTI"),
    ]
    for items, says in wrong:
        with pytest.raises(FurcalError, match=says):
            package_of(*items)


NO_REGIONS = [("circle", (1, 2)), ("rect", (1, 2, 3)), ("poly", (1, 2, 3, 4)), ("poly", (1, 2, 3, 4, 5)),
              ("circle", (-1, 2, 3)), ("star", (1, 2, 3))]  # fmt: skip


@pytest.mark.parametrize(("shape", "coords"), NO_REGIONS)
def test_a_region_that_is_none_is_refused(shape: str, coords: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="no region"):
        Region(shape, coords)


def test_every_kind_is_thought_of() -> None:
    answers: dict[str, Answer] = {
        "name": Named("femoral_left"), "point": Pointed("femoral_left", 6.0), "trace": Rooted(("L2",)),
        "order": Ordered(("a", "b", "c")), "quarter": Quartered("L4-5", "left", ("II",)), "wire": Named("femoral_left"),
        "dock": Docked(Placement()),
    }  # fmt: skip
    items = [replace(made(answers.get(kind, Chosen("a", ("b", "c"))), kind), id=kind) for kind in KINDS]
    package = package_of(*items)
    assert package.items == tuple(kind for kind in KINDS if kind != "dock")
    assert [name for name, _ in package.left_out] == ["dock"]
