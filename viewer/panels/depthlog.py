"""The depth log: the layers along the portal's axis from skin to end, to scale in mm, with nerves near it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from lessons.readout import CLOSE_MM
from meshes.body import Body
from meshes.contact import Contact, Docking
from meshes.layers import Layer
from viewer.actors import material, stem
from viewer.labels import label_name
from viewer.palette import PRINT, RGB
from viewer.panels.dress import colour, text_height, theme_of

#: Layers that are no structure of the body, by the start of their id.
SPACES: dict[str, RGB] = {"fat": PRINT["fat"], "retroperitoneal": PRINT["fat"], "subcutaneous": PRINT["fat"]}
#: How far an arrow key moves the depth that is pointed at, mm.
STEP_MM = 1.0
SCALE_MM = (5, 10, 20, 50, 100)


class DepthLog(QWidget):
    """Reads from the skin at the left to the portal's end at the right, as the dissection does.

    depth_pointed : mm under the mouse or chosen by keys, or -1 when the mouse or the focus leaves
    """

    depth_pointed = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Depth log")
        self._docking: Docking | None = None
        self._body: Body | None = None
        self._pointed = -1.0
        self._describe()

    def show_docking(self, docking: Docking | None, body: Body | None) -> None:
        """Follow a docking on its body."""
        if docking is self._docking and body is self._body:
            return
        self._docking, self._body = docking, body
        self._describe()
        self.update()

    def texts(self) -> list[str]:
        """The log in words, from the skin inwards."""
        if self._docking is None:
            return []
        layers = [f"{y.name} {y.from_mm:.0f} to {y.to_mm:.0f} mm" for y in self._axis_layers()]
        return layers + [f"{label_name(c.structure)} near at {c.depth_mm:.0f} mm" for c in self._near()]

    def sizeHint(self) -> QSize:
        """Five lines of text high."""
        return QSize(600, round(5.6 * text_height(self)))

    def x_of(self, depth_mm: float) -> float:
        """Pixel column of a depth."""
        return self._margin + depth_mm / self._length * (self.width() - 2.0 * self._margin)

    @property
    def _margin(self) -> float:
        return 0.8 * text_height(self)

    @property
    def _length(self) -> float:
        return max(1.0, self._docking.portal.length_mm) if self._docking else 1.0

    def _axis_layers(self) -> list[Layer]:
        assert self._docking is not None
        inside = [y for y in self._docking.layers if y.by == "axis" and y.from_mm < self._length]
        return [y for y in inside if y.to_mm > y.from_mm]

    def _near(self) -> list[Contact]:
        assert self._docking is not None
        near = [c for c in self._docking.nerves if c.clearance_mm <= CLOSE_MM]
        return sorted(near, key=lambda c: c.clearance_mm)[:8]

    # --- painting

    def paintEvent(self, event: QPaintEvent) -> None:
        """Nerve ticks above, layers in the middle, their names and the scale below."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, text = theme_of(self), text_height(self)
        if self._docking is None:
            painter.setPen(colour(theme.quiet))
            words = "Depth log: dock a portal to see the layers it passes, to scale."
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, words)
            painter.end()
            return
        band = QRectF(0.0, 1.75 * text, self.width(), 1.7 * text)
        self._paint_layers(painter, band)
        self._paint_nerves(painter, band)
        self._paint_scale(painter, band.bottom())
        if 0.0 <= self._pointed <= self._length:
            painter.setPen(QPen(colour(theme.accent), 2.0))
            x = self.x_of(self._pointed)
            painter.drawLine(QPointF(x, band.top() - 3.0), QPointF(x, band.bottom() + 3.0))
        painter.end()

    def _paint_layers(self, painter: QPainter, band: QRectF) -> None:
        theme, metrics = theme_of(self), QFontMetricsF(self.font())
        for layer in self._axis_layers():
            left, right = self.x_of(layer.from_mm), self.x_of(min(layer.to_mm, self._length))
            box = QRectF(left, band.top(), right - left, band.height())
            fill = self._colour(layer)
            painter.fillRect(box, colour(fill))
            painter.setPen(QPen(colour(theme.line), 1.0))
            painter.drawRect(box)
            painter.setPen(colour((17, 23, 28) if _is_pale(fill) else (255, 255, 255)))
            words = _first_fitting(_shorter(layer.name), metrics, right - left - 6.0)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)

    def _paint_nerves(self, painter: QPainter, band: QRectF) -> None:
        theme, text, metrics = theme_of(self), text_height(self), QFontMetricsF(self.font())
        taken: list[tuple[float, float]] = []
        for contact in self._near():
            x = self.x_of(min(max(contact.depth_mm, 0.0), self._length))
            ink = colour(theme.accent if contact.touched else theme.text)
            painter.setPen(QPen(ink, 2.0))
            painter.drawLine(QPointF(x, 1.1 * text), QPointF(x, band.top() + 0.4 * band.height()))
            painter.setBrush(ink if contact.touched else Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF(x, 1.2 * text), 0.24 * text, 0.24 * text)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            words = label_name(contact.structure)
            width = metrics.horizontalAdvance(words)
            left = min(max(x - width / 2.0, 0.0), self.width() - width)
            if all(left > b + 6.0 or left + width < a - 6.0 for a, b in taken):
                taken.append((left, left + width))
                painter.setPen(colour(theme.text))
                painter.drawText(QPointF(left, 0.85 * text), words)

    def _paint_scale(self, painter: QPainter, top: float) -> None:
        theme, text = theme_of(self), text_height(self)
        step = next((s for s in SCALE_MM if self.x_of(s) - self.x_of(0) > 3.5 * text), SCALE_MM[-1])
        painter.setPen(colour(theme.quiet))
        for depth in range(0, int(self._length) + 1, step):
            x = self.x_of(depth)
            painter.drawLine(QPointF(x, top + 2.0), QPointF(x, top + 0.5 * text))
            here = QRectF(x - 40.0, top + 0.5 * text, 80.0, 1.3 * text)
            painter.drawText(here, Qt.AlignmentFlag.AlignHCenter, f"{depth}")

    def _colour(self, layer: Layer) -> RGB:
        structure = self._body.structures.get(layer.id) if self._body else None
        if structure is not None:
            return PRINT[material(structure).colour]
        return next((c for start, c in SPACES.items() if stem(layer.id).startswith(start)), PRINT["fat"])

    # --- mouse

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Point at a depth."""
        if self._docking is None:
            return
        span = max(1.0, self.width() - 2.0 * self._margin)
        depth = (event.position().x() - self._margin) / span * self._length
        self._point(depth if 0.0 <= depth <= self._length else -1.0)
        here = [y for y in self._axis_layers() if y.from_mm <= depth <= y.to_mm]
        self.setToolTip(f"{here[0].name}: {here[0].from_mm:.1f} to {here[0].to_mm:.1f} mm" if here else "")

    def leaveEvent(self, event: object) -> None:
        """Point at nothing."""
        self._point(-1.0)

    # --- keys

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Left and right point 1 mm less deep, 1 mm deeper; Home and End at the skin and at the portal's end."""
        start = max(self._pointed, 0.0)
        to = {
            Qt.Key.Key_Left: start - STEP_MM,
            Qt.Key.Key_Right: start + STEP_MM if self._pointed >= 0.0 else 0.0,
            Qt.Key.Key_Home: 0.0,
            Qt.Key.Key_End: self._length,
        }.get(Qt.Key(event.key()))
        if to is None or self._docking is None:
            event.ignore()
        else:
            self._point(min(max(to, 0.0), self._length))

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Point at nothing."""
        super().focusOutEvent(event)
        self._point(-1.0)

    def _point(self, depth: float) -> None:
        if depth != self._pointed:
            self._pointed = depth
            self._describe()
            self.depth_pointed.emit(depth)
            self.update()

    def at(self, depth_mm: float) -> str:
        """A depth in words: the layer there, and what is near at this depth."""
        layers = [y.name for y in self._axis_layers() if y.from_mm <= depth_mm <= y.to_mm][:1]
        near = [f"{label_name(c.structure)} near" for c in self._near() if abs(c.depth_mm - depth_mm) <= STEP_MM]
        return f"{depth_mm:.0f} mm: {', '.join([*layers, *near]) or 'nothing named'}"

    def _describe(self) -> None:
        here = [self.at(self._pointed)] if self._docking is not None and self._pointed >= 0.0 else []
        self.setAccessibleDescription("; ".join([*here, *self.texts()]) or "No portal docked.")


def _shorter(name: str) -> tuple[str, ...]:
    """The name, and what may stand for it where there is no room: the usual letters of the flat muscles, or a word."""
    initials = "".join(w[0].upper() for w in name.split())
    return (name, *((initials,) if initials in ("EO", "IO", "TA") else ()), name.split()[0])


def _first_fitting(choices: tuple[str, ...], metrics: QFontMetricsF, room: float) -> str:
    return next((c for c in choices if metrics.horizontalAdvance(c) <= room), "")


def _is_pale(fill: RGB) -> bool:
    from viewer.palette import contrast

    return contrast(fill, (17, 23, 28)) > contrast(fill, (255, 255, 255))
