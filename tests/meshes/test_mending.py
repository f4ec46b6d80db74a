"""Pinched surfaces are closed again, and whole ones are left as they are."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.curves import Array
from meshes.fields import empty_field, to_surface
from meshes.mending import mended
from meshes.surfaces import Faces, Surface


def ball(radius: float = 10.0) -> Surface:
    field = empty_field(np.full(3, -radius), np.full(3, radius), 1.5, 4.0)
    far = np.linalg.norm(field.grid(), axis=-1) - radius
    field.values = np.clip(far, -4.0, 4.0).astype(np.float32)
    return to_surface(field, keep_share=0.5)


BALL = ball()


def test_a_closed_surface_is_left_as_it_is() -> None:
    assert mended(BALL) is BALL


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, len(BALL.faces) - 1), min_size=1, max_size=12, unique=True))
def test_lost_faces_are_made_good(lost: list[int]) -> None:
    healed = mended(Surface(BALL.vertices, np.delete(BALL.faces, lost, axis=0)))
    assert healed.is_closed()
    assert healed.volume() == pytest.approx(BALL.volume(), rel=0.08)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, len(BALL.faces) - 1), st.integers(0, len(BALL.vertices) - 1))
def test_fins_are_cut_off(face: int, corner: int) -> None:
    """A third face on an edge, as thinning leaves it."""
    a, b, c = BALL.faces[face]
    if corner in (a, b, c):
        return
    torn = Surface(BALL.vertices, np.concatenate([BALL.faces, [[a, b, corner]]]).astype(np.int32))
    assert not torn.is_closed()
    healed = mended(torn)
    assert healed.is_closed()
    assert healed.volume() == pytest.approx(BALL.volume(), rel=0.08)


@pytest.mark.parametrize("keep_share", [0.5, 0.2, 0.1, 0.05])
def test_thin_plates_stay_closed_however_much_they_are_thinned(keep_share: float) -> None:
    """A bowl barely thicker than the grid: thinning alone tears it."""
    thick = 1.2
    field = empty_field(np.full(3, -20.0), np.full(3, 20.0), 1.0, 4.0)
    points = field.grid()
    wave = np.sin(0.7 * points[..., 0]) * np.cos(0.8 * points[..., 1])
    shell = np.abs(np.linalg.norm(points, axis=-1) - 18.0 + 0.4 * wave) - 0.5 * thick
    field.values = np.clip(np.maximum(shell, points[..., 2]), -4.0, 4.0).astype(np.float32)
    whole, thin = to_surface(field), to_surface(field, keep_share=keep_share)
    assert thin.is_closed()
    assert len(thin.faces) < 1.4 * keep_share * len(whole.faces)
    assert thin.volume() == pytest.approx(whole.volume(), rel=0.1)


def euler(faces: Faces, points: Array) -> int:
    return len(points) - 3 * len(faces) // 2 + len(faces)


def test_a_mended_ball_is_still_a_ball() -> None:
    healed = mended(Surface(BALL.vertices, BALL.faces[5:]))
    assert euler(healed.faces, healed.vertices) == 2
