"""Where source and detector stand, and what falls on which pixel."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.errors import FurcalError
from meshes.film.beam import beam_for, check_outside, winding
from meshes.film.limits import FILM_VIEWS
from tests.film.shapes import ball, box, rotation

ANGLES = {"turn_deg": st.floats(-180, 180), "cranial_deg": st.floats(-60, 60)}


@given(view=st.sampled_from(FILM_VIEWS), parallel=st.booleans(), size=st.integers(16, 400), **ANGLES)
def test_the_centre_falls_on_the_middle_however_the_beam_is_turned(
    view: str, parallel: bool, size: int, turn_deg: float, cranial_deg: float
) -> None:
    centre = np.array([3.0, -20.0, 41.0])
    beam = beam_for(view, turn_deg, cranial_deg, centre_mm=centre, size=size, parallel=parallel)
    assert beam.project(centre)[0] == pytest.approx([(size - 1) / 2] * 2, abs=1e-9)
    frame = np.array([beam.u, beam.v, beam.normal])
    assert np.allclose(frame @ frame.T, np.eye(3), atol=1e-12)
    assert np.allclose(beam.normal, beam.direction, atol=1e-12)


@pytest.mark.parametrize(
    ("view", "point", "toward"),
    [
        ("front", (10, 0, 0), (1, 0)),  # the patient's left hangs on the picture's right
        ("left", (0, -10, 0), (-1, 0)),  # seen from the left, the front is on the picture's left
        ("right", (0, -10, 0), (1, 0)),
        ("front", (0, 0, 10), (0, -1)),
        ("left", (0, 0, 10), (0, -1)),
        ("right", (0, 0, 10), (0, -1)),
    ],
)
def test_films_hang_as_they_are_read(view: str, point: tuple[int, int, int], toward: tuple[int, int]) -> None:
    beam = beam_for(view, size=101, field_mm=101.0, parallel=True)
    assert beam.project(np.array(point, dtype=float))[0] - 50.0 == pytest.approx(10.0 * np.array(toward), abs=1e-9)


def test_the_source_stands_before_the_patient_and_across_from_the_side_film() -> None:
    assert beam_for("front").source_mm == pytest.approx([0, -700, 0])
    assert beam_for("left").source_mm == pytest.approx([-700, 0, 0])
    assert beam_for("right").source_mm == pytest.approx([700, 0, 0])


def test_a_front_film_turned_by_ninety_degrees_is_read_from_the_left() -> None:
    assert beam_for("front", turn_deg=90).u == pytest.approx(beam_for("left").u, abs=1e-12)


def test_a_cranial_tilt_sends_the_middle_ray_to_the_head() -> None:
    for view in FILM_VIEWS:
        assert beam_for(view, cranial_deg=30).direction[2] == pytest.approx(0.5)


@given(seed=st.integers(0, 2**31), view=st.sampled_from(FILM_VIEWS), parallel=st.booleans(), **ANGLES)
def test_a_projected_point_lies_on_its_pixels_ray(
    seed: int, view: str, parallel: bool, turn_deg: float, cranial_deg: float
) -> None:
    beam = beam_for(view, turn_deg, cranial_deg, size=64, parallel=parallel)
    points = np.random.default_rng(seed).uniform(-150, 150, (20, 3))
    col, row = beam.project(points).T
    on = beam.origin_mm + beam.pixel_mm * (col[:, None] * beam.u + row[:, None] * beam.v)
    start = on - beam.direction if beam.source_mm is None else beam.source_mm
    along = on - start
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    assert np.linalg.norm(np.cross(points - start, along), axis=1).max() < 1e-9


def test_rays_run_from_the_source_through_the_pixel_centres() -> None:
    beam = beam_for("left", 12, -7, size=20)
    assert beam.source_mm is not None
    start, along = beam.rays()
    hit = start + along * np.linalg.norm(beam.pixel_centres() - beam.source_mm, axis=2, keepdims=True)
    pixels = np.indices((20, 20))[::-1].transpose(1, 2, 0)
    assert np.allclose(beam.project(hit.reshape(-1, 3)).reshape(20, 20, 2), pixels)
    assert np.allclose(beam.stretch(), 1.0 / (along @ beam.normal))


@given(st.floats(-250, 250))
def test_magnification_is_the_ratio_of_the_distances(deep_mm: float) -> None:
    beam = beam_for("front", size=500, field_mm=500, distance_mm=1000, source_to_centre_mm=600)
    ends = beam.project(np.array([[-10.0, deep_mm, 0.0], [10.0, deep_mm, 0.0]]))
    expected = 1000.0 / (600.0 + deep_mm)
    assert (ends[1, 0] - ends[0, 0]) * beam.pixel_mm / 20.0 == pytest.approx(expected, rel=1e-12)
    assert beam.magnification(np.array([0.0, deep_mm, 0.0])) == pytest.approx(expected, rel=1e-12)


def test_pixel_of_counts_row_then_column_and_stops_at_the_rim() -> None:
    beam = beam_for("front", size=100, field_mm=100.0, parallel=True)
    assert beam.pixel_of(np.array([10.6, 0.0, 20.6])) == (29, 60)
    assert beam.pixel_of(np.array([50.1, 0.0, 0.0])) is None


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"view": "lateral"}, "unknown view"),
        ({"view": "front", "turn_deg": math.nan}, "turn_deg"),
        ({"view": "front", "cranial_deg": 61}, "cranial_deg: 61 is outside -60 to 60"),
        ({"view": "front", "size": 8}, "size"),
        ({"view": "front", "size": 100.5}, "whole number"),
        ({"view": "front", "field_mm": -1}, "field_mm"),
        ({"view": "front", "distance_mm": 600.0}, "leaves no room"),
        ({"view": "front", "centre_mm": np.array([0, 0, math.inf])}, "centre_mm"),
    ],
)
def test_nonsense_is_refused_in_one_sentence(words: dict[str, Any], says: str) -> None:
    with pytest.raises(FurcalError, match=says):
        beam_for(**words)


@given(st.integers(0, 2**31))
def test_a_surface_winds_once_round_what_is_inside(seed: int) -> None:
    turn = rotation(seed)
    shape = box((-30, -20, -10), (30, 20, 10), turn)
    point = np.random.default_rng(seed).uniform(-40, 40, 3)
    inside = bool(np.all(np.abs(point @ turn) < [30, 20, 10]))
    assert winding(shape, point) == pytest.approx(float(inside), abs=1e-6)


def test_a_beam_from_inside_the_body_is_refused() -> None:
    skin = ball(150.0, finer=2)
    check_outside(beam_for("front", source_to_centre_mm=500), skin)
    check_outside(beam_for("front", parallel=True), skin)
    with pytest.raises(FurcalError, match="inside the body"):
        check_outside(beam_for("front", source_to_centre_mm=120), skin)
    with pytest.raises(FurcalError, match="behind the source"):
        check_outside(beam_for("front", centre_mm=np.array([160.0, 0, 0]), source_to_centre_mm=120), skin)
    with pytest.raises(FurcalError, match="detector"):
        check_outside(beam_for("front", source_to_centre_mm=950), skin)
