"""Writes the body map's pieces as SVG: lines, fills, strokes, words. No clipping, pattern or mask: plain paths only.

Qt draws the static part of SVG Tiny 1.2 (W3C Recommendation, 2008), which has none of those three.
"""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from dataclasses import dataclass

from lessons.mapchains import XY, Chain, spans, strokes
from lessons.maptable import Patch

_COLOUR = re.compile(r"#[0-9a-f]{6}")
#: Drawing units between strokes with a pen of width 1: of what is not certain or overlaps, and of bands.
_HATCH, _BANDS = 1.3, 2.2


@dataclass(frozen=True)
class Style:
    """How a lit patch is drawn. Colours are `#rrggbb`.

    edge    : its line, dark (light ground) or light (dark ground) enough to be seen where the fill is not
    banded  : a second nerve of the same colour
    hatched : the loss is partial or not certain; a patch that the table calls variable is hatched without being told
    """

    colour: str
    edge: str
    banded: bool = False
    hatched: bool = False

    def __post_init__(self) -> None:
        _check(self.colour, self.edge)


@dataclass(frozen=True)
class Ground:
    """Colours (`#rrggbb`) around the body, of its skin, outline, inner lines and words; and how dense fills are."""

    page: str
    skin: str
    line: str
    fine: str
    text: str
    fill: float

    def __post_init__(self) -> None:
        _check(self.page, self.skin, self.line, self.fine, self.text)


@dataclass(frozen=True)
class Move:
    """From a view to the page: x is multiplied by `way` (1 or -1) and shifted by `at`."""

    way: int
    at: float

    def put(self, point: XY) -> XY:
        """Where a point of the view lies on the page."""
        return self.at + self.way * point[0], point[1]


@dataclass(frozen=True)
class Piece:
    """One closed chain of a lit patch in one view."""

    patch: Patch
    style: Style
    chain: Chain

    @property
    def hatched(self) -> bool:
        """Whether it is drawn as not certain."""
        return self.style.hatched or self.patch.variable


def _check(*colours: str) -> None:
    for colour in colours:
        if not _COLOUR.fullmatch(colour):
            raise ValueError(f"{colour!r} is no colour of the form #rrggbb")


def chain_path(points: Sequence[XY], move: Move, closed: bool) -> str:
    """`d` of straight pieces."""
    return "M" + "L".join(_pair(move.put(p)) for p in points) + ("Z" if closed else "")


def curve_path(points: Sequence[XY], move: Move) -> str:
    """`d` of the smooth open curve through points."""
    bends = (f"C{_pair(move.put(b))} {_pair(move.put(c))} {_pair(move.put(d))}" for _, b, c, d in spans(points))
    return f"M{_pair(move.put(points[0]))}" + "".join(bends)


def _pair(point: XY) -> str:
    return f"{point[0]:.2f} {point[1]:.2f}"


def stroke(d: str, colour: str, width: float, more: str = "") -> str:
    """A line along a path; nothing for an empty one."""
    return f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{width:.2f}"{more}/>' if d else ""


def fill(d: str, colour: str, dense: float = 1.0) -> str:
    """A filled path."""
    return f'<path d="{d}" fill="{colour}" fill-opacity="{dense:g}" stroke="none"/>'


def dot(point: XY, radius: float, colour: str, rim: str = "none") -> str:
    """A filled dot, with a rim that sets it off."""
    x, y = point
    width = f' stroke-width="{0.5 * radius:.2f}"' if rim != "none" else ""
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="{colour}" stroke="{rim}"{width}/>'


def words(point: XY, text: str, colour: str, size: float, anchor: str = "middle") -> str:
    """One line of text."""
    x, y = point
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family="sans-serif" font-size="{size:.2f}" fill="{colour}" '
        f'text-anchor="{anchor}">{html.escape(text)}</text>'
    )


def paint(pieces: Sequence[Piece], move: Move, ground: Ground, pen: float) -> list[str]:
    """Fills, strokes and edges of the lit pieces of one view.

    Not certain: falling strokes and a broken edge. Two nerves overlap: rising strokes in the colour of the words.
    A second nerve of the same colour: level bands. All lean the same way on the page, mirrored or not.
    """
    drawn = []
    for piece in pieces:
        style = piece.style
        if not piece.hatched:
            drawn.append(fill(chain_path(piece.chain, move, True), style.colour, ground.fill))
        else:
            drawn.append(_strokes([piece.chain], _HATCH * pen, move.way, move, style.edge, 0.5 * pen))
        if style.banded:
            drawn.append(_strokes([piece.chain], _BANDS * pen, 0, move, style.edge, 0.35 * pen))
    for one, other in shared(pieces):
        drawn.append(_strokes([one.chain, other.chain], _HATCH * pen, -move.way, move, ground.text, 0.2 * pen))
    for piece in pieces:
        dash = f' stroke-dasharray="{1.2 * pen:.2f} {0.8 * pen:.2f}"' if piece.hatched else ""
        drawn.append(stroke(chain_path(piece.chain, move, True), piece.style.edge, 0.5 * pen, dash))
    return [line for line in drawn if line]


def shared(pieces: Sequence[Piece]) -> list[tuple[Piece, Piece]]:
    """Pairs of pieces of different nerves that overlap by enough to hold a stroke."""
    pairs = [(a, b) for i, a in enumerate(pieces) for b in pieces[i + 1 :] if a.patch.nerve != b.patch.nerve]
    return [(a, b) for a, b in pairs if strokes([a.chain, b.chain], _HATCH, 1)]


def _strokes(chains: Sequence[Chain], gap: float, slope: int, move: Move, colour: str, width: float) -> str:
    return stroke("".join(chain_path(line, move, False) for line in strokes(chains, gap, slope)), colour, width)
