"""Level, side, approach and position -> a portal: the working channel, docked on a disc.

The axis ends on the border of the target disc, on the disc's own mid-plane: the disc's surface is cut there, and
`at` counts along the cut, so that fractions are along the plane of the disc and not along a horizontal slice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

import numpy as np

from meshes.body import Body
from meshes.curves import Array
from meshes.errors import FurcalError, unknown_word
from meshes.nearby import crossings
from meshes.outline import Outline, disc_outline
from meshes.structures import APPROACHES, LEVELS, SIDES, level_key
from meshes.tables import ANATOMY, Table, check_keys, cited, number, read_toml, require
from meshes.tolerances import PORTAL_DEPTH_MAX_MM, PORTAL_RADIUS_MAX_MM, PORTAL_TILT_MAX_DEG

Rim = Literal["side", "front", "back"]
QUARTERS = ("IV", "III", "II", "I")
#: An axis that leaves within this of the body's flat ends leaves through a cut, not through skin, mm.
_CUT_MM = 0.5


@dataclass(frozen=True)
class Approach:
    """A row of approaches.toml; `forward_deg` turns the outer end from sideways (0) towards the front (90)."""

    name: str
    says: str
    forward_deg: float
    rim: Rim

    def outwards(self, side: str) -> Array:
        """Unit direction (3,) from the disc to the skin, along left, back and up of the disc's frame."""
        turn = math.radians(self.forward_deg)
        return np.array([sign_of(side) * math.cos(turn), -math.sin(turn), 0.0])


@dataclass(frozen=True, eq=False)
class Portal:
    """A docked working channel: a flat-ended cylinder from the skin to its end.

    at        : 0..1 along the disc's border, see `place`
    quarter   : quarter of the disc's depth its axis ends in, I (front) .. IV (back)
    entry_mm  : (3,) where the axis passes the skin
    end_mm    : (3,) the middle of its inner end: `depth_mm` past the disc's border
    direction : (3,) unit, from the skin inwards
    """

    level: str
    side: str
    approach: str
    at: float
    quarter: str
    radius_mm: float
    depth_mm: float
    cranial_deg: float
    anterior_deg: float
    entry_mm: Array
    end_mm: Array
    direction: Array

    @property
    def length_mm(self) -> float:
        """From skin to end along the axis."""
        return float((self.end_mm - self.entry_mm) @ self.direction)

    @property
    def border_mm(self) -> Array:
        """(3,) where the axis meets the disc's outer border."""
        out: Array = self.end_mm - self.depth_mm * self.direction
        return out

    @property
    def disc(self) -> str:
        """Id of the target disc."""
        return f"disc_{level_key(self.level)}"


def sign_of(side: str) -> float:
    """+1 for left, -1 for right: the sign of x."""
    return 1.0 if side == "left" else -1.0


@cache
def approaches() -> Mapping[str, Approach]:
    """approaches.toml by name. Raises FurcalError naming file and place."""
    path = ANATOMY / "approaches.toml"
    table = read_toml(path)
    check_keys(table, APPROACHES, str(path))
    return {name: _approach(name, require(table, name, str(path)), f"{path}, [{name}]") for name in APPROACHES}


def _approach(name: str, row: Table, where: str) -> Approach:
    check_keys(row, ("says", "forward_deg", "rim", "source", "note"), where)
    cited(row, where)
    rim = require(row, "rim", where)
    if rim not in ("side", "front", "back"):
        raise unknown_word(rim, ("side", "front", "back"), "rim", where)
    return Approach(name, require(row, "says", where), number(require(row, "forward_deg", where), where), rim)


def place(
    body: Body,
    level: str,
    side: str,
    approach: str,
    at: float,
    radius_mm: float,
    depth_mm: float = 0.0,
    cranial_deg: float = 0.0,
    anterior_deg: float = 0.0,
) -> Portal:
    """Dock a portal.

    at           : lateral, oblique: 0 the posterior, 1 the anterior border of the disc; anterior: 0 left, 1 right;
                   posterolateral: 0 at the foramen, 1 at the midline
    depth_mm     : how far past the disc's border the portal reaches
    cranial_deg  : leans the outer end towards the head, about the end point; first
    anterior_deg : then turns it about the disc's upright axis, from the docked side towards the front (from the front
                   towards the other side for an anterior approach)

    Raises FurcalError for a word or number that cannot be used, and for an axis that misses the skin.
    """
    check_words(level, side, approach)
    check_numbers(at, radius_mm, depth_mm, cranial_deg, anterior_deg)
    disc = f"disc_{level_key(level)}"
    frame = body.landmarks.frames[disc]
    outline = disc_outline(body.surfaces[disc], frame)
    border, fraction = on_border(outline, approach, side, at)
    way = approaches()[approach]
    outwards = lean(way.outwards(side), side, cranial_deg, anterior_deg) @ frame.axes
    # Rounded, so that an end on the border of two quarters falls to the front one on every body.
    quarter = QUARTERS[min(int(4.0 * round(fraction, 6)), 3)]
    portal = Portal(
        level, side, approach, at, quarter, radius_mm, depth_mm, cranial_deg, anterior_deg,
        entry_mm=border, end_mm=border - depth_mm * outwards, direction=-outwards,
    )  # fmt: skip
    return replace(portal, entry_mm=skin_entry(body, border, portal))


