"""What carries fibres to a nerve, what leaves it, and one way through it."""

from __future__ import annotations

from itertools import pairwise

import pytest

from meshes.body import Body
from meshes.branches import branches_of, parts_of_way, roots_of, way_to
from meshes.errors import FurcalError
from meshes.reference import all_courses
from meshes.structures import SEGMENTS, SIDES, other_side, segments, side_of


def bare(name: str) -> str:
    side = side_of(name)
    stem = name.removesuffix(f"_{side}")
    return stem if stem in all_courses() else name


def test_the_femoral_nerve_from_its_roots() -> None:
    present = {f"{n}_{side}" for n in all_courses() for side in SIDES}
    stages = ("root", "ganglion", "ramus", "posterior_division")
    wanted = [f"{level}_{stage}_left" for stage in stages for level in ("l2", "l3", "l4")]
    assert roots_of("femoral_left", present) == (*wanted, "femoral_left")


def test_a_branch_takes_its_own_roots_only(alder: Body) -> None:
    found = roots_of("saphenous_right", alder.structures)
    assert {n for n in found if "_root" in n} == {"l3_root_right", "l4_root_right"}
    assert found[-2:] == ("femoral_right", "saphenous_right")
    assert not any("anterior_division" in n for n in roots_of("femoral_left", alder.structures))
    assert not any("posterior_division" in n for n in roots_of("obturator_left", alder.structures))


def test_a_variant_adds_what_it_brings_to_every_nerve_of_l1(alder: Body) -> None:
    usual = roots_of("ilioinguinal_left", alder.structures)
    assert [n for n in usual if "_root" in n] == ["l1_root_left"]
    more = roots_of("ilioinguinal_left", {*alder.structures, "t12_share_left"})
    assert set(more) - set(usual) == {
        "t12_root_left",
        "t12_ganglion_left",
        "t12_ramus_left",
        "t12_share_left",
    }


def test_every_nerve_is_reached_by_exactly_the_roots_of_its_table(larch: Body) -> None:
    for name in larch.ids("nerve"):
        found = roots_of(name, larch.structures)
        met = {n.partition("_")[0].upper() for n in found if "_root" in n or n.startswith("s1_ramus")}
        own = set(segments(larch.structures[name].roots))
        if name.startswith(("sympathetic", "dural")):
            assert found == (name,)
        elif name.startswith("accessory_obturator"):
            assert met == {"L3"}  # its share of L4 is not drawn: it leaves the ramus of L3
        elif name.startswith("sacral_plexus"):
            assert met == {"L4", "L5", "S1"}  # S2 and S3 are not drawn
        else:
            assert met == own, name


def test_nothing_stands_before_what_it_comes_from_and_all_is_of_one_side(alder: Body) -> None:
    for name in alder.structures:
        found = roots_of(name, alder.structures)
        assert found[-1] == name
        assert len(set(found)) == len(found)
        assert set(found) <= set(alder.structures)
        assert {side_of(n) for n in found} <= {side_of(name), ""}
        for k, one in enumerate(found):
            if bare(one) in all_courses():
                course = all_courses()[bare(one)]
                assert course.parent not in {bare(n) for n in found[k:]}
                assert course.target not in {bare(n) for n in found[:k]}


def test_the_right_is_the_left_mirrored(alder: Body) -> None:
    for name in alder.ids("nerve"):
        mirrored = other_side(name)
        assert roots_of(mirrored, alder.structures) == tuple(map(other_side, roots_of(name, alder.structures)))
        assert branches_of(mirrored, alder.structures) == tuple(map(other_side, branches_of(name, alder.structures)))


def test_a_solid_comes_from_nothing_but_itself(alder: Body) -> None:
    for name in ("psoas_major_left", "skin", "l4", "kidney_right"):
        assert roots_of(name, alder.structures) == (name,)
        assert branches_of(name, alder.structures) == ()
        assert parts_of_way(name, alder.structures) == [name]


def test_vessels_hang_together(alder: Body) -> None:
    assert roots_of("femoral_vein_right", alder.structures) == (
        "inferior_vena_cava",
        "common_iliac_vein_right",
        "external_iliac_vein_right",
        "femoral_vein_right",
    )
    assert branches_of("aorta", alder.structures) == ("common_iliac_artery_left", "common_iliac_artery_right")


def test_branches_in_the_order_in_which_they_leave(alder: Body) -> None:
    leaving = branches_of("l1_ramus_left", alder.structures)
    assert leaving == ("l1_genitofemoral_left", "ilioinguinal_left", "iliohypogastric_left")
    assert branches_of("l3_posterior_division_left", alder.structures) == ("femoral_left",)
    assert "accessory_obturator_left" not in branches_of("l3_ramus_left", alder.structures)


def test_the_way_runs_from_a_root_to_the_end_without_a_gap(larch: Body) -> None:
    for name in larch.ids("nerve"):
        way = way_to(name, larch.structures)
        assert (way[-1].id, way[-1].end) == (name, 1.0)
        assert {s.id for s in way} <= set(roots_of(name, larch.structures))
        for one, after in pairwise(way):
            assert 0.0 <= one.begin < one.end <= 1.0
            leaves = larch.centrelines[one.id].at(one.end * larch.centrelines[one.id].length)
            enters = larch.centrelines[after.id].at(after.begin * larch.centrelines[after.id].length)
            # A course begins, or ends, some millimetres inside what it hangs on.
            assert ((leaves - enters) ** 2).sum() ** 0.5 < 8.0, (one.id, after.id)
        if not name.startswith(("sympathetic", "dural", "s1_")) and "ganglion" not in name and "root" not in name:
            assert "_root" in way[0].id, name


def test_the_way_to_femoral_and_obturator_is_by_the_middle_root(alder: Body) -> None:
    for nerve in ("femoral_left", "obturator_right", "saphenous_left", "obturator_posterior_left"):
        assert parts_of_way(nerve, alder.structures)[0].startswith("l3_root")
    assert parts_of_way("lumbosacral_trunk_left", alder.structures)[0] == "l5_root_left"


def test_a_structure_that_the_body_lacks_is_told(alder: Body) -> None:
    for ask in (roots_of, branches_of, parts_of_way):
        with pytest.raises(FurcalError, match="'accessory_obturator_left': this body has no such part"):
            ask("accessory_obturator_left", alder.structures)


@pytest.mark.parametrize(
    ("roots", "wanted"),
    [("L2-L4", "L2 L3 L4"), ("L2-4", "L2 L3 L4"), ("T12", "T12"), ("T10-L2", "T10 T11 T12 L1 L2"),
     ("L4-S3", "L4 L5 S1 S2 S3"), ("", "")],
)  # fmt: skip
def test_spans_of_roots(roots: str, wanted: str) -> None:
    assert segments(roots) == tuple(wanted.split())
    assert set(wanted.split()) <= set(SEGMENTS)
