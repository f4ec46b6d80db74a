"""Bones in the way, and what clears it: by geometry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from meshes.access import Access, access, beside, carrier, table_breaks
from meshes.body import Body
from meshes.contact import dock
from meshes.errors import FurcalError
from meshes.landmarks import Frame, Landmarks
from meshes.nearby import Nearby
from meshes.portal import Portal, place
from meshes.specimen import Specimen
from meshes.structures import LEVELS, level_key
from tests.contact.bodies import CREST_TOP, DISCS, box, made_up_body

BODY = made_up_body()
NEARBY = Nearby(BODY.surfaces)


def docked(body: Body = BODY, **options: Any) -> Portal:
    words: dict[str, Any] = {"level": "L3-4", "side": "left", "approach": "lateral", "at": 0.5, "radius_mm": 11.0}
    return place(body, **(words | options))


def asked(**options: Any) -> Access:
    return access(BODY, docked(**options), NEARBY)


def bent(degrees: float) -> Mapping[str, Frame]:
    """The made-up body's frames with everything below the L4-5 disc turned about it, the left side down."""
    a = np.radians(degrees)
    turn = np.array([[np.cos(a), 0.0, -np.sin(a)], [0.0, 1.0, 0.0], [np.sin(a), 0.0, np.cos(a)]])
    about = np.array([0.0, 0.0, DISCS["disc_l4_5"][0]])
    frames = dict(BODY.landmarks.frames)
    for name in ("pelvis", "l5", "disc_l5_s1"):
        frame = frames[name]
        frames[name] = Frame((frame.origin - about) @ turn + about, frame.axes @ turn)
    return frames


def bent_body(degrees: float) -> Body:
    """The made-up body with its bones really moved."""
    there, here = bent(degrees), BODY.landmarks.frames
    surfaces = dict(BODY.surfaces)
    for name in BODY.ids("bone"):
        frame = carrier(name)
        if frame in here:
            surface = BODY.surfaces[name]
            surfaces[name] = surface.moved(here[frame].carried(surface.vertices, there[frame]))
    return replace(BODY, surfaces=surfaces, landmarks=Landmarks({}, there, {}, {}))


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("level", ["L2-3", "L3-4"])
def test_open_levels_are_open(level: str, side: str) -> None:
    found = asked(level=level, side=side)
    assert found.reaches_disc
    assert found.barred_by == ()
    assert found.clears_at is None


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(("level", "bones"), [("L1-2", ("rib_12",)), ("L4-5", ("hip",)), ("L5-S1", ("hip", "sacrum"))])
def test_ribs_and_crest_bar_the_way_in_the_order_they_are_met(level: str, bones: tuple[str, ...], side: str) -> None:
    found = asked(level=level, side=side)
    assert not found.reaches_disc
    assert found.barred_by == tuple(b if b == "sacrum" else f"{b}_{side}" for b in bones)
    assert [b.id for b in found.barred] == list(found.barred_by)


@pytest.mark.parametrize(("into", "barred"), [(0.4, False), (0.6, True)])
def test_a_graze_of_half_a_millimetre_is_passed(into: float, barred: bool) -> None:
    found = asked(level="L3-4", radius_mm=DISCS["disc_l3_4"][0] - CREST_TOP + into)
    assert found.reaches_disc != barred


def test_bodies_beside_the_disc_do_not_bar_but_their_processes_do() -> None:
    assert asked(level="L3-4", at=0.5, radius_mm=16.0).reaches_disc
    assert set(asked(level="L3-4", at=0.05, radius_mm=17.0).barred_by) == {"l3", "l4"}


def with_rib(low: tuple[float, ...], high: tuple[float, ...]) -> Access:
    """Access of the L3-4 portal on the body with a block of bone for its left rib 12."""
    surfaces = dict(BODY.surfaces) | {"rib_12_left": box(low, high, step=2.0)}
    body = replace(BODY, surfaces=surfaces)
    return access(body, docked(body), Nearby(surfaces))


def test_any_other_bone_bars_however_near_to_the_disc() -> None:
    level = DISCS["disc_l3_4"][0]
    assert with_rib((26.0, -5.0, level - 3.0), (29.0, 5.0, level + 3.0)).barred_by == ("rib_12_left",)


def test_of_two_equal_tilts_the_one_to_the_head_is_named() -> None:
    level = DISCS["disc_l3_4"][0]
    clears_at = with_rib((70.0, -5.0, level - 3.0), (76.0, 5.0, level + 3.0)).clears_at
    assert clears_at is not None
    assert clears_at.cranial_deg is not None
    assert 10 < clears_at.cranial_deg < 25


@pytest.mark.parametrize("depth", [0.0, 30.0])
def test_what_lies_past_the_border_of_the_disc_is_not_on_the_way_to_it(depth: float) -> None:
    assert asked(level="L3-4", depth_mm=depth).reaches_disc


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("level", ["L1-2", "L4-5"])
def test_the_tilt_that_clears_does_and_no_smaller_one(level: str, side: str) -> None:
    clears_at = asked(level=level, side=side).clears_at
    assert clears_at is not None
    tilt = clears_at.cranial_deg
    assert tilt is not None
    assert asked(level=level, side=side, cranial_deg=tilt).reaches_disc
    for smaller in range(-abs(tilt) + 1, abs(tilt)):
        assert not asked(level=level, side=side, cranial_deg=smaller).reaches_disc


