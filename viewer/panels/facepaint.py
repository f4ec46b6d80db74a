"""How a disc face's lines and shapes are painted: each kind by its colour and by a second cue, what is touched ringed.

The ring is told by its shape, too; where the accent would not stand out from what it rings, the ground parts them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen, QPolygonF

from meshes.contact import Contact
from meshes.curves import Array
from meshes.structures import Structure
from viewer.actors import material
from viewer.palette import PRINT, RGB, Theme, contrast
from viewer.panels.dress import colour

#: The ring, and what parts it from what it rings, pixels on either side; and the least contrast of neighbours.
RING, GAP, SEEN = 2.4, 1.6, 3.0
#: The line along the middle, the second cue beside the colour: nerves drawn through, arteries in long strokes, veins in
#: short ones, ureters dotted.
STROKES: dict[str, tuple[float, ...]] = {"artery": (9.0, 4.0), "vein": (3.0, 4.0), "ureter": (0.1, 3.0)}


def rings(fill: RGB, theme: Theme, ground: RGB) -> tuple[RGB, ...]:
    """What lies round something touched, from it outwards: the accent, parted from it by the ground if need be."""
    return (theme.accent,) if contrast(theme.accent, fill) >= SEEN else (ground, theme.accent)


def fill_of(structure: Structure) -> RGB:
    """The print colour of a structure."""
    return PRINT[material(structure).colour]


def path_of(spots: Array) -> QPainterPath:
    """A path through pixels (n, 2); a gap where they are not numbers."""
    path, down = QPainterPath(), False
    for x, y in spots.tolist():
        if x != x:
            down = False
        elif down:
            path.lineTo(x, y)
        else:
            path.moveTo(x, y)
            down = True
    return path


def polygon_of(spots: Array) -> QPolygonF:
    """A polygon of pixels (n, 2)."""
    return QPolygonF([QPointF(x, y) for x, y in spots.tolist()])


def paint_line(
    painter: QPainter, structure: Structure, touched: bool, spots: Array, width: float, theme: Theme, ground: RGB
) -> None:
    """A middle line, pixels (n, 2), as thick as what it is the middle of."""
    path, fill = path_of(spots), fill_of(structure)
    if touched:
        round_it = rings(fill, theme, ground)
        painter.strokePath(path, _pen(colour(round_it[-1]), width + 2.0 * (RING + (GAP if len(round_it) > 1 else 0.0))))
        if len(round_it) > 1:
            painter.strokePath(path, _pen(colour(round_it[0]), width + 2.0 * GAP))
        painter.strokePath(path, _pen(colour(fill), width))
    elif structure.kind == "nerve":
        painter.strokePath(path, _pen(colour(fill), width))
    else:
        painter.strokePath(path, _pen(colour(theme.line), width + 1.6))
        painter.strokePath(path, _pen(colour(fill), width))
    middle = _pen(colour((17, 23, 28), 170), 1.0)
    strokes = STROKES.get(structure.group) or STROKES.get(structure.id.rsplit("_", 1)[0])
    if strokes:
        middle.setDashPattern(strokes)
        middle.setWidthF(1.6)
        middle.setColor(colour((255, 255, 255), 220))
    painter.strokePath(path, middle)


def paint_through(painter: QPainter, structure: Structure, spots: Array, width: float) -> None:
    """A line once more, faintly, so that it is seen through what was painted over it."""
    painter.strokePath(path_of(spots), _pen(colour(fill_of(structure), 110), width))


def paint_shape(painter: QPainter, structure: Structure, spots: Array, theme: Theme, ground: RGB) -> None:
    """A touched organ by its outline, pixels (n, 2), hatched so that what lies behind is seen."""
    polygon, fill = polygon_of(spots), fill_of(structure)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour(fill, 70))
    painter.drawPolygon(polygon)
    painter.setBrush(QBrush(colour(fill), Qt.BrushStyle.BDiagPattern))
    painter.drawPolygon(polygon)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    round_it = rings(fill, theme, ground)
    if len(round_it) > 1:
        painter.setPen(QPen(colour(ground), 2.0 * GAP + RING))
        painter.drawPolygon(polygon)
    painter.setPen(QPen(colour(round_it[-1]), RING))
    painter.drawPolygon(polygon)


def spread(middles: list[float], widths: list[float], anchor: int) -> list[float]:
    """Middles of words in a row, moved away from one that stays, until none is over another."""
    out = list(middles)
    for i in range(anchor + 1, len(out)):
        out[i] = max(out[i], out[i - 1] + 0.5 * (widths[i - 1] + widths[i]))
    for i in range(anchor - 1, -1, -1):
        out[i] = min(out[i], out[i + 1] - 0.5 * (widths[i] + widths[i + 1]))
    return out


def in_sight(spots: Array, box: QRectF) -> Array:
    """Those of some pixels (n, 2) that lie in a box; none that is no number."""
    x, y = spots.T
    inside = (x > box.left()) & (x < box.right()) & (y > box.top()) & (y < box.bottom())
    some: Array = spots[np.asarray(inside)]
    return some


def within(spots: Array, box: QRectF) -> Array:
    """Pixels (n, 2) spread over that part of a polygon that lies in a box."""
    polygon = polygon_of(spots)
    grid = [
        QPointF(x, y) for x in np.linspace(box.left(), box.right(), 14) for y in np.linspace(box.top(), box.bottom(), 9)
    ]
    inside = [(p.x(), p.y()) for p in grid if polygon.containsPoint(p, Qt.FillRule.OddEvenFill)]
    return np.array(inside).reshape(-1, 2)


def uncovered(spots: Array, over: Sequence[tuple[Contact, Array, float]]) -> Array:
    """Those of some pixels (n, 2) that no line painted over them hides; all where none is free.

    over : whose line, its pixels (k, 2), half its width
    """
    some = [(pixels, half) for _, pixels, half in over if len(pixels)]
    if not some or not len(spots):
        return spots
    every, reach = np.concatenate([p for p, _ in some]), np.repeat([h for _, h in some], [len(p) for p, _ in some])
    free = (np.linalg.norm(spots[:, None] - every[None], axis=2) > reach + 2.0).all(axis=1)
    return spots[free] if free.any() else spots


def _pen(ink: QColor, width: float) -> QPen:
    pen = QPen(ink, width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen
