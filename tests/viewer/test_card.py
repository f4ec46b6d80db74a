"""The card of a structure, and the rows of what is near."""

from __future__ import annotations

import re

import numpy as np
import pytest

from lessons.card import around, around_text, card_of
from meshes.around import Neighbour, neighbours
from meshes.body import Body
from meshes.contact import Ready
from meshes.errors import FurcalError
from meshes.structures import Kind, Structure


def test_the_card_of_the_femoral_nerve(alder: Body) -> None:
    card = card_of(alder.structures["femoral_left"], alder.structures)
    assert (card.title, card.latin) == ("Femoral nerve, left", "nervus femoralis")
    assert card.facts == ("Roots: L2, L3, L4.", "Paired; this is the left one.", "Layer of the dissection: psoas.")
    assert card.course.startswith("Forms from the posterior divisions of L2, L3 and L4 inside psoas")
    assert card.branches == ("femoral_anterior_cutaneous_left", "femoral_muscular_left", "saphenous_left")
    assert card.sources[-1] == "judgement, stated in the table"


def test_a_flat_nerve_tells_its_width(alder: Body) -> None:
    trunk = alder.structures["lumbosacral_trunk_right"]
    facts = " ".join(card_of(trunk, alder.structures).facts)
    assert f"Flat, {2 * trunk.half_width_mm:g} mm wide" in facts
    assert "Flat" not in " ".join(card_of(alder.structures["femoral_left"], alder.structures).facts)


def test_what_has_no_side_and_no_roots_tells_none(alder: Body) -> None:
    assert card_of(alder.structures["skin"], alder.structures).facts == ("Layer of the dissection: skin.",)
    assert card_of(alder.structures["common_iliac_artery_left"], alder.structures).title == "Common iliac artery, left"
    assert card_of(alder.structures["l4"], alder.structures).title == "L4 vertebra"


def test_a_share_that_a_variant_brings_is_told(alder: Body) -> None:
    nerve = alder.structures["iliohypogastric_left"]
    assert "contribution" not in " ".join(card_of(nerve, alder.structures).facts)
    more = card_of(nerve, {*alder.structures, "t12_share_left"}).facts
    assert more[:2] == ("Root: L1.", "In this body it receives a contribution from T12 as well.")


def test_a_trunk_without_roots_tells_of_its_outflow(alder: Body) -> None:
    facts = card_of(alder.structures["sympathetic_trunk_left"], alder.structures).facts
    assert facts[0] == "Preganglionic outflow: T10, T11, T12, L1, L2."
    assert not any(fact.startswith("Root") for fact in facts)


def test_every_structure_has_a_whole_card(larch: Body) -> None:
    for structure in larch.structures.values():
        card = card_of(structure, larch.structures, larch.specimen.variants)
        assert card.title[0].isupper()
        assert card.latin
        assert card.course
        assert card.sources
        assert set(card.branches) <= set(larch.structures)
        for fact in card.facts:
            assert re.fullmatch(r"[A-Z].*\.", fact)


def test_the_card_of_what_the_body_lacks(alder: Body, larch: Body) -> None:
    with pytest.raises(FurcalError, match="this body has no such part"):
        card_of(larch.structures["accessory_obturator_left"], alder.structures)


@pytest.mark.parametrize(
    ("name", "side", "distance", "step", "wanted"),
    [
        ("Femoral nerve", "left", 3.21, (3.0, 0.0, 0.0), "femoral nerve, left: 3.2 mm lateral"),
        ("Femoral nerve", "left", 5.0, (-3.0, 4.0, 0.0), "femoral nerve, left: 5.0 mm behind and medial"),
        ("aorta", "", 5.0, (-4.9, -1.0, 0.0), "aorta: 5.0 mm medial"),
        ("psoas major", "left", -6.2, (1.0, 0.0, 0.0), "inside psoas major, left, 6 mm deep"),
        ("psoas major", "right", -0.4, (1.0, 0.0, 0.0), "inside psoas major, right, 0.4 mm deep"),
        ("L4 vertebra", "", 1.0, (0.0, 0.0, -1.0), "L4 vertebra: 1.0 mm below"),
        ("kidney", "left", 9.99, (0.0, -7.0, 7.0), "kidney, left: 10.0 mm in front and above"),
        ("L4-5 disc", "", -0.01, (0.0, 0.0, 0.0), "on the surface of L4-5 disc"),
    ],
)
def test_rows_of_what_is_near(
    name: str, side: str, distance: float, step: tuple[float, float, float], wanted: str
) -> None:
    """From a point of the left half of the body, and mirrored from the right one."""
    structure = Structure("x", name, name, "nerve", side)
    for mirror in (1.0, -1.0):
        point, way = np.array([30.0 * mirror, 0.0, 0.0]), np.array(step) * np.array([mirror, 1.0, 1.0])
        assert around_text([Neighbour(structure, distance, point + way)], point) == [wanted]


def test_beyond_reach_only_the_next_nerves_vessels_and_viscera_are_told() -> None:
    kinds: tuple[Kind, ...] = ("nerve", "bone", "vessel", "viscus", "nerve", "muscle")
    far = [Neighbour(Structure(f"s{i}", "x", "x", k), 11.0 + i, np.zeros(3)) for i, k in enumerate(kinds)]
    near = Neighbour(Structure("n", "x", "x", "bone"), 9.0, np.zeros(3))
    assert [n.structure.id for n in around([*far, near])] == ["n", "s0", "s2", "s3"]


def test_a_row_for_each_neighbour(alder: Body) -> None:
    point = np.array([38.0, 5.0, 36.0])
    found = neighbours(Ready.of(alder), point)
    rows = around_text(found, point)
    assert len(rows) == len(found) > 3
    assert rows[0].startswith("inside psoas major, left")
