"""The dissection: a lying strip of bands, skin at the left, dura at the right, with one handle."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QHelpEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractSlider, QToolTip, QWidget

from lessons.view import Camera, View
from meshes.body import Body
from meshes.structures import DISSECTION, LAYER_WORDS, other_side
from viewer.palette import PRINT, RGB
from viewer.panels.dress import colour, hatch, text_height, theme_of

#: Band -> the colour of what it takes off.
SWATCHES: dict[str, RGB] = {
    "skin": PRINT["skin"],
    "fat": PRINT["fat"],
    "external_oblique": PRINT["wall"],
    "internal_oblique": PRINT["wall"],
    "transversus": PRINT["wall"],
    "retroperitoneum": PRINT["kidney"],
    "vessels": PRINT["artery"],
    "psoas": PRINT["muscle"],
    "iliacus_quadratus": PRINT["muscle"],
    "vertebrae": PRINT["bone"],
    "dura": PRINT["dura"],
}
#: What a band is called where the full words do not fit, longest first: the usual letters of the muscles at last.
SHORT = {
    "external_oblique": ("ext. oblique", "EO"),
    "internal_oblique": ("int. oblique", "IO"),
    "transversus": ("TA",),
    "retroperitoneum": ("retroperit.", "retrop."),
    "vessels": ("vess.",),
    "iliacus_quadratus": ("iliacus, quadr.", "iliacus, QL", "IL, QL"),
}
#: The note on bone while the canal lies open from in front.
LIFTED = "bodies lifted"
NEXT_STATE = {"on": "glassy", "glassy": "off", "off": "on"}


def mixed_bands(view: View, body: Body | None) -> dict[str, str]:
    """Band -> a note, for bands whose structures do not all stand as the band does."""
    notes: dict[str, str] = {}
    structures = body.structures if body else {}
    for structure in structures.values():
        own = view.own_state(structure)
        if structure.kind != "nerve" and own != view.layer_state(structure.layer):
            word = {"on": "shown", "glassy": "glassy", "off": "off"}[own]
            notes[structure.layer] = f"{structure.side} {word}" if structure.side else f"partly {word}"
            twin = other_side(structure.id)
            if twin != structure.id and twin in structures and view.own_state(structures[twin]) == own:
                notes[structure.layer] = f"partly {word}"
    if view.bodies_lifted and view.layer_state("vertebrae") != "off":
        notes["vertebrae"] = LIFTED
    return notes


class DissectionStrip(QAbstractSlider):
    """Its value is the outermost band still on. Reads in the same direction as the depth log.

    state_asked : (band, state) when a band is made glassy, taken off or put back by itself
    parts_asked : (band, place on the screen) when the single structures of a band are asked for
    """

    state_asked = Signal(str, str)
    parts_asked = Signal(str, QPoint)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setOrientation(Qt.Orientation.Horizontal)
        self.setRange(0, len(DISSECTION) - 1)
        self.setPageStep(1)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self._view = View()
        self._asked: tuple[View | None, Body | None] = (None, None)
        self._mixed: dict[str, str] = {}
        self._cursor = 0
        self._by_handle = False
        self._dragging = False
        self.setAccessibleName("Dissection: outermost layer still on")

    def show_view(self, view: View, body: Body | None = None) -> None:
        """Follow a view; the body tells which structures a band holds."""
        asked = replace(view, camera=Camera(), portal=None)
        if asked == self._asked[0] and body is self._asked[1] and self.value() == DISSECTION.index(view.dissection):
            return  # only the eye or the portal has moved
        self._asked = (asked, body)
        self._view = view
        self._mixed = mixed_bands(view, body)
        self.blockSignals(True)
        self.setValue(DISSECTION.index(view.dissection))
        self.blockSignals(False)
        glassy = [LAYER_WORDS[band] for band in DISSECTION if view.layer_state(band) == "glassy"]
        also = f"; glassy: {', '.join(glassy)}" if glassy else ""
        also += f"; {LIFTED}" if self._mixed.get("vertebrae") == LIFTED else ""
        self.setAccessibleDescription(f"dissected to the {LAYER_WORDS[view.dissection]}{also}")
        self.update()

    def sizeHint(self) -> QSize:
        """Two lines of text high."""
        return QSize(800, round(3.6 * text_height(self)))

    def minimumSizeHint(self) -> QSize:
        """The same height, narrower."""
        return QSize(330, self.sizeHint().height())

    # --- places

    def band_at(self, x: float) -> int:
        """Index of the band under a pixel column."""
        return min(max(int(x / self.width() * len(DISSECTION)), 0), len(DISSECTION) - 1)

    def _left(self, index: int) -> float:
        return index * self.width() / len(DISSECTION)

    def _near_handle(self, x: float) -> bool:
        return abs(x - self._left(self.value())) < 10.0

    # --- painting

    def paintEvent(self, event: QPaintEvent) -> None:
        """Bands, swatches, words and the handle."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for index, band in enumerate(DISSECTION):
            self._paint_band(painter, index, band)
        self._paint_handle(painter)
        painter.end()

    def _paint_band(self, painter: QPainter, index: int, band: str) -> None:
        theme, state, text = theme_of(self), self._view.layer_state(band), text_height(self)
        left, right, height = self._left(index), self._left(index + 1), float(self.height())
        swatch = QRectF(left + 1.5, 2.0, right - left - 3.0, 0.55 * text)
        if state == "on":
            painter.fillRect(swatch, colour(SWATCHES[band]))
        elif state == "glassy":
            painter.fillRect(swatch, colour(SWATCHES[band], 70))
            painter.setPen(QPen(colour(SWATCHES[band]), 1.4))
            hatch(painter, swatch.left(), swatch.top(), swatch.right(), swatch.bottom(), 6.0)
        painter.setPen(QPen(colour(theme.line), 1.0))
        painter.drawRect(swatch)
        painter.drawLine(QPointF(right, 0.0), QPointF(right, height))
        words = self._words(band, right - left - 6.0)
        painter.setPen(colour(theme.text if state != "off" else theme.quiet))
        line = QRectF(left, 0.55 * text + 3.0, right - left, 1.5 * text)
        painter.drawText(line, Qt.AlignmentFlag.AlignCenter, words)
        note = self._mixed.get(band) or {"on": "", "glassy": "glassy", "off": "off"}[state]
        face = painter.font()
        face.setPixelSize(max(8, round(0.8 * text)))
        if QFontMetricsF(face).horizontalAdvance(note) > line.width() - 4.0:
            note = note.split()[-1]
        painter.setFont(face)
        painter.setPen(colour(theme.quiet))
        painter.drawText(line.translated(0.0, 1.25 * text), Qt.AlignmentFlag.AlignCenter, note)
        painter.setFont(self.font())
        if self.hasFocus() and index == self._cursor:
            painter.setPen(QPen(colour(theme.accent), 2.0))
            painter.drawRect(QRectF(left + 2.0, 1.0, right - left - 4.0, height - 3.0))

    def _words(self, band: str, room: float) -> str:
        metrics = QFontMetricsF(self.font())
        choices = (LAYER_WORDS[band], *SHORT.get(band, ()))
        fitting = (words for words in choices if metrics.horizontalAdvance(words) <= room)
        return next(fitting, "") or metrics.elidedText(choices[-1], Qt.TextElideMode.ElideRight, room)

    def _paint_handle(self, painter: QPainter) -> None:
        theme = theme_of(self)
        x, height = max(3.0, self._left(self.value())), float(self.height())
        painter.setPen(QPen(colour(theme.accent), 3.0))
        painter.drawLine(QPointF(x, 0.0), QPointF(x, height))
        painter.setBrush(colour(theme.accent))
        grip = QPolygonF([QPointF(x, 1.0), QPointF(x + 9.0, 7.0), QPointF(x, 13.0)])
        painter.drawPolygon(grip)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    # --- mouse

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Left: dissect down to a band; right: its single structures."""
        band = self.band_at(event.position().x())
        self._cursor = band
        if event.button() == Qt.MouseButton.RightButton:
            self.parts_asked.emit(DISSECTION[band], event.globalPosition().toPoint())
        elif event.button() == Qt.MouseButton.MiddleButton:
            self._ask_next_state(band)
        else:
            self._by_handle = self._near_handle(event.position().x())
            self._dragging = True
            if not self._by_handle:
                self.setValue(band)
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag the handle."""
        if self._dragging:
            # The handle stands between two bands; a press on a band goes with the band under the mouse.
            x = event.position().x()
            here = round(x / self.width() * len(DISSECTION)) if self._by_handle else self.band_at(x)
            self._cursor = min(max(here, 0), len(DISSECTION) - 1)
            self.setValue(self._cursor)
        near = self._near_handle(event.position().x())
        self.setCursor(Qt.CursorShape.SplitHCursor if near or self._dragging else Qt.CursorShape.PointingHandCursor)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go of the handle."""
        self._dragging = False

    def event(self, event: QEvent) -> bool:
        """A tip for the band under the mouse."""
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            band = DISSECTION[self.band_at(event.pos().x())]
            state = self._view.layer_state(band)
            words = self._mixed.get(band) or state
            tip = f"{LAYER_WORDS[band]}: {words}. Click: dissect to here. Right click: its single structures."
            QToolTip.showText(event.globalPos(), tip, self)
            return True
        return super().event(event)

    # --- keys

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Left and right move the handle, with Shift the cursor; space changes the band, Return opens it."""
        key, shift = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            step = 1 if key == Qt.Key.Key_Right else -1
            if shift:
                self._cursor = min(max(self._cursor + step, 0), len(DISSECTION) - 1)
            else:
                self.setValue(self.value() + step)
                self._cursor = self.value()
            self.update()
        elif key == Qt.Key.Key_Space:
            self._ask_next_state(self._cursor)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Menu):
            below = QPoint(round(self._left(self._cursor)), 0)
            self.parts_asked.emit(DISSECTION[self._cursor], self.mapToGlobal(below))
        else:
            super().keyPressEvent(event)

    def _ask_next_state(self, index: int) -> None:
        band = DISSECTION[index]
        self.state_asked.emit(band, NEXT_STATE[self._view.layer_state(band)])
