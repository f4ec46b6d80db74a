"""Closed triangle surfaces, and tubes around centrelines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array, Centreline, frames

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
    batches: dict[int, dict[str, Centreline]] = {}
    for name, line in lines.items():  # lines of like length together: little is padded
        batches.setdefault(int(len(line.radius) * 0.75).bit_length(), {})[name] = line
    made = {name: surface for batch in batches.values() for name, surface in _batch(batch, sides, cap_rings)}
    return {name: made[name] for name in lines}


def _batch(lines: Mapping[str, Centreline], sides: int, cap_rings: int) -> Iterator[tuple[str, Surface]]:
    counts = np.array([len(line.radius) for line in lines.values()])
    points = np.stack([_padded(line.points, counts.max()) for line in lines.values()])
    radius = np.stack([_padded(line.radius, counts.max()) for line in lines.values()])
    bulge = 1.0 - np.array([line.flat for line in lines.values()], dtype=np.float64)
    rings, poles = _rings(points, radius, bulge, sides, cap_rings)
    for i, (name, count) in enumerate(zip(lines, counts, strict=True)):
        own = np.concatenate([rings[i, : cap_rings - 1 + count], rings[i, rings.shape[1] - cap_rings + 1 :]])
        vertices = np.concatenate([own.reshape(-1, 3), poles[i]])
        yield name, Surface(vertices, ring_faces(len(own), sides))


def _padded(rows: Array, count: int) -> Array:
    """Rows repeated at their end, up to `count` of them."""
    return np.concatenate([rows, np.repeat(rows[-1:], count - len(rows), axis=0)])


def _rings(points: Array, radius: Array, bulge: Array, sides: int, cap_rings: int) -> tuple[Array, Array]:
    """Rings (t, r, sides, 3) of all tubes, caps included, and their poles (t, 2, 3); bulge (t, 2) is 0 where flat."""
    tangents, normals, binormals = frames(points)
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    cross = np.cos(angle)[:, None] * normals[:, :, None] + np.sin(angle)[:, None] * binormals[:, :, None]
    body = points[:, :, None] + radius[:, :, None, None] * cross
    cap = np.linspace(0.0, np.pi / 2.0, cap_rings + 1)[1:-1]

    def half_ball(end: int, outwards: float) -> Array:
        ahead = outwards * bulge[:, end, None] * tangents[:, end]
        reach = np.sin(cap)[None, :, None, None] * ahead[:, None, None]
        wide = np.cos(cap)[None, :, None, None] * cross[:, None, end]
        out: Array = points[:, None, None, end] + radius[:, None, None, None, end] * (reach + wide)
        return out

    rings = np.concatenate([half_ball(0, -1.0)[:, ::-1], body, half_ball(-1, 1.0)], axis=1)
    south = points[:, 0] - bulge[:, :1] * radius[:, :1] * tangents[:, 0]
    north = points[:, -1] + bulge[:, 1:] * radius[:, -1:] * tangents[:, -1]
    return rings, np.stack([south, north], axis=1)


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
