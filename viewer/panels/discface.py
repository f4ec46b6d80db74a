"""The disc face: the target disc as the portal meets it, its quarters, the nerves that cross it, and the portal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPolygonF,
    QWheelEvent,
)  # fmt: skip
from PySide6.QtWidgets import QSizePolicy, QWidget

from lessons.view import Placement
from meshes.body import Body
from meshes.contact import Contact, Docking
from meshes.curves import Array
from meshes.nearby import Flags
from meshes.portal import QUARTERS
from viewer.labels import label_name
from viewer.palette import PRINT
from viewer.panels.dress import colour, text_height, theme_of
from viewer.panels.face import Face, Ground, face_of
from viewer.panels.hand import ARROWS

#: Half of what the face shows to each side, mm.
HALF_MM = 34.0


def _path(spots: Array) -> QPainterPath:
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


def _pen(ink: QColor, width: float) -> QPen:
    pen = QPen(ink, width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen


class DiscFace(QWidget):
    """Shows a docking's disc; its circle can be dragged along the disc.

    at_dragged : the new position 0..1
    nudged     : ("along" | "depth" | "lean", right, up) by a key, as the face is seen
    sized      : ("radius" | "depth", steps) by the wheel
    """

    at_dragged = Signal(float)
    nudged = Signal(str, float, float)
    sized = Signal(str, float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setToolTip("Drag the circle. Wheel: radius; with Shift: depth. Arrow keys: 1 mm; with Shift: 1°.")
        self.setAccessibleName("Disc face: the target disc, its quarters, the nerves and the portal")
        self._face: Face | None = None
        self._ground: Ground | None = None
        self._docking: Docking | None = None
        self._dragging = False

    def show_docking(self, docking: Docking | None, body: Body | None) -> None:
        """Follow a docking on its body."""
        if docking is not None and docking is self._docking:
            return
        self._docking = docking
        self._face = None if docking is None or body is None else self._face_of(body, docking)
        self.setVisible(self._face is not None)
        self.update()

    def _face_of(self, body: Body, docking: Docking) -> Face:
        if self._ground is None or not self._ground.holds(body, docking.portal):
            self._ground = Ground.of(body, docking.portal)
        return face_of(body, docking, self._ground)

    def sizeHint(self) -> QSize:
        """About twelve lines of text high."""
        return QSize(280, round(12.0 * text_height(self)))

    # --- places

    @property
    def _scale(self) -> float:
        return min(self.width(), 1.45 * self.height()) / (2.0 * HALF_MM)

    def pixels(self, mm: Array) -> Array:
        """Pixels (n, 2) of points (n, 2) of the face, mm; the disc's middle is in the middle."""
        assert self._face is not None
        scale, middle = self._scale, self._face.middle
        x = self.width() / 2.0 + (mm[:, 0] - middle[0]) * scale
        return np.stack([x, self.height() / 2.0 - (mm[:, 1] - middle[1]) * scale], axis=1)

    def point(self, mm: Array) -> QPointF:
        """Pixel of one point (2,)."""
        x, y = self.pixels(mm[None, :2])[0]
        return QPointF(x, y)

    def at_of(self, x: float) -> float:
        """Position 0..1 whose axis ends nearest to a pixel column."""
        assert self._face is not None
        columns = self.pixels(self._face.border)[:, 0]
        return float(self._face.ats[int(np.argmin(np.abs(columns - x)))])

    # --- painting

    def paintEvent(self, event: QPaintEvent) -> None:
        """Disc, quarters, nerves, portal, words."""
        if self._face is None or self._docking is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme = theme_of(self)
        painter.setPen(QPen(colour(theme.line), 1.2))
        painter.setBrush(colour(PRINT["disc"], 120))
        painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in self.pixels(self._face.disc).tolist()]))
        self._paint_borders(painter)
        self._paint_nerves(painter)
        self._paint_portal(painter)
        self._paint_names(painter)
        self._paint_numerals(painter)
        painter.setPen(colour(theme.quiet))
        low = Qt.AlignmentFlag.AlignBottom
        painter.drawText(self.rect(), low | Qt.AlignmentFlag.AlignLeft, self._face.ends[0])
        painter.drawText(self.rect(), low | Qt.AlignmentFlag.AlignRight, self._face.ends[1])
        painter.end()

    def _paint_borders(self, painter: QPainter) -> None:
        """The borders between the quarters."""
        assert self._face is not None
        low, high = self._face.disc[:, 1].min(), self._face.disc[:, 1].max()
        painter.setPen(QPen(colour(theme_of(self).line), 1.0, Qt.PenStyle.DashLine))
        for line in self._face.quarters:
            painter.drawLine(self.point(np.array([line[0, 0], low])), self.point(np.array([line[0, 0], high])))

    def _paint_numerals(self, painter: QPainter) -> None:
        """The quarters' numerals along the bottom, over everything."""
        assert self._face is not None
        theme, text = theme_of(self), text_height(self)
        xs = [float(line[0, 0]) for line in self._face.quarters]
        if not xs:
            return
        step = xs[1] - xs[0]
        for name, x in zip(QUARTERS, [xs[0] - step / 2, *(v + step / 2 for v in xs)], strict=True):
            column = self.point(np.array([x, 0.0])).x()
            box = QRectF(column - 0.8 * text, self.height() - 1.4 * text, 1.6 * text, 1.4 * text)
            painter.fillRect(box, colour(theme.panel))
            painter.setPen(colour(theme.text))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, name)

    def _paint_nerves(self, painter: QPainter) -> None:
        assert self._face is not None
        nerves = self._face.nerves
        if not nerves:
            return
        # All of them at once: most run far from the disc.
        spots = self.pixels(np.concatenate([stretch for _, stretch in nerves]))
        starts = np.cumsum([0, *(len(stretch) for _, stretch in nerves)])
        seen = np.logical_or.reduceat(self._is_in_sight(spots), starts[:-1])
        for i in np.flatnonzero(seen).tolist():
            contact, stretch = nerves[i]
            self._paint_nerve(painter, contact, stretch[:, 2], spots[starts[i] : starts[i + 1]])

    def _paint_nerve(self, painter: QPainter, contact: Contact, radius: Array, spots: Array) -> None:
        theme = theme_of(self)
        width = max(1.5, 2.0 * float(np.nanmean(radius)) * self._scale)
        path = _path(spots)
        if contact.touched:
            painter.strokePath(path, _pen(colour(theme.accent), width + 4.0))
        painter.strokePath(path, _pen(colour(PRINT["nerve"]), width))
        painter.strokePath(path, _pen(colour(theme.text, 150), 0.8))

    def _is_in_sight(self, spots: Array) -> Flags:
        """Which pixels (n, 2) lie in the widget: (n,); none that is not a number."""
        inside: Flags = np.all((spots > 0.0) & (spots < np.array([self.width(), self.height()])), axis=1)
        return inside

    def _paint_names(self, painter: QPainter) -> None:
        """Touched nerves by name, one under the other at the edge, each with a line to its nerve."""
        assert self._face is not None
        theme, text = theme_of(self), text_height(self)
        painter.setPen(QPen(colour(theme.text), 1.0))
        for row, (contact, stretch) in enumerate((c, s) for c, s in self._face.nerves if c.touched):
            y = (row + 0.9) * 1.25 * text
            words = label_name(contact.structure)
            width = QFontMetricsF(self.font()).horizontalAdvance(words)
            end = self._nearest(stretch, y)
            painter.drawLine(QPointF(width + 6.0, y - 0.35 * text), end)
            painter.drawText(QPointF(2.0, y), words)

    def _nearest(self, stretch: Array, y: float) -> QPointF:
        """The point of a nerve at a pixel row."""
        spots = self.pixels(stretch)
        best = spots[int(np.nanargmin(np.abs(spots[:, 1] - y)))]
        return QPointF(best[0], best[1])

    def _paint_portal(self, painter: QPainter) -> None:
        assert self._face is not None
        assert self._docking is not None
        theme = theme_of(self)
        reach = self._docking.portal.radius_mm * self._scale
        painter.setPen(QPen(colour(theme.accent), 2.4))
        painter.setBrush(colour(PRINT["portal"], 60))
        centre = self.point(self._face.centre)
        painter.drawEllipse(centre, reach, reach)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawLine(centre + QPointF(-4.0, 0.0), centre + QPointF(4.0, 0.0))
        painter.drawLine(centre + QPointF(0.0, -4.0), centre + QPointF(0.0, 4.0))

    # --- mouse

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take the circle."""
        self._dragging = self._face is not None
        self.mouseMoveEvent(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Carry it along the disc."""
        if self._dragging and self._face is not None:
            self.at_dragged.emit(self.at_of(event.position().x()))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go."""
        self._dragging = False

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Radius; with Shift depth."""
        delta = event.angleDelta()
        notches = (delta.y() or delta.x()) / 120.0
        deep = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self._face is not None and notches:
            self.sized.emit("depth" if deep else "radius", notches)
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Left and right move by 1 mm, up and down change the depth; with Shift they lean by a degree."""
        way = ARROWS.get(Qt.Key(event.key()))
        if way is None or event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier):
            super().keyPressEvent(event)
        elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.nudged.emit("lean", *way)
        else:
            self.nudged.emit("along" if way[0] else "depth", *way)


def moved_to(where: Placement, at: float) -> Placement:
    """The same portal at another place of the disc."""
    return replace(where, at=round(at, 3))
