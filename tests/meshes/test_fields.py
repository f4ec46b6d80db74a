"""Distance fields: balls against their closed form, joining and carving, reading, and closed surfaces at zero."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from meshes.curves import Array
from meshes.fields import (
    Box,
    Field,
    Values,
    both_halves,
    carve,
    draw_balls,
    draw_measured,
    empty_field,
    join,
    left_half,
    to_surface,
)

BAND = 6.0
NUMBERS = st.floats(-12.0, 12.0)
BALLS = st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS, st.floats(0.5, 9.0)), min_size=1, max_size=5)
DISTANCES = st.floats(-6.0, 6.0, width=32).map(lambda x: np.array([x], dtype=np.float32))


def to_balls(points: Array, balls: Array) -> Array:
    """Distance (n,) of points (n, 3) to the union of balls (b, 4), by its closed form."""
    away = np.linalg.norm(points[:, None] - balls[None, :, :3], axis=2) - balls[None, :, 3]
    out: Array = away.min(axis=1)
    return out


def whole(field: Field) -> Box:
    x, y, z = (slice(0, n) for n in field.values.shape)
    return x, y, z


def drawn(balls: Array, spacing: float = 1.5) -> Field:
    low, high = (balls[:, :3] - balls[:, 3:]).min(axis=0), (balls[:, :3] + balls[:, 3:]).max(axis=0)
    field = empty_field(low, high, spacing, BAND)
    field.values = draw_balls(field, whole(field), balls[:, :3], balls[:, 3])
    return field


@given(st.lists(NUMBERS, min_size=6, max_size=6), st.floats(0.3, 3.0), st.floats(1.0, 9.0))
def test_an_empty_field_covers_its_box_with_a_margin_and_stands_on_a_common_grid(
    corners: list[float], spacing: float, band: float
) -> None:
    low, high = np.sort(np.array(corners).reshape(2, 3), axis=0)
    field = empty_field(low, high, spacing, band)
    last = field.origin + spacing * (np.array(field.values.shape) - 1)
    assert (field.origin <= low - band).all()
    assert (last >= high + band).all()
    assert (last <= high + band + 4 * spacing).all()
    assert (field.values == np.float32(band)).all()
    np.testing.assert_allclose(field.origin / spacing, np.round(field.origin / spacing), atol=1e-6)


@given(BALLS, st.sampled_from([0.9, 1.5, 2.0]))
def test_balls_are_drawn_at_their_closed_form(balls: list[tuple[float, ...]], spacing: float) -> None:
    rows = np.array(balls)
    field = drawn(rows, spacing)
    want = np.clip(to_balls(field.grid().reshape(-1, 3), rows), -BAND, BAND)
    np.testing.assert_allclose(field.values.ravel(), want, atol=2e-5)


@given(BALLS, st.lists(NUMBERS, min_size=6, max_size=6))
def test_a_box_of_the_grid_holds_what_the_whole_grid_holds(
    balls: list[tuple[float, ...]], corners: list[float]
) -> None:
    rows = np.array(balls)
    field = drawn(rows)
    low, high = np.sort(np.array(corners).reshape(2, 3), axis=0)
    box = field.box(low, high)
    np.testing.assert_allclose(draw_balls(field, box, rows[:, :3], rows[:, 3]), field.values[box], atol=1e-5)
    inside = np.all((field.grid() >= low - BAND) & (field.grid() <= high + BAND), axis=-1)
    near = np.zeros(field.values.shape, dtype=bool)
    near[box] = True
    assert near[inside].all()
    assert field.grid(box).shape[:3] == field.values[box].shape


@given(BALLS)
def test_a_measured_shape_is_right_near_its_surface_and_on_the_right_side_everywhere(
    balls: list[tuple[float, ...]],
) -> None:
    rows = np.array(balls)
    field = drawn(rows)
    measured = draw_measured(field, whole(field), lambda points: to_balls(points, rows))
    want = field.values
    # blocks beyond the band are not looked at again: they hold the band itself
    near = np.abs(want) < BAND - 1e-3
    np.testing.assert_allclose(measured[near], want[near], atol=2e-5)
    assert ((measured < 0) == (want < 0))[np.abs(want) > 1e-4].all()
    assert np.abs(measured).max() <= BAND


def test_a_box_without_grid_points_stays_empty() -> None:
    field = empty_field(np.zeros(3), np.full(3, 10.0), 1.0, 2.0)
    box = field.box(np.full(3, 900.0), np.full(3, 910.0))
    assert draw_measured(field, box, lambda points: points[:, 0]).size == 0
    assert draw_balls(field, box, np.zeros((1, 3)), np.ones(1)).size == 0


@given(BALLS, st.integers(0, 2**32 - 1))
def test_reading_between_grid_points_is_off_by_a_share_of_the_spacing(
    balls: list[tuple[float, ...]], seed: int
) -> None:
    """A distance changes by at most the way gone, so the mean of a cell's corners is within its half diagonal."""
    rows = np.array(balls)
    field = drawn(rows)
    low, high = rows[:, :3].min(axis=0) - 10.0, rows[:, :3].max(axis=0) + 10.0
    points = np.random.default_rng(seed).uniform(low, high, (50, 3))
    want = np.clip(to_balls(points, rows), -BAND, BAND)
    assert np.abs(field.at(points) - want).max() <= 1.5 * np.sqrt(3.0) / 2.0 + 1e-4
    corner = field.grid()[3, 4, 5]
    assert field.at(corner[None])[0] == pytest.approx(float(field.values[3, 4, 5]), abs=1e-6)
    np.testing.assert_array_equal(field.at(np.full((1, 3), 1e4)), [BAND])


