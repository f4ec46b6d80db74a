"""What only a body knows of an item."""

from dataclasses import replace

import pytest

from lessons.film import Film
from lessons.spot.item import Answer, Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.onbody import lying, problems, solution
from lessons.view import Camera, Placement, View
from meshes.body import Body
from meshes.contact import dock
from meshes.portal import place

CHOICE = Chosen("Knee extension", ("Hip flexion", "Hip abduction"))


def item(answer: Answer, view: View | None = None, structure: str = "femoral_left") -> Item:
    return Item("one", "name", "course", structure, "Which?", answer, "So.", view=view or View(dissection="psoas"))


GOOD = [
    item(Named("femoral_left")),
    item(Pointed("femoral_left", 6.0)),
    item(Rooted(("L2", "L3", "L4"))),
    item(Rooted(("L2", "L3", "L4")), structure="femoral"),
    item(Ordered(("a", "b", "c")), structure="L3-4"),
    item(CHOICE, structure="accessory_obturator"),
    item(Quartered("L3-4", "left", ("II", "III")), structure="L3-4"),
    item(Docked(Placement("L3-4", "left", "lateral", 0.1, 4.0)), structure="L3-4"),
    item(Named("femoral_left"), View(film=Film(nerves=frozenset({"femoral_left"})))),
    item(CHOICE, View(dissection="psoas", highlighted=frozenset({"obturator_left"}))),
]


@pytest.mark.parametrize("good", GOOD, ids=lambda one: type(one.answer).__name__)
def test_what_can_be_shown_and_answered_has_no_problem(good: Item, alder: Body) -> None:
    assert problems(good, alder) == []


WRAPPED, HIDDEN = View(dissection="skin"), View(dissection="psoas", hidden=frozenset({"femoral_left"}))
BAD = [
    (item(Named("accessory_obturator_left")), "accessory_obturator_left: this specimen has no such structure"),
    (item(Pointed("accessory_obturator_left", 6.0)), "target: accessory_obturator_left"),
    (item(Named("femoral_left"), WRAPPED), "femoral_left is marked but not shown"),
    (item(Named("femoral_left"), HIDDEN), "femoral_left is marked but not shown"),
    (item(CHOICE, replace(HIDDEN, highlighted=frozenset({"femoral_left"}))), "femoral_left is marked but not shown"),
    (item(Pointed("femoral_left", 6.0), HIDDEN), "cannot be clicked"),
    (item(Pointed("femoral_left", 6.0), View(glassy=frozenset({"femoral_left"}))), "cannot be clicked"),
    (item(Pointed("external_oblique_left", 6.0)), "cannot be clicked"),
    (item(Named("femoral_left"), View(film=Film(nerves=frozenset({"obturator_left"})))), "marked but not shown"),
    (item(Rooted(("L2", "L3"))), "carries L2, L3, L4; write these"),
    (item(Rooted(("L2",)), structure="psoas_major_left"), "its roots are not known"),
    (item(Rooted(("T10", "T11", "T12", "L1", "L2")), structure="sympathetic_trunk_left"), "preganglionic outflow"),
    (item(CHOICE, structure="elbow"), "structure: unknown structure, level or variant 'elbow'"),
    (item(Named("femoral")), "mark: unknown structure 'femoral'. Nearest: femoral_left, femoral_right"),
    (item(Pointed("femoral", 6.0)), "target: unknown structure 'femoral'. Nearest: femoral_left, femoral_right"),
    (replace(item(CHOICE), lit=("t12_share_left",)), "lit: t12_share_left: this specimen has no such structure"),
    (item(CHOICE, View(camera=Camera("portal"))), "looks down a portal, and there is none"),
    (item(CHOICE, View(portal=Placement(cranial_deg=500.0))), "portal: cranial_deg = 500"),
    (item(Docked(Placement("L4-5", "left", "lateral", 0.5, 11.0), 20.0)), "no place along the L4-5 disc"),
    (replace(item(CHOICE), lit=("nobody",)), "lit: unknown structure 'nobody'"),
    (replace(item(CHOICE), specimen=replace(item(CHOICE).specimen, psoas_scale=1.3)), "another specimen"),
]


@pytest.mark.parametrize(("bad", "said"), BAD, ids=[said for _, said in BAD])
def test_each_thing_that_is_wrong_is_told_once_with_its_place(bad: Item, said: str, alder: Body) -> None:
    found = problems(replace(bad, where="bank.toml, item 3 (one)"), alder)
    assert len(found) == 1
    assert said in found[0]
    assert found[0].startswith("bank.toml, item 3 (one)")
    assert found[0].endswith(".")


def test_a_solution_clears_every_nerve_and_keeps_what_was_asked(alder: Body) -> None:
    asked = Docked(Placement("L3-4", "right", "lateral", 0.05, 5.0), 1.0)
    found = solution(asked, alder)
    assert found is not None
    same = ("level", "side", "approach", "radius_mm", "depth_mm")
    assert [getattr(found, k) for k in same] == [getattr(asked.start, k) for k in same]
    docking = dock(
        alder, place(alder, "L3-4", "right", "lateral", found.at, 5.0, 0.0, found.cranial_deg, found.anterior_deg)
    )
    assert docking.access.reaches_disc
    assert min(c.clearance_mm for c in docking.nerves) >= 1.0
    assert solution(asked, alder) is found


def test_the_side_of_the_portal_lies_up_where_the_table_is_broken(alder: Body) -> None:
    broken = replace(alder.specimen, table_break_deg=10.0)
    for answer in (Docked(Placement(side="right")), Quartered("L4-5", "right", ("II",))):
        assert lying(replace(item(answer), specimen=broken)).up == "right"
    assert lying(replace(item(CHOICE, View(portal=Placement(side="left"))), specimen=broken)).up == "left"
    assert lying(replace(item(CHOICE), specimen=broken)).up == ""
