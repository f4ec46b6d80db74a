"""The places along a nerve as a painted strip: one bar for each, under the same scale as the slider below it.

Neighbouring bars differ in tone and by a hatch. Names stand under their bars in two rows, those of the longest first,
as far as there is room; every bar tells its own when the mouse rests on it. Pressing a bar asks for its middle.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetricsF, QHelpEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QStyle, QToolTip, QWidget

from lessons.readout import capital
from meshes.places import Place
from viewer.panels.dress import colour, hatch, text_height, theme_of

#: Rows of names, and the room between two names of a row, pixels.
_ROWS, _ROOM_PX = 2, 7.0


class WayStrip(QWidget):
    """Shows places; knows nothing of the body.

    chosen : share of the nerve's length, the middle of the bar that was pressed
    """

    chosen = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self._places: tuple[Place, ...] = ()

    def show_places(self, places: Sequence[Place]) -> None:
        """Other places, in order."""
        self._places = tuple(places)
        words = "; ".join(f"{p.site.name} to {p.to_mm:.0f} mm" for p in self._places)
        self.setAccessibleName(f"Places along its way: {words}" if words else "")
        self.update()

    def sizeHint(self) -> QSize:
        """Bars, and the rows of names."""
        return QSize(120, round((0.9 + 1.2 * _ROWS) * text_height(self)))

    def bars(self) -> list[tuple[Place, float, float]]:
        """Each place with its left and right edge, pixels: the slider's handle stands over its own point."""
        if not self._places:
            return []
        inset = self.style().pixelMetric(QStyle.PixelMetric.PM_SliderLength) / 2.0
        wide, whole = self.width() - 2.0 * inset, self._places[-1].to_mm
        return [(p, inset + wide * p.from_mm / whole, inset + wide * p.to_mm / whole) for p in self._places]

    def place_at(self, x: float) -> Place | None:
        """The place under a pixel."""
        return next((place for place, left, right in self.bars() if left <= x < right), None)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Bars, with their names under them where they fit."""
        painter, theme, text = QPainter(self), theme_of(self), text_height(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for index, (_, left, right) in enumerate(self.bars()):
            bar = QRectF(left, 1.0, right - left, 0.6 * text)
            painter.fillRect(bar, colour(theme.quiet, 110 if index % 2 else 40))
            painter.setPen(QPen(colour(theme.quiet), 1.0))
            if index % 2:
                hatch(painter, bar.left(), bar.top(), bar.right(), bar.bottom(), 5.0)
            painter.drawRect(bar)
        painter.setFont(self._face())
        for name, middle, _, box in self.names():
            painter.setPen(QPen(colour(theme.quiet), 1.0))
            painter.drawLine(QPointF(middle, 0.6 * text + 1.0), QPointF(middle, box.top() + 1.0))
            painter.setPen(colour(theme.text))
            painter.drawText(box.adjusted(-2.0, 0.0, 2.0, 0.0), Qt.AlignmentFlag.AlignCenter, name)
        painter.end()

    def names(self) -> list[tuple[str, float, int, QRectF]]:
        """Names with room: the middle of their bar, their row and where they stand, pixels.

        None covers another, nor the line that leads down from its bar to a name of the second row.
        """
        metrics, text = QFontMetricsF(self._face()), text_height(self)
        found: list[tuple[str, float, int, QRectF]] = []
        for place, left, right in sorted(self.bars(), key=lambda bar: bar[1] - bar[2]):
            middle, wide = (left + right) / 2.0, metrics.horizontalAdvance(place.site.name)
            for row, before in ((r, part) for r in range(_ROWS) for part in (0.5, 0.1, 0.9)):
                start = min(max(middle - before * wide, 0.0), self.width() - wide)
                box = QRectF(start, (0.85 + 1.2 * row) * text, wide, 1.2 * text)
                if not any(_collide((middle, row, box), other[1:]) for other in found):
                    found.append((place.site.name, middle, row, box))
                    break
        return found

    def _face(self) -> QFont:
        face = self.font()
        face.setPixelSize(max(9, round(0.85 * text_height(self))))
        return face

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Ask for the middle of the bar."""
        place = self.place_at(event.position().x())
        if place is not None:
            self.chosen.emit((place.from_mm + place.to_mm) / 2.0 / self._places[-1].to_mm)

    def event(self, event: QEvent) -> bool:
        """Tell the bar under the mouse."""
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            place = self.place_at(event.pos().x())
            QToolTip.showText(event.globalPos(), told(place) if place is not None else "", self)
            return True
        return super().event(event)


def _collide(one: tuple[float, int, QRectF], other: tuple[float, int, QRectF]) -> bool:
    """Whether two names of a row come too near, or the line that leads to one runs through the other."""
    (a, row, box), (b, other_row, other_box) = one, other
    if row == other_row:
        return box.left() < other_box.right() + _ROOM_PX and other_box.left() < box.right() + _ROOM_PX
    leader, over = (a, other_box) if row > other_row else (b, box)
    return over.left() - 2.0 < leader < over.right() + 2.0


def told(place: Place) -> str:
    """A place in a line: its name, from where to where, how deep."""
    name, (least, most) = place.site.name, place.depth_mm
    return f"{capital(name)}: {place.from_mm:.0f} to {place.to_mm:.0f} mm, {least:.0f} to {most:.0f} mm deep"
