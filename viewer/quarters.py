"""The quarters of a disc, dotted and numbered on its border, for whoever looks down a portal at it."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from meshes.body import Body
from meshes.curves import Array, Centreline
from meshes.landmarks import Frame
from meshes.outline import Outline, disc_outline
from meshes.portal import QUARTERS, Portal, approaches, sign_of
from meshes.surfaces import Surface, joined, tubes
from viewer.cameras import up_of

#: Where one quarter of a disc's depth ends and the next begins.
BORDERS = (0.0, 0.25, 0.5, 0.75, 1.0)
#: Radius of a dot, how far dots stand apart, how far they stand off the disc, and how much of the disc beside them
#: tells its height, mm.
DOT_MM, DOTS_APART_MM, OFF_MM, BESIDE_MM = 0.16, 0.9, 0.3, 2.5
#: Radius of the strokes of a numeral, its height, how far it stands off the disc, and how far it stays from the ring.
STROKE_MM, TALL_MM, NUMERAL_OFF_MM, FROM_RING_MM = 0.13, 1.7, 1.5, 2.2
#: How far a numeral's middle stays from the dots, as a share of the disc's depth.
FROM_BORDER = 0.04
#: Less of a quarter than this in the ring carries no numeral, mm.
LEAST_MM = 1.5
#: How far a numeral may step aside of the middle of the disc, and how far it stays from what lies over the disc, mm.
ASIDE_MM, CLEAR_MM = 2.0, 0.4
#: Strokes of the numerals' letters, from the left and the foot in shares of the height, and how wide a letter is.
_LETTERS = {"I": (((0.0, 0.0), (0.0, 1.0)),), "V": (((0.0, 1.0), (0.35, 0.0)), ((0.35, 0.0), (0.7, 1.0)))}
_WIDE = {"I": 0.0, "V": 0.7}
_BETWEEN, _SERIF = 0.34, 0.2


def quarter_marks(body: Body, portal: Portal, over: Iterable[str] = ()) -> tuple[Surface | None, Surface | None]:
    """Dots along the borders of the target disc's quarters and a numeral in each: what of it lies in the ring.

    over : ids of what may lie over the disc; a numeral stands beside it, or is left out, for half of one is another
    None for an approach that does not come from the side: there the quarters lie behind one another.
    """
    if approaches()[portal.approach].rim != "side":
        return None, None
    frame, sign = body.landmarks.frames[portal.disc], sign_of(portal.side)
    surface = body.surfaces[portal.disc]
    outline, local = disc_outline(surface, frame), frame.local(surface.vertices)
    dotted, numbered = [], []
    for share in BORDERS[1:-1]:
        left, back = (float(v) for v in outline.at_depth(share, sign))
        low, high = _height(local, left, back)
        up = np.arange(low, high, DOTS_APART_MM) + ((high - low) % DOTS_APART_MM) / 2.0
        dots = frame.point(left + sign * OFF_MM, back, 0.0) + up[:, None] * frame.axes[2]
        shown = dots[_off_axis(dots, portal) < portal.radius_mm - DOT_MM]
        dotted += [_line(dot, dot + 0.01 * frame.axes[1], DOT_MM) for dot in shown]
    covers = [_over_ring(body.surfaces[name], portal) for name in over if name != portal.disc]
    for quarter, (low, high) in zip(QUARTERS, pairwise(BORDERS), strict=True):
        for middle in _middles(outline, frame, portal, np.linspace(low + FROM_BORDER, high - FROM_BORDER, 9)):
            numeral = _numeral(quarter, middle - NUMERAL_OFF_MM * portal.direction, portal)
            if not any(_is_covered(numeral, cover, portal) for cover in covers):
                numbered += numeral
                break
    return _tubes(dotted), _tubes(numbered)


def _middles(outline: Outline, frame: Frame, portal: Portal, shares: Array) -> Array:
    """Where a numeral may stand (n, 3), mm, in what lies of a quarter in the ring: its middle first."""
    points = [outline.at_depth(float(share), sign_of(portal.side)) for share in shares]
    border = np.stack([frame.point(left, back, 0.0) for left, back in points])
    inside = border[_off_axis(border, portal) < portal.radius_mm - FROM_RING_MM]
    if len(inside) < 2 or np.linalg.norm(inside[-1] - inside[0]) < LEAST_MM:
        return np.zeros((0, 3))
    from_middle = np.linalg.norm(inside - (inside[0] + inside[-1]) / 2.0, axis=1)
    along: Array = inside[np.argsort(from_middle, kind="stable")]
    beside = ASIDE_MM * frame.axes[2]
    return np.concatenate([along, along + beside, along - beside])


def _over_ring(surface: Surface, portal: Portal) -> Array:
    """Those triangles of a surface that may lie over the ring, as one looks down: (k, 3, 2) mm from its middle."""
    flat = (surface.vertices - portal.end_mm) @ _plane(portal)
    far = portal.radius_mm
    sides = np.concatenate([flat < -far, flat > far], axis=1) @ np.array([1, 2, 4, 8], dtype=np.uint8)
    a, b, c = (sides.take(surface.faces[:, k]) for k in range(3))  # which sides of the ring a corner lies beyond
    out: Array = flat[surface.faces[(a & b & c) == 0]]
    return out


def _is_covered(numeral: list[Centreline], triangles: Array, portal: Portal) -> bool:
    """Whether one of the triangles of `_over_ring` lies over the end or the middle of a stroke, or near it."""
    points = (np.concatenate([line.points for line in numeral]) - portal.end_mm) @ _plane(portal)
    low, high = points.min(axis=0) - CLEAR_MM, points.max(axis=0) + CLEAR_MM
    near = triangles[((triangles.min(axis=1) < high) & (triangles.max(axis=1) > low)).all(axis=1)]
    a, b, c = (near[None, :, k] for k in range(3))
    ways = CLEAR_MM * np.array([(0, 0), (1, 1), (1, -1), (-1, 1), (-1, -1)])
    p = (points[:, None] + ways[None]).reshape(-1, 1, 2)
    turns = np.stack([_turn(a, b, p), _turn(b, c, p), _turn(c, a, p)])
    return bool(((turns > 0.0).all(axis=0) | (turns < 0.0).all(axis=0)).any())


def _plane(portal: Portal) -> Array:
    """What is right and up on the screen for whoever looks down, as columns (3, 2)."""
    up = up_of(portal)
    return np.stack([np.cross(up, -portal.direction), up], axis=1)


def _turn(a: Array, b: Array, p: Array) -> Array:
    out: Array = (b - a)[..., 0] * (p - a)[..., 1] - (b - a)[..., 1] * (p - a)[..., 0]
    return out


def _tubes(lines: list[Centreline]) -> Surface | None:
    made = tubes({str(i): line for i, line in enumerate(lines)}, sides=6, cap_rings=2)
    return joined(list(made.values())) if made else None


def _off_axis(points: Array, portal: Portal) -> Array:
    out: Array = np.linalg.norm(np.cross(points - portal.end_mm, portal.direction), axis=1)
    return out


def _numeral(word: str, middle: Array, portal: Portal) -> list[Centreline]:
    """A Roman numeral, as thin tubes that face whoever looks down: its letters between a bar at head and foot."""
    right, up = _plane(portal).T
    strokes, at = [], 0.0
    for letter in word:
        strokes += [((at + a, b), (at + c, d)) for (a, b), (c, d) in _LETTERS[letter]]
        at += _WIDE[letter] + _BETWEEN
    wide = at - _BETWEEN
    strokes += [((-_SERIF, y), (wide + _SERIF, y)) for y in (0.0, 1.0)]

    def placed(point: tuple[float, float]) -> Array:
        out: Array = middle + TALL_MM * ((point[0] - wide / 2.0) * right + (point[1] - 0.5) * up)
        return out

    return [_line(placed(a), placed(b), STROKE_MM) for a, b in strokes]


def _line(start: Array, end: Array, radius_mm: float) -> Centreline:
    return Centreline(np.stack([start, (start + end) / 2.0, end]), np.full(3, radius_mm))


def _height(local: Array, left: float, back: float) -> tuple[float, float]:
    """Lowest and highest point of the disc's rim beside a point of its outline, mm from its mid-plane."""
    beside = np.hypot(local[:, 0] - left, local[:, 1] - back) < BESIDE_MM
    up = local[beside, 2] if beside.any() else np.zeros(1)
    return float(up.min()), float(up.max())
