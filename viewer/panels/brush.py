"""Paints overlay shapes in the window."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QPainter, QPen, QPolygonF

from viewer.overlay import Box, Shape, Spot, Stroke, Words
from viewer.panels.dress import colour

_ALIGN = {
    "left": Qt.AlignmentFlag.AlignLeft,
    "right": Qt.AlignmentFlag.AlignRight,
    "centre": Qt.AlignmentFlag.AlignHCenter,
}


def brush(painter: QPainter, shapes: Iterable[Shape], font: QFont) -> None:
    """Draw shapes, in order, in a font."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for shape in shapes:
        if isinstance(shape, Box):
            rect = QRectF(shape.left, shape.top, shape.right - shape.left, shape.bottom - shape.top)
            painter.fillRect(rect, colour(shape.colour))
        elif isinstance(shape, Stroke):
            painter.setPen(QPen(colour(shape.colour), max(1.0, shape.width)))
            painter.drawPolyline(QPolygonF([QPointF(x, y) for x, y in shape.points]))
        elif isinstance(shape, Spot):
            _spot(painter, shape)
        else:
            _words(painter, shape, font)


def _spot(painter: QPainter, spot: Spot) -> None:
    if spot.filled:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour(spot.colour))
    else:
        painter.setPen(QPen(colour(spot.colour), max(1.0, spot.width)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawEllipse(QPointF(spot.x, spot.y), spot.radius, spot.radius)
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _words(painter: QPainter, words: Words, font: QFont) -> None:
    face = QFont(font)
    face.setPixelSize(max(1, round(words.height)))
    face.setBold(words.bold)
    painter.setFont(face)
    painter.setPen(colour(words.colour))
    reach = 4000.0
    left = {"left": words.x, "right": words.x - reach, "centre": words.x - reach / 2.0}[words.align]
    rect = QRectF(left, words.y - words.height, reach, 2.0 * words.height)
    painter.drawText(rect, _ALIGN[words.align] | Qt.AlignmentFlag.AlignVCenter, words.text)
