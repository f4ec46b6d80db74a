"""Courses come to rest on surfaces, within muscles and clear of bone; their ends stay where they hang."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.courses import Course, Drawn, Waypoint, draw_course
from meshes.curves import Array, Centreline
from meshes.fields import Field, draw_balls, empty_field
from meshes.settle import Surroundings, settle
from meshes.structures import Structure
from meshes.tolerances import NERVE_TO_BONE_MM, UNDER_SURFACE_MM
from tests.meshes.lines import MIRROR, straight
from tests.meshes.refusals import refused

ORIGIN = np.zeros(3)
NOTHING = Surroundings({}, [])


def ball(radius: float, centre: Array = ORIGIN, spacing: float = 1.5, band: float = 8.0) -> Field:
    field = empty_field(centre - radius, centre + radius, spacing, band)
    x, y, z = (slice(0, n) for n in field.values.shape)
    field.values = draw_balls(field, (x, y, z), centre[None], np.array([radius]))
    return field


def drawn(points: Array, radius: float = 1.0, parent: Centreline | None = None, **words: Any) -> Drawn:
    way = [Waypoint(np.array(p), radius, **words) for p in points]
    course = Course(Structure("twig_left", "Twig", "ramulus", "nerve", "left"), True, way)
    return draw_course(course, way, parent, None)


def meridian(away: float, from_deg: float = -60.0, to_deg: float = 60.0, count: int = 5) -> Array:
    """Points over a ball at the origin, `away` mm from its centre."""
    angle = np.radians(np.linspace(from_deg, to_deg, count))
    way = np.stack([np.cos(angle), 0.2 * np.cos(angle), np.sin(angle)], axis=1)
    return np.asarray(away * way / np.linalg.norm(way, axis=1, keepdims=True))


def inner(line: Centreline, margin_mm: float = 12.0) -> Array:
    """Samples away from both ends."""
    return np.asarray(line.points[(line.arc > margin_mm) & (line.length - line.arc > margin_mm)])


def astray(line: Centreline, course: Centreline) -> float:
    """Furthest that a line's samples stray sideways from another line, mm."""
    a, b = course.points[:-1], course.points[1:]
    share = np.einsum("nmj,mj->nm", line.points[:, None] - a, b - a) / np.einsum("mj,mj->m", b - a, b - a)
    nearest = a + np.clip(share, 0.0, 1.0)[..., None] * (b - a)
    return float(np.linalg.norm(nearest - line.points[:, None], axis=2).min(axis=1).max())


@settings(max_examples=25)
@given(st.floats(-4.0, 4.0), st.floats(0.5, 3.0), st.floats(0.0, 2.0), st.floats(25.0, 50.0))
def test_a_line_told_to_lie_on_a_ball_lies_at_its_radius_and_gap(
    off: float, thick: float, gap: float, r: float
) -> None:
    """Off its surface by less than a fifth of a millimetre, drawn up to 4 mm too deep or too high."""
    course = drawn(meridian(r + thick + gap + off), thick, on="ball", gap_mm=gap)
    line = settle(course, Surroundings({"ball": ball(r)}, []), "here")
    away = np.linalg.norm(inner(line), axis=1) - r
    assert np.abs(away - (thick + gap)).max() < 0.2
    np.testing.assert_array_equal(line.radius, course.line.radius)


def test_a_line_drawn_straight_between_two_points_on_a_ball_bends_round_it() -> None:
    ends = meridian(32.0, count=2)
    course = drawn(ends, 1.0, on="ball", gap_mm=1.0)
    assert np.linalg.norm(course.line.points, axis=1).min() < 20.0
    line = settle(course, Surroundings({"ball": ball(30.0, band=16.0)}, []), "here")
    assert np.abs(np.linalg.norm(inner(line), axis=1) - 32.0).max() < 0.3
    np.testing.assert_array_equal(line.points[[0, -1]], ends)


@settings(max_examples=25)
@given(st.floats(-3.0, 5.0), st.floats(0.5, 2.5))
def test_a_line_told_to_run_inside_is_brought_back_under_the_surface(off: float, thick: float) -> None:
    course = drawn(meridian(30.0 + off), thick, inside="ball")
    line = settle(course, Surroundings({"ball": ball(30.0)}, []), "here")
    assert np.linalg.norm(inner(line), axis=1).max() < 30.0 - thick - UNDER_SURFACE_MM + 0.15


