"""Triangles near a straight line, and where lines pierce closed surfaces.

All rays of a portal are parallel. Seen along them a surface is flat, and piercing it is a question in two dimensions:
in which triangles does a point lie? It is answered by winding numbers with half-open edges, and every edge is judged
by the same arithmetic from both of its triangles: a ray through an edge or a corner pierces exactly one of the faces
that meet there, and the signs of all crossings of a closed surface add up to zero, without any tolerance.

Triangles far from the line are left out by boxes: one for each surface, then one for each block of its faces.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.surfaces import Surface

#: Faces of a surface whose common box is kept.
_BLOCK = 64
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
        if step == 0.0:
            last[(a > 0.0) | (b < 0.0)] = -1.0
        else:
            a, b = (a / step, b / step) if step > 0.0 else (b / step, a / step)
            np.maximum(first, a, out=first)
            np.minimum(last, b, out=last)
    out: Flags = first <= last
    return out


@dataclass(frozen=True, eq=False)
class Nearby:
    """Surfaces, prepared so that the triangles near a line are found quickly. One serves every portal of a body."""

    surfaces: Mapping[str, Surface]
    ids: tuple[str, ...] = field(init=False)
    _low: Array = field(init=False)
    _high: Array = field(init=False)
    _blocks: dict[str, tuple[Array, Array]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "ids", tuple(self.surfaces))
        object.__setattr__(self, "_low", np.array([s.vertices.min(axis=0) for s in self.surfaces.values()]))
        object.__setattr__(self, "_high", np.array([s.vertices.max(axis=0) for s in self.surfaces.values()]))

    def along(self, start: Array, end: Array, margin_mm: float) -> list[str]:
        """Ids of the surfaces whose box comes within the margin of a straight stretch."""
        return [self.ids[i] for i in np.flatnonzero(passes(self._low, self._high, start, end, margin_mm))]

    def triangles(self, name: str, start: Array, end: Array, margin_mm: float) -> Array:
        """Corners (t, 3, 3), mm, of at least all triangles of a surface within the margin of a straight stretch."""
        surface = self.surfaces[name]
        low, high = self._boxes(name)
        blocks = np.flatnonzero(passes(low, high, start, end, margin_mm))
        faces = (blocks[:, None] * _BLOCK + np.arange(_BLOCK)).ravel()
        corners: Array = surface.vertices[surface.faces[faces[faces < len(surface.faces)]]]
        return corners

    def pierced(
        self, names: Iterable[str], start: Array, end: Array, rays: Array
    ) -> dict[str, tuple[Indices, Array, NDArray[np.int64]]]:
        """Crossings of rays parallel to start -> end, (r, 2) mm across from it, with surfaces.

        Returns id -> ray (k,), depth from `start` (k,) mm, sign (k,), ordered by ray and depth; nothing for surfaces
        that no ray meets. Crossings behind `start` or past `end` may be missing.
        """
        span = float(np.linalg.norm(end - start))
        axes = facing((end - start) / span)
        margin = float(np.hypot(*rays.T).max())
        met = set(self.along(start, end, margin))
        names = [n for n in names if n in met]
        parts = [self.triangles(n, start, end, margin) for n in names]
        if not parts:
            return {}
        owner = np.repeat(np.arange(len(parts)), [len(p) for p in parts])
        ray, triangle, depth, sign = pierced(seen_along(np.concatenate(parts), start, axes), rays)
        of = owner[triangle]
        order = np.lexsort((-sign, depth, ray, of))
        cuts = np.searchsorted(of[order], np.arange(len(parts) + 1))
        groups = {n: order[a:b] for n, a, b in zip(names, cuts[:-1], cuts[1:], strict=True) if b > a}
        return {n: (ray[g], depth[g], sign[g]) for n, g in groups.items()}

    def _boxes(self, name: str) -> tuple[Array, Array]:
        """Boxes (b, 3) .. (b, 3) of the blocks of a surface's faces."""
        if name not in self._blocks:
            surface = self.surfaces[name]
            corners = surface.vertices[surface.faces]
            starts = np.arange(0, len(corners), _BLOCK)
            low = np.minimum.reduceat(corners.min(axis=1), starts, axis=0)
            self._blocks[name] = (low, np.maximum.reduceat(corners.max(axis=1), starts, axis=0))
        return self._blocks[name]
