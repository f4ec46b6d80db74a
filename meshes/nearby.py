"""Triangles near a straight line, and where lines pierce closed surfaces.

All rays of a portal are parallel. Seen along them a surface is flat, and piercing it is a question in two dimensions:
in which triangles does a point lie? It is answered by winding numbers with half-open edges, and every edge is judged
by the same arithmetic from both of its triangles: a ray through an edge or a corner pierces exactly one of the faces
that meet there, and the signs of all crossings of a closed surface add up to zero, without any tolerance.

Triangles far from the line are left out by boxes, one for each block of faces.
"""

from __future__ import annotations

import math
from collections.abc import Container, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.surfaces import Surface

#: Faces of a surface whose common box is kept.
_BLOCK = 32
#: Rays whose distances from the line differ by less are looked for together, mm.
_ROUNDING_MM = 1e-5
#: A stretch that goes less far than this along an axis does not move along it, mm; to divide by it could overflow.
_NO_STEP_MM = 1e-12
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]


def facing(direction: Array) -> Array:
    """Axes (3, 3) whose rows are two directions across and `direction` (unit) itself, right-handed.

    The first leans to the head as far as it can, so that mirrored directions get mirrored axes.
    """
    x, y, z = direction.tolist()
    a, b, c = (-x * z, -y * z, 1.0 - z * z) if abs(z) < 0.99 else (x * y, y * y - 1.0, y * z)
    size = math.sqrt(a * a + b * b + c * c)
    a, b, c = a / size, b / size, c / size
    return np.array([[a, b, c], [y * c - z * b, z * a - x * c, x * b - y * a], [x, y, z]])


def seen_along(points: Array, origin: Array, axes: Array) -> Array:
    """Points (…, 3) as (across, across, depth) from an origin. Equal points come out equal to the last bit."""
    step = points - origin
    return np.stack([step[..., 0] * a[0] + step[..., 1] * a[1] + step[..., 2] * a[2] for a in axes], axis=-1)


def pierced(corners: Array, rays: Array) -> tuple[Indices, Indices, Array, NDArray[np.int64]]:
    """Where rays along the third axis pierce triangles.

    corners : (t, 3, 3) triangles as `seen_along` gives them
    rays    : (r, 2) where the rays stand across

    Returns ray (k,), triangle (k,), depth (k,) and sign (k,): +1 where the ray enters, -1 where it leaves.
    """
    (u0, u1), (v0, v1) = _extent(corners[..., 0]), _extent(corners[..., 1])
    u, v = rays[:, :1], rays[:, 1:]
    ray, triangle = np.nonzero((u0 <= u) & (u <= u1) & (v0 <= v) & (v <= v1))
    c, (pu, pv) = corners[triangle], rays[ray].T
    winding = np.zeros(len(ray), dtype=np.int64)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        rises = (c[:, i, 1] <= pv) & (pv < c[:, j, 1])
        falls = (c[:, j, 1] <= pv) & (pv < c[:, i, 1])
        a = np.where(rises[:, None], c[:, i], c[:, j])
        b = np.where(rises[:, None], c[:, j], c[:, i])
        # Judged by the edge's ends where they settle it: rounding must not contradict the boxes used above.
        product = (b[:, 0] - a[:, 0]) * (pv - a[:, 1]) - (pu - a[:, 0]) * (b[:, 1] - a[:, 1]) > 0.0
        beside = (pu < np.minimum(a[:, 0], b[:, 0])) | ((pu <= np.maximum(a[:, 0], b[:, 0])) & product)
        winding += (rises & beside).astype(np.int64) - (falls & beside)
    hit = winding != 0
    return ray[hit], triangle[hit], _depth(c[hit], pu[hit], pv[hit]), -winding[hit]


def _extent(values: Array) -> tuple[Array, Array]:
    """Least and most (t,) of three columns (t, 3); numpy is slow at reducing along a short axis."""
    a, b, c = values[:, 0], values[:, 1], values[:, 2]
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)