@settings(max_examples=15)
@given(st.floats(-4.0, 4.0), st.floats(0.5, 2.0), st.floats(0.3, 1.5))
def test_a_line_told_to_run_under_a_solid_is_never_farther_from_it_than_its_gap(
    off: float, thick: float, gap: float
) -> None:
    """Too far off it is brought close; nearer, or in the solid, it is left to what else it meets."""
    course = drawn(meridian(30.0 + thick + gap + off), thick, under="ball", gap_mm=gap)
    line = settle(course, Surroundings({"ball": ball(30.0)}, []), "here")
    assert (np.linalg.norm(inner(line), axis=1) - 30.0).max() < thick + gap + 0.25
    if off < -0.5:
        assert astray(line, course.line) < 0.15


def test_a_line_well_inside_stays_as_it_was_drawn() -> None:
    course = drawn(meridian(12.0), 1.0, inside="ball")
    line = settle(course, Surroundings({"ball": ball(40.0)}, []), "here")
    assert astray(line, course.line) < 0.25, "only its bend is rounded: by (2 mm)^2 over twice its radius"


@settings(max_examples=25)
@given(st.floats(12.0, 35.0), st.floats(-5.0, 4.0), st.floats(0.5, 2.5), st.sampled_from([-1.0, 1.0]))
def test_every_course_keeps_clear_of_a_hard_ball(bone: float, beside: float, thick: float, side: float) -> None:
    """Drawn through up to 5 mm of it or past it; rounding its corners costs it up to half a millimetre of its gap."""
    aside = 1.0 + side * (bone + beside)
    course = drawn(np.array([[aside, 0.0, -70.0], [aside, 0.0, 0.0], [aside, 0.0, 70.0]]), thick)
    centre = np.array([1.0, 0.0, 2.0])
    line = settle(course, Surroundings({}, [ball(bone, centre)]), "here")
    clearance = np.linalg.norm(line.points - centre, axis=1) - bone - thick
    assert clearance.min() > NERVE_TO_BONE_MM - 0.5
    np.testing.assert_array_equal(line.points[[0, -1]], course.line.points[[0, -1]])
    moved = np.hypot(line.points[:, 0] - aside, line.points[:, 1])
    assert moved[np.abs(line.points[:, 2]) > 60.0].max() < 0.3, "far from it nothing moves"
    assert (side * (line.points[:, 0] - aside)).min() > -0.05, "it is pushed out, not through"


def test_two_hard_balls_leave_the_gap_between_them() -> None:
    course = drawn(np.array([[4.0, 0.0, -60.0], [4.0, 0.0, 60.0]]), 1.0)
    sides = [ball(10.0, np.array([x, 0.0, 0.0])) for x in (-14.0, 14.0)]
    line = settle(course, Surroundings({}, sides), "here")
    for x in (-14.0, 14.0):
        assert np.linalg.norm(line.points - [x, 0.0, 0.0], axis=1).min() > 10.0 + 1.0 + NERVE_TO_BONE_MM - 0.5


def test_a_tube_thicker_than_the_band_is_held_off_by_what_is_near_and_not_by_what_is_far() -> None:
    """Beyond its band a field knows no distance: a wide vessel must not flee from a bone 20 mm away."""
    course = drawn(np.array([[20.0, 0.0, -60.0], [20.0, 0.0, 60.0]]), 9.0)
    line = settle(course, Surroundings({}, [ball(4.0)]), "here")
    assert astray(line, course.line) < 1e-9


def test_without_anything_to_meet_a_line_keeps_its_course() -> None:
    course = drawn(np.array([[0.0, 0.0, 0.0], [10.0, 20.0, 40.0], [0.0, 60.0, 90.0]]))
    line = settle(course, NOTHING, "here")
    assert astray(line, course.line) < 0.15
    np.testing.assert_array_equal(line.points[[0, -1]], course.line.points[[0, -1]])


