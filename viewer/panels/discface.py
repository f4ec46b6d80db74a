"""The disc face: the target disc as the portal meets it, its quarters, what crosses it, and the portal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from lessons.view import Placement
from meshes.body import Body
from meshes.contact import Docking
from meshes.curves import Array
from viewer.palette import PRINT
from viewer.panels.dress import colour, text_height, theme_of
from viewer.panels.face import Face, Ground, Stretch, face_of, short_name, touched_worst_first
from viewer.panels.facenames import LINE, Named, Names, placed
from viewer.panels.facepaint import (
    in_sight,
    paint_line,
    paint_shape,
    paint_through,
    polygon_of,
    spread,
    uncovered,
    within,
)
from viewer.panels.hand import ARROWS, CLICK_PX

#: Half of what the face shows to each side, mm.
HALF_MM = 29.0
#: Room for a column of names, in heights of the text, and the most of it, as a share of the width; and the row below.
COLUMN, MOST_COLUMN, ROW = 7.7, 0.28, 1.5


class DiscFace(QWidget):
    """Shows a docking's disc; its circle can be dragged along the disc.

    at_dragged : the new position 0..1
    let_go     : a drag is over
    nudged     : ("along" | "depth" | "lean", right, up) by a key, as the face is seen
    sized      : ("radius" | "depth", steps) by the wheel
    """

    at_dragged = Signal(float)
    let_go = Signal()
    nudged = Signal(str, float, float)
    sized = Signal(str, float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setToolTip("Drag the circle. Wheel: radius; with Shift: depth. Arrow keys: 1 mm; with Shift: 1°.")
        self.setAccessibleName("Disc face: the target disc, its quarters, what crosses it and the portal")
        self._face: Face | None = None
        self._ground: Ground | None = None
        self._docking: Docking | None = None
        self._pressed: QPointF | None = None
        self._dragging = False
        self._lead = 0.0
        #: Whether it tells what is touched, and by what name: not while that is asked.
        self.names_shown = True

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
    def picture(self) -> QRectF:
        """Where the disc is drawn, and nothing but what belongs to it: names stand beside it, numerals below."""
        column = self._column
        return QRectF(column, 0.0, self.width() - 2.0 * column, self.height() - ROW * text_height(self))

    @property
    def _column(self) -> float:
        return min(COLUMN * text_height(self), MOST_COLUMN * self.width())

    @property
    def _scale(self) -> float:
        picture = self.picture
        return min(picture.width(), 1.45 * picture.height()) / (2.0 * HALF_MM)

    def pixels(self, mm: Array) -> Array:
        """Pixels (n, 2) of points (n, 2) of the face, mm; the disc's middle is in the middle of the picture."""
        assert self._face is not None
        scale, middle, centre = self._scale, self._face.middle, self.picture.center()
        x = centre.x() + (mm[:, 0] - middle[0]) * scale
        return np.stack([x, centre.y() - (mm[:, 1] - middle[1]) * scale], axis=1)

    def point(self, mm: Array) -> QPointF:
        """Pixel of one point (2,)."""
        x, y = self.pixels(mm[None, :2])[0]
        return QPointF(x, y)

    def at_of(self, x: float) -> float:
        """Position 0..1 that a hand at a pixel column means: where the axis ends nearest to it."""
        assert self._face is not None
        ats, columns = self._face.ats, self._columns()
        return float(np.interp(x, *((columns, ats) if columns[0] < columns[-1] else (columns[::-1], ats[::-1]))))

    def _columns(self) -> Array:
        """Pixel column of a hand for each of the face's `ats`."""
        assert self._face is not None
        columns = self._face.columns
        return self.pixels(np.column_stack([columns, columns]))[:, 0]

    # --- painting

    def paintEvent(self, event: QPaintEvent) -> None:
        """What lies behind the disc, the disc, its quarters, what lies before it, the portal; names beside them."""
        if self._face is None or self._docking is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, picture = theme_of(self), self.picture
        painter.setClipRect(picture)
        behind = self._spots([(line, line.behind) for line in self._face.lines])
        before = self._spots([(line, line.before) for line in self._face.lines])
        self._paint_lines(painter, behind)
        painter.setPen(QPen(colour(theme.line), 1.2))
        painter.setBrush(colour(PRINT["disc"], 215))
        painter.drawPolygon(polygon_of(self.pixels(self._face.disc)))
        for contact, shape in self._face.shapes:
            paint_shape(painter, contact.structure, self.pixels(shape), theme, theme.background)
        self._paint_lines(painter, before)
        for line, spots, width in before if self.names_shown else ():
            if line.contact.touched and line.contact.structure.kind == "nerve":
                paint_through(painter, line.contact.structure, spots, width)
        self._paint_borders(painter)
        self._paint_portal(painter)
        painter.setClipping(False)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(colour(theme.line, 110), 1.0))
        painter.drawRect(picture)
        if self.names_shown:
            self._paint_names(painter, self._names([*behind, *before]))
        self._paint_row(painter)
        painter.end()

    def _spots(self, lines: list[tuple[Stretch, Array]]) -> list[tuple[Stretch, Array, float]]:
        """Those lines that are in sight, with their pixels (n, 2) and width."""
        drawn = [(line, part) for line, part in lines if len(part)]
        if not drawn:
            return []
        # All of them at once: most run far from the disc.
        radius = np.array([np.nanmean(part[:, 2]) for _, part in drawn])
        spots = self.pixels(np.concatenate([part for _, part in drawn]))
        starts = np.cumsum([0, *(len(part) for _, part in drawn)])
        picture, wide = self.picture, np.repeat(radius, np.diff(starts)) * self._scale
        inside = np.abs(spots[:, 0] - picture.center().x()) < picture.width() / 2.0 + wide
        inside &= np.abs(spots[:, 1] - picture.center().y()) < picture.height() / 2.0 + wide
        seen = np.logical_or.reduceat(inside, starts[:-1])
        widths = np.maximum(1.5, 2.0 * radius * self._scale)
        return [(drawn[i][0], spots[starts[i] : starts[i + 1]], float(widths[i])) for i in np.flatnonzero(seen)]

    def _paint_lines(self, painter: QPainter, lines: list[tuple[Stretch, Array, float]]) -> None:
        theme = theme_of(self)
        for line, spots, width in lines:
            contact = line.contact
            touched = contact.touched and self.names_shown
            paint_line(painter, contact.structure, touched, spots, width, theme, theme.background)

    def _paint_borders(self, painter: QPainter) -> None:
        """The borders between the quarters, drawn down to their numerals."""
        assert self._face is not None
        bottom = self.picture.bottom()
        for line in self._face.borders:
            low, high = self.point(line[0]), self.point(line[1])
            for ink, stroke in ((colour(theme_of(self).background), 2.4), (colour(theme_of(self).text), 1.0)):
                painter.setPen(QPen(ink, stroke, Qt.PenStyle.SolidLine if stroke > 2.0 else Qt.PenStyle.DashLine))
                painter.drawLine(high, low)
            painter.setPen(QPen(colour(theme_of(self).line), 1.0, Qt.PenStyle.DotLine))
            painter.drawLine(low, QPointF(low.x(), bottom))

    def _paint_row(self, painter: QPainter) -> None:
        """Below the picture: what lies at its ends, and the numerals of the quarters, the portal's own in bold."""
        assert self._face is not None
        theme, text, face = theme_of(self), text_height(self), self._face
        row = QRectF(2.0, self.picture.bottom(), self.width() - 4.0, ROW * text)
        painter.setPen(colour(theme.quiet))
        painter.drawText(row, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, face.ends[0])
        painter.drawText(row, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, face.ends[1])
        painter.setPen(colour(theme.text))
        if not face.bands:
            painter.drawText(row, Qt.AlignmentFlag.AlignCenter, face.instead)
            return
        font, bold = self.font(), self.font()
        bold.setBold(True)
        widths = [QFontMetricsF(bold).horizontalAdvance(band.quarter) + 0.3 * text for band in face.bands]
        for band, x, width in zip(face.bands, self.numerals(widths), widths, strict=True):
            painter.setFont(bold if band.quarter == face.quarter else font)
            box = QRectF(x - width / 2.0, row.top(), width, row.height())
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, band.quarter)
        painter.setFont(font)

    def numerals(self, widths: list[float]) -> list[float]:
        """Pixel column of each band's numeral: its middle, or beside a narrow band where there is no room."""
        assert self._face is not None
        bands = self._face.bands
        middles = [self.point(np.array([band.middle, 0.0])).x() for band in bands]
        widest = max(range(len(bands)), key=lambda i: bands[i].right - bands[i].left)
        return spread(middles, widths, widest)

    def _names(self, drawn: list[tuple[Stretch, Array, float]]) -> Names:
        """What is touched by name, worst first, where it can be pointed at."""
        assert self._face is not None
        assert self._docking is not None
        picture, text = self.picture, text_height(self)
        inner = picture.adjusted(3.0, 0.3 * text, -3.0, -0.3 * text)
        lines = [(line.contact, in_sight(pixels, inner), width / 2.0) for line, pixels, width in drawn]
        spots = {c.id: uncovered(some, lines[i + 1 :]) for i, (c, some, _) in enumerate(lines) if c.touched}
        spots |= {c.id: uncovered(within(self.pixels(shape), inner), lines) for c, shape in self._face.shapes}
        touched = touched_worst_first(self._docking)
        # What is touched beyond the picture's edge is pointed at in the circle, where it is touched.
        circle = self.pixels(self._face.centre[None])
        named = [
            Named(short_name(c.structure, self._docking.portal), spots[c.id] if len(spots.get(c.id, ())) else circle)
            for c in touched
        ]
        width = QFontMetricsF(self.font()).horizontalAdvance
        room = self._column - 0.5 * text
        return placed(named, room, picture.height(), picture.center().x(), text, width)

    def _paint_names(self, painter: QPainter, names: Names) -> None:
        """Names in their columns, each with a line to what it names, and how many there is no room for."""
        theme, text, picture = theme_of(self), text_height(self), self.picture
        metrics = QFontMetricsF(self.font())
        for name in names.placed:
            left = name.column == "left"
            start, end = QPointF(picture.left() if left else picture.right(), name.y), QPointF(*name.spot)
            for ink, stroke in ((colour(theme.background, 200), 3.0), (colour(theme.text), 1.0)):
                painter.setPen(QPen(ink, stroke))
                painter.drawLine(start, end)
            painter.setBrush(colour(theme.text))
            painter.drawEllipse(end, 1.8, 1.8)
            first = name.y + (metrics.ascent() - metrics.descent() - (len(name.lines) - 1) * LINE * text) / 2.0
            for i, line in enumerate(name.lines):
                x = 0.25 * text if left else picture.right() + 0.25 * text
                painter.drawText(QPointF(x, first + i * LINE * text), line)
        if names.more:
            painter.setPen(colour(theme.quiet))
            whole = f"and {names.more} more"
            words = whole if metrics.horizontalAdvance(whole) < picture.left() - 0.25 * text else f"+{names.more}"
            painter.drawText(QPointF(0.25 * text, picture.bottom() - 0.3 * text), words)

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
        """Take the circle, or a place to which it will be drawn: nothing moves before the hand does."""
        if self._face is None or self._docking is None or event.button() != Qt.MouseButton.LeftButton:
            return
        self._pressed, self._dragging = event.position(), False
        gap = self.point(self._face.centre) - self._pressed
        inside = np.hypot(gap.x(), gap.y()) <= self._docking.portal.radius_mm * self._scale + CLICK_PX
        # What is taken within the circle stays under the hand as it was taken.
        here = float(np.interp(self._docking.portal.at, self._face.ats, self._columns()))
        self._lead = here - self._pressed.x() if inside else 0.0

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Carry it along the disc."""
        if self._pressed is None or self._face is None:
            return
        if self._dragging or (event.position() - self._pressed).manhattanLength() >= CLICK_PX:
            self._dragging = True
            self.at_dragged.emit(self.at_of(event.position().x() + self._lead))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go."""
        self._pressed, self._dragging = None, False
        self.let_go.emit()

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
