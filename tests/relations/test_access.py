"""Relation 18: what bars a straight lateral way to each disc. From memory of standard handbooks unless named.

A working channel of 22 mm at mid-disc; what bars it is found by the geometry of the built bones.
"""

from dataclasses import replace

import pytest

from meshes.body import Body, load_body
from meshes.contact import Docking, dock
from meshes.portal import place
from meshes.specimen import ALDER, Specimen
from meshes.structures import POSTURES, SIDES

RADIUS_MM = 11.0


def _docked(body: Body, level: str, side: str) -> Docking:
    return dock(body, place(body, level, side, "lateral", 0.5, RADIUS_MM))


@pytest.mark.parametrize("posture", POSTURES)
@pytest.mark.parametrize("side", SIDES)
def test_l3_4_is_clear_of_rib_and_crest_in_every_posture(side: str, posture: str) -> None:
    """18, from memory of standard handbooks."""
    assert _docked(load_body(replace(ALDER, posture=posture)), "L3-4", side).access.barred_by == ()


@pytest.mark.parametrize("side", SIDES)
def test_l4_5_meets_the_crest_and_is_opened_by_the_table_break(alder: Body, side: str) -> None:
    """18, from memory of standard handbooks; one published series: barred in 7 of 20."""
    access = _docked(alder, "L4-5", side).access
    assert access.barred_by == (f"hip_{side}",)
    assert access.clears_at is not None
    assert access.clears_at.table_break_deg is not None
    assert 0 < access.clears_at.table_break_deg <= 40
    bent = Specimen(table_break_deg=float(access.clears_at.table_break_deg), up=side)
    assert _docked(load_body(bent), "L4-5", side).access.reaches_disc


@pytest.mark.parametrize("side", SIDES)
def test_l5_s1_is_barred_by_the_crest(alder: Body, side: str) -> None:
    """18, from memory of standard handbooks."""
    assert f"hip_{side}" in _docked(alder, "L5-S1", side).access.barred_by


@pytest.mark.parametrize(("level", "ribs"), [("L2-3", 2), ("L1-2", 2)])
@pytest.mark.parametrize("side", SIDES)
def test_above_l3_only_ribs_stand_in_the_way(alder: Body, side: str, level: str, ribs: int) -> None:
    """18, from memory: L2-3 may pass under rib 12 or between 11 and 12; L1-2 meets a rib or passes between two."""
    barred = _docked(alder, level, side).access.barred_by
    assert set(barred) <= {f"rib_11_{side}", f"rib_12_{side}"}
    assert len(barred) <= ribs


@pytest.mark.parametrize("side", SIDES)
def test_l1_2_meets_a_rib_or_passes_between_two(alder: Body, side: str) -> None:
    """18, from memory of standard handbooks: a rib stands at the height of the disc, in the way or just beside it."""
    docking = _docked(alder, "L1-2", side)
    height = float(docking.portal.entry_mm[2])
    near = [alder.surfaces[f"{rib}_{side}"].vertices[:, 2] for rib in ("rib_11", "rib_12")]
    assert docking.access.barred_by or min(v.min() for v in near) < height < max(v.max() for v in near)
