"""How far a place on one structure is from another structure, along the surface of the first.

A way leads over the clicked surface, and from a point of it straight outwards to the target. It never leads through the
clicked structure: what lies within a muscle or behind it is far along its surface, however near it is through it.

Over the surface the shortest way is sought along the edges of triangles, cut small for the length that is asked about,
and across each edge to the opposite corner with both triangles laid flat. Such ways lie on the surface, so that what is
found is never shorter than the shortest way of the mesh, and hardly ever more than a tenth longer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from meshes.body import Body
from meshes.curves import Array
from meshes.facets import cut_in_four
from meshes.normals import across, at_corners
from meshes.surfaces import Surface

#: The longest edge of most triangles over which a way is sought: this share of the length asked about, at least 0.8 mm.
STEP_SHARE, STEP_MIN_MM = 0.12, 0.8
#: The same for the triangles of the target.
TARGET_MM = 0.8
#: What lies this deep in the clicked surface still lies on it: surfaces touch no nearer than they are meshed, mm.
SUNK_MM = 0.5
_Ints = NDArray[np.int64]


def along_mm(body: Body, clicked: str, point_mm: Array, target: str, most_mm: float) -> float:
    """The shortest way, mm, from a point (3,) of a clicked structure to a target; infinity beyond `most_mm`."""
    if clicked == target:
        return 0.0
    from scipy.spatial import cKDTree

    step = max(STEP_MIN_MM, STEP_SHARE * most_mm)
    far = most_mm + step
    aimed = _near_triangles(body.surfaces[target], point_mm, far, TARGET_MM)
    ground = _near_triangles(body.surfaces[clicked], point_mm, far, step)
    if not len(aimed) or not len(ground):
        return float("inf")
    points, faces = _joined(ground)
    ways = ways_over(points, faces, point_mm, most_mm)
    goals = _joined(aimed)[0]
    # Of each place on the way the nearest goals, some of which may lie behind the surface.
    gaps, which = cKDTree(goals).query(points, k=min(8, len(goals)), distance_upper_bound=far)
    gaps, which = gaps.reshape(len(points), -1), which.reshape(len(points), -1)
    found = np.isfinite(gaps)
    leaps = goals[np.where(found, which, 0)] - points[:, None]
    rise = np.einsum("ikj,ij->ik", leaps, at_corners(faces, across(points, faces), len(points)))
    outside = found & (rise >= -SUNK_MM)
    total = np.where(outside, ways[:, None] + np.where(outside, gaps, 0.0), np.inf)
    best = float(total.min())
    return best if best <= most_mm else float("inf")


def ways_over(points: Array, faces: _Ints, start_mm: Array, most_mm: float = np.inf) -> Array:
    """Length (v,), mm, of the shortest way over triangles from a point (3,) on one of them to every corner.

    points (v, 3), faces (f, 3); infinity for what is not reached within `most_mm`
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import dijkstra

    pairs, lengths = _steps(points, faces)
    corners = faces[_nearest_face(points[faces], start_mm)]
    n = len(points)
    first = np.stack([np.full(3, n), corners], axis=1)
    # A way of no length would be no way in a sparse table.
    starts = np.maximum(np.linalg.norm(points[corners] - start_mm, axis=1), 1e-9)
    pairs, lengths = np.concatenate([pairs, first]), np.concatenate([lengths, starts])
    graph = csr_matrix((lengths, (pairs[:, 0], pairs[:, 1])), shape=(n + 1, n + 1))
    out: Array = dijkstra(graph, directed=False, indices=n, limit=most_mm)[:n]
    return out


def _near_triangles(surface: Surface, point_mm: Array, far_mm: float, step_mm: float) -> Array:
    """The triangles (t, 3, 3) of a surface that come within reach of a point, cut to small ones."""
    corners: Array = surface.triangles()
    while True:
        size = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
        away = np.linalg.norm(corners - point_mm, axis=2).min(axis=1)
        corners = corners[away - size <= far_mm]
        size = size[away - size <= far_mm]
        if not len(corners) or np.median(size) <= step_mm:
            return corners
        # All of them at once: where only some were cut, an edge would have a corner on one side only.
        corners = cut_in_four(corners)


def _joined(corners: Array) -> tuple[Array, _Ints]:
    """Points (v, 3) and faces (f, 3) of triangles (t, 3, 3) whose common corners are the same to a micrometre."""
    _, first, index = np.unique(np.round(corners.reshape(-1, 3), 3), axis=0, return_index=True, return_inverse=True)
    return corners.reshape(-1, 3)[first], index.reshape(-1, 3).astype(np.int64)


def _nearest_face(corners: Array, point_mm: Array) -> int:
    """The triangle, of (t, 3, 3), that comes nearest to a point (3,)."""
    few = np.argsort(np.linalg.norm(corners.mean(axis=1) - point_mm, axis=1))[:64]
    share = np.array([[a, b, 6 - a - b] for a in range(7) for b in range(7 - a)]) / 6.0
    spots = np.einsum("sk,tkj->tsj", share, corners[few])
    return int(few[np.linalg.norm(spots - point_mm, axis=2).min(axis=1).argmin()])


def _steps(points: Array, faces: _Ints) -> tuple[_Ints, Array]:
    """Every step (s, 2) between corners with its length (s,): each edge, and over each edge to the opposite corner."""
    sides = np.concatenate([faces[:, [0, 1, 2]], faces[:, [1, 2, 0]], faces[:, [2, 0, 1]]])
    edges = np.sort(sides[:, :2], axis=1)
    order = np.lexsort((edges[:, 1], edges[:, 0]))
    edges, apex = edges[order], sides[order, 2]
    twin = np.flatnonzero((edges[1:] == edges[:-1]).all(axis=1))
    single = np.unique(edges, axis=0)
    over, length = _unfolded(points, edges[twin], apex[twin], apex[twin + 1])
    plain = np.linalg.norm(points[single[:, 0]] - points[single[:, 1]], axis=1)
    pairs = np.concatenate([single, over])
    lengths = np.concatenate([plain, length])
    # The same two corners may be joined in several ways; a sparse table would add them up.
    pairs = np.sort(pairs, axis=1)
    order = np.lexsort((lengths, pairs[:, 1], pairs[:, 0]))
    pairs, lengths = pairs[order], lengths[order]
    shortest = np.append(True, (pairs[1:] != pairs[:-1]).any(axis=1))
    return pairs[shortest], np.maximum(lengths[shortest], 1e-9)


def _unfolded(points: Array, edges: _Ints, one: _Ints, other: _Ints) -> tuple[_Ints, Array]:
    """Steps (s, 2) between the corners opposite an edge, both triangles laid flat, where the way crosses the edge."""
    a, b, c, d = points[edges[:, 0]], points[edges[:, 1]], points[one], points[other]
    span = np.linalg.norm(b - a, axis=1)
    unit = (b - a) / np.maximum(span, 1e-12)[:, None]
    along_c, along_d = np.einsum("ij,ij->i", c - a, unit), np.einsum("ij,ij->i", d - a, unit)
    up = np.linalg.norm(c - a - along_c[:, None] * unit, axis=1)
    down = np.linalg.norm(d - a - along_d[:, None] * unit, axis=1)
    crossing = along_c + (along_d - along_c) * up / np.maximum(up + down, 1e-12)
    good = (crossing > 0.0) & (crossing < span) & (one != other)
    length = np.hypot(along_d - along_c, up + down)
    return np.stack([one, other], axis=1)[good], length[good]