def test_the_crest_is_cleared_at_the_tilt_worked_out_by_hand() -> None:
    """The channel's lower edge must pass the inner upper corner of the crest but for the graze."""
    up, left = CREST_TOP - DISCS["disc_l4_5"][0], 80.0 - 25.0
    far_left = 100.0 - 25.0
    for tilt in range(90):
        a = np.radians(tilt)
        if min(x * np.sin(a) - up * np.cos(a) for x in (left, far_left)) >= 11.0 - 0.5:
            break
    clears_at = asked(level="L4-5").clears_at
    assert clears_at is not None
    # The disc leans ten degrees, which makes the channel's edge pass a little further in front or behind.
    assert clears_at.cranial_deg == pytest.approx(tilt, abs=1.0)


def test_the_table_break_that_clears_does_on_a_body_really_bent_and_no_smaller_one() -> None:
    clears_at = access(BODY, docked(level="L4-5"), NEARBY, bent).clears_at
    assert clears_at is not None
    degrees = clears_at.table_break_deg
    assert degrees is not None
    assert 5 < degrees < 30
    for there, open_ in ((degrees, True), (degrees - 1, False)):
        body = bent_body(float(there))
        portal = docked(body, level="L4-5")
        assert access(body, portal, Nearby(body.surfaces)).reaches_disc == open_


def test_bending_the_other_way_clears_nothing() -> None:
    clears_at = access(BODY, docked(level="L4-5"), NEARBY, lambda degrees: bent(-degrees)).clears_at
    assert clears_at is not None
    assert clears_at.table_break_deg is None


def test_where_no_tilt_clears_the_way_none_is_named() -> None:
    surfaces = dict(BODY.surfaces) | {"hip_left": box((80.0, -90.0, -190.0), (100.0, 90.0, 220.0))}
    body = replace(BODY, surfaces=surfaces)
    found = access(body, docked(body), Nearby(surfaces), bent)
    assert found.barred_by == ("hip_left",)
    assert found.clears_at is not None
    assert found.clears_at.cranial_deg is None
    assert found.clears_at.table_break_deg is None


def test_a_tilt_that_would_leave_through_the_cut_end_is_not_named() -> None:
    """A wall of bone open only above: a steep tilt clears it, but leaves the body through its end."""
    surfaces = dict(BODY.surfaces) | {"rib_12_left": box((90.0, -90.0, 100.0), (92.0, 90.0, 202.0))}
    body = replace(BODY, surfaces=surfaces)
    portal = docked(body, level="T12-L1", radius_mm=3.0)
    found = access(body, portal, Nearby(surfaces))
    assert found.barred_by == ("rib_12_left",)
    assert found.clears_at is not None
    assert found.clears_at.cranial_deg is None
    with pytest.raises(FurcalError, match="cut end"):
        docked(body, level="T12-L1", radius_mm=3.0, cranial_deg=26.0)


def test_bones_beside_a_disc() -> None:
    assert [beside(f"disc_{level_key(level)}") for level in LEVELS] == [
        ("t12", "l1"), ("l1", "l2"), ("l2", "l3"), ("l3", "l4"), ("l4", "l5"), ("l5", "sacrum"),
    ]  # fmt: skip


def test_every_bone_moves_with_a_frame_of_the_body() -> None:
    frames = table_frames(20.0)
    assert {carrier(n) for n in BODY.ids("bone")} <= set(frames)
    assert carrier("rib_11_right") == "t11"
    assert carrier("femur_left") == carrier("sacrum") == carrier("hip_right") == "pelvis"


def table_frames(degrees: float, side: str = "left", specimen: Specimen | None = None) -> Mapping[str, Frame]:
    breaks = table_breaks(specimen or Specimen(), side)
    assert breaks is not None
    return breaks(degrees)


def test_the_table_opens_the_docked_side_where_the_specimen_leaves_it_open() -> None:
    for side, sign in (("left", 1.0), ("right", -1.0)):
        frames = table_frames(30.0, side)
        # Seen from the lumbar spine the pelvis turns its docked side away from the ribs.
        tilt = frames["pelvis"].axes[0] @ frames["l2"].axes[2]
        assert sign * tilt < -0.2
    turned = table_frames(30.0, "left", Specimen(up="right"))
    assert turned["pelvis"].axes[0] @ turned["l2"].axes[2] > 0.2


@pytest.mark.parametrize("posture", ["supine", "prone"])
def test_there_is_no_table_break_off_the_side(posture: str) -> None:
    assert table_breaks(Specimen(posture=posture), "left") is None


def test_bone_layers_and_what_clears_are_found_once_and_only_when_asked(
    alder: Body, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a portal is dragged most places are drawn and not read."""
    from meshes import access as rules
    from meshes import contact

    calls: list[str] = []

    def counted(module: ModuleType, name: str) -> None:
        work = getattr(module, name)

        def counting(*given: object, **named: object) -> object:
            calls.append(name)
            return work(*given, **named)

        monkeypatch.setattr(module, name, counting)

    for module, name in ((contact, "access"), (contact, "layers_along"), (rules, "_smallest_tilt")):
        counted(module, name)
    docking = dock(alder, place(alder, "L4-5", "left", "lateral", 0.5, 11.0))
    assert [c.id for c in docking.nerves if c.touched]
    assert calls == []
    for _ in range(2):
        assert docking.access.barred_by == ("hip_left",)
        assert docking.layers
    assert calls == ["access", "layers_along"]
    for _ in range(2):
        assert docking.access.clears_at is not None
    assert calls == ["access", "layers_along", "_smallest_tilt"]
