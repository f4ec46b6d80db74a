"""Where a portal on the screen can be taken hold of, and what pulling there means. Plain geometry, no window.

Its inner half moves along the border of the disc; its outer half leans about the inner end.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from lessons.view import Placement
from meshes.body import Body
from meshes.curves import Array
from meshes.landmarks import Frame
from meshes.outline import disc_outline
from meshes.portal import Portal, approaches, on_border, tilts_of
from viewer.cameras import FAR_MM, Eye, projected, unprojected

Grip = Literal["", "inner", "outer"]
Size = tuple[int, int]
Pixel = tuple[float, float]
SAMPLES = 81
#: A border that is seen shorter than this cannot be pulled along, pixels.
END_ON_PX = 14.0
#: Pulled further than this from the border the hand has left the disc, pixels.
OFF_PX = 90.0
#: Middles of the quarters: where a snapping portal comes to stand.
MIDDLES = (0.125, 0.375, 0.625, 0.875)
TILT_STEP_DEG = 0.5


@dataclass(frozen=True, eq=False)
class Border:
    """Where the axis of a portal may end: positions (n,) 0..1, their points (n, 3) mm, and the disc's frame."""

    ats: Array
    points: Array
    frame: Frame

    @staticmethod
    def of(body: Body, portal: Portal) -> Border:
        """The border that a portal of this level, side and approach stands on."""
        frame = body.landmarks.frames[portal.disc]
        outline = disc_outline(body.surfaces[portal.disc], frame)
        ats = np.linspace(0.0, 1.0, SAMPLES)
        points = [on_border(outline, portal.approach, portal.side, float(at))[0] for at in ats]
        return Border(ats, np.array(points), frame)

    def mm_per_at(self, at: float) -> float:
        """Length of the border, mm, that one unit of `at` stands for near a position."""
        i = int(np.clip(np.searchsorted(self.ats, at), 2, len(self.ats) - 3))
        return float(np.linalg.norm(self.points[i + 2] - self.points[i - 2]) / (self.ats[i + 2] - self.ats[i - 2]))

    def tangent(self, at: float) -> Array:
        """Unit direction (3,) along the border in which `at` grows."""
        i = int(np.clip(np.searchsorted(self.ats, at), 1, len(self.ats) - 2))
        step = self.points[i + 1] - self.points[i - 1]
        out: Array = step / np.linalg.norm(step)
        return out


def grip_at(portal: Portal, eye: Eye, size: Size, pixel: Pixel, slack_px: float = 3.0) -> Grip:
    """Which end of a portal a pixel takes hold of, or none.

    Seen along its axis the channel is a ring around its bottom: there it is the inner end.
    """
    ends = projected(np.array([portal.end_mm, portal.entry_mm]), eye, size)
    inner, outer = ends
    spot = np.array(pixel)
    way = outer - inner
    length = float(np.linalg.norm(way))
    reach = portal.radius_mm / mm_per_pixel(eye, portal.end_mm, size) + slack_px
    share = float(np.clip((spot - inner) @ way / length**2, 0.0, 1.0)) if length > 1e-6 else 0.0
    if np.linalg.norm(spot - (inner + share * way)) > reach:
        return ""
    return "outer" if share > 0.5 and length > 2.0 * reach else "inner"


def mm_per_pixel(eye: Eye, point: Array, size: Size) -> float:
    """How many mm one pixel stands for where a point (3,) is."""
    scale = 2.0 * eye.half_height_mm / size[1]
    if eye.parallel:
        return scale
    towards = eye.axes()[2]
    distance = float(np.linalg.norm(eye.position - eye.focus))
    return scale * max(distance - float((point - eye.focus) @ towards), 1e-6) / distance


def is_end_on(border: Border, eye: Eye, size: Size) -> bool:
    """Whether a border is seen along itself, so that pulling along it means nothing."""
    pixels = projected(border.points, eye, size)
    return bool(np.ptp(pixels, axis=0).max() < END_ON_PX)


def at_under(border: Border, eye: Eye, size: Size, pixel: Pixel) -> tuple[float, float]:
    """Position 0..1 whose axis ends nearest to a pixel, and how far away that is, pixels."""
    pixels = projected(border.points, eye, size)
    start, step = pixels[:-1], np.diff(pixels, axis=0)
    span = np.maximum(np.einsum("ij,ij->i", step, step), 1e-12)
    share = np.clip(np.einsum("ij,ij->i", np.array(pixel) - start, step) / span, 0.0, 1.0)
    gaps = np.linalg.norm(start + share[:, None] * step - np.array(pixel), axis=1)
    i = int(np.argmin(gaps))
    return float(border.ats[i] + share[i] * (border.ats[i + 1] - border.ats[i])), float(gaps[i])


def snapped(at: float) -> float:
    """The middle of the quarter that a position lies in."""
    return min(MIDDLES, key=lambda middle: abs(middle - at))


def leaned(where: Placement, frame: Frame, outwards: Array) -> Placement:
    """The same portal with its outer end in a direction (3,) of the body, in steps of half a degree."""
    tilts = tilts_of(frame.axes @ outwards, where.approach, where.side)
    cranial, anterior = (round(t / TILT_STEP_DEG) * TILT_STEP_DEG for t in tilts)
    return replace(where, cranial_deg=cranial, anterior_deg=anterior)


def pulled_outwards(portal: Portal, eye: Eye, size: Size, pixel: Pixel, grabbed: Pixel) -> Array:
    """Direction (3,), from the end outwards, of a portal whose outer end follows the hand from one pixel to another."""
    there = unprojected(pixel, eye, size, portal.entry_mm) - unprojected(grabbed, eye, size, portal.entry_mm)
    out: Array = portal.entry_mm + there - portal.end_mm
    return out / np.linalg.norm(out)


def facing_disc(portal: Portal, body: Body) -> Eye:
    """The eye that looks at a disc from outside, as its face is drawn: along the approach, head up."""
    axes = body.landmarks.frames[portal.disc].axes
    towards = approaches()[portal.approach].outwards(portal.side) @ axes
    return Eye(portal.border_mm + FAR_MM * towards, portal.border_mm, axes[2], 50.0)


def nudged_along(where: Placement, border: Border, eye: Eye, right: float, mm: float = 1.0) -> Placement:
    """The portal moved so far along the disc towards the right (1) or the left (-1) of the screen."""
    sign = _sign(border.tangent(where.at), eye, right)
    at = float(np.clip(where.at + sign * mm / border.mm_per_at(where.at), 0.0, 1.0))
    return replace(where, at=round(at, 4))


def nudged_lean(where: Placement, portal: Portal, eye: Eye, right: float, up: float, deg: float = 1.0) -> Placement:
    """The portal leaned by so much: its outer end to the head (up 1), the feet (-1), or a side of the screen."""
    if up:
        return replace(where, cranial_deg=round(where.cranial_deg + np.sign(up) * deg, 2))
    outwards = -portal.direction
    forward = np.cross(np.array([0.0, 0.0, 1.0]), outwards) * (1.0 if where.side == "right" else -1.0)
    return replace(where, anterior_deg=round(where.anterior_deg + _sign(forward, eye, right) * deg, 2))


def _sign(direction: Array, eye: Eye, right: float) -> float:
    """+1 where moving along a direction goes the asked way across the screen, -1 where against it goes.

    Seen end on, what comes towards the reader counts as going right.
    """
    across = float(direction @ eye.axes()[0])
    if abs(across) < 0.05:
        across = float(direction @ eye.axes()[2])
    return float(np.sign(across * right)) or 1.0
