"""Clearance of tubes: closed forms, dense sampling, a general collision library, and the tube's ends."""

from __future__ import annotations

import fcl
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.clearance import Chains, Clearances, clearances
from meshes.curves import Array, Centreline
from meshes.cylinder import Cylinder
from tests.contact.bodies import line

X, Y, Z = np.eye(3)
MIRROR = np.array([-1.0, 1.0, 1.0])


def against(cylinder: Cylinder, *lines: Centreline) -> Clearances:
    named = {f"tube_{i}": one for i, one in enumerate(lines)}
    return clearances(cylinder, Chains.of(named, named))


def by_hand(cylinder: Cylinder, points: Array) -> Array:
    """Signed distance (p,) to the cylinder, worked out from its walls and not by the module."""
    along = (points - cylinder.start) @ cylinder.direction
    away = np.linalg.norm(points - cylinder.start - along[:, None] * cylinder.direction, axis=1)
    past_end = np.maximum(-along, along - cylinder.length_mm)
    past_wall = away - cylinder.radius_mm
    inside = (past_end < 0.0) & (past_wall < 0.0)
    corner = np.sqrt(np.clip(past_end, 0.0, None) ** 2 + np.clip(past_wall, 0.0, None) ** 2)
    out: Array = np.where(inside, -np.minimum(-past_end, -past_wall), corner)
    return out


def sampled(tube: Centreline, between: int) -> tuple[Array, Array, Array]:
    """Points, radii and arc lengths along a tube with `between` steps from sample to sample."""
    m = len(tube.points)
    at = np.linspace(0.0, m - 1.0, (m - 1) * between + 1)
    index = np.arange(m)
    points = np.stack([np.interp(at, index, tube.points[:, k]) for k in range(3)], axis=1)
    return points, np.interp(at, index, tube.radius), np.interp(at, index, tube.arc)


def random_tubes(draw: np.random.Generator, count: int, samples: int = 16) -> list[Centreline]:
    tubes = []
    for _ in range(count):
        steps = draw.normal(0.0, 1.0, (samples, 3)) * draw.uniform(0.5, 8.0) + draw.normal(0.0, 3.0, 3)
        points = draw.normal(0.0, 30.0, 3) + np.cumsum(steps, axis=0)
        tubes.append(Centreline(points, draw.uniform(0.3, 5.0, samples)))
    return tubes


def random_cylinder(draw: np.random.Generator) -> Cylinder:
    direction = draw.normal(size=3)
    direction /= np.linalg.norm(direction)
    return Cylinder(draw.normal(0.0, 40.0, 3), direction, draw.uniform(0.5, 120.0), draw.uniform(0.5, 30.0))


def flipped(tube: Centreline) -> Centreline:
    return Centreline(tube.points[::-1].copy(), tube.radius[::-1].copy())


# --- closed forms -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("away", "radius", "tube"), [(20.0, 11.0, 3.0), (9.0, 11.0, 3.0), (0.0, 11.0, 3.0), (14.0, 11.0, 3.0)]
)
def test_straight_tube_along_the_channel(away: float, radius: float, tube: float) -> None:
    found = against(Cylinder(np.zeros(3), X, 100.0, radius), line([(20, away, 0), (60, away, 0)], tube))
    deepest = max(away - radius, -20.0) if away < radius else away - radius
    assert found.clearance_mm[0] == pytest.approx(deepest - tube, abs=1e-6)


def test_straight_tube_across_the_channel() -> None:
    found = against(Cylinder(np.zeros(3), X, 100.0, 11.0), line([(50, 16, -80), (50, 16, 90)], 2.0))
    assert found.clearance_mm[0] == pytest.approx(16.0 - 11.0 - 2.0, abs=1e-6)
    assert found.nearest_mm[0] == pytest.approx([50.0, 16.0, 0.0], abs=1e-2)
    assert found.depth_mm[0] == pytest.approx(50.0, abs=1e-9)
    assert np.isnan(found.inside_mm[0]).all()
    assert found.inside_length_mm[0] == 0.0


