"""Gauges of vessels and of the flat muscles' thickness."""

from __future__ import annotations

import numpy as np

from meshes.body import Body
from meshes.gauges.parts import level_coordinate, line_of, sign_of, surface_of
from meshes.gauges.sections import section
from meshes.gauges.space import UPRIGHT, Depth
from meshes.landmarks import Frame
from meshes.nearby import crossings


def bore(body: Body, vessel: str, landmark: str) -> float:
    """Diameter, mm, of a vessel at the height of a landmark (a flat vein: of the circle of equal area)."""
    line = line_of(body, vessel)
    at = int(np.argmin(np.abs(line.points[:, 2] - body.landmarks[landmark][2])))
    return 2.0 * float(line.radius[at])


def ends_in(body: Body, vessel: str, vertebra: str) -> float:
    """100 when a vessel ends beside this lumbar vertebra (between the middles of its discs), else 0."""
    level = level_coordinate(body, line_of(body, vessel).points[-1])
    return 100.0 * (abs(level - float(vertebra.removeprefix("l"))) <= 0.5)


def wall_thickness(body: Body, muscle: str, side: str = "left") -> float:
    """Thickness, mm, of a flat muscle in the side line, half way between rib and crest: across its own plane."""
    crest, rib = body.landmarks[f"iliac_tubercle_{side}"], body.landmarks[f"rib_11_tip_{side}"]
    level = np.array([0.0, crest[1], (crest[2] + rib[2]) / 2.0])
    surface = surface_of(body, f"{muscle}_{side}")
    depth, _ = crossings(surface, level, np.array([sign_of(side), 0.0, 0.0]))
    outer, inner = float(depth[-1]), float(depth[-2])
    across = level + np.linspace(inner, outer, 21)[:, None] * np.array([sign_of(side), 0.0, 0.0])
    return -2.0 * float(Depth(surface)(across).min())


def thicker_than(body: Body, muscle: str, other: str, side: str = "left") -> float:
    """How much thicker one flat muscle is than another in the side line, mm."""
    return wall_thickness(body, muscle, side) - wall_thickness(body, other, side)


def sections_apart(body: Body, level_of: str, first: str, second: str) -> float:
    """Shortest distance, mm, between two parts in the horizontal plane of a landmark."""
    plane = Frame(body.landmarks[level_of], UPRIGHT.axes)
    return section(surface_of(body, first), plane).gap(section(surface_of(body, second), plane))