def test_the_gradient_of_a_ball_points_away_from_its_centre() -> None:
    field = drawn(np.array([[1.0, 2.0, 3.0, 8.0]]))
    way = np.random.default_rng(0).normal(size=(200, 3))
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    found = field.gradient_at(np.array([1.0, 2.0, 3.0]) + 8.5 * way)
    np.testing.assert_allclose(np.linalg.norm(found, axis=1), 1.0, atol=1e-6)
    assert (found * way).sum(axis=1).min() > 0.995
    np.testing.assert_array_equal(field.gradient_at(np.full((1, 3), 1e4)), [[0.0, 0.0, 0.0]])


@given(DISTANCES, DISTANCES, st.sampled_from([0.0, 0.5, 2.0, 5.0]))
def test_joining_is_symmetric_at_most_the_smaller_and_at_least_that_less_a_quarter_of_the_fillet(
    a: Values, b: Values, blend: float
) -> None:
    joined = join(a, b, blend)
    low = np.minimum(a, b)
    np.testing.assert_array_equal(joined, join(b, a, blend))
    assert joined[0] <= low[0] + 1e-6
    assert joined[0] >= low[0] - blend / 4.0 - 1e-5
    if abs(float(a[0]) - float(b[0])) >= blend:
        np.testing.assert_array_equal(joined, low)
    if a[0] == b[0]:
        assert joined[0] == pytest.approx(float(a[0]) - blend / 4.0, abs=1e-5)


@given(DISTANCES, DISTANCES)
def test_carving_leaves_what_is_in_one_and_not_in_the_other(a: Values, b: Values) -> None:
    left = carve(a, b)
    assert left[0] == max(a[0], -b[0])
    assert (left[0] < 0) == ((a[0] < 0) and (b[0] > 0))


@pytest.mark.parametrize(("spacing", "radius"), [(1.0, 10.0), (1.5, 10.0), (1.5, 25.0), (0.8, 4.0)])
@pytest.mark.parametrize("keep", [1.0, 0.5])
def test_the_surface_of_a_ball_has_its_volume_and_area(spacing: float, radius: float, keep: float) -> None:
    """Within the error of the grid: the surface stands within a tenth of a cell of the true one."""
    surface = to_surface(drawn(np.array([[1.3, -2.1, 0.7, radius]]), spacing), keep_share=keep)
    assert surface.is_closed()
    off = 0.1 * spacing
    volume, area = 4.0 / 3.0 * np.pi * radius**3, 4.0 * np.pi * radius**2
    assert surface.volume() == pytest.approx(volume, abs=area * off)
    assert surface.area() == pytest.approx(area, rel=0.02)
    away = np.linalg.norm(surface.vertices - [1.3, -2.1, 0.7], axis=1) - radius
    assert np.abs(away).max() < 0.25 * spacing
    np.testing.assert_allclose(surface.vertices.mean(axis=0), [1.3, -2.1, 0.7], atol=off)


