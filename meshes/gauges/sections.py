"""Plane sections of closed surfaces: area, borders, outlines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.landmarks import Frame
from meshes.surfaces import Surface


@dataclass(frozen=True)
class Section:
    """A closed surface cut by the plane of a frame's left and back axes.

    segments : (s, 2, 2) float, mm; ends (left, back) in the frame, the solid lying on the left of each step
    keys     : (s, 2) int; which edge of the surface each end lies on
    frame    : the plane
    """

    segments: Array
    keys: NDArray[np.int64]
    frame: Frame

    def __bool__(self) -> bool:
        return len(self.segments) > 0

    @property
    def points(self) -> Array:
        """Where each segment starts: (s, 2), mm."""
        out: Array = self.segments[:, 0]
        return out

    @property
    def area(self) -> float:
        """Area, mm2; holes do not count."""
        a, b = self.segments[:, 0], self.segments[:, 1]
        return float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum() / 2.0)

    @property
    def centroid(self) -> Array:
        """Centre of area (2,), mm. Raises ZeroDivisionError for an empty section."""
        a, b = self.segments[:, 0], self.segments[:, 1]
        cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        out: Array = ((a + b) * cross[:, None]).sum(axis=0) / (3.0 * float(cross.sum()))
        return out

    def kept(self, keep: NDArray[np.bool_]) -> Section:
        """Only some of the segments (s,) bool."""
        return Section(self.segments[keep], self.keys[keep], self.frame)

    def loops(self) -> list[Section]:
        """The closed outlines that make up the section, longest first; a hole is a loop of negative area."""
        follows = {int(key): index for index, key in enumerate(self.keys[:, 0])}
        left, out = set(range(len(self.keys))), []
        while left:
            start = min(left)
            chain, index = [start], follows.get(int(self.keys[start, 1]), start)
            while index != start and index in left and index != chain[-1]:
                chain.append(index)
                index = follows.get(int(self.keys[index, 1]), start)
            left -= set(chain)
            rows = np.array(chain)
            out.append(Section(self.segments[rows], self.keys[rows], self.frame))
        return sorted(out, key=lambda loop: -loop.length)

    @property
    def length(self) -> float:
        """Length of the outline, mm."""
        return float(np.linalg.norm(self.segments[:, 1] - self.segments[:, 0], axis=1).sum())

    def across(self, axis: int, value_mm: float) -> Array:
        """Where the outline crosses the line on which coordinate `axis` has a value: the other one (k,), in order."""
        a, b, other = self.segments[:, 0], self.segments[:, 1], 1 - axis
        crosses = (a[:, axis] <= value_mm) != (b[:, axis] <= value_mm)
        a, b = a[crosses], b[crosses]
        share = (value_mm - a[:, axis]) / (b[:, axis] - a[:, axis])
        out: Array = np.sort(a[:, other] + share * (b[:, other] - a[:, other]))
        return out

    def holds(self, point: Array) -> bool:
        """Whether a point (2,) lies inside the outline."""
        return bool((self.across(0, float(point[0])) > point[1]).sum() % 2)

    def gap(self, other: Section) -> float:
        """Shortest distance in the plane, mm, between two outlines; 0 where they cross or one holds the other."""
        if self.holds(other.points[0]) or other.holds(self.points[0]):
            return 0.0
        there, back = _to_segments(self.points, other.segments), _to_segments(other.points, self.segments)
        return float(min(there.min(), back.min()))


def _to_segments(points: Array, segments: Array) -> Array:
    """Distance (p,) from each point (p, 2) to the nearest of the segments (s, 2, 2)."""
    a, step = segments[:, 0], segments[:, 1] - segments[:, 0]
    length = np.maximum((step**2).sum(axis=1), 1e-18)
    share = np.clip(((points[:, None] - a) * step).sum(axis=2) / length, 0.0, 1.0)
    nearest = a + share[..., None] * step
    out: Array = np.linalg.norm(points[:, None] - nearest, axis=2).min(axis=1)
    return out


def section(surface: Surface, frame: Frame) -> Section:
    """Cut a surface by the plane of the frame's left and back axes; empty where the plane misses it."""
    local = frame.local(surface.vertices)
    above = local[:, 2] > 0.0
    corners = surface.faces.astype(np.int64)
    corners = corners[above[corners].any(axis=1) & ~above[corners].all(axis=1)]
    if not len(corners):
        return Section(np.zeros((0, 2, 2)), np.zeros((0, 2), dtype=np.int64), frame)
    # Turn every triangle so that its odd corner (alone on its side of the plane) comes first.
    up = above[corners]
    odd = np.where(up.sum(axis=1) == 1, up.argmax(axis=1), (~up).argmax(axis=1))
    turn = (odd[:, None] + np.arange(3)) % 3
    corners = np.take_along_axis(corners, turn, axis=1)
    first, second = _crossing(local, corners[:, [0, 1]]), _crossing(local, corners[:, [0, 2]])
    keys = np.stack([_key(corners[:, [0, 1]], len(local)), _key(corners[:, [0, 2]], len(local))], axis=1)
    # Seen from outside a triangle runs counter-clockwise: with its odd corner above the plane the cut from its first
    # to its second edge keeps the solid on the left; with it below, the other way round.
    flip = ~above[corners[:, 0]]
    segments = np.stack([first, second], axis=1)
    segments[flip], keys[flip] = segments[flip][:, ::-1], keys[flip][:, ::-1]
    return Section(segments, keys, frame)


def _crossing(local: Array, edges: NDArray[np.int64]) -> Array:
    """Where edges cross the plane; from their lower to their higher vertex, so that neighbours agree exactly."""
    a, b = local[edges.min(axis=1)], local[edges.max(axis=1)]
    share = a[:, 2] / (a[:, 2] - b[:, 2])
    out: Array = (a + share[:, None] * (b - a))[:, :2]
    return out


def _key(edges: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    out: NDArray[np.int64] = edges.min(axis=1) * count + edges.max(axis=1)
    return out
