"""Splines through their controls, lengths, and frames that do not twist."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.curves import Array, Centreline, chord_parameter, frames, spline, spline_matrix
from tests.meshes.lines import MIRROR, centrelines, helix, wandering

KNOTS = st.lists(st.floats(0.05, 30.0), min_size=1, max_size=12).map(lambda gaps: np.cumsum([0.0, *gaps]))


def framed(*lines: Array) -> list[tuple[Array, Array, Array]]:
    """Tangents, normals and binormals, each (m, 3), of every line (m, 3), worked out for all of them at once."""
    starts = np.cumsum([0, *(len(line) for line in lines)])
    found = frames(np.ascontiguousarray(np.concatenate(lines).T), starts[:-1])
    cut = [np.split(rows.T, starts[1:-1]) for rows in found]
    return list(zip(*cut, strict=True))


def naive_frame(points: Array, first: Array) -> list[tuple[Array, Array, Array]]:
    """Tangent, normal, binormal at every sample of one line (m, 3): parallel transport by one rotation a step.

    Written from the definition: the smallest turn that takes one tangent to the next carries the `first` normal along.
    It differs from double reflection by terms of third order in the step.
    """
    ahead = [b - a for a, b in pairwise(points)]
    ahead = [v / np.linalg.norm(v) for v in ahead]
    tangents = [ahead[0], *[(a + b) / np.linalg.norm(a + b) for a, b in pairwise(ahead)]]
    tangents.append(ahead[-1])
    normal = first
    out = [(tangents[0], normal, np.cross(tangents[0], normal))]
    for old, new in pairwise(tangents):
        axis, cosine = np.cross(old, new), float(old @ new)
        # Rodrigues' rotation from old to new
        normal = normal * cosine + np.cross(axis, normal) + axis * (axis @ normal) / (1.0 + cosine)
        out.append((new, normal, np.cross(new, normal)))
    return out


def reflected_frame(points: Array, first: Array) -> Array:
    """Normals (m, 3) of one line by two plain reflections a step (Wang et al. 2008), one sample after the other."""
    tangents = [t for t, _, _ in naive_frame(points, first)]
    normals = [first]

    def mirrored(vector: Array, across: Array) -> Array:
        out: Array = vector - 2.0 * across * (across @ vector) / (across @ across)
        return out

    for i in range(len(points) - 1):
        chord = points[i + 1] - points[i]
        across = tangents[i + 1] - mirrored(tangents[i], chord)
        normals.append(mirrored(mirrored(normals[-1], chord), across))
    return np.array(normals)


def twist_rate(tangents: Array, normals: Array, binormals: Array) -> Array:
    """Turn of the normal about the tangent from each sample to the next, radians."""
    mean = tangents[:-1] + tangents[1:]
    axis = np.cross(tangents[:-1], tangents[1:])
    cosine = (tangents[:-1] * tangents[1:]).sum(axis=1, keepdims=True)
    n = normals[:-1]
    carried = n * cosine + np.cross(axis, n) + axis * (axis * n).sum(axis=1, keepdims=True) / (1.0 + cosine)
    assert (np.linalg.norm(mean, axis=1) > 0.0).all()
    out: Array = np.arctan2((carried * binormals[1:]).sum(axis=1), (carried * normals[1:]).sum(axis=1))
    return out


@given(KNOTS, st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20))
def test_the_spline_matrix_shares_out_one_whole(knots: Array, shares: list[float]) -> None:
    matrix = spline_matrix(knots, np.array(shares) * knots[-1])
    assert matrix.shape == (len(shares), len(knots))
    np.testing.assert_allclose(matrix.sum(axis=1), 1.0, atol=1e-9)


@given(KNOTS)
def test_the_spline_matrix_passes_through_every_control(knots: Array) -> None:
    np.testing.assert_allclose(spline_matrix(knots, knots), np.eye(len(knots)), atol=1e-12)


@given(KNOTS, st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20))
def test_a_line_is_met_exactly_and_a_parabola_between_inner_controls(knots: Array, shares: list[float]) -> None:
    at = np.array(shares) * knots[-1]
    size = knots[-1]
    np.testing.assert_allclose(spline_matrix(knots, at) @ (2.0 - 3.0 * knots), 2.0 - 3.0 * at, atol=1e-9 * size)
    if len(knots) >= 4:
        inner = at[(at >= knots[1]) & (at <= knots[-2])]
        np.testing.assert_allclose(spline_matrix(knots, inner) @ knots**2, inner**2, atol=1e-9 * size**2)


@given(KNOTS.filter(lambda k: len(k) > 2))
def test_the_spline_has_no_kink_at_its_controls(knots: Array) -> None:
    step = 1e-6 * np.diff(knots).min()
    values = np.sin(np.arange(len(knots)) * 1.7)

    def slope(at: Array) -> Array:
        out: Array = (spline_matrix(knots, at + step) - spline_matrix(knots, at)) @ values / step
        return out

    before, after = slope(knots[1:-1] - step), slope(knots[1:-1])
    np.testing.assert_allclose(before, after, atol=1e-3 * (1.0 + np.abs(after).max()) / np.diff(knots).min())


@given(st.integers(0, 2**32 - 1), st.integers(2, 14), st.integers(16, 73))
def test_a_spline_runs_through_its_controls_and_is_spaced_evenly(seed: int, count: int, samples: int) -> None:
    controls = np.column_stack([wandering(seed, count, 20.0, 0.4), np.linspace(1.0, 3.0, count)])
    fine = spline(controls, 1500)
    away = np.linalg.norm(fine[None, :, :3] - controls[:, None, :3], axis=2)
    assert away.min(axis=1).max() < 0.51 * np.linalg.norm(np.diff(fine[:, :3], axis=0), axis=1).max()
    rows = spline(controls, samples)
    assert rows.shape == (samples, 4)
    np.testing.assert_allclose(rows[[0, -1]], controls[[0, -1]], atol=1e-9)
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(fine[:, :3], axis=0), axis=1))])
    nearest = np.linalg.norm(rows[:, None, :3] - fine[None, :, :3], axis=2).argmin(axis=1)
    even = np.linspace(0.0, arc[-1], samples)
    assert np.abs(arc[nearest] - even).max() < 0.01 * arc[-1]


def test_a_spline_through_points_of_a_circle_stays_on_it() -> None:
    """Catmull-Rom on chords of a 30 degree polygon: third-order error, under 0.2 % of the radius inside its ends."""
    angle = np.radians(np.arange(0.0, 361.0, 30.0))
    controls = 50.0 * np.stack([np.cos(angle), np.sin(angle), 0.0 * angle], axis=1)
    rows = spline(controls, 400)
    inner = rows[(rows[:, 0] < 50.0 * np.cos(np.radians(30.0)))]
    assert np.abs(np.hypot(inner[:, 0], inner[:, 1]) - 50.0).max() < 0.1
    assert np.abs(rows[:, 2]).max() == 0.0


def test_two_controls_make_a_straight_line() -> None:
    rows = spline(np.array([[0.0, 0.0, 0.0, 1.0], [0.0, 30.0, 40.0, 2.0]]), 11)
    np.testing.assert_allclose(rows, np.linspace([0.0, 0.0, 0.0, 1.0], [0.0, 30.0, 40.0, 2.0], 11), atol=1e-12)


@given(st.integers(0, 2**32 - 1))
def test_a_mirrored_spline_is_the_spline_of_the_mirrored_controls(seed: int) -> None:
    controls = wandering(seed, 7, 15.0, 0.5)
    np.testing.assert_array_equal(spline(controls * MIRROR, 64), spline(controls, 64) * MIRROR)


def test_the_parameter_grows_even_where_controls_coincide() -> None:
    points = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 16.0]])
    parameter = chord_parameter(points)
    assert parameter[0] == 0.0
    assert (np.diff(parameter) > 0.0).all()
    assert parameter[2] - parameter[1] == pytest.approx(8.0)


@given(st.lists(centrelines(), min_size=1, max_size=4))
def test_frames_are_orthonormal_and_right_handed(lines: list[Centreline]) -> None:
    for t, n, b in framed(*(line.points for line in lines)):
        axes = np.stack([n, b, t], axis=1)
        np.testing.assert_allclose(axes @ axes.swapaxes(1, 2), np.broadcast_to(np.eye(3), axes.shape), atol=1e-9)
        np.testing.assert_allclose(np.linalg.det(axes), 1.0, atol=1e-9)


@given(st.lists(st.tuples(st.integers(0, 2**32 - 1), st.integers(2, 40)), min_size=1, max_size=5))
def test_all_frames_at_once_are_those_of_one_line_after_the_other(seeds: list[tuple[int, int]]) -> None:
    lines = [wandering(seed, count, 3.0, 0.3) for seed, count in seeds]
    for line, (t, n, b) in zip(lines, framed(*lines), strict=True):
        np.testing.assert_allclose(t, [row[0] for row in naive_frame(line, n[0])], atol=1e-12)
        np.testing.assert_allclose(n, reflected_frame(line, n[0]), atol=1e-9)
        np.testing.assert_allclose(b, np.cross(t, n), atol=1e-12)


@pytest.mark.parametrize("samples", [60, 120, 240])
def test_frames_turn_as_little_as_parallel_transport(samples: int) -> None:
    """Against a rotation a step; the two differ by third-order terms, so by less with every halving of the step."""
    lines = [helix(20.0, 40.0, 2.0, samples), helix(8.0, 70.0, 2.0, samples)]
    for line, (_, n, _) in zip(lines, framed(*lines), strict=True):
        naive = np.array([row[1] for row in naive_frame(line, n[0])])
        assert np.abs(n - naive).max() < 3.0 * (60.0 / samples) ** 2 * 0.02


@pytest.mark.parametrize("way", [*np.eye(3), *-np.eye(3), [0.0, 1e-9, -1.0], [1e-12, -1e-12, -1.0], [-0.0, 0.0, -1.0]])
def test_no_direction_is_without_a_frame(way: Array) -> None:
    """Straight up and straight down as well, where many a choice of a first normal breaks down."""
    ((t, n, b),) = framed(np.linspace(0.0, 10.0, 5)[:, None] * np.array(way))
    np.testing.assert_allclose(t @ np.array(way), np.linalg.norm(way))
    axes = np.stack([n[0], b[0], t[0]])
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(n, np.tile(n[0], (5, 1)), atol=1e-12)


@pytest.mark.parametrize(("radius", "rise"), [(20.0, 40.0), (10.0, -80.0), (30.0, 10.0)])
def test_frames_of_a_helix_turn_against_the_curve_by_its_torsion(radius: float, rise: float) -> None:
    """Closed form: a frame without twist falls behind the Frenet frame by torsion times length."""
    samples, turns = 2000, 1.5
    points = helix(radius, rise, turns, samples)
    ((_, n, b),) = framed(points)
    pitch = rise / (2.0 * np.pi)
    torsion = pitch / (radius**2 + pitch**2)
    arc = np.linspace(0.0, 2.0 * np.pi * turns * np.hypot(radius, pitch), samples)
    inwards = -points * [1.0, 1.0, 0.0] / radius
    behind = np.unwrap(np.arctan2((inwards * b).sum(axis=1), (inwards * n).sum(axis=1)))
    # one-sided tangents at both ends are half a step off
    np.testing.assert_allclose((behind - behind[1])[1:-1], (torsion * (arc - arc[1]))[1:-1], atol=2e-3)


@given(st.integers(0, 2**32 - 1))
def test_frames_do_not_twist_about_the_line(seed: int) -> None:
    ((t, n, b),) = framed(spline(wandering(seed, 6, 40.0, 0.4), 400))
    turn = np.arccos(np.clip((t[:-1] * t[1:]).sum(axis=1), -1.0, 1.0))
    assert (np.abs(twist_rate(t, n, b)) <= 0.05 * turn + 1e-9).all()


def test_the_frame_of_a_straight_line_stays_and_of_a_flat_line_stays_in_its_plane() -> None:
    straight = np.linspace([0.0, 0.0, 0.0], [10.0, 20.0, 30.0], 9)
    ((_, n, _),) = framed(straight)
    np.testing.assert_allclose(n, np.tile(n[0], (9, 1)), atol=1e-12)
    angle = np.linspace(0.0, 5.0, 80)
    flat = np.stack([40.0 * np.cos(angle), 40.0 * np.sin(angle), 0.0 * angle], axis=1)
    ((_, n, b),) = framed(flat)
    heights = np.stack([n[:, 2], b[:, 2]], axis=1)
    np.testing.assert_allclose(heights, np.tile(heights[0], (80, 1)), atol=1e-9)


def test_a_line_that_stands_still_for_a_sample_still_has_frames() -> None:
    line = helix(10.0, 20.0, 0.5, 20)
    ((t, n, b),) = framed(np.insert(line, 8, line[8], axis=0))
    axes = np.stack([n, b, t], axis=1)
    np.testing.assert_allclose(axes @ axes.swapaxes(1, 2), np.broadcast_to(np.eye(3), axes.shape), atol=1e-9)


@given(centrelines())
def test_lengths_run_from_the_start_to_the_end(line: Centreline) -> None:
    assert line.arc[0] == 0.0
    assert line.length == line.arc[-1]
    np.testing.assert_allclose(np.diff(line.arc), np.linalg.norm(np.diff(line.points, axis=0), axis=1), atol=1e-9)
    np.testing.assert_allclose(line.at(line.arc), line.points, atol=1e-9)
    np.testing.assert_array_equal(line.at(-5.0), line.points[0])
    np.testing.assert_array_equal(line.at(line.length + 5.0), line.points[-1])
    middle = 0.5 * (line.arc[0] + line.arc[1])
    np.testing.assert_allclose(line.at(middle), 0.5 * (line.points[0] + line.points[1]), atol=1e-9)


@given(centrelines())
def test_a_line_mirrored_twice_is_itself(line: Centreline) -> None:
    other = line.mirrored()
    np.testing.assert_array_equal(other.points, line.points * MIRROR)
    np.testing.assert_array_equal(other.radius, line.radius)
    np.testing.assert_array_equal(other.arc, line.arc)
    np.testing.assert_array_equal(other.mirrored().points, line.points)


def test_a_line_cannot_be_written_on() -> None:
    line = Centreline(np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]]), np.ones(2))
    for array in (line.points, line.radius, line.arc):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 5.0
    assert line.moved(np.ones((2, 3))).radius is not line.radius
