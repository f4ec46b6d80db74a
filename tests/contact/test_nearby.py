"""Rays through closed surfaces, and triangles found near a line."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.nearby import Nearby, crossings, facing, passes, pierced, seen_along
from meshes.surfaces import joined, tube
from tests.contact.bodies import box, ellipsoid, line, made_up_body

X = np.array([1.0, 0.0, 0.0])
HALF = np.array([30.0, 18.0, 22.0])
BALL = ellipsoid((5.0, -3.0, 2.0), HALF, rings=24)
unit = st.tuples(*[st.floats(-1.0, 1.0)] * 3).map(np.array).filter(lambda v: np.linalg.norm(v) > 0.1)
directions = unit.map(lambda v: v / np.linalg.norm(v))


def assert_paired(sign: NDArray[np.int64]) -> None:
    """Signs of a line through a closed surface: in, out, in, out."""
    assert sign.sum() == 0
    assert (np.cumsum(sign) >= 0).all()


@pytest.mark.parametrize(("y", "z"), [(0.0, 0.0), (6.0, 6.0), (3.0, 3.0), (6.0, 1.3), (1.3, -6.0), (-29.9, 29.9)])
def test_a_line_through_corners_and_edges_of_a_box_enters_once_and_leaves_once(y: float, z: float) -> None:
    depth, sign = crossings(box((-30, -30, -30), (30, 30, 30)), np.array([-100.0, y, z]), X)
    assert depth == pytest.approx([70.0, 130.0], abs=1e-12)
    assert sign.tolist() == [1, -1]


@pytest.mark.parametrize("at", [(30.0, 0.0), (-30.0, 0.0), (30.0, 30.0), (-30.0, -30.0), (0.0, 30.0), (0.0, -30.0)])
def test_a_line_in_a_face_or_an_edge_of_a_box_is_in_it_or_not_but_never_half(at: tuple[float, float]) -> None:
    depth, sign = crossings(box((-30, -30, -30), (30, 30, 30)), np.array([-100.0, *at]), X)
    assert_paired(sign)
    assert len(depth) in (0, 2)


def test_a_line_past_a_box_meets_nothing() -> None:
    depth, _ = crossings(box((-30, -30, -30), (30, 30, 30)), np.array([-100.0, 30.001, 0.0]), X)
    assert len(depth) == 0


@settings(max_examples=200, deadline=None)
@example(np.array([1.0, 2.24930766e-28, 5.96046448e-08]), 0, 1, "corner")  # products that round to nothing
@given(directions, st.integers(0, len(BALL.faces) - 1), st.integers(0, 2), st.sampled_from(["corner", "edge", "face"]))
def test_a_line_aimed_at_corners_edges_and_faces_of_a_convex_mesh(way: Array, face: int, k: int, aim: str) -> None:
    corners = BALL.triangles()[face]
    target = {"corner": corners[k], "edge": 0.5 * (corners[k] + corners[k - 1]), "face": corners.mean(axis=0)}[aim]
    depth, sign = crossings(BALL, target - 80.0 * way, way)
    assert_paired(sign)
    # Rounding of the projection leaves a convex mesh not quite convex: a line along a face may meet it again.
    facing_ = abs(np.cross(corners[1] - corners[0], corners[2] - corners[0]) @ way)
    if facing_ > 1e-6:
        assert len(depth) in (0, 2)
        if aim == "face":
            assert np.abs(depth - 80.0).min() < 1e-6


@settings(max_examples=200, deadline=None)
@given(directions, unit)
def test_the_chord_of_an_ellipsoid(way: Array, beside: Array) -> None:
    start = np.array([5.0, -3.0, 2.0]) + 35.0 * beside - 100.0 * way
    o, d = (start - [5.0, -3.0, 2.0]) / HALF, way / HALF
    a, b, c = d @ d, o @ d, o @ o - 1.0
    depth, sign = crossings(BALL, start, way)
    assert_paired(sign)
    chord = np.sqrt(max(b * b - a * c, 0.0)) / a
    # The mesh lies inside the ellipsoid, nowhere deeper than the height of its flattest facet.
    inner = 1.0 - np.cos(np.pi / 24) * np.cos(np.pi / 48) + 1e-9
    smaller = o @ o - (1.0 - inner) ** 2
    least = np.sqrt(max(b * b - a * smaller, 0.0)) / a
    length = depth[1::2].sum() - depth[::2].sum()
    assert 2 * least - 1e-6 <= length <= 2 * chord + 1e-6


def test_a_whole_bundle_through_overlapping_solids_is_balanced() -> None:
    both = joined([BALL, ellipsoid((25.0, 0.0, 0.0), (20.0, 20.0, 20.0)), box((0, 0, 0), (40, 10, 10))])
    draw = np.random.default_rng(2)
    for _ in range(30):
        way = draw.normal(size=3)
        way /= np.linalg.norm(way)
        seen = seen_along(both.vertices, -100.0 * way, facing(way))
        rays = np.concatenate([draw.normal(0.0, 20.0, (60, 2)), seen[draw.integers(len(seen), size=60), :2]])
        ray, _, _, sign = pierced(seen[both.faces], rays)
        assert np.bincount(ray, weights=sign, minlength=len(rays)) == pytest.approx(np.zeros(len(rays)), abs=0.0)
        assert len(ray) > 20


@settings(max_examples=100, deadline=None)
@given(directions)
def test_axes_along_a_direction_are_right_handed_and_mirror(way: Array) -> None:
    axes = facing(way)
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    mirror = np.array([-1.0, 1.0, 1.0])
    there = facing(way * mirror)
    assert there[0] == pytest.approx(axes[0] * mirror, abs=1e-12)
    assert there[1] == pytest.approx(-axes[1] * mirror, abs=1e-12)


box_corner = st.tuples(*[st.integers(-20, 20).map(float)] * 3).map(np.array)


@settings(max_examples=300, deadline=None)
@given(box_corner, box_corner, box_corner, box_corner, st.integers(0, 8).map(float))
def test_boxes_near_a_stretch_are_never_missed(a: Array, b: Array, start: Array, end: Array, margin: float) -> None:
    low, high = np.minimum(a, b), np.maximum(a, b)
    t = np.linspace(0.0, 1.0, 201)[:, None]
    points = start + t * (end - start)
    inside = ((low - margin <= points) & (points <= high + margin)).all(axis=1).any()
    met = passes(low[None], high[None], start, end, margin)[0]
    assert met or not inside
    gap = np.maximum(np.maximum(low - margin - points, points - high - margin), 0.0).max(axis=1).min()
    assert not met or gap <= np.linalg.norm(end - start) / 200.0


def test_prepared_surfaces_answer_as_every_triangle_does() -> None:
    body = made_up_body()
    nearby = Nearby(body.surfaces)
    draw = np.random.default_rng(4)
    for _ in range(20):
        end = draw.uniform((-60, -30, -40), (60, 30, 160))
        way = draw.normal(size=3)
        start = end - 400.0 * way / np.linalg.norm(way)
        rays = draw.normal(0.0, 8.0, (12, 2))
        found = nearby.pierced(nearby.ids, start, end, rays)
        axes = facing((end - start) / 400.0)
        for i, surface in enumerate(body.surfaces.values()):
            ray, _, depth, sign = pierced(seen_along(surface.triangles(), start, axes), rays)
            order = np.lexsort((-sign, depth, ray))
            order = order[depth[order] <= 400.0]
            mine = (found.owner == i) & (found.depth <= 400.0)
            assert np.array_equal(found.ray[mine], ray[order])
            assert found.depth[mine] == pytest.approx(depth[order], abs=1e-9)
            assert np.array_equal(found.sign[mine], sign[order])


def test_no_triangle_near_a_stretch_is_missed() -> None:
    surface = tube(line([(-50, 0, 0), (0, 40, 10), (60, -20, 30)], (2.0, 9.0)))
    nearby = Nearby({"tube": surface})
    start, end = np.array([-40.0, -60.0, 0.0]), np.array([30.0, 60.0, 20.0])
    found = {tuple(c.ravel()) for c in nearby.triangles("tube", start, end, 7.0)}
    assert len(found) < len(surface.faces)
    way = (end - start) / np.linalg.norm(end - start)
    middle = surface.triangles().mean(axis=1)
    t = np.clip((middle - start) @ way, 0.0, np.linalg.norm(end - start))
    near = np.linalg.norm(start + t[:, None] * way - middle, axis=1) < 7.0
    assert near.any()
    assert {tuple(c.ravel()) for c in surface.triangles()[near]} <= found


def test_only_the_named_surfaces_are_asked_and_a_miss_is_no_crossing() -> None:
    nearby = Nearby({"ball": BALL, "other": ellipsoid((50, 0, 0), (5, 5, 5))})
    through, axis = (np.array([-100.0, 0.0, 0.0]), np.array([100.0, 0.0, 0.0])), np.zeros((1, 2))
    assert nearby.pierced(nearby.ids, *through, axis).owner.tolist() == [0, 0, 1, 1]
    assert nearby.pierced(["other"], *through, axis).owner.tolist() == [1, 1]
    past = nearby.pierced(nearby.ids, np.array([-100.0, 200.0, 0.0]), np.array([100.0, 200.0, 0.0]), axis)
    assert past.owner.tolist() == []