def _depth(c: Array, pu: Array, pv: Array) -> Array:
    """Depth (k,) of triangles (k, 3, 3) at points across; between its corners' depths even when seen edge-on."""
    d = c[:, :, 2]
    e1, e2 = c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]
    area = e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0]
    flat = area == 0.0
    area = np.where(flat, 1.0, area)
    u, v = pu - c[:, 0, 0], pv - c[:, 0, 1]
    s, t = (u * e2[:, 1] - v * e2[:, 0]) / area, (v * e1[:, 0] - u * e1[:, 1]) / area
    depth = np.where(flat, d.mean(axis=1), d[:, 0] + s * e1[:, 2] + t * e2[:, 2])
    return np.clip(depth, *_extent(d))


def crossings(surface: Surface, origin: Array, direction: Array) -> tuple[Array, NDArray[np.int64]]:
    """Depths (k,), mm, in order, and signs (k,) (+1 in, -1 out) of a whole line's crossings of one surface."""
    seen = seen_along(surface.vertices, origin, facing(direction))[surface.faces]
    _, _, depth, sign = pierced(seen, np.zeros((1, 2)))
    order = np.lexsort((-sign, depth))
    return depth[order], sign[order]


def passes(low: Array, high: Array, start: Array, end: Array, margin_mm: float) -> Flags:
    """Which boxes (n, 3) .. (n, 3), grown by a margin, a straight stretch from `start` to `end` (3,) meets: (n,)."""
    first, last = np.zeros(len(low)), np.ones(len(low))
    for k in range(3):
        a, b, step = low[:, k] - (margin_mm + start[k]), high[:, k] + (margin_mm - start[k]), end[k] - start[k]
        if abs(step) < _NO_STEP_MM:
            last[(a > 0.0) | (b < 0.0)] = -1.0
        else:
            a, b = (a / step, b / step) if step > 0.0 else (b / step, a / step)
            np.maximum(first, a, out=first)
            np.minimum(last, b, out=last)
    out: Flags = first <= last
    return out


@dataclass(frozen=True, eq=False)
class Crossings:
    """Where rays pierce surfaces, ordered by surface, ray and depth.

    owner : (k,) index of the surface; ray : (k,) index of the ray; depth : (k,) mm; sign : (k,) +1 in, -1 out
    """

    owner: Indices
    ray: Indices
    depth: Array
    sign: NDArray[np.int64]


