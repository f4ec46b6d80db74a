"""The outline of a disc: its surface cut by its own mid-plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meshes.curves import Array
from meshes.errors import FurcalError
from meshes.landmarks import Frame
from meshes.nearby import Flags
from meshes.surfaces import Surface


@dataclass(frozen=True)
class Outline:
    """A disc's border in its mid-plane.

    points : (k, 2) float, mm, left and back in the disc's frame, counter-clockwise seen from above the head
    frame  : the disc's frame
    """

    points: Array
    frame: Frame

    @property
    def back_mm(self) -> float:
        """Posterior border, as seen from the side."""
        return float(self.points[:, 1].max())

    @property
    def front_mm(self) -> float:
        """Anterior border, as seen from the side."""
        return float(self.points[:, 1].min())

    def fraction(self, point: Array) -> float:
        """How far in front of the posterior border a point (left, back) lies: 0 there, 1 at the anterior border."""
        return float((self.back_mm - point[1]) / (self.back_mm - self.front_mm))

    def at_depth(self, fraction: float, sign: float) -> Array:
        """Outermost border point (2,) at a fraction of the depth, on the left (sign 1) or right (sign -1)."""
        back = self.back_mm + fraction * (self.front_mm - self.back_mm)
        left = self._across(back, 1)
        return np.array([sign * (sign * left).max(), back])

    def front_at(self, fraction: float) -> Array:
        """Foremost border point (2,) at a fraction of the width, from left (0) to right (1)."""
        most, least = self.points[:, 0].max(), self.points[:, 0].min()
        left = float(most + fraction * (least - most))
        return np.array([left, self._across(left, 0).min()])

    def round_back(self, fraction: float, outwards: Array) -> Array:
        """Point (2,) on the back of the rim: 0 where a path from `outwards` (2,) first meets it, 1 at the midline.

        Counted along the rim.
        """
        path = self._back_path(outwards)
        arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
        return np.array([np.interp(fraction * arc[-1], arc, path[:, k]) for k in (0, 1)])

    def within(self, points: Array, margin_mm: float) -> Flags:
        """Which points (n, 3), mm, lie above, below or inside the outline grown by a margin: (n,) bool."""
        local = self.frame.local(points)[:, :2]
        angle = np.arctan2(self.points[:, 1], self.points[:, 0])
        order = np.argsort(angle)
        reach = np.hypot(self.points[order, 0], self.points[order, 1])
        there = np.interp(np.arctan2(local[:, 1], local[:, 0]), angle[order], reach, period=2.0 * np.pi)
        inside: Flags = np.hypot(local[:, 0], local[:, 1]) <= there + margin_mm
        return inside

    def _across(self, value: float, axis: int) -> Array:
        """Other coordinate of every crossing of the outline with the line where coordinate `axis` has this value."""
        a, b = self.points, np.roll(self.points, -1, axis=0)
        low, high = np.minimum(a[:, axis], b[:, axis]), np.maximum(a[:, axis], b[:, axis])
        value = float(np.clip(value, low.min(), high.max()))
        a, b = a[(low <= value) & (value <= high)], b[(low <= value) & (value <= high)]
        step = b[:, axis] - a[:, axis]
        level = step == 0.0
        share = np.where(level, 0.0, (value - a[:, axis]) / np.where(level, 1.0, step))
        other = 1 - axis
        cut = a[:, other] + share * (b[:, other] - a[:, other])
        return np.concatenate([cut, b[level, other]])

    def _back_path(self, outwards: Array) -> Array:
        """The rim from where it is first met to the posterior midline: (p, 2)."""
        start = int(np.argmax(self.points @ outwards))
        points = np.roll(self.points, -start, axis=0)
        if outwards[0] < 0.0:
            points = np.concatenate([points[:1], points[:0:-1]])
        left = points[:, 0]
        beyond = int(np.argmax(left * np.sign(outwards[0]) <= 0.0))
        share = left[beyond - 1] / (left[beyond - 1] - left[beyond])
        middle = points[beyond - 1] + share * (points[beyond] - points[beyond - 1])
        path: Array = np.concatenate([points[:beyond], middle[None]])
        return path


def disc_outline(surface: Surface, frame: Frame) -> Outline:
    """Cut a disc's surface by the plane of its frame's left and back axes.

    The disc is star-shaped seen from its centre, so that the cut's points are in order by their angle.
    Raises FurcalError where the plane does not cut it.
    """
    local = frame.local(surface.vertices)
    above = local[:, 2] > 0.0
    faces = surface.faces
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edges = edges[above[edges[:, 0]] & ~above[edges[:, 1]]]
    if len(edges) < 3:
        raise FurcalError("a disc is not cut by its own mid-plane: its frame and its surface do not belong together.")
    a, b = local[edges[:, 0]], local[edges[:, 1]]
    share = a[:, 2] / (a[:, 2] - b[:, 2])
    cut = (a + share[:, None] * (b - a))[:, :2]
    order = np.argsort(np.arctan2(cut[:, 1], cut[:, 0]))
    return Outline(np.ascontiguousarray(cut[order]), frame)
