"""Solids built on the left and reflected: closed, exactly symmetric, and the same solid as when built whole."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from meshes.curves import Array
from meshes.fields import Field, both_halves, draw_balls, empty_field, join, left_half, to_surface
from meshes.halves import reflected, symmetric_surface
from meshes.surfaces import Surface

SPACING_MM = 1.0


def balls_field(centres: Array, radii: Array, *, half: bool) -> Field:
    """Balls and their mirror images, on the whole grid or on its left half."""
    both, twice = np.concatenate([centres, centres * [-1, 1, 1]]), np.concatenate([radii, radii])
    low, high = (both - twice[:, None]).min(axis=0), (both + twice[:, None]).max(axis=0)
    field = empty_field(low, high, SPACING_MM, 4.0)
    if half:
        field = left_half(field)
    box = field.box(low, high)
    field.values[box] = join(field.values[box], draw_balls(field, box, both, twice), 0.0)
    return field


@st.composite
def chains(draw: st.DrawFn) -> tuple[Array, Array]:
    """Overlapping balls that start in the midplane: (n, 3) and (n,), mm."""
    count = draw(st.integers(1, 4))
    number = st.floats(-4.0, 4.0)
    centres, radii = [np.array([0.0, draw(number), draw(number)])], [draw(st.floats(4.0, 7.0))]
    for _ in range(count):
        step = np.array([draw(number), draw(number), draw(number)])
        centres.append(centres[-1] + step)
        radii.append(draw(st.floats(4.0, 7.0)))
    return np.array(centres), np.array(radii)


def mirrored_exactly(surface: Surface) -> bool:
    """Whether reflection maps the triangles onto triangles; by their corners, for vertices may coincide."""

    def corners(one: Surface) -> list[tuple[float, ...]]:
        turns = [np.roll(one.triangles() + 0.0, k, axis=1).reshape(-1, 9) for k in range(3)]
        return sorted(min(map(tuple, turned)) for turned in zip(*turns, strict=True))

    return corners(surface) == corners(surface.mirrored())


@settings(max_examples=60, deadline=None)
@given(chains(), st.floats(0.05, 1.0))
@example((np.array([[0.0, 0.0, 0.0], [2.0, 0.0, 0.0]]), np.array([4.0, 6.0])), 1.0)
def test_symmetric_surfaces_are_closed_and_their_own_mirror_image(balls: tuple[Array, Array], keep: float) -> None:
    surface = symmetric_surface(balls_field(*balls, half=True), keep_share=keep)
    assert surface.is_closed()
    assert mirrored_exactly(surface)
    assert surface.volume() > 0


@settings(max_examples=20, deadline=None)
@given(chains())
def test_built_on_one_side_or_whole_a_solid_is_the_same(balls: tuple[Array, Array]) -> None:
    whole, half = balls_field(*balls, half=False), balls_field(*balls, half=True)
    joined = both_halves(half)
    points = whole.grid().reshape(-1, 3)
    assert np.abs(joined.at(points) - whole.at(points)).max() < 1e-4
    expected = to_surface(whole).volume()
    assert symmetric_surface(half).volume() == pytest.approx(expected, rel=2e-3)
    assert symmetric_surface(half, keep_share=0.3).volume() == pytest.approx(expected, rel=2e-2)


def test_no_seam_shows_along_the_midplane_of_a_ball() -> None:
    surface = symmetric_surface(balls_field(np.zeros((1, 3)), np.array([12.0]), half=True), keep_share=0.3)
    seam = surface.vertices[np.abs(surface.vertices[:, 0]) < 1e-9]
    away = surface.vertices[np.abs(surface.vertices[:, 0]) > 2.0]
    assert len(seam) > 8
    assert np.abs(np.linalg.norm(seam, axis=1) - 12.0).max() < 0.25
    assert np.abs(np.linalg.norm(away, axis=1) - 12.0).max() < 0.25


def test_an_edge_between_two_rim_points_is_split_before_reflection() -> None:
    """A tent of two faces over a square rim: reflected as it is, four faces would share the ridge."""
    from meshes.halves import _without_chords

    vertices = np.array([[0, 0, 0], [0, 4, 0], [0, 4, 4], [0, 0, 4]], dtype=float)
    faces = np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32)
    assert not reflected(vertices, faces).is_closed()
    assert reflected(*_without_chords(vertices, faces)).is_closed()
