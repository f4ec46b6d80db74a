"""Portals on the default adult, against what dissections show."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from meshes.body import Body, load_body
from meshes.contact import Docking, dock
from meshes.portal import place
from meshes.specimen import ALDER
from meshes.structures import SIDES, other_side


def docked(body: Body, **options: Any) -> Docking:
    words: dict[str, Any] = {"level": "L4-5", "side": "left", "approach": "lateral", "at": 0.5, "radius_mm": 11.0}
    return dock(body, place(body, **(words | options)))


def touched(docking: Docking) -> set[str]:
    return {c.id for c in docking.nerves if c.touched}


@pytest.mark.parametrize("side", SIDES)
def test_a_portal_at_mid_disc_on_l4_5_touches_the_femoral_nerve(alder: Body, side: str) -> None:
    """Davis TT et al. 2011 found the nerve at or behind mid-disc in all of 18 plexuses."""
    assert f"femoral_{side}" in touched(docked(alder, side=side))


@pytest.mark.parametrize("side", SIDES)
def test_the_same_portal_on_l2_3_touches_no_ramus_and_no_great_nerve(alder: Body, side: str) -> None:
    names = [f"l{k}_ramus" for k in (2, 3, 4)] + ["femoral", "obturator"]
    assert not touched(docked(alder, level="L2-3", side=side)) & {f"{n}_{side}" for n in names}


@pytest.mark.parametrize("side", SIDES)
def test_l3_4_is_open_and_the_crest_bars_l4_5_and_l5_s1_on_an_unbent_body(alder: Body, side: str) -> None:
    """Relations of straight lateral access; common practice, no source."""
    assert docked(alder, level="L3-4", side=side).access.reaches_disc
    assert f"hip_{side}" in docked(alder, level="L4-5", side=side).access.barred_by
    assert f"hip_{side}" in docked(alder, level="L5-S1", side=side).access.barred_by


@pytest.mark.parametrize("side", SIDES)
def test_a_rib_bars_l1_2(alder: Body, side: str) -> None:
    """Common practice, no source."""
    assert any(bone.startswith("rib_") for bone in docked(alder, level="L1-2", side=side).access.barred_by)


@pytest.mark.parametrize("side", SIDES)
def test_the_tilt_and_the_table_break_that_are_named_do_clear_l4_5(alder: Body, side: str) -> None:
    clears_at = docked(alder, side=side).access.clears_at
    assert clears_at is not None
    assert clears_at.cranial_deg is not None
    assert clears_at.table_break_deg is not None
    assert docked(alder, side=side, cranial_deg=clears_at.cranial_deg).access.reaches_disc
    for degrees, open_ in ((clears_at.table_break_deg, True), (clears_at.table_break_deg - 1, False)):
        bent = load_body(replace(ALDER, table_break_deg=float(degrees), up=side))
        assert docked(bent, side=side).access.reaches_disc == open_


@pytest.mark.parametrize("level", ["L1-2", "L2-3", "L3-4", "L4-5"])
def test_right_equals_left_within_a_tenth_of_a_millimetre(alder: Body, level: str) -> None:
    left, right = docked(alder, level=level, at=0.4), docked(alder, level=level, at=0.4, side="right")
    mirrored = {c.id: c.clearance_mm for c in right.nerves}
    for c in left.nerves:
        assert mirrored[other_side(c.id)] == pytest.approx(c.clearance_mm, abs=0.1)
    assert {other_side(b) for b in right.access.barred_by} == set(left.access.barred_by)
    assert right.access.clears_at == left.access.clears_at


@pytest.mark.parametrize("side", SIDES)
def test_the_wall_is_passed_from_outside_in_and_psoas_last(alder: Body, side: str) -> None:
    layers = [x.id for x in docked(alder, level="L3-4", side=side, radius_mm=1.0).layers if x.by == "axis"]
    order = [
        "skin", "subcutaneous_fat", f"external_oblique_{side}", f"internal_oblique_{side}",
        f"transversus_abdominis_{side}", "transversalis_fascia", "retroperitoneal_fat", "psoas_fascia",
        f"psoas_major_{side}", "disc_l3_4",
    ]  # fmt: skip
    assert [x for x in layers if x in order and x != "retroperitoneal_fat"] == [
        x for x in order if x != "retroperitoneal_fat"
    ]
    fat = [i for i, x in enumerate(layers) if x == "retroperitoneal_fat"]
    assert min(fat) > layers.index("transversalis_fascia")


@pytest.mark.parametrize("level", ["T12-L1", "L1-2", "L2-3", "L3-4", "L4-5", "L5-S1"])
def test_the_axis_ends_on_the_disc_itself(alder: Body, level: str) -> None:
    docking = docked(alder, level=level)
    disc = next(x for x in docking.layers if x.id == docking.portal.disc)
    assert disc.from_mm == pytest.approx(docking.portal.length_mm, abs=0.5)
    gap = np.linalg.norm(alder.surfaces[docking.portal.disc].vertices - docking.portal.end_mm, axis=1).min()
    assert gap < 2.0
