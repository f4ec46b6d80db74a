"""Plain shapes and their closed forms, for the film's tests."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from meshes.curves import Array
from meshes.film.beam import Beam
from meshes.surfaces import Surface

_QUADS = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))


def box(low: ArrayLike, high: ArrayLike, turn: Array | None = None) -> Surface:
    """A closed box from corner to corner, mm, then turned about the frame's origin by a matrix (3, 3)."""
    ends = np.array([low, high], dtype=np.float64)
    vertices = np.array([[ends[i, 0], ends[j, 1], ends[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    faces = [face for a, b, c, d in _QUADS for face in ((a, b, c), (a, c, d))]
    return Surface(vertices if turn is None else vertices @ turn.T, np.array(faces, dtype=np.int32))


def ball(radius: float, centre: tuple[float, float, float] = (0.0, 0.0, 0.0), finer: int = 3) -> Surface:
    """A ball of triangles whose corners lie on the sphere."""
    import trimesh

    mesh = trimesh.creation.icosphere(subdivisions=finer, radius=radius)
    return Surface(np.asarray(mesh.vertices, dtype=np.float64) + centre, np.asarray(mesh.faces, dtype=np.int32))


def rotation(seed: int) -> Array:
    """A random rotation (3, 3)."""
    q, r = np.linalg.qr(np.random.default_rng(seed).standard_normal((3, 3)))
    q = q * np.sign(np.diag(r))
    out: Array = q * np.sign(np.linalg.det(q))
    return out


def through_box(beam: Beam, low: ArrayLike, high: ArrayLike, turn: Array) -> Array:
    """Length (h, w), mm, of each ray inside a turned box: the overlap of its three slabs."""
    start, along = beam.rays()
    start, along = start @ turn, along @ turn
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = (np.asarray(low) - start) / along, (np.asarray(high) - start) / along
    out: Array = np.maximum(np.maximum(a, b).min(axis=2) - np.minimum(a, b).max(axis=2), 0.0)
    return out


def through_ball(beam: Beam, radius: float, centre: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Array:
    """Length (h, w), mm, of each ray inside a sphere."""
    start, along = beam.rays()
    off = np.linalg.norm(np.cross(np.asarray(centre) - start, along), axis=2)
    out: Array = 2.0 * np.sqrt(np.maximum(radius**2 - off**2, 0.0))
    return out