def test_tube_that_ends_before_the_flat_end() -> None:
    found = against(Cylinder(np.zeros(3), X, 100.0, 11.0), line([(140, 3, 4), (108, 3, 4)], 2.5))
    assert found.clearance_mm[0] == pytest.approx(108.0 - 100.0 - 2.5, abs=1e-6)


def test_tube_across_the_flat_end_just_touches() -> None:
    found = against(Cylinder(np.zeros(3), X, 100.0, 11.0), line([(102, -40, 0), (102, 40, 0)], 2.0))
    assert found.clearance_mm[0] == pytest.approx(0.0, abs=1e-6)


def test_tube_past_the_corner_of_the_flat_end() -> None:
    found = against(Cylinder(np.zeros(3), X, 100.0, 11.0), line([(103, 15, -60), (103, 15, 60)], 1.0))
    assert found.clearance_mm[0] == pytest.approx(np.hypot(3.0, 4.0) - 1.0, abs=1e-6)


def test_a_tube_ends_round() -> None:
    beyond = against(Cylinder(np.zeros(3), X, 100.0, 11.0), line([(50, 60, 0), (50, 11 + 2.9, 0)], 3.0))
    assert beyond.clearance_mm[0] == pytest.approx(-0.1, abs=1e-6)


def test_straight_tube_through_the_middle_is_inside_for_a_diameter_and_its_own_radius() -> None:
    found = against(Cylinder(np.zeros(3), X, 100.0, 11.0), line([(50, -50, 0), (50, 70, 0)], 2.0, samples=31))
    assert found.inside_mm[0] == pytest.approx([50.0 - 13.0, 50.0 + 13.0], abs=1e-5)
    assert found.inside_length_mm[0] == pytest.approx(26.0, abs=1e-5)
    assert found.clearance_mm[0] == pytest.approx(-11.0 - 2.0, abs=1e-6)


def test_a_tube_that_comes_back_is_inside_twice_and_told_from_first_to_last() -> None:
    bow = line([(20, -40, 0), (20, 40, 0), (80, 40, 0), (80, -40, 0)], 1.0, samples=91)
    found = against(Cylinder(np.zeros(3), X, 100.0, 9.0), bow)
    assert found.inside_mm[0] == pytest.approx([40.0 - 10.0, 80.0 + 60.0 + 40.0 + 10.0], abs=1e-5)
    assert found.inside_length_mm[0] == pytest.approx(2 * 20.0, abs=1e-5)


def test_a_tube_wholly_inside_is_inside_for_all_its_length() -> None:
    found = against(Cylinder(np.zeros(3), X, 100.0, 11.0), line([(40, -2, 1), (60, 3, 1)], 1.0))
    assert found.inside_mm[0] == pytest.approx([0.0, np.hypot(20.0, 5.0)])


def test_no_tubes_at_all() -> None:
    found = against(Cylinder(np.zeros(3), X, 100.0, 11.0))
    assert found.clearance_mm.shape == (0,)
    assert found.nearest_mm.shape == (0, 3)


def test_samples_that_stand_in_one_place_do_no_harm() -> None:
    points = np.repeat([[50.0, 30.0, -20.0], [50.0, 30.0, 20.0]], 3, axis=0)
    found = against(Cylinder(np.zeros(3), X, 100.0, 11.0), Centreline(points, np.full(6, 2.0)))
    assert found.clearance_mm[0] == pytest.approx(17.0, abs=1e-6)


# --- against dense sampling -------------------------------------------------------------------------------------------