def test_a_branch_stays_inside_its_parent_whatever_pushes() -> None:
    parent = straight(np.array([0.0, 0.0, -60.0]), np.array([0.0, 0.0, 0.0]), 3.0, 40)
    course = drawn(np.array([[20.0, 0.0, 30.0], [40.0, 0.0, 40.0]]), 1.0, parent)
    free = settle(course, NOTHING, "here")
    pushed = settle(course, Surroundings({}, [ball(8.0, np.array([0.0, 4.0, 8.0]))]), "here")
    np.testing.assert_array_equal(pushed.points[0], course.line.points[0])
    inside = course.line.arc <= 6.0
    np.testing.assert_array_equal(pushed.points[inside], course.line.points[inside])
    assert np.hypot(*pushed.points[0, :2]) == 0.0
    assert np.abs(pushed.points - free.points).max() > 0.5


def test_only_between_two_waypoints_on_the_same_solid_is_a_line_settled() -> None:
    points = meridian(34.0, count=5)
    way = [Waypoint(p, 1.0, on="ball" if i in (1, 2) else "") for i, p in enumerate(points)]
    course = Course(Structure("twig_left", "Twig", "ramulus", "nerve", "left"), True, way)
    plan = draw_course(course, way, None, None)
    line = settle(plan, Surroundings({"ball": ball(30.0)}, []), "here")
    away = np.linalg.norm(line.points, axis=1)
    here = np.linalg.norm(line.points - 0.5 * (points[1] + points[2]), axis=1).argmin()
    assert away[here] == pytest.approx(30.0 + 1.0 + 0.5, abs=0.2)
    late = line.arc > plan.line.arc[np.searchsorted(plan.before, 3)] + 6.0
    assert np.abs(away[late] - np.linalg.norm(plan.line.points[late], axis=1)).max() < 0.3


@settings(max_examples=10)
@given(st.integers(0, 2**32 - 1))
def test_the_mirrored_course_among_mirrored_solids_rests_as_the_mirror_image(seed: int) -> None:
    draw = np.random.default_rng(seed)
    centre = np.round(draw.uniform(-6.0, 6.0, 3) / 1.5) * 1.5
    points = np.array([[25.0, 0.0, -50.0], [28.0, 5.0, 0.0], [25.0, 0.0, 50.0]]) + draw.uniform(-6.0, 6.0, (3, 3))
    one = settle(drawn(points, 1.2), Surroundings({}, [ball(20.0, centre)]), "here")
    other = settle(drawn(points * MIRROR, 1.2), Surroundings({}, [ball(20.0, centre * MIRROR)]), "here")
    np.testing.assert_allclose(other.points, one.points * MIRROR, atol=1e-3)


def test_settling_once_is_enough() -> None:
    """What rests stays at rest: settled again, nothing moves by more than the rounding of its corners."""
    around = Surroundings({"ball": ball(30.0)}, [ball(6.0, np.array([31.0, 6.0, 0.0]))])
    course = drawn(meridian(33.0), 1.0, on="ball", gap_mm=0.5)
    once = settle(course, around, "here")
    again = settle(Drawn(once, course.before, course.way, False, False), around, "here")
    assert astray(again, once) < 0.6


def test_a_settled_line_is_smooth() -> None:
    """No bend sharper than twice the tube's own thickness, round a bone in the way."""
    course = drawn(np.array([[0.0, 0.0, -50.0], [0.0, 0.0, 50.0]]), 1.5)
    line = settle(course, Surroundings({}, [ball(8.0, np.array([2.0, 0.0, 0.0]))]), "here")
    steps = np.diff(line.points, axis=0)
    heading = steps / np.linalg.norm(steps, axis=1, keepdims=True)
    turn = np.arccos(np.clip((heading[:-1] * heading[1:]).sum(axis=1), -1.0, 1.0))
    bend = turn / np.linalg.norm(steps, axis=1)[1:]
    assert bend.max() < 1.0 / 3.0


@pytest.mark.parametrize("word", ["on", "under", "inside"])
def test_a_solid_that_is_not_there_is_told_with_the_waypoint(word: str) -> None:
    words: dict[str, Any] = {word: "bal"}
    course = drawn(meridian(30.0), 1.0, **words)
    said = refused(settle, course, Surroundings({"ball": ball(30.0)}, []), "twig")
    assert said == f"twig, waypoint 1, {word}: unknown solid 'bal'. Nearest: ball. Legal: ball."
