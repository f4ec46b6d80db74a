"""The one table from kind to look, and the colourings of nerves."""

import pytest

from lessons.view import COLOURINGS, View
from meshes.body import Body
from meshes.structures import KINDS, Structure
from viewer.actors import division, divisions, look, main_root, material, paint_of, stem
from viewer.fibres import courses
from viewer.palette import BY_DIVISION, BY_NERVE, BY_ROOT, PRINT


def nerve(name: str, roots: str = "") -> Structure:
    return Structure(name, name, name, "nerve", "left", roots)


def test_every_structure_of_the_body_has_a_row_and_every_kind_too(alder: Body) -> None:
    for structure in alder.structures.values():
        assert material(structure).colour in PRINT
    for kind in KINDS:
        assert material(Structure("x", "x", "x", kind)).colour in PRINT  # type: ignore[arg-type]  # a legal kind


def test_arteries_are_red_veins_blue_and_the_dural_sac_is_no_nerve_to_look_at(alder: Body) -> None:
    assert material(alder.structures["aorta"]).colour == "artery"
    assert material(alder.structures["inferior_vena_cava"]).colour == "vein"
    assert material(alder.structures["dural_sac"]).colour == "dura"
    assert material(alder.structures["ureter_left"]).colour == "ureter"
    assert material(alder.structures["external_oblique_left"]).fibres == "sheet"
    assert material(alder.structures["psoas_major_left"]).fibres == "bundle"


@pytest.mark.parametrize(
    ("roots", "root"),
    [("L2-L4", "L3"), ("L2–L4", "L3"), ("T12", "T12"), ("T12-L1", "T12"), ("L4, L5", "L4"), ("", ""), ("T10-L2", "L2")],
)
def test_the_root_that_stands_for_a_nerve(roots: str, root: str) -> None:
    assert main_root(roots) == root


def test_branches_are_coloured_as_their_parent_and_no_longer_name_is_mistaken() -> None:
    assert paint_of(nerve("obturator_anterior_left"), "by_nerve") == BY_NERVE["obturator"]
    assert paint_of(nerve("genitofemoral_femoral_left"), "by_nerve") == BY_NERVE["genitofemoral"]
    assert paint_of(nerve("accessory_obturator_left"), "by_nerve") == BY_NERVE["accessory_obturator"]
    assert paint_of(nerve("femoral_left", "L2-L4"), "by_root") == BY_ROOT["L3"]


def test_divisions_of_the_plexus(alder: Body) -> None:
    # From memory of standard anatomy: the obturator from the anterior, femoral and LFCN from the posterior divisions.
    assert division(nerve("obturator_posterior_left")) == "anterior"
    assert division(nerve("femoral_muscular_left")) == "posterior"
    assert division(nerve("lateral_femoral_cutaneous_right")) == "posterior"
    assert division(nerve("genitofemoral_femoral_left")) == "undivided"
    assert division(nerve("iliohypogastric_left")) == "undivided"
    assert set(divisions()) | {"undivided"} == set(BY_DIVISION)


def test_tables_name_only_what_a_body_has(alder: Body, larch: Body) -> None:
    known = {stem(i) for i in (*alder.structures, *larch.structures)}
    assert {n for nerves in divisions().values() for n in nerves} <= known
    assert set(courses()) <= known
    assert set(BY_NERVE) <= known


@pytest.mark.parametrize("colouring", COLOURINGS)
def test_only_nerves_follow_the_colouring(alder: Body, colouring: str) -> None:
    for structure in alder.structures.values():
        paint = paint_of(structure, colouring)
        if structure.kind != "nerve" or colouring == "print":
            assert paint.colour == PRINT[material(structure).colour]
        else:
            assert paint in {*BY_NERVE.values(), *BY_ROOT.values(), *BY_DIVISION.values()}


def test_tracing_dims_the_rest_and_rings_what_is_traced(alder: Body) -> None:
    view = View(highlighted=frozenset({"femoral_left"}))
    traced = look(alder.structures["femoral_left"], view, "on")
    other = look(alder.structures["femoral_right"], view, "on")
    assert traced is not None
    assert other is not None
    assert traced.ringed
    assert not other.ringed
    assert traced.colour == PRINT["nerve"]
    assert other.colour != PRINT["nerve"]
    assert look(alder.structures["femoral_left"], view, "off") is None
