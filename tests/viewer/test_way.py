"""A nerve's way in words: what happens in which place, in which approach it is in danger, how it is asked for."""

from __future__ import annotations

import json

import pytest

from lessons.way import Way, way_json, way_of, way_text
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.reference import all_courses
from meshes.structures import APPROACHES, LEVELS, SIDES
from meshes.tables import source_keys
from viewer.commands.trace import named_nerve, view_of

MAIN = (
    "subcostal", "iliohypogastric", "ilioinguinal", "genitofemoral", "lateral_femoral_cutaneous", "femoral",
    "obturator", "lumbosacral_trunk", "sympathetic_trunk",
)  # fmt: skip


def said(way: Way, place: str) -> str:
    return "; ".join(p.says for p in way.passages if p.place.place == place)


def keys(source: str) -> set[str]:
    return set(source.split("+"))


def endangered(way: Way) -> set[tuple[str, str]]:
    return {(p.place.place, d.approach) for p in way.passages for d in p.at_risk_in}


@pytest.mark.parametrize("nerve", MAIN)
def test_every_phrase_of_a_course_is_told_with_its_source(alder: Body, nerve: str) -> None:
    for side in SIDES:
        way = way_of(alder, f"{nerve}_{side}")
        for point in all_courses()[nerve].way:
            told = [passage for passage in way.passages if point.says in passage.says]
            assert told, point.says
            assert not point.says or any(keys(point.source) <= keys(passage.source) for passage in told)
        for passage in way.passages:
            assert passage.says
            assert keys(passage.source) <= source_keys()
            for danger in passage.at_risk_in:
                assert danger.approach in APPROACHES
                assert bool(danger.layer) != bool(danger.level)
                assert danger.level in ("", *LEVELS)
                assert keys(danger.source) <= source_keys()


def test_what_happens_is_told_where_it_happens(alder: Body) -> None:
    femoral = way_of(alder, "femoral_left")
    assert "is complete at the L4-5 disc" in said(femoral, "psoas")
    assert "beneath the iliac fascia" in said(femoral, "iliac_fossa")
    assert "deep to the inguinal ligament" in said(femoral, "ligament")
    subcostal = way_of(alder, "subcostal_right")
    assert "quadratus" in said(subcostal, "retroperitoneum")
    assert "pierces transversus" in said(subcostal, "wall")


def test_danger_is_told_where_the_approach_meets_the_nerve(alder: Body) -> None:
    """Hurt in 26 dissected sides (lateral_injury_26): the femoral nerve in psoas only, the wall nerves in the wall."""
    femoral = endangered(way_of(alder, "femoral_left"))
    assert ("psoas", "lateral") in femoral
    assert ("thigh", "lateral") not in femoral
    assert ("ligament", "lateral") not in femoral
    assert ("wall", "lateral") in endangered(way_of(alder, "iliohypogastric_left"))
    assert ("retroperitoneum", "oblique") in endangered(way_of(alder, "sympathetic_trunk_left"))
    assert ("foramen", "posterolateral") in endangered(way_of(alder, "l4_ganglion_left"))
    assert not {place for place, _ in endangered(way_of(alder, "saphenous_left"))}


def test_both_sides_are_told_alike(alder: Body) -> None:
    for nerve in MAIN:
        left, right = (way_of(alder, f"{nerve}_{side}") for side in SIDES)
        assert [(p.says, p.at_risk_in) for p in left.passages] == [(p.says, p.at_risk_in) for p in right.passages]


def test_the_answer_for_programs(alder: Body) -> None:
    answer = json.loads(json.dumps(way_json(way_of(alder, "femoral_left"))))
    assert answer["roots"] == ["L2", "L3", "L4"]
    assert answer["prose"].startswith("Forms from the posterior divisions")
    assert [p["place"] for p in answer["places"]] == ["psoas", "iliac_fossa", "ligament", "thigh"]
    for place in answer["places"]:
        assert set(place) >= {"place", "from_mm", "to_mm", "says", "source", "at_risk_in"}
        assert place["from_mm"] < place["to_mm"]


def test_the_answer_for_people(larch: Body) -> None:
    for nerve in (*MAIN, "accessory_obturator", "l4_root", "l5_ganglion", "saphenous"):
        text = way_text(way_of(larch, f"{nerve}_left"))
        assert max(map(len, text.splitlines())) <= 100
        assert "For teaching." in text
        assert "mm from the nearest skin" in text


def test_the_dural_sac_has_a_way(alder: Body) -> None:
    assert [p.place.place for p in way_of(alder, "dural_sac").passages] == ["foramen"]


def test_a_nerve_is_asked_for_by_id_name_or_short_form(alder: Body) -> None:
    every = alder.structures.values()
    for word in ("lateral_femoral_cutaneous", "Lateral femoral cutaneous nerve", "LFCN", "lateral femoral cutaneous"):
        assert named_nerve(word, "right", every) == "lateral_femoral_cutaneous_right"
    assert named_nerve("dural sac", "left", every) == "dural_sac"
    with pytest.raises(FurcalError, match=r"unknown nerve 'femorall'\. Nearest: femoral"):
        named_nerve("femorall", "left", every)


def test_the_nerve_is_lit_from_its_roots(alder: Body) -> None:
    view = view_of(alder, "femoral_left")
    assert {"femoral_left", "l3_root_left"} <= view.highlighted
    for nerve in alder.ids("nerve"):
        assert view_of(alder, nerve).visibility(alder.structures[nerve]) != "off", nerve