class Nearby:
    """Surfaces, prepared so that the triangles near a line are found quickly. One serves every portal of a body.

    ids : names of the surfaces; `owner` of a crossing counts along them
    """

    def __init__(self, surfaces: Mapping[str, Surface]) -> None:
        self.ids = tuple(surfaces)
        parts = list(surfaces.values())
        self._vertices = np.concatenate([s.vertices for s in parts])
        base = np.cumsum([0] + [len(s.vertices) for s in parts])
        self._faces = np.concatenate([s.faces + b for s, b in zip(parts, base, strict=False)])
        self._first = self._vertices[self._faces[:, 0]]
        self._reach = reach(self._first, *(self._vertices[self._faces[:, k]] for k in (1, 2)))
        counts = np.array([len(s.faces) for s in parts])
        blocks = -(-counts // _BLOCK)
        self._of = np.repeat(np.arange(len(parts)), blocks)
        within = np.arange(len(self._of)) - np.repeat(np.cumsum(blocks) - blocks, blocks)
        begin = np.cumsum(counts) - counts
        self._start = begin[self._of] + _BLOCK * within
        self._stop = np.minimum(self._start + _BLOCK, (begin + counts)[self._of])
        grown = np.maximum.reduceat(self._reach, self._start)[:, None]
        self._low = np.minimum.reduceat(self._first, self._start, axis=0) - grown
        self._high = np.maximum.reduceat(self._first, self._start, axis=0) + grown

    def triangles(self, name: str, start: Array, end: Array, margin_mm: float) -> Array:
        """Corners (t, 3, 3), mm, of at least all triangles of a surface within the margin of a straight stretch."""
        a, b = np.searchsorted(self._of, self.ids.index(name) + np.arange(2)).tolist()
        blocks = a + np.flatnonzero(passes(self._low[a:b], self._high[a:b], start, end, margin_mm))
        faces, _, away, depth = self._seen(blocks, start, end)
        far = self._reach[faces]
        near = (away - far <= margin_mm) & (-far - margin_mm <= depth) & (depth - far - margin_mm <= _span(start, end))
        return self._corners(faces[near])

    @property
    def box(self) -> tuple[Array, Array]:
        """Lowest and highest corner (3,), mm, of a box that holds every surface."""
        return self._low.min(axis=0), self._high.max(axis=0)

    def around(self, names: Container[str], point: Array, margin_mm: float) -> tuple[Array, Indices]:
        """At least all triangles of the named surfaces within the margin of a point (3,).

        Returns corners (t, 3, 3), mm, and the index of the surface that each belongs to (t,), which `ids` counts.
        """
        wanted = np.array([n in names for n in self.ids])[self._of]
        gap = np.maximum(np.maximum(self._low - point, point - self._high), 0.0)
        blocks = np.flatnonzero(wanted & (np.einsum("ij,ij->i", gap, gap) <= margin_mm**2))
        faces = self._start[blocks, None] + np.arange(_BLOCK)
        there = faces < self._stop[blocks, None]
        faces, owner = faces[there], np.repeat(self._of[blocks], there.sum(axis=1))
        near = np.linalg.norm(self._first[faces] - point, axis=1) <= self._reach[faces] + margin_mm
        return self._corners(faces[near]), owner[near]

    def near(self, names: Container[str], start: Array, end: Array, margin_mm: float) -> dict[str, Array]:
        """What `triangles` gives, at once for all of the named surfaces that have any."""
        wanted = np.array([n in names for n in self.ids])[self._of]
        blocks = np.flatnonzero(wanted & passes(self._low, self._high, start, end, margin_mm))
        faces, owner, away, depth = self._seen(blocks, start, end)
        far = self._reach[faces]
        near = (away - far <= margin_mm) & (-far - margin_mm <= depth) & (depth - far - margin_mm <= _span(start, end))
        faces, owner = faces[near], owner[near]
        return {self.ids[i]: self._corners(faces[owner == i]) for i in np.unique(owner).tolist()}

    def pierced(self, names: Container[str], start: Array, end: Array, rays: Array) -> Crossings:
        """Crossings of rays parallel to start -> end, (r, 2) mm across from it, with the named surfaces.

        Depths count from `start`. Crossings behind it or past `end` may be missing.
        """
        beside = np.hypot(*rays.T)
        wanted = np.array([n in names for n in self.ids])[self._of]
        near = passes(self._low, self._high, start, end, float(beside.max()))
        faces, owner, away, _ = self._seen(np.flatnonzero(near & wanted), start, end)
        # A triangle that a ray pierces lies about as far from the line as that ray does.
        far = self._reach[faces] + _ROUNDING_MM
        some = np.zeros(len(faces), dtype=bool)
        for distance in np.unique(beside.round(6)):
            some |= np.abs(away - distance) <= far
        axes = facing((end - start) / _span(start, end))
        ray, triangle, depth, sign = pierced(seen_along(self._corners(faces[some]), start, axes), rays)
        owner = owner[some][triangle]
        order = np.lexsort((-sign, depth, ray, owner))
        return Crossings(owner[order], ray[order], depth[order], sign[order])

    def _corners(self, faces: Indices) -> Array:
        out: Array = self._vertices[self._faces[faces]]
        return out

    def _seen(self, blocks: Indices, start: Array, end: Array) -> tuple[Indices, Indices, Array, Array]:
        """Faces (t,) of some blocks, the surface each belongs to, and how its first corner lies to a line.

        That is its distance from the line and its depth along it from `start`, mm.
        """
        faces = self._start[blocks, None] + np.arange(_BLOCK)
        there = faces < self._stop[blocks, None]
        faces = faces[there]
        u, v, depth = facing((end - start) / _span(start, end)) @ (self._first[faces] - start).T
        return faces, np.repeat(self._of[blocks], there.sum(axis=1)), np.sqrt(u**2 + v**2), depth


def _span(start: Array, end: Array) -> float:
    return float(np.linalg.norm(end - start))


def reach(first: Array, second: Array, third: Array) -> Array:
    """How far (t,), mm, points of triangles, given by their corners (t, 3), may lie from the first corner."""
    b, c = second - first, third - first
    out: Array = np.sqrt(np.maximum(np.einsum("ij,ij->i", b, b), np.einsum("ij,ij->i", c, c)))
    return out
