"""Rules of QTI 3.0 that a file of an item can be held to.

The rules are those of 1EdTech QTI 3.0 (2022): names, attributes and order of elements as classes that were generated
from its schema imsqti_asiv3p0_v1p0.xsd print them, and the uses of interactions as its notes say. The rules of the
manifest, of identifiers and of templates are from memory.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from lessons.spot.qti import ASI, NCNAME

#: Child elements in their order; attributes that must be there; attributes that may.
ELEMENTS: dict[str, tuple[tuple[str, ...], set[str], set[str]]] = {
    "qti-assessment-item": (
        ("qti-response-declaration", "qti-outcome-declaration", "qti-item-body", "qti-response-processing"),
        {"identifier", "title", "time-dependent"}, {"lang", "adaptive", "tool-name", "schemaLocation"},
    ),
    "qti-response-declaration": (
        ("qti-correct-response", "qti-mapping", "qti-area-mapping"), {"identifier", "cardinality", "base-type"}, set(),
    ),
    "qti-correct-response": (("qti-value",), set(), set()),
    "qti-mapping": (("qti-map-entry",), {"default-value"}, {"lower-bound", "upper-bound"}),
    "qti-map-entry": ((), {"map-key", "mapped-value"}, {"case-sensitive"}),
    "qti-area-mapping": (("qti-area-map-entry",), {"default-value"}, {"lower-bound", "upper-bound"}),
    "qti-area-map-entry": ((), {"shape", "coords", "mapped-value"}, set()),
    "qti-outcome-declaration": (("qti-default-value",), {"identifier", "cardinality", "base-type"}, set()),
    "qti-default-value": (("qti-value",), set(), set()),
    "qti-value": ((), set(), set()),
    "qti-choice-interaction": (
        ("qti-prompt", "qti-simple-choice"), {"response-identifier"}, {"shuffle", "max-choices"},
    ),
    "qti-order-interaction": (("qti-prompt", "qti-simple-choice"), {"response-identifier"}, {"shuffle"}),
    "qti-hotspot-interaction": (
        ("qti-prompt", "img", "qti-hotspot-choice"), {"response-identifier"}, {"max-choices"},
    ),
    "qti-select-point-interaction": (("qti-prompt", "img"), {"response-identifier"}, {"max-choices"}),
    "qti-text-entry-interaction": ((), {"response-identifier"}, {"expected-length"}),
    "qti-simple-choice": ((), {"identifier"}, set()),
    "qti-hotspot-choice": ((), {"identifier", "shape", "coords"}, {"hotspot-label"}),
    "qti-prompt": ((), set(), set()),
    "qti-rubric-block": (("qti-content-body",), {"use", "view"}, set()),
    "qti-content-body": (("p",), set(), set()),
    "qti-response-processing": ((), {"template"}, set()),
    "img": ((), {"src", "alt"}, {"width", "height"}),
}  # fmt: skip
COORDS = re.compile(r"(\d+,){2}\d+|(\d+,){3}\d+|(\d+,){2}(\d+,\d+,)+\d+,\d+")
#: What each interaction may be bound to: base types and cardinalities.
BOUND = {
    "qti-choice-interaction": ({"identifier"}, {"single", "multiple"}),
    "qti-order-interaction": ({"identifier"}, {"ordered"}),
    "qti-hotspot-interaction": ({"identifier"}, {"single", "multiple"}),
    "qti-select-point-interaction": ({"point"}, {"single", "multiple"}),
    "qti-text-entry-interaction": ({"string"}, {"single"}),
}
#: What a template reads beside RESPONSE and SCORE.
TEMPLATES = {
    "match_correct": "qti-correct-response",
    "map_response": "qti-mapping",
    "map_response_point": "qti-area-mapping",
}


def bare(name: str) -> str:
    """The name of an element or attribute without its namespace."""
    return name.rpartition("}")[2]


def found(root: ET.Element, name: str) -> list[ET.Element]:
    return list(root.iter(f"{{{ASI}}}{name}"))


def words_of(root: ET.Element, name: str) -> list[str]:
    return [element.text or "" for element in found(root, name)]


def check_item(root: ET.Element) -> None:
    """Everything that is stated above of one item's file."""
    assert root.tag == f"{{{ASI}}}qti-assessment-item"
    for element in root.iter():
        assert element.tag.startswith(f"{{{ASI}}}")
        if bare(element.tag) in ELEMENTS:
            order, needed, allowed = ELEMENTS[bare(element.tag)]
            children = [bare(child.tag) for child in element]
            assert children == sorted(children, key=order.index)
            given_names = {bare(name) for name in element.attrib}
            assert needed <= given_names <= needed | allowed
        else:
            assert bare(element.tag) in ("qti-item-body", "p", "div")
        if "coords" in element.attrib:
            assert COORDS.fullmatch(element.get("coords", ""))
            assert element.get("shape") in ("circle", "rect", "poly", "ellipse", "default")
    choices = [
        e.get("identifier", "") for name in ("qti-simple-choice", "qti-hotspot-choice") for e in found(root, name)
    ]
    declared = [e.get("identifier", "") for name in ("qti-response-declaration", "qti-outcome-declaration")
                for e in found(root, name)]  # fmt: skip
    for names in (choices, declared):
        assert len(set(names)) == len(names)
    assert all(NCNAME.fullmatch(name) for name in (root.get("identifier", ""), *choices, *declared))
    assert declared == ["RESPONSE", "SCORE", "MAXSCORE"]
    check_response(root, choices)


def check_response(root: ET.Element, choices: list[str]) -> None:
    """One interaction, bound to the response that is declared, whose right answer can be given and scores 1."""
    (asked,) = [element for element in root.iter() if bare(element.tag) in BOUND]
    (response,) = found(root, "qti-response-declaration")
    assert asked.get("response-identifier") == "RESPONSE"
    types, cardinalities = BOUND[bare(asked.tag)]
    assert response.get("base-type") in types
    assert response.get("cardinality") in cardinalities
    right = words_of(found(root, "qti-correct-response")[0], "qti-value")
    assert len(right) == 1 or response.get("cardinality") != "single"
    assert len(set(right)) == len(right) > 0
    if response.get("base-type") == "identifier":
        assert set(right) <= set(choices)
    if bare(asked.tag) == "qti-order-interaction":
        assert sorted(right) == sorted(choices)
    if found(root, "qti-mapping"):
        keys = [e.get("map-key", "") for e in found(root, "qti-map-entry")]
        assert len({key.casefold() for key in keys}) == len(keys)
        assert set(right) <= set(keys)
    template = found(root, "qti-response-processing")[0].get("template", "")
    name = template.removeprefix("https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/").removesuffix(".xml")
    assert found(response, TEMPLATES[name])
