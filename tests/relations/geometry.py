"""What the relations ask of a built body: who lies beside, before, inside or above whom, in millimetres.

`out` is the distance from the midline towards the named side, `front` the distance forward, so that one sentence
serves both sides.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from meshes.body import Body
from meshes.curves import Array, Centreline
from meshes.gauges.courses import at_ligament, at_ligament_mm, below_ligament, leaving_mm, pierces_mm
from meshes.gauges.parts import disc_frame, level_coordinate
from meshes.gauges.sections import Section, section
from meshes.gauges.space import UPRIGHT, Depth, angle_deg, dense
from meshes.landmarks import Frame
from meshes.nearby import crossings

FORWARD, BACKWARD = np.array([0.0, -1.0, 0.0]), np.array([0.0, 1.0, 0.0])
UP, DOWN = np.array([0.0, 0.0, 1.0]), np.array([0.0, 0.0, -1.0])
STEP_MM = 1.0


class Side:
    """One side of a body."""

    def __init__(self, body: Body, side: str) -> None:
        self.body, self.side = body, side
        self.sign = 1.0 if side == "left" else -1.0
        self._depths: dict[str, Depth] = {}

    def name(self, bare: str) -> str:
        """Full id: with its side where it has one."""
        return bare if bare in self.body.structures else f"{bare}_{self.side}"

    def mark(self, bare: str) -> Array:
        """A landmark (3,), mm, of this side or the midline."""
        points = self.body.landmarks.points
        return points[bare] if bare in points else points[f"{bare}_{self.side}"]

    def line(self, bare: str) -> Centreline:
        return self.body.centrelines[self.name(bare)]

    def points(self, bare: str) -> Array:
        """Points (m, 3), mm, along a course, a millimetre apart."""
        return dense(self.line(bare), STEP_MM)[1]

    def radius(self, bare: str) -> float:
        return float(self.line(bare).radius.max())

    def vertices(self, bare: str) -> Array:
        return self.body.surfaces[self.name(bare)].vertices

    def depth(self, bare: str, points: Array) -> Array:
        """Signed distance (n,), mm, to a part's surface: negative inside."""
        full = self.name(bare)
        if full not in self._depths:
            self._depths[full] = Depth(self.body.surfaces[full])
        return self._depths[full](points)

    def out(self, points: Array) -> Array:
        """Distance from the midline (…,), mm, towards this side."""
        return self.sign * points[..., 0]

    def leaves(self, nerve: str, muscle: str = "psoas_major") -> Array:
        """Where a nerve leaves a muscle for good (3,), mm."""
        line = self.line(nerve)
        return line.at(leaving_mm(line, Depth(self.body.surfaces[self.name(muscle)])))

    def after(self, nerve: str, muscle: str = "psoas_major") -> Array:
        """Points (m, 3) of a nerve beyond the point where it leaves a muscle."""
        line = self.line(nerve)
        start = leaving_mm(line, Depth(self.body.surfaces[self.name(muscle)]))
        return line.at(np.arange(start, line.length, STEP_MM))

    def pierces(self, nerve: str, muscle: str) -> Array:
        """Where a nerve passes through a flat muscle (3,), mm."""
        line = self.line(nerve)
        return line.at(pierces_mm(self.body, line, self.name(muscle)))

    def between_layers(self, nerve: str, inner: str, outer: str, to_mm: float | None = None) -> Array:
        """Points (m, 3) of a nerve from where it has passed the inner layer to where it passes the outer one."""
        line = self.line(nerve)
        start = pierces_mm(self.body, line, self.name(inner))
        stop = to_mm if to_mm is not None else pierces_mm(self.body, line, self.name(outer))
        return line.at(np.arange(start, stop, STEP_MM))

    def ligament(self, course: str) -> Array:
        """Where a course passes the inguinal ligament (3,), mm."""
        return at_ligament(self.body, course, self.side)

    def ligament_mm(self, course: str) -> float:
        return at_ligament_mm(self.body, course, self.side)

    def below_ligament(self, points: Array) -> Array:
        """How far below the line of the inguinal ligament points lie, seen from in front: (n,), mm."""
        return below_ligament(self.body, points, self.side)

    def level(self, point: Array) -> float:
        """Level coordinate: 3.0 at the centre of L3, 3.5 at the L3-4 disc."""
        return level_coordinate(self.body, point)

    def hits(self, bare: str, point: Array, direction: Array) -> bool:
        """Whether a part lies on a ray from a point."""
        depths, _ = crossings(self.body.surfaces[self.name(bare)], point, direction)
        return bool((depths > 0.0).any())

    def first_hit(self, bare: str, point: Array, direction: Array) -> float:
        """Distance, mm, along a ray to where it first meets a part; infinite where it never does."""
        depths, _ = crossings(self.body.surfaces[self.name(bare)], point, direction)
        ahead = depths[depths > 0.0]
        return float(ahead[0]) if len(ahead) else np.inf

    def cut(self, bare: str, frame: Frame) -> Section:
        return section(self.body.surfaces[self.name(bare)], frame)

    def cut_at(self, bare: str, height_mm: float) -> Section:
        """A part cut by a horizontal plane; (left, back) are the body's own."""
        return self.cut(bare, Frame(np.array([0.0, 0.0, height_mm]), UPRIGHT.axes))

    def at_height(self, course: str, height_mm: float) -> Array:
        """The point (3,), mm, of a course nearest to a height."""
        points = self.points(course)
        nearest: Array = points[int(np.argmin(np.abs(points[:, 2] - height_mm)))]
        return nearest

    def gap(self, first: str, second: str) -> float:
        """Shortest distance, mm, from the corners of one surface to another; negative where they overlap."""
        return float(self.depth(second, self.vertices(first)).min())

    @cached_property
    def discs(self) -> dict[str, Frame]:
        return {level: disc_frame(self.body, level) for level in ("T12-L1", "L1-2", "L2-3", "L3-4", "L4-5", "L5-S1")}


def nearest_pair(first: Array, second: Array) -> tuple[Array, Array]:
    """The closest points of two sets (n, 3), (k, 3)."""
    from scipy.spatial import cKDTree

    distance, index = cKDTree(second).query(first)
    best = int(np.argmin(distance))
    return first[best], second[index[best]]


def seen_crossing(first: Array, second: Array, axes: tuple[int, int]) -> tuple[Array, Array]:
    """The points of two courses (n, 3), (k, 3) that come closest as seen along the axis that is left out."""
    from scipy.spatial import cKDTree

    distance, index = cKDTree(second[:, list(axes)]).query(first[:, list(axes)])
    best = int(np.argmin(distance))
    return first[best], second[index[best]]


def turn_deg(line: Centreline, at_mm: float, reach_mm: float) -> float:
    """Angle, degrees, between a line's directions before and after a bend, each taken over 6 mm."""
    before = line.at(at_mm - reach_mm) - line.at(at_mm - reach_mm - 6.0)
    after = line.at(at_mm + reach_mm + 6.0) - line.at(at_mm + reach_mm)
    return angle_deg(before, after)


def tightest_radius(line: Centreline, from_mm: float, to_mm: float, chord_mm: float = 5.0) -> float:
    """Smallest radius, mm, of the circles through three points a chord apart along a stretch."""
    arc = np.arange(from_mm, to_mm, 0.5)
    a, b, c = line.at(arc - chord_mm), line.at(arc), line.at(arc + chord_mm)
    ab, bc, ca = (np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a)))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2.0
    return float((ab * bc * ca / (4.0 * np.maximum(area, 1e-9))).min())
