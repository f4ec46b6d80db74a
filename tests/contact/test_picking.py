"""What a place on the screen means: against every triangle, and as one would point at it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.body import Body
from meshes.contact import Ready
from meshes.curves import Array
from meshes.nearby import crossings
from meshes.picking import pick
from tests.contact.bodies import made_up_body

MADE_UP = Ready.of(made_up_body())
EVERYTHING = frozenset(MADE_UP.body.structures)
WALL = frozenset(n for n in EVERYTHING if "oblique" in n or "transversus" in n)
FRONT, BACK, LEFT, RIGHT = (np.array(v, dtype=float) for v in ((0, 1, 0), (0, -1, 0), (-1, 0, 0), (1, 0, 0)))
coordinate = st.floats(-90.0, 90.0)
directions = (
    st.tuples(*[st.floats(-1.0, 1.0)] * 3)
    .map(np.array)
    .filter(lambda v: np.linalg.norm(v) > 0.2)
    .map(lambda v: v / np.linalg.norm(v))
)


@pytest.fixture(scope="module")
def ready(alder: Body) -> Ready:
    return Ready.of(alder)


def aimed(ready: Ready, at: Array, towards: Array, solid: frozenset[str], glassy: frozenset[str] = frozenset(),
          slack: float = 2.0, skip: float = 0.0) -> str | None:  # fmt: skip
    """Id that a line through a point means, seen from far off."""
    hit = pick(ready, at - 1500.0 * towards, towards, solid, glassy, slack, skip)
    return hit.id if hit else None


@cache
def ball(body: Body, name: str) -> tuple[Array, float]:
    """Centre (3,) and radius, mm, of a ball that holds a surface, and a little more."""
    surface = body.surfaces[name]
    centre: Array = 0.5 * (surface.vertices.min(axis=0) + surface.vertices.max(axis=0))
    return centre, float(np.linalg.norm(surface.vertices - centre, axis=1).max()) + 1e-3


def naive(body: Body, start: Array, towards: Array, names: frozenset[str]) -> tuple[str | None, float]:
    """First surface that a line meets, by a test of every triangle of all that its ball lets be met, and its depth."""
    best: tuple[str | None, float] = (None, np.inf)
    for name in names:
        centre, radius = ball(body, name)
        if np.linalg.norm(np.cross(centre - start, towards)) > radius:
            continue
        depth, _ = crossings(body.surfaces[name], start, towards)
        ahead = depth[depth > 0.0]
        if len(ahead) and ahead[0] < best[1]:
            best = (name, float(ahead[0]))
    return best


@given(st.tuples(coordinate, coordinate, coordinate), directions)
def test_without_slack_it_is_what_the_line_meets_first(
    alder: Body, ready: Ready, at: tuple[float, float, float], towards: Array
) -> None:
    solid = frozenset(alder.structures) - {"skin"} - frozenset(n for n in alder.structures if "oblique" in n)
    start = np.array(at) - 800.0 * towards
    name, depth = naive(alder, start, towards, solid)
    hit = pick(ready, start, towards, solid, (), 0.0)
    if hit is None:
        assert name is None
        return
    if hit.id == name:
        assert hit.point_mm == pytest.approx(start + depth * towards, abs=1e-6)
    else:
        # A tube is round, its mesh has twelve sides: a line may graze the one and miss the other. It is not covered.
        assert hit.id in alder.centrelines
        off = np.linalg.norm(np.cross(hit.point_mm - start, towards))
        assert off < 1e-6
        meets, _ = crossings(alder.surfaces[hit.id], start, towards)
        radius = alder.centrelines[hit.id].radius.max()
        assert (hit.point_mm - start) @ towards <= depth + 2.0 * radius or not len(meets)


@given(st.tuples(coordinate, coordinate, coordinate), directions, st.floats(0.0, 6.0))
def test_what_is_meant_lies_within_the_slack_and_is_shown(
    ready: Ready, at: tuple[float, float, float], towards: Array, slack: float
) -> None:
    start = np.array(at) - 800.0 * towards
    hit = pick(ready, start, towards, EVERYTHING, (), slack)
    if hit is not None:
        assert hit.id in EVERYTHING
        assert np.linalg.norm(np.cross(hit.point_mm - start, towards)) <= slack + 1e-6
        assert (hit.point_mm - start) @ towards > 0.0


def test_a_nerve_is_picked_through_glass_and_not_through_muscle(alder: Body, ready: Ready) -> None:
    everything = frozenset(alder.structures)
    bared = everything - {"skin"} - frozenset(n for n in everything if "oblique" in n or "transversus" in n)
    line = alder.centrelines["femoral_left"]
    place = line.at(0.35 * line.length)
    psoas = frozenset({"psoas_major_left"})
    for beside in (np.zeros(3), np.array([0.0, 0.0, line.radius.max() + 1.0])):
        assert aimed(ready, place + beside, FRONT, bared - psoas, psoas) == "femoral_left"
        assert aimed(ready, place + beside, FRONT, bared) == "psoas_major_left"


def test_a_nerve_behind_bone_is_not_picked(alder: Body, ready: Ready) -> None:
    line = alder.centrelines["femoral_left"]
    place = line.at(0.35 * line.length)
    bones = frozenset(alder.ids("bone")) | {"femoral_left"}
    assert aimed(ready, place, LEFT, bones) == "hip_left"
    assert aimed(ready, place, FRONT, bones) == "femoral_left"


def test_a_near_miss_of_a_nerve_means_the_nerve_up_to_the_slack() -> None:
    shown = frozenset({"femoral_left", "hip_left", "sacrum"})
    a, b = np.array([40.0, 12.0, 80.0]), np.array([45.0, 4.0, 38.0])
    place = 0.5 * (a + b)
    # Seen from in front the tube of 3 mm runs nearly straight up: one steps out of it sideways.
    slope = float(np.cos(np.arctan2(b[0] - a[0], a[2] - b[2])))
    for off, meant in ((2.9, True), (4.9, True), (5.2, False)):
        beside = np.array([-off / slope, 0.0, 0.0])
        assert (aimed(MADE_UP, place + beside, FRONT, shown, slack=2.0) == "femoral_left") is meant


def test_of_several_tubes_the_nearest_to_the_line_then_to_the_eye() -> None:
    shown = frozenset({"femoral_left", "obturator_left"})
    place = np.array([42.0, 0.0, 50.0])
    first = pick(MADE_UP, place - 1500.0 * FRONT, FRONT, shown, (), 30.0)
    assert first is not None
    offs = {n: pick(MADE_UP, place - 1500.0 * FRONT, FRONT, {n}, (), 30.0) for n in shown}
    away = {n: np.linalg.norm(np.cross(h.point_mm - place, FRONT)) for n, h in offs.items() if h}
    assert len(away) == 2
    assert away[first.id] == min(away.values())


def test_the_first_thing_of_glass_is_meant_only_where_there_is_nothing_else() -> None:
    hip = frozenset({"hip_left"})
    at = np.array([90.0, 0.0, 10.0])
    assert aimed(MADE_UP, at, LEFT, hip, WALL) == "hip_left"
    assert aimed(MADE_UP, at, LEFT, frozenset(), WALL | hip) == "external_oblique_left"
    assert aimed(MADE_UP, at, LEFT, frozenset(), frozenset()) is None
    assert aimed(MADE_UP, np.array([0.0, 0.0, 900.0]), LEFT, EVERYTHING) is None


def test_what_is_skipped_in_front_is_not_seen() -> None:
    at = np.array([90.0, 0.0, 10.0])
    shown = frozenset({"external_oblique_left", "internal_oblique_left", "hip_left"})
    # The outer faces lie at x = 128, 119.8 and 100, the eye at 1590.
    for skip, meant in ((0.0, "external"), (1590.0 - 119.9, "internal"), (1590.0 - 105.0, "hip")):
        assert str(aimed(MADE_UP, at, LEFT, shown, skip=skip)).startswith(meant)
    assert aimed(MADE_UP, at, LEFT, shown, skip=4000.0) is None


@pytest.mark.parametrize(("towards", "side"), [(LEFT, "left"), (RIGHT, "right")])
def test_the_side_that_faces_the_eye_is_meant(towards: Array, side: str) -> None:
    assert aimed(MADE_UP, np.array([0.0, 0.0, 10.0]), towards, WALL) == f"external_oblique_{side}"
