"""What a gauge asks a body for: its parts, its discs, its levels."""

from __future__ import annotations

import numpy as np

from meshes.body import Body
from meshes.curves import Array, Centreline
from meshes.errors import FurcalError
from meshes.gauges.sections import Section, section
from meshes.landmarks import Frame
from meshes.outline import Outline, disc_outline
from meshes.spine import STACK
from meshes.structures import level_key
from meshes.surfaces import Surface


class AbsentError(FurcalError):
    """This body has no such part (a variant), or it does not go where it would be measured."""


def sign_of(side: str) -> float:
    """1 on the left, -1 on the right."""
    return -1.0 if side == "right" else 1.0


def surface_of(body: Body, name: str) -> Surface:
    """Surface of a part. Raises AbsentError where this body has none."""
    if name not in body.surfaces:
        raise AbsentError(f"{name}: this body has no such part.")
    return body.surfaces[name]


def line_of(body: Body, name: str) -> Centreline:
    """Middle line of a nerve or vessel. Raises AbsentError where this body has none."""
    if name not in body.centrelines:
        raise AbsentError(f"{name}: this body has no such course.")
    return body.centrelines[name]


def disc_frame(body: Body, level: str) -> Frame:
    """Frame of a disc; its left and back axes span the disc's mid-plane."""
    return body.landmarks.frames[f"disc_{level_key(level)}"]


def outline_of(body: Body, level: str) -> Outline:
    """Border of a disc in its own mid-plane."""
    return disc_outline(surface_of(body, f"disc_{level_key(level)}"), disc_frame(body, level))


def cut(body: Body, name: str, frame: Frame) -> Section:
    """A part cut by a plane. Raises AbsentError where the plane misses it."""
    found = section(surface_of(body, name), frame)
    if not found:
        raise AbsentError(f"{name}: does not reach the plane.")
    return found


def nearest_loop(found: Section, point: Array) -> Section:
    """The outline of a section that holds a point (2,), else the one whose centre is nearest to it."""
    loops = [loop for loop in found.loops() if loop.area > 0.0]
    if not loops:
        raise AbsentError("a section has no closed outline.")
    holding = [loop for loop in loops if loop.holds(point)]
    return min(holding or loops, key=lambda loop: float(np.linalg.norm(loop.centroid - point)))


def level_coordinate(body: Body, point: Array) -> float:
    """Where along the spine a point stands: -1 at the centre of T11, 3.0 at that of L3, 3.5 at that of the L3-4 disc.

    Between two centres the planes through them, across the part's own axes, are shared out evenly.
    """
    parts, values = [], []
    for i, (vertebra, disc) in enumerate(reversed(STACK)):
        parts += [vertebra, disc]
        values += [i - 1.0, i - 0.5]
    heights = [float(body.landmarks.frames[part].local(point)[2]) for part in parts]
    for i in range(len(values) - 1):
        if heights[i] <= 0.0 <= heights[i + 1]:
            share = -heights[i] / (heights[i + 1] - heights[i])
            return values[i] + share * (values[i + 1] - values[i])
    return values[0] if heights[0] > 0.0 else values[-1]


def snapped(body: Body, part: str, landmark: str) -> Array:
    """The point (3,), mm, of a part's surface nearest to a landmark."""
    vertices = surface_of(body, part).vertices
    out: Array = vertices[int(np.argmin(np.linalg.norm(vertices - body.landmarks[landmark], axis=1)))]
    return out
