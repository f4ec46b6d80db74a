"""Which way a surface looks: at its triangles, and at its corners."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.surfaces import Surface

#: Corners (f, 3) of triangles, by number.
Corners = NDArray[np.integer[Any]]


def across(points: Array, faces: Corners) -> Array:
    """The way each triangle looks (f, 3), as long as twice its area, mm2. points (v, 3), faces (f, 3)"""
    first = points[faces[:, 0]]
    out: Array = np.cross(points[faces[:, 1]] - first, points[faces[:, 2]] - first)
    return out


def at_corners(faces: Corners, across: Array, count: int) -> Array:
    """Unit normals (count, 3): faces (f, 3) that meet in a corner weigh by their area. across : as `across` has it"""
    total = np.stack(
        [sum(np.bincount(faces[:, k], across[:, i], count) for k in range(3)) for i in range(3)],
        axis=1,
    )
    return unit(total)


def vertex_normals(surface: Surface) -> Array:
    """Unit normals (v, 3), outwards, of a surface's vertices; see `at_corners`."""
    return at_corners(surface.faces, across(surface.vertices, surface.faces), len(surface.vertices))


def unit(directions: Array) -> Array:
    """Directions (n, 3), each of length 1; what has none stays without."""
    out: Array = directions / np.maximum(np.linalg.norm(directions, axis=1, keepdims=True), 1e-12)
    return out
