"""Closed triangle surfaces, and tubes around centrelines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array, Centreline, Indices, frames
from meshes.threads import one_thread

Faces = NDArray[np.int32]


@dataclass(frozen=True)
class Surface:
    """A closed surface, faces turning outwards.

    vertices : (v, 3) float, mm
    faces    : (f, 3) int32, counter-clockwise seen from outside
    """

    vertices: Array
    faces: Faces

    def __post_init__(self) -> None:
        self.vertices.setflags(write=False)
        self.faces.setflags(write=False)

    def moved(self, vertices: Array) -> Surface:
        """The same faces on other vertices (v, 3)."""
        return Surface(np.ascontiguousarray(vertices), self.faces)

    def mirrored(self) -> Surface:
        """The surface of the other side: x changes sign, faces turn over so that they still look out."""
        return Surface(self.vertices * np.array([-1.0, 1.0, 1.0]), np.ascontiguousarray(self.faces[:, ::-1]))

    def triangles(self) -> Array:
        """Corners (f, 3, 3), mm."""
        return self.vertices[self.faces]

    def volume(self) -> float:
        """Enclosed volume, mm3 (divergence theorem); positive when the faces look outwards."""
        a, b, c = np.moveaxis(self.triangles(), 1, 0)
        return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)

    def area(self) -> float:
        """Surface area, mm2."""
        a, b, c = np.moveaxis(self.triangles(), 1, 0)
        return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2.0)

    def is_closed(self) -> bool:
        """Every edge is shared by exactly two faces, once in each direction."""
        edges = np.concatenate([self.faces[:, [0, 1]], self.faces[:, [1, 2]], self.faces[:, [2, 0]]])
        n = len(self.vertices)
        forward = np.sort(edges[:, 0].astype(np.int64) * n + edges[:, 1])
        backward = np.sort(edges[:, 1].astype(np.int64) * n + edges[:, 0])
        return bool(np.array_equal(forward, backward) and np.all(np.diff(forward) > 0))


def tube(line: Centreline, sides: int = 12, cap_rings: int = 3) -> Surface:
    """A watertight tube with round ends around one centreline; see `tubes`."""
    return tubes({"tube": line}, sides, cap_rings)["tube"]


def tubes(lines: Mapping[str, Centreline], sides: int = 12, cap_rings: int = 3) -> dict[str, Surface]:
    """Watertight tubes, one per centreline (id -> Centreline, mm), all in one go; ends are half balls or flat.

    Rings stand across the line in rotation-minimising frames; nothing has to be merged afterwards.
    """
    if not lines:
        return {}
    counts = np.array([len(line.radius) for line in lines.values()])
    starts = np.cumsum(counts) - counts
    points = np.ascontiguousarray(np.concatenate([line.points for line in lines.values()]).T)
    radius = np.concatenate([line.radius for line in lines.values()])
    bulge = 1.0 - np.array([line.flat for line in lines.values()], dtype=np.float64)
    tangents, normals, binormals = frames(points, starts)
    sample, reach, wide = _ring_rows(counts, starts, bulge, cap_rings)
    thick = radius[sample]
    spokes = np.empty((9, len(sample)))
    # `take` gathers columns several times faster than an index does.
    spokes[:3] = points.take(sample, axis=1) + tangents.take(sample, axis=1) * (reach * thick)
    spokes[3:6] = normals.take(sample, axis=1) * (wide * thick)
    spokes[6:] = binormals.take(sample, axis=1) * (wide * thick)
    with one_thread():
        vertices = (spokes.T @ _around(sides)).reshape(-1, 3)
    # The last row of each tube is its north pole, many times over: the first of them becomes the south pole.
    rings = counts + 2 * (cap_rings - 1)
    last = np.cumsum(rings + 1) - 1
    vertices[last * sides] = (points[:, starts] - tangents[:, starts] * (bulge[:, 0] * radius[starts])).T
    return {
        name: Surface(vertices[(row - count) * sides : row * sides + 2], ring_faces(count, sides))
        for name, row, count in zip(lines, last.tolist(), rings.tolist(), strict=True)
    }


def _ring_rows(counts: Indices, starts: Indices, bulge: Array, cap_rings: int) -> tuple[Indices, Array, Array]:
    """Rings of all tubes, each from its start's cap to its end's, then the pole of its end.

    Returns the sample at which each ring stands (r,), how far beyond it along the line, and how wide, in radii.
    """
    rows = counts + 2 * cap_rings - 1
    last = np.repeat(counts - 1, rows)
    place = np.arange(len(last)) - np.repeat(np.cumsum(rows) - rows + cap_rings - 1, rows)
    sample = np.repeat(starts, rows) + np.clip(place, 0, last)
    before, beyond = np.minimum(place, 0), np.maximum(place - last, 0)
    rise = np.pi / 2.0 / cap_rings * np.arange(cap_rings + 1)
    up, wide = np.sin(rise), np.cos(rise)
    reach = up[beyond] * np.repeat(bulge[:, 1], rows) - up[-before] * np.repeat(bulge[:, 0], rows)
    return sample, reach, wide[beyond - before]


@lru_cache(maxsize=16)
def _around(sides: int) -> Array:
    """Matrix (9, 3 sides) from a ring's centre and its two spokes to its vertices."""
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    out: Array = np.kron(np.stack([np.ones(sides), np.cos(angle), np.sin(angle)]), np.eye(3))
    return out


@lru_cache(maxsize=256)
def ring_faces(rings: int, sides: int) -> Faces:
    """Faces (f, 3) that join `rings` rings of `sides` vertices and close both ends on two last pole vertices.

    Rings run so that (normal, binormal, tangent) is right-handed: the faces look outwards.
    """
    i, j = np.meshgrid(np.arange(rings - 1), np.arange(sides), indexing="ij")
    a = (i * sides + j).ravel()
    b = (i * sides + (j + 1) % sides).ravel()
    c, d = a + sides, b + sides
    wall = np.concatenate([np.stack([a, b, d], axis=1), np.stack([a, d, c], axis=1)])
    rim = np.arange(sides)
    after = (rim + 1) % sides
    south, north, last = rings * sides, rings * sides + 1, (rings - 1) * sides
    foot = np.stack([np.full(sides, south), after, rim], axis=1)
    crown = np.stack([np.full(sides, north), last + rim, last + after], axis=1)
    out: Faces = np.concatenate([wall, foot, crown]).astype(np.int32)
    out.setflags(write=False)
    return out


def joined(parts: Sequence[Surface]) -> Surface:
    """Several closed surfaces as one list of triangles (they are not merged)."""
    starts = np.cumsum([0] + [len(p.vertices) for p in parts[:-1]])
    faces = [p.faces + s for p, s in zip(parts, starts, strict=True)]
    return Surface(np.concatenate([p.vertices for p in parts]), np.concatenate(faces).astype(np.int32))
