"""Many points against one closed surface: which lie inside, and how far each is from it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.nearby import Flags, pierced
from meshes.surfaces import Surface


def held(surface: Surface, points: Array) -> Flags:
    """Which points (n, 3), mm, a closed surface holds: a line upwards leaves it once more than it enters it."""
    corners = surface.triangles()
    low, high = corners.min(axis=1), corners.max(axis=1)
    first, last = points.min(axis=0), points.max(axis=0)
    met = np.all((low[:, :2] <= last[:2]) & (high[:, :2] >= first[:2]), axis=1) & (high[:, 2] >= first[2])
    ray, _, height, sign = pierced(corners[met], points[:, :2])
    above = height > points[ray, 2]
    left: NDArray[np.int64] = np.zeros(len(points), dtype=np.int64)
    np.subtract.at(left, ray[above], sign[above])
    out: Flags = left > 0
    return out


def close(surface: Surface, points: Array, within_mm: float) -> Flags:
    """Which points (n, 3), mm, come within so much of a surface as meshed, or lie inside it."""
    from scipy.spatial import cKDTree

    bound, _ = cKDTree(surface.vertices).query(points)
    # Every point of a triangle lies within twice its reach of each of its corners.
    open_ = np.flatnonzero((bound > within_mm) & (bound <= within_mm + 2.0 * _reach(surface)))
    out: Flags = held(surface, points) | (bound <= within_mm)
    if len(open_):
        out[open_] |= away(surface, points[open_]) <= within_mm
    return out


def away(surface: Surface, points: Array) -> Array:
    """Distance (n,), mm, of points (n, 3) from a surface as meshed; never negative."""
    from scipy.spatial import cKDTree
    from trimesh.triangles import closest_point

    corners = surface.triangles()
    # The nearest corner bounds the distance; no triangle whose middle is farther than that and its reach can be nearer.
    bound, _ = cKDTree(surface.vertices).query(points)
    lists = cKDTree(corners.mean(axis=1)).query_ball_point(points, bound + _reach(surface))
    counts = np.array([len(found) for found in lists])
    triangle = np.concatenate([np.asarray(found, dtype=np.intp) for found in lists])
    owner = np.repeat(np.arange(len(points)), counts)
    nearest = closest_point(corners[triangle], points[owner])
    out: Array = np.array(bound, dtype=np.float64)
    np.minimum.at(out, owner, np.linalg.norm(nearest - points[owner], axis=1))
    return out


def _reach(surface: Surface) -> float:
    """How far, mm, a triangle's corner lies from its middle at most."""
    corners = surface.triangles()
    return float(np.linalg.norm(corners - corners.mean(axis=1)[:, None], axis=2).max())