def on_border(outline: Outline, approach: str, side: str, at: float) -> tuple[Array, float]:
    """Where on a disc's outline the axis ends: body point (3,), mm, and its fraction from back (0) to front (1)."""
    rim = approaches()[approach].rim
    if rim == "side":
        point = outline.at_depth(at, sign_of(side))
    elif rim == "front":
        point = outline.front_at(at)
    else:
        point = outline.round_back(at, approaches()[approach].outwards(side)[:2])
    return outline.frame.point(point[0], point[1], 0.0), outline.fraction(point)


def lean(outwards: Array, side: str, cranial_deg: float, anterior_deg: float) -> Array:
    """An outward direction (3,) in the disc's plane, leaned to the head, then turned to the front; disc directions."""
    c, a = math.radians(cranial_deg), math.radians(anterior_deg) * sign_of(side)
    left, back, up = math.cos(c) * outwards + np.array([0.0, 0.0, math.sin(c)])
    return np.array([math.cos(a) * left + math.sin(a) * back, math.cos(a) * back - math.sin(a) * left, up])


def tilts_of(outwards: Array, approach: str, side: str) -> tuple[float, float]:
    """Degrees of cranial and anterior tilt with which `lean` gives a direction (3,), unit, of the disc's frame."""
    usual = approaches()[approach].outwards(side)
    left, back, up = outwards.tolist()
    turn = math.atan2(back * usual[0] - left * usual[1], left * usual[0] + back * usual[1])
    # `lean` turns left towards back by minus the angle of its sign: forward is minus back.
    return math.degrees(math.asin(max(-1.0, min(1.0, up)))), -math.degrees(turn) * sign_of(side)


def skin_entry(body: Body, border: Array, portal: Portal) -> Array:
    """Where the axis leaves the skin on its way out from the disc's border: (3,), mm.

    Raises FurcalError where it leaves through one of the body's cut ends, or never was inside.
    """
    skin = body.surfaces["skin"]
    depth, sign = crossings(skin, border, -portal.direction)
    leaving = depth[(depth > 0.0) & (sign < 0)]
    tilts = f"--cranial {portal.cranial_deg:g} --anterior {portal.anterior_deg:g}"
    if len(leaving) == 0:
        raise FurcalError(f"{tilts}: from {portal.level} the axis does not meet the skin; use a smaller tilt.")
    entry: Array = border - leaving.min() * portal.direction
    ends = skin.vertices[:, 2]
    if min(entry[2] - ends.min(), ends.max() - entry[2]) < _CUT_MM:
        raise FurcalError(f"{tilts}: the axis leaves {portal.level} through the body's cut end; use a smaller tilt.")
    return entry


def check_words(level: str, side: str, approach: str) -> None:
    """Raise FurcalError for a level, side or approach that does not exist."""
    for word, legal, what in ((level, LEVELS, "level"), (side, SIDES, "side"), (approach, APPROACHES, "approach")):
        if word not in legal:
            raise unknown_word(word, legal, what, f"--{what}")


def check_numbers(at: float, radius_mm: float, depth_mm: float, cranial_deg: float, anterior_deg: float) -> None:
    """Raise FurcalError, naming the option and its range, for a number that is no portal."""
    tilt = PORTAL_TILT_MAX_DEG
    for option, value, low, high, unit in (
        ("--at", at, 0.0, 1.0, ""),
        ("--radius", radius_mm, 0.0, PORTAL_RADIUS_MAX_MM, " mm"),
        ("--depth", depth_mm, 0.0, PORTAL_DEPTH_MAX_MM, " mm"),
        ("--cranial", cranial_deg, -tilt, tilt, " degrees"),
        ("--anterior", anterior_deg, -tilt, tilt, " degrees"),
    ):
        if not low <= value <= high:
            raise FurcalError(f"{option} {value:g}: must be a number from {low:g} to {high:g}{unit}.")
    if radius_mm == 0.0:
        raise FurcalError(f"--radius 0: must be more than 0 and at most {PORTAL_RADIUS_MAX_MM:g} mm.")
