"""Closed triangle surfaces, and tubes around centrelines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

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


def _ring_angles(sides: int) -> tuple[Array, Array]:
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    return np.cos(angle), np.sin(angle)


def _cap_profile(rings: int) -> Array:
    """Angles from the rim of a half ball towards its pole, pole excluded."""
    return np.linspace(0.0, np.pi / 2.0, rings + 1)[1:-1]


def tube(line: Centreline, sides: int = 12, cap_rings: int = 3) -> Surface:
    """A watertight tube with round ends around one centreline; see `tubes`."""
    return tubes({"tube": line}, sides, cap_rings)["tube"]


def tubes(lines: Mapping[str, Centreline], sides: int = 12, cap_rings: int = 3) -> dict[str, Surface]:
    """Watertight tubes with half-ball ends, one per centreline (id -> Centreline, mm).

    Rings stand across the line in rotation-minimising frames; nothing has to be merged afterwards.
    """
    return {name: _one_tube(line, sides, cap_rings) for name, line in lines.items()}


def _one_tube(line: Centreline, sides: int, cap_rings: int) -> Surface:
    tangents, normals, binormals = frames(line.points)
    cos, sin = _ring_angles(sides)
    round_ = normals[:, None, :] * cos[None, :, None] + binormals[:, None, :] * sin[None, :, None]
    body = line.points[:, None, :] + line.radius[:, None, None] * round_
    cap = _cap_profile(cap_rings)
    start, end = line.points[0], line.points[-1]
    r0, r1 = line.radius[0], line.radius[-1]
    head = start - r0 * np.sin(cap)[::-1, None, None] * tangents[0] + r0 * np.cos(cap)[::-1, None, None] * round_[0]
    tail = end + r1 * np.sin(cap)[:, None, None] * tangents[-1] + r1 * np.cos(cap)[:, None, None] * round_[-1]
    rings = np.concatenate([head, body, tail])
    poles = np.stack([start - r0 * tangents[0], end + r1 * tangents[-1]])
    vertices = np.concatenate([rings.reshape(-1, 3), poles])
    return Surface(np.ascontiguousarray(vertices), ring_faces(len(rings), sides))


def ring_faces(rings: int, sides: int) -> Faces:
    """Faces (f, 3) that join `rings` rings of `sides` vertices and close both ends on two last pole vertices.

    Rings run so that (normal, binormal, tangent) is right-handed: the faces look outwards.
    """
    i, j = np.meshgrid(np.arange(rings - 1), np.arange(sides), indexing="ij")
    a = (i * sides + j).ravel()
    b = (i * sides + (j + 1) % sides).ravel()
    c, d = a + sides, b + sides
    wall = np.concatenate([np.stack([a, b, d], axis=1), np.stack([a, d, c], axis=1)])
    j = np.arange(sides)
    k = (j + 1) % sides
    south, north, last = rings * sides, rings * sides + 1, (rings - 1) * sides
    foot = np.stack([np.full(sides, south), k, j], axis=1)
    crown = np.stack([np.full(sides, north), last + j, last + k], axis=1)
    return np.concatenate([wall, foot, crown]).astype(np.int32)


def joined(parts: Sequence[Surface]) -> Surface:
    """Several closed surfaces as one list of triangles (they are not merged)."""
    starts = np.cumsum([0] + [len(p.vertices) for p in parts[:-1]])
    faces = [p.faces + s for p, s in zip(parts, starts, strict=True)]
    return Surface(np.concatenate([p.vertices for p in parts]), np.concatenate(faces).astype(np.int32))
