"""The quarters of a disc as fine lines on its border, for whoever looks down a portal at it."""

from __future__ import annotations

import numpy as np

from meshes.body import Body
from meshes.curves import Array, Centreline
from meshes.outline import disc_outline
from meshes.portal import Portal, approaches, sign_of
from meshes.surfaces import Surface, joined, tube

#: Where one quarter of a disc's depth ends and the next begins.
BORDERS = (0.25, 0.5, 0.75)
#: Radius of a line, how far it stands off the disc, and how much of the disc beside it tells the disc's height, mm.
LINE_MM, OFF_MM, BESIDE_MM = 0.16, 0.3, 2.5


def quarter_lines(body: Body, portal: Portal) -> Surface | None:
    """Fine tubes across the border of the target disc where its quarters meet, on the docked side.

    None for an approach that does not come from the side: there the quarters lie behind one another.
    """
    if approaches()[portal.approach].rim != "side":
        return None
    frame, sign = body.landmarks.frames[portal.disc], sign_of(portal.side)
    surface = body.surfaces[portal.disc]
    outline, local = disc_outline(surface, frame), frame.local(surface.vertices)
    lines = []
    for share in BORDERS:
        left, back = outline.at_depth(share, sign)
        low, high = _height(local, float(left), float(back))
        ends = [frame.point(left + sign * OFF_MM, back, up) for up in np.linspace(low, high, 5)]
        lines.append(tube(Centreline(np.stack(ends), np.full(5, LINE_MM)), sides=6, cap_rings=2))
    return joined(lines)


def _height(local: Array, left: float, back: float) -> tuple[float, float]:
    """Lowest and highest point of the disc's rim beside a point of its outline, mm from its mid-plane."""
    beside = np.hypot(local[:, 0] - left, local[:, 1] - back) < BESIDE_MM
    up = local[beside, 2] if beside.any() else np.zeros(1)
    return float(up.min()), float(up.max())