def test_thousands_of_poses_against_dense_sampling_on_both_sides() -> None:
    draw = np.random.default_rng(7)
    between = 48
    for _ in range(500):
        tubes, cylinder = random_tubes(draw, 12), random_cylinder(draw)
        found = against(cylinder, *tubes)
        other = against(
            Cylinder(cylinder.start * MIRROR, cylinder.direction * MIRROR, cylinder.length_mm, cylinder.radius_mm),
            *[tube.mirrored() for tube in tubes],
        )
        assert other.clearance_mm == pytest.approx(found.clearance_mm, abs=1e-5)
        assert other.inside_length_mm == pytest.approx(found.inside_length_mm, abs=1e-3)
        for i, tube in enumerate(tubes):
            points, radius, arc = sampled(tube, between)
            f = by_hand(cylinder, points) - radius
            # Between two samples f falls by no more than half of what point and radius can change there.
            slack = 0.5 * (np.diff(arc) + np.abs(np.diff(radius))).max() + 1e-5
            assert f.min() - slack <= found.clearance_mm[i] <= f.min() + 1e-5
            assert_inside_agrees(found, i, f, arc)


def assert_inside_agrees(found: Clearances, i: int, f: Array, arc: Array) -> None:
    inside = f < 0.0
    step = np.diff(arc).max() + 1e-4
    # Samples this near the portal's surface may hide a stretch between them, and every border may lie between two.
    doubtful = np.count_nonzero(np.abs(f) < step) + np.count_nonzero(np.diff(inside))
    seen = np.diff(arc)[inside[1:] & inside[:-1]].sum()
    assert found.inside_length_mm[i] == pytest.approx(seen, abs=step * doubtful)
    if inside.any():
        first, last = found.inside_mm[i]
        assert first - 1e-5 <= arc[inside][0]
        assert arc[inside][-1] <= last + 1e-5
        assert doubtful > np.count_nonzero(np.diff(inside)) or first >= arc[inside][0] - step


def test_the_nearest_point_is_on_the_middle_line_and_has_that_clearance() -> None:
    draw = np.random.default_rng(11)
    for _ in range(40):
        tubes, cylinder = random_tubes(draw, 10), random_cylinder(draw)
        found = against(cylinder, *tubes)
        for i, tube in enumerate(tubes):
            a, step = tube.points[:-1], np.diff(tube.points, axis=0)
            t = np.clip(((found.nearest_mm[i] - a) * step).sum(axis=1) / (step**2).sum(axis=1), 0.0, 1.0)
            gap = np.linalg.norm(a + t[:, None] * step - found.nearest_mm[i], axis=1)
            k = int(np.argmin(gap))
            radius = tube.radius[k] + t[k] * (tube.radius[k + 1] - tube.radius[k])
            assert gap[k] < 1e-9
            here = by_hand(cylinder, found.nearest_mm[i : i + 1])[0] - radius
            assert here == pytest.approx(found.clearance_mm[i], abs=2e-6)
            depth = (found.nearest_mm[i] - cylinder.start) @ cylinder.direction
            assert found.depth_mm[i] == pytest.approx(depth)


