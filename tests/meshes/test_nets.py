"""Plates (flat muscles), sections told by landmarks, and solids without crumbs: against shapes of known distance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.curves import Array
from meshes.errors import FurcalError
from meshes.fields import Field, draw_measured, empty_field, to_surface
from meshes.landmarks import Landmarks
from meshes.lofts import Loft, loft_distance
from meshes.nets import FOOT_MM, dense_net
from meshes.posture import reference_landmarks
from meshes.solids import draw, keep_largest, read_parts, solid_field

LENGTHS = st.floats(20.0, 90.0)
HALVES = st.floats(1.0, 6.0)
POINTS = st.lists(st.tuples(*(st.floats(-15.0, 100.0),) * 2, st.floats(-12.0, 12.0)), min_size=1, max_size=20)


@pytest.fixture(scope="module")
def landmarks() -> Landmarks:
    return reference_landmarks()


def flat(width: float, height: float, half: float) -> Array:
    """Controls of a flat plate in the plane z = 0, one corner at the origin."""
    x, y = np.meshgrid(np.linspace(0.0, width, 4), np.linspace(0.0, height, 3))
    return np.stack([x, y, np.zeros_like(x), np.full_like(x, half)], axis=-1)


@settings(max_examples=60, deadline=None)
@given(LENGTHS, LENGTHS, HALVES, POINTS)
def test_a_flat_plate_has_the_distance_of_a_rounded_board(
    width: float, height: float, half: float, points: list[tuple[float, float, float]]
) -> None:
    at = np.array(points)
    beyond = np.maximum(np.maximum(-at[:, :2], at[:, :2] - [width, height]), 0.0)
    expected = np.sqrt((beyond**2).sum(axis=1) + at[:, 2] ** 2) - half
    np.testing.assert_allclose(dense_net(flat(width, height, half)).distance()(at), expected, atol=1e-6)


@settings(max_examples=20, deadline=None)
@given(st.floats(60.0, 150.0), HALVES, st.floats(0.1, 0.9), st.floats(0.1, 0.9), st.floats(-10.0, 10.0))
def test_a_bent_plate_is_off_by_less_than_its_bend_between_two_feet(
    radius: float, half: float, round_share: float, up_share: float, off: float
) -> None:
    turn, up = np.meshgrid(np.linspace(0.0, 1.2, 13), np.linspace(0.0, 60.0, 4))
    net = np.stack([radius * np.cos(turn), radius * np.sin(turn), up, np.full_like(up, half)], axis=-1)
    angle = 1.2 * round_share
    point = np.array([[(radius + off) * np.cos(angle), (radius + off) * np.sin(angle), 60.0 * up_share]])
    bend = FOOT_MM**2 / radius * (1.0 + abs(off) / radius) + 0.03
    assert abs(dense_net(net).distance()(point)[0] - (abs(off) - half)) < bend


def test_the_mirrored_plate_measures_mirrored_points_alike() -> None:
    net = dense_net(flat(50.0, 40.0, 2.0) + np.array([5.0, 0.0, 0.0, 0.0]))
    points = np.random.default_rng(3).uniform(-20.0, 70.0, (200, 3))
    mirrored = net.mirrored().distance()(points * [-1.0, 1.0, 1.0])
    np.testing.assert_allclose(mirrored, net.distance()(points), atol=1e-9)


def test_a_drawn_plate_is_closed_and_as_thick_as_its_table_says(landmarks: Landmarks) -> None:
    rows = [[{"at": "asis", "lateral": x, "up": z, "radius": 2.5} for x in (0, 30, 60)] for z in (0, 25, 50)]
    part = read_parts([{"shape": "plate", "says": "board", "source": "judgement", "rows": rows}], landmarks, "here")
    surface = to_surface(solid_field(part, 1.5))
    middle = landmarks["asis_left"] + [30.0, 0.0, 25.0]
    near = surface.vertices[np.linalg.norm((surface.vertices - middle)[:, [0, 2]], axis=1) < 5.0]
    assert surface.is_closed()
    assert np.ptp(near[:, 1]) == pytest.approx(5.0, abs=0.2)


def test_rows_of_unequal_length_are_refused_with_the_place(landmarks: Landmarks) -> None:
    rows = [[{"at": "asis", "radius": 2.0}] * 2, [{"at": "asis", "radius": 2.0}] * 3]
    with pytest.raises(FurcalError, match=r"here, part 1: a net needs two or more rows"):
        read_parts([{"shape": "plate", "says": "board", "source": "judgement", "rows": rows}], landmarks, "here")


def test_a_section_told_by_landmarks_lies_between_them(landmarks: Landmarks) -> None:
    sections = [{"outline": "psoas_l3_4"}, {"outline": "psoas_l4_5"}]
    row = {"shape": "loft", "says": "belly", "source": "judgement", "sections": sections}
    loft = read_parts([row], landmarks, "here")[0].drawing
    assert isinstance(loft, Loft)
    border = np.array(
        [landmarks[f"psoas_{disc}_{word}_left"] for disc in ("l3_4", "l4_5") for word in ("inner", "front")]
    )
    assert np.abs(loft_distance(loft, border)).max() < 0.5
    assert np.linalg.norm(loft.centres[0] - landmarks["psoas_l3_4_inner_left"]) == pytest.approx(
        loft.half[0, 0], abs=0.3
    )


def test_a_turn_swings_the_outer_end_back(landmarks: Landmarks) -> None:
    section = {"at": "asis", "half_width": 20.0, "half_depth": 5.0, "turn": 30.0}
    sections = [section, {**section, "up": 10.0}]
    row = {"shape": "loft", "says": "belly", "source": "judgement", "sections": sections}
    loft = read_parts([row], landmarks, "here")[0].drawing
    assert isinstance(loft, Loft)
    end = landmarks["asis_left"] + [20.0 * np.cos(np.pi / 6), 20.0 * np.sin(np.pi / 6), 5.0]
    assert abs(loft_distance(loft, end[None])[0]) < 1e-6


def test_only_blocks_near_the_surface_are_asked_and_the_rest_is_filled_in() -> None:
    field = empty_field(np.full(3, -40.0), np.full(3, 40.0), 1.5, 6.0)
    asked = 0

    def ball(points: Array) -> Array:
        nonlocal asked
        asked += len(points)
        out: Array = np.linalg.norm(points, axis=1) - 30.0
        return out

    box = field.box(np.full(3, -40.0), np.full(3, 40.0))
    drawn = draw_measured(field, box, ball)
    points = field.grid(box).reshape(-1, 3)
    expected = np.clip(np.linalg.norm(points, axis=1) - 30.0, -6.0, 6.0)
    np.testing.assert_allclose(drawn.ravel(), expected, atol=1e-4)
    assert asked < 0.7 * len(points)


def two_balls(gap: float) -> Field:
    points = [{"at": "asis", "radius": 8.0}], [{"at": "asis", "lateral": 13.0 + gap, "radius": 5.0}]
    return solid_field(
        read_parts(
            [{"shape": "ball", "says": "ball", "source": "judgement", "points": p} for p in points],
            reference_landmarks(),
            "here",
        ),
        1.0,
    )


def test_crumbs_go_and_the_largest_piece_stays_as_it_was() -> None:
    field = two_balls(gap=3.0)
    alone = solid_field(
        read_parts(
            [{"shape": "ball", "says": "ball", "source": "judgement", "points": [{"at": "asis", "radius": 8.0}]}],
            reference_landmarks(),
            "here",
        ),
        1.0,
    )
    keep_largest(field)
    box, kept = alone.on_grid_of(field)
    inside = kept < 0
    np.testing.assert_array_equal(field.values[box][inside], kept[inside])
    assert (field.values < 0).sum() == inside.sum()


def test_what_hangs_together_is_left_alone() -> None:
    field = two_balls(gap=-2.0)
    before = field.values.copy()
    keep_largest(field)
    np.testing.assert_array_equal(field.values, before)


def test_a_plate_reaches_no_further_than_its_box(landmarks: Landmarks) -> None:
    net = dense_net(flat(30.0, 30.0, 2.0))
    field = empty_field(*net.reach(), 1.5, 5.0)
    _, drawn = draw(field, net)
    assert drawn.min() == pytest.approx(-2.0, abs=0.8)
    low, high = net.reach()
    np.testing.assert_allclose(low, [-2.0, -2.0, -2.0])
    np.testing.assert_allclose(high, [32.0, 32.0, 2.0])
