"""A lesion takes what leaves beyond it: by places, by arc length, and along the branch tree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.body import Body
from meshes.branches import branches_of
from meshes.lesion import Cut, Loss, cut_at, cut_in, ids_of, loss, nerve_ids
from meshes.reference import all_courses
from meshes.specimen import ALDER, Specimen
from meshes.structures import SIDES, segments
from meshes.supply import supply
from tests.meshes.refusals import refused
from tests.meshes.waysonce import places_once

PRESENT = ids_of(ALDER)
NERVES = [name for name in nerve_ids() if f"{name}_left" in PRESENT]
WAYS = [(name, row.way) for name, row in supply().nerves.items() if f"{name}_left" in PRESENT]
PARTS = ("motor", "skin", "joints", "reflexes", "functions")


@pytest.fixture(scope="module", autouse=True)
def places_are_told_once() -> Iterator[None]:
    """A cut by arc length asks for the places of its nerve; of one body they are always the same."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("meshes.places.places_of", places_once)
        yield


def taken(found: Loss) -> set[tuple[str, str, str]]:
    """What is lost: part, thing, limb of a reflex."""
    return {
        (part, str(getattr(one.row, word)), str(getattr(one.row, "limb", "")))
        for part, word in zip(PARTS, ("muscle", "patch", "joint", "reflex", "function"), strict=True)
        for one in getattr(found, part)
    }


def wholly(found: Loss) -> set[tuple[str, str, str]]:
    kept: Any = {part: tuple(one for one in getattr(found, part) if not one.partial) for part in PARTS}
    return taken(replace(found, **kept))


def test_the_ids_are_those_of_the_body(alder: Body, larch: Body) -> None:
    for body in (alder, larch):
        assert {i for i in ids_of(body.specimen) if i in body.centrelines} == set(body.centrelines)
        assert ids_of(body.specimen) == set(body.centrelines)


@pytest.mark.parametrize("name", NERVES)
def test_left_and_right_are_the_same_and_nothing_is_both_lost_and_spared(name: str) -> None:
    found = loss(f"{name}_left", PRESENT)
    assert found == loss(f"{name}_right", PRESENT)
    assert {one.row.muscle for one in found.motor}.isdisjoint(one.muscle for one in found.spared)
    own = set(segments(all_courses()[name].structure.roots))
    for part in PARTS:
        for one in getattr(found, part):
            assert one.roots
            assert set(segments(one.roots)) <= own
        things = [one.row for one in getattr(found, part)]
        assert len({id(thing) for thing in things}) == len(things)
    muscles = [one.row.muscle for one in found.motor]
    assert len(set(muscles)) == len(muscles)


@pytest.mark.parametrize(("name", "way"), WAYS)
def test_further_out_along_its_places_a_lesion_takes_no_more(name: str, way: tuple[str, ...]) -> None:
    steps = [loss(f"{name}_left", PRESENT, cut_in(f"{name}_left", place)) for place in way]
    whole = loss(f"{name}_left", PRESENT)
    assert taken(steps[0]) == taken(whole), "the first place is all of it"
    for nearer, farther in pairwise(steps):
        assert taken(farther) <= taken(nearer)
        assert wholly(farther) <= wholly(nearer)
        assert {one.muscle for one in nearer.spared} <= {one.muscle for one in farther.spared}


@pytest.mark.parametrize("name", NERVES)
def test_a_nerve_takes_what_its_branches_take(name: str) -> None:
    """Of a branch that only this nerve feeds, all; of one that others feed as well, what is not more than its own."""
    mine = taken(loss(f"{name}_left", PRESENT))
    own = set(segments(all_courses()[name].structure.roots))
    for branch in branches_of(f"{name}_left", PRESENT):
        child = all_courses()[branch.removesuffix("_left")].structure
        if set(segments(child.roots)) <= own:
            assert taken(loss(branch, PRESENT)) <= mine, branch


LONG = ("femoral", "obturator", "subcostal", "ilioinguinal", "lateral_femoral_cutaneous", "genitofemoral", "l4_ramus")


@settings(max_examples=20)
@given(name=st.sampled_from(LONG), shares=st.tuples(st.floats(0, 1), st.floats(0, 1)))
def test_further_out_along_its_length_a_lesion_takes_no_more(
    alder: Body, name: str, shares: tuple[float, float]
) -> None:
    nerve = f"{name}_left"
    length = alder.centrelines[nerve].length
    near, far = (loss(nerve, PRESENT, cut_at(alder, nerve, share * length)) for share in sorted(shares))
    assert taken(far) <= taken(near) <= taken(loss(nerve, PRESENT))


def test_by_arc_length_as_by_place(alder: Body) -> None:
    from meshes.places import places_of

    fossa = next(p for p in places_of(alder, "femoral_left") if p.place == "iliac_fossa")
    just, within, past = (
        loss("femoral_left", PRESENT, cut_at(alder, "femoral_left", at))
        for at in (fossa.from_mm, 0.5 * (fossa.from_mm + fossa.to_mm), fossa.to_mm)
    )
    iliacus = [{one.row.muscle: one.partial for one in found.motor}.get("iliacus") for found in (just, within, past)]
    assert iliacus == [False, True, None]


def test_a_branch_goes_with_its_nerve_only_when_it_leaves_beyond(alder: Body) -> None:
    length = alder.centrelines["subcostal_left"].length
    leaves = all_courses()["subcostal_lateral_cutaneous"].leaves * length
    lateral = ("skin", "subcostal_lateral", "")
    before, after = (
        taken(loss("subcostal_left", PRESENT, cut_at(alder, "subcostal_left", leaves + d))) for d in (-1, 1)
    )
    assert lateral in before
    assert lateral not in after
    assert ("skin", "subcostal_anterior", "") in after


def test_a_segment_that_joins_further_out_is_kept_in_part() -> None:
    joins = all_courses()["l4_posterior_division"].joins
    above, below = (loss("femoral_left", PRESENT, Cut("psoas", share)) for share in (joins - 0.01, joins))
    assert taken(above) == taken(below)
    assert all(one.partial for one in above.motor if "L4" in segments(one.row.roots))
    assert not any(one.partial for one in below.motor if "L4" in segments(one.row.roots))


def test_a_share_of_t12_reaches_the_nerves_of_l1_in_part() -> None:
    variants = frozenset(f"t12_share_{side}" for side in SIDES)
    more = loss("t12_ramus_left", ids_of(Specimen(name="Yew", variants=variants)))
    usual = loss("t12_ramus_left", PRESENT)
    assert taken(usual) < taken(more)
    assert ("skin", "ilioinguinal", "") in taken(more) - taken(usual)
    assert all(one.partial for one in more.skin if one.nerve == "ilioinguinal")


def test_what_cannot_be_cut_is_told(alder: Body) -> None:
    assert "unknown nerve 'aorta'" in refused(loss, "aorta", PRESENT)
    assert "unknown nerve 'dural_sac'" in refused(loss, "dural_sac", PRESENT)
    assert "this body has no such part" in refused(loss, "accessory_obturator_left", PRESENT)
    assert "unknown place 'elbow'" in refused(loss, "femoral_left", PRESENT, Cut("elbow"))
    assert "unknown place 'ligamant'. Nearest: ligament." in refused(cut_in, "femoral_left", "ligamant")
    assert "unknown place 'wall'" in refused(cut_in, "femoral_left", "wall")
    assert "no places are told along it" in refused(cut_in, "l4_posterior_division_left", "psoas")
    for bad in (-1.0, 1e9, float("nan")):
        assert "femoral_left" in refused(cut_at, alder, "femoral_left", bad)
