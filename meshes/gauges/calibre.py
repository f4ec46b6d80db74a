"""Gauges of thickness. A flat nerve is kept as the circle of equal area: areas are compared, not its two widths."""

from __future__ import annotations

import numpy as np

from meshes.body import Body
from meshes.gauges.courses import at_ligament_mm, leaving_mm
from meshes.gauges.parts import AbsentError, line_of, surface_of
from meshes.gauges.space import Depth, dense


def ramus_diameter(body: Body, vertebra: str, past_mm: str, side: str = "left") -> float:
    """Diameter of a ventral ramus, mm, at a length past the end of its ganglion."""
    line = line_of(body, f"{vertebra}_ramus_{side}")
    arc, points = dense(line)
    out = Depth(surface_of(body, f"{vertebra}_ganglion_{side}"))(points) > 0.0
    at = float(arc[int(np.argmax(out))]) + float(past_mm)
    return 2.0 * float(np.interp(at, line.arc, line.radius))


def ganglion_width(body: Body, vertebra: str, side: str = "left") -> float:
    """Greatest width of a spinal ganglion, mm."""
    return 2.0 * float(line_of(body, f"{vertebra}_ganglion_{side}").radius.max())


def area_at_ligament(body: Body, nerve: str, side: str = "left") -> float:
    """Section area of a nerve, mm2, where it passes the inguinal ligament."""
    line = line_of(body, f"{nerve}_{side}")
    return _area(float(np.interp(at_ligament_mm(body, nerve, side), line.arc, line.radius)))


def area_in_groove(body: Body, nerve: str, side: str = "left") -> float:
    """Section area of a nerve, mm2, half way from where it leaves psoas to the inguinal ligament."""
    line = line_of(body, f"{nerve}_{side}")
    left = leaving_mm(line, Depth(surface_of(body, f"psoas_major_{side}")))
    return _area(float(np.interp((left + at_ligament_mm(body, nerve, side)) / 2.0, line.arc, line.radius)))


def flat_width(body: Body, nerve: str, across: str) -> float:
    """Greatest width or thickness, mm, that the nerve's table keeps beside the radius of its equal-area circle."""
    if nerve + "_left" not in body.structures:
        raise AbsentError(f"{nerve}: this body has no such nerve.")
    structure = body.structures[nerve + "_left"]
    half = {"width": structure.half_width_mm, "thickness": structure.half_thickness_mm}[across]
    if not half:
        raise AbsentError(f"{nerve}: its table keeps no {across}.")
    return 2.0 * half


def _area(radius_mm: float) -> float:
    return float(np.pi) * radius_mm**2