@settings(max_examples=15, phases=[Phase.explicit, Phase.reuse, Phase.generate])
@given(BALLS, st.sampled_from([1.0, 0.5, 0.25]))
def test_any_union_of_balls_becomes_closed_surfaces_that_look_outwards(
    balls: list[tuple[float, ...]], keep: float
) -> None:
    rows = np.array(balls)
    rows[:, 3] = np.maximum(rows[:, 3], 5.0)
    surface = to_surface(drawn(rows), keep_share=keep)
    assert surface.is_closed()
    volumes = 4.0 / 3.0 * np.pi * rows[:, 3] ** 3
    assert 0.9 * volumes.max() < surface.volume() < 1.02 * volumes.sum()
    # smoothing rounds the crease where two balls meet
    assert np.abs(to_balls(surface.vertices, rows)).max() < 1.5


def test_a_surface_that_reaches_the_edge_of_its_grid_is_closed_there() -> None:
    field = drawn(np.array([[0.0, 0.0, 0.0, 8.0]]), 0.5)
    below = field.values[:, :, : round(-field.origin[2] / 0.5) + 1]
    surface = to_surface(Field(field.origin, 0.5, np.ascontiguousarray(below), BAND))
    assert surface.is_closed()
    assert surface.vertices[:, 2].max() <= 1e-6
    assert surface.volume() == pytest.approx(2.0 / 3.0 * np.pi * 512.0, rel=0.08)


def test_halves_make_the_whole_again() -> None:
    rows = np.array([[6.0, 1.0, 2.0, 5.0], [-6.0, 1.0, 2.0, 5.0], [0.0, 0.0, 0.0, 4.0]])
    field = drawn(rows)
    half = left_half(field)
    assert half.is_half
    assert half.origin[0] == 0.0
    np.testing.assert_allclose(half.values[0], field.values[round(-field.origin[0] / field.spacing)])
    again = both_halves(half)
    assert not again.is_half
    probe = np.array(list(product((-9.0, -3.0, 0.0, 4.5, 9.0), (0.0, 3.0), (1.5, 6.0))))
    np.testing.assert_allclose(again.at(probe), field.at(probe), atol=1e-5)
    np.testing.assert_array_equal(again.values, again.values[::-1])


@pytest.mark.parametrize(("spacing", "shift"), [(1.5, 0.0), (1.5, 0.4), (1.0, 0.0), (2.0, 0.3)])
def test_one_field_read_on_the_grid_of_another_keeps_its_distances(spacing: float, shift: float) -> None:
    other = drawn(np.array([[0.0, 0.0, 0.0, 10.0]]))
    ball = np.array([[8.0, 3.0, -2.0, 7.0]])
    own = drawn(ball, spacing)
    own.origin = own.origin + shift
    own.values = draw_balls(own, whole(own), ball[:, :3], ball[:, 3])
    box, values = own.on_grid_of(other)
    want = np.clip(to_balls(other.grid(box).reshape(-1, 3), ball), -BAND, BAND).reshape(values.shape)
    off = np.abs(values - want)
    if spacing == other.spacing and shift == 0.0:
        assert off.max() < 1e-5
    assert off.max() <= spacing * np.sqrt(3.0) / 2.0
    assert off[np.abs(want) < 3.0].max() < spacing**2 / 8.0
    outside = np.ones(other.values.shape, dtype=bool)
    outside[box] = False
    assert to_balls(other.grid()[outside], ball).min() > BAND - 2.0 * spacing