coordinate = st.floats(-60.0, 60.0)
size = st.floats(0.1, 30.0)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(coordinate, coordinate, coordinate, size), min_size=2, max_size=6), size, size)
def test_any_chain_against_dense_sampling(rows: list[tuple[float, ...]], length: float, radius: float) -> None:
    table = np.array(rows)
    tube = Centreline(table[:, :3].copy(), table[:, 3].copy())
    cylinder = Cylinder(-0.5 * length * Z, Z, length, radius)
    found = against(cylinder, tube)
    points, radii, arc = sampled(tube, 400)
    f = by_hand(cylinder, points) - radii
    slack = 0.5 * (np.diff(arc) + np.abs(np.diff(radii))).max() + 1e-5
    assert f.min() - slack <= found.clearance_mm[0] <= f.min() + 1e-5


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-np.pi, np.pi), st.floats(-np.pi, np.pi), coordinate)
def test_turning_and_moving_both_changes_nothing(seed: int, a: float, b: float, shift: float) -> None:
    draw = np.random.default_rng(seed)
    tubes, cylinder = random_tubes(draw, 4), random_cylinder(draw)
    about_z = np.array([[np.cos(a), -np.sin(a), 0.0], [np.sin(a), np.cos(a), 0.0], [0.0, 0.0, 1.0]])
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(b), -np.sin(b)], [0.0, np.sin(b), np.cos(b)]])
    turn = about_z @ about_x

    def moved(points: Array) -> Array:
        out: Array = points @ turn.T + shift
        return out

    there = Cylinder(moved(cylinder.start), turn @ cylinder.direction, cylinder.length_mm, cylinder.radius_mm)
    found, again = against(cylinder, *tubes), against(there, *[t.moved(moved(t.points)) for t in tubes])
    assert again.clearance_mm == pytest.approx(found.clearance_mm, abs=1e-5)
    assert again.depth_mm == pytest.approx((again.nearest_mm - there.start) @ there.direction, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_tube_told_from_its_other_end_is_the_same_tube(seed: int) -> None:
    draw = np.random.default_rng(seed)
    tubes, cylinder = random_tubes(draw, 4), random_cylinder(draw)
    there, back = against(cylinder, *tubes), against(cylinder, *map(flipped, tubes))
    assert back.clearance_mm == pytest.approx(there.clearance_mm, abs=1e-5)
    assert back.inside_length_mm == pytest.approx(there.inside_length_mm, abs=1e-3)


def test_one_pass_for_all_tubes_answers_as_one_pass_for_each() -> None:
    draw = np.random.default_rng(3)
    tubes, cylinder = random_tubes(draw, 30), random_cylinder(draw)
    together = against(cylinder, *tubes)
    for i, tube in enumerate(tubes):
        alone = against(cylinder, tube)
        assert alone.clearance_mm[0] == pytest.approx(together.clearance_mm[i], abs=2e-6)
        assert alone.inside_mm[0] == pytest.approx(together.inside_mm[i], abs=1e-5, nan_ok=True)


# --- against a general collision library, where it is exact -----------------------------------------------------------


def turned_to(direction: Array) -> Array:
    """A rotation (3, 3) that takes z to a direction."""
    seed = np.eye(3)[int(np.argmin(np.abs(direction)))]
    x = np.cross(seed, direction)
    x /= np.linalg.norm(x)
    return np.column_stack([x, np.cross(direction, x), direction])


def by_library(cylinder: Cylinder, tube: Centreline) -> float:
    """Distance of a cylinder and a tube of one radius, as capsules; the library gives it only where they are apart."""
    middle = cylinder.start + 0.5 * cylinder.length_mm * cylinder.direction
    channel = fcl.CollisionObject(
        fcl.Cylinder(cylinder.radius_mm, cylinder.length_mm), fcl.Transform(turned_to(cylinder.direction), middle)
    )
    closest = np.inf
    for a, b in zip(tube.points[:-1], tube.points[1:], strict=True):
        span = float(np.linalg.norm(b - a))
        capsule = fcl.Capsule(float(tube.radius[0]), span)
        there = fcl.Transform(turned_to((b - a) / span), 0.5 * (a + b))
        closest = min(closest, fcl.distance(channel, fcl.CollisionObject(capsule, there)))
    return closest


def test_distances_agree_with_a_collision_library() -> None:
    draw = np.random.default_rng(5)
    apart = 0
    for _ in range(200):
        cylinder = random_cylinder(draw)
        for tube in random_tubes(draw, 4, samples=6):
            tube = Centreline(tube.points, np.full(6, draw.uniform(0.3, 4.0)))
            ours = against(cylinder, tube).clearance_mm[0]
            theirs = by_library(cylinder, tube)
            if ours > 1e-3:
                apart += 1
                assert theirs == pytest.approx(ours, abs=1e-4)
            else:
                assert theirs <= 1e-3
    assert apart > 500
