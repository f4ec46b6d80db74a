"""The inner surface of a bone: where its cortex ends and its spongy inside begins."""

from __future__ import annotations

import numpy as np

from meshes.curves import Array, Indices
from meshes.normals import vertex_normals
from meshes.surfaces import Surface

#: Rounds in which a ball shrinks until it holds no more than it touches.
_SHRINKS = 12
#: A surface counts as an opposite wall where it looks back by at least this cosine.
_LOOKS_BACK = 0.3


def inner(bone: Surface, cortex_mm: float | Array, share: float = 0.35, smooth: int = 4) -> Surface:
    """The bone's surface moved inwards by the thickness of its cortex: the same faces, closed as before.

    cortex_mm : thickness, mm, of all or of each vertex (v,)
    share     : the most of the local thickness that the cortex may take on either side; under a half
    smooth    : rounds in which the depth is evened out between neighbours
    """
    normals = vertex_normals(bone)
    depth = np.minimum(cortex_mm, share * thickness(bone, normals))
    edges = _edges(bone)
    for _ in range(smooth):
        # Never deeper than the bone allows: thin places draw in their neighbours, not the other way.
        depth = np.minimum(depth, _neighbour_mean(depth, edges))
    return bone.moved(bone.vertices - depth[:, None] * normals)


def thickness(surface: Surface, normals: Array) -> Array:
    """Local thickness (v,), mm: the widest ball inside that touches the surface at each vertex.

    The ball starts wide and shrinks to the nearest vertex that it holds until it holds none (Ma, Bae, Choi, Vis Comput
    2012;28(1):7).
    """
    from scipy.spatial import cKDTree

    points = surface.vertices
    tree = cKDTree(points)
    radius = np.full(len(points), float(np.ptp(points, axis=0).max()))
    alive = np.arange(len(points))
    for _ in range(_SHRINKS):
        centre = points[alive] - radius[alive, None] * normals[alive]
        far, near = tree.query(centre)
        across = points[alive] - points[near]
        reach = np.einsum("ij,ij->i", across, normals[alive])
        looks_back = np.einsum("ij,ij->i", normals[near], normals[alive]) < -_LOOKS_BACK
        smaller = (far < radius[alive] - 1e-6) & (reach > 1e-9) & (near != alive)
        alive, across, reach, looks_back = (v[smaller] for v in (alive, across, reach, looks_back))
        if not len(alive):
            break
        shrunk = np.einsum("ij,ij->i", across, across) / (2.0 * reach)
        # A vertex of the same wall, by a dent or a coarse mesh, is no opposite wall: the ball stops there, too, but
        # it is let shrink no further than half way.
        radius[alive] = np.where(looks_back, shrunk, np.maximum(shrunk, 0.5 * radius[alive]))
    return 2.0 * radius


def _edges(surface: Surface) -> tuple[Indices, Indices]:
    """Start and end (3 f,) of every edge of every face."""
    corners = surface.faces.astype(np.intp)
    return np.concatenate([corners[:, k] for k in range(3)]), np.concatenate([corners[:, k - 2] for k in range(3)])


def _neighbour_mean(values: Array, edges: tuple[Indices, Indices]) -> Array:
    """Mean (v,) of each vertex' neighbours; every edge of a closed surface is met once in each direction."""
    start, end = edges
    count = np.bincount(start, minlength=len(values))
    out: Array = np.bincount(start, values[end], len(values)) / np.maximum(count, 1)
    return out
