"""The depth log: the layers along the portal's axis from skin to end, to scale in mm, with nerves near it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from lessons.readout import CLOSE_MM, named, small
from meshes.body import Body
from meshes.contact import Contact, Docking
from meshes.layers import Layer
from viewer.actors import material, stem
from viewer.palette import PRINT, RGB, contrast
from viewer.panels.dress import colour, text_height, theme_of
from viewer.panels.face import short_name
from viewer.panels.logmarks import flags

#: Layers that are no structure of the body, by the start of their id.
SPACES: dict[str, RGB] = {"fat": PRINT["fat"], "retroperitoneal": PRINT["fat"], "subcutaneous": PRINT["fat"]}
#: How far an arrow key moves the depth that is pointed at, mm.
STEP_MM = 1.0
SCALE_MM = (5, 10, 20, 50, 100)
#: The usual letters of the flat muscles, explained where the mouse is.
LETTERS = {"external_oblique": "EO", "internal_oblique": "IO", "transversus_abdominis": "TA"}
#: A pin is meant by a mouse this near to it, pixels; and so many of them are told, the closest to the portal first.
PIN_PX, TOLD = 5.0, 3
#: Where things stand, from the top, in heights of the text: words in two rows, heads of pins, the layers.
ROWS = {"upper": 0.9, "lower": 2.05}
HEADS, BAND, THICK = 2.5, 2.95, 1.6
#: Layers at least this thick are named above where they are too narrow to hold a name, mm.
NAMED_MM = 1.0


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
        self._meant: tuple[Contact, ...] = ()
        self._describe()

    def show_docking(self, docking: Docking | None, body: Body | None) -> None:
        """Follow a docking on its body."""
        if docking is self._docking and body is self._body:
            return
        self._docking, self._body, self._meant = docking, body, ()
        self._describe()
        self.update()

    def texts(self) -> list[str]:
        """The log in words, from the skin inwards."""
        if self._docking is None:
            return []
        layers = [f"{y.name} {y.from_mm:.0f} to {y.to_mm:.0f} mm" for y in self._axis_layers()]
        return layers + [
            f"{short_name(c.structure, self._docking.portal)} near at {c.depth_mm:.0f} mm" for c in self._near()
        ]

    def sizeHint(self) -> QSize:
        """Six lines of text high."""
        return QSize(600, round(6.4 * text_height(self)))

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
        """Nerves that are touched or close, and touched vessels and viscera: the closest first."""
        assert self._docking is not None
        near = [c for c in self._docking.nerves if c.clearance_mm <= CLOSE_MM]
        near += [c for c in (*self._docking.vessels, *self._docking.viscera) if c.touched]
        return sorted(near, key=lambda c: (c.clearance_mm, c.id))

    def _pin(self, contact: Contact) -> float:
        """Pixel column of a pin."""
        return self.x_of(min(max(contact.depth_mm, 0.0), self._length))

    def pins_at(self, x: float) -> tuple[Contact, ...]:
        """The pins that a mouse in a pixel column means, the closest to the portal first."""
        return tuple(c for c in self._near() if abs(self._pin(c) - x) <= PIN_PX) if self._docking else ()

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
        band = QRectF(0.0, BAND * text, self.width(), THICK * text)
        unnamed = self._paint_layers(painter, band)
        self._paint_pins(painter, band, unnamed)
        self._paint_scale(painter, band.bottom())
        if 0.0 <= self._pointed <= self._length:
            self._paint_pointed(painter, band)
        painter.end()

    def _paint_pointed(self, painter: QPainter, band: QRectF) -> None:
        """The depth that is pointed at, and under it what is there."""
        theme, text, words = theme_of(self), text_height(self), self.told()
        x, width = self.x_of(self._pointed), QFontMetricsF(self.font()).horizontalAdvance(self.told()) + text
        box = QRectF(0.0, band.bottom() + 0.45 * text, width, 1.4 * text)
        box.moveLeft(max(0.0, min(x - width / 2.0, self.width() - width)))
        painter.setPen(QPen(colour(theme.accent), 2.0))
        painter.drawLine(QPointF(x, band.top() - 3.0), QPointF(x, box.top()))
        painter.setBrush(colour(theme.panel))
        painter.drawRect(box.adjusted(1.0, 0.0, -1.0, 0.0))
        painter.setPen(colour(theme.text))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)

    def _paint_layers(self, painter: QPainter, band: QRectF) -> list[Layer]:
        """Every layer, with its name where there is room; those whose names have none."""
        theme, metrics = theme_of(self), QFontMetricsF(self.font())
        unnamed = []
        for layer in self._axis_layers():
            left, right = self.x_of(layer.from_mm), self.x_of(min(layer.to_mm, self._length))
            box = QRectF(left, band.top(), right - left, band.height())
            fill = self._colour(layer)
            painter.fillRect(box, colour(fill))
            painter.setPen(QPen(colour(theme.line), 1.0))
            painter.drawRect(box)
            painter.setPen(colour((17, 23, 28) if _is_pale(fill) else (255, 255, 255)))
            words = _first_fitting(self.names_of(layer), metrics, right - left - 6.0)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
            if not words:
                unnamed.append(layer)
        return unnamed

    def names_of(self, layer: Layer) -> tuple[str, ...]:
        """A layer's name, and what may stand for it where there is no room: the short form, or a muscle's letters."""
        structure = self._body.structures.get(layer.id) if self._body else None
        if structure is None or self._docking is None:
            return (layer.name, "fat") if layer.name.endswith(" fat") else (layer.name,)
        letters = LETTERS.get(stem(layer.id))
        return (layer.name, short_name(structure, self._docking.portal), *((letters,) if letters else ()))

    def _marks(self, unnamed: list[Layer]) -> list[tuple[float, str]]:
        """What is named above the layers, and where: bone in the way, every pin, then other layers without a name."""
        assert self._docking is not None
        near, portal = self._near(), self._docking.portal
        pinned = {c.id for c in near}
        bones: list[tuple[float, str]] = []
        others: list[tuple[float, str]] = []
        for layer in unnamed:
            structure = self._body.structures.get(layer.id) if self._body else None
            if structure is not None and layer.id not in pinned and layer.to_mm - layer.from_mm >= NAMED_MM:
                middle = 0.5 * (layer.from_mm + min(layer.to_mm, self._length))
                mark = (self.x_of(middle), self.names_of(layer)[-1])
                (bones if structure.kind == "bone" else others).append(mark)
        return [*bones, *((self._pin(c), short_name(c.structure, portal)) for c in near), *others]

    def _paint_pins(self, painter: QPainter, band: QRectF, unnamed: list[Layer]) -> None:
        """A pin for each nerve that is near and for all that is touched; names above, as many as fit."""
        theme, text, near = theme_of(self), text_height(self), self._near()
        marks = self._marks(unnamed)
        head, foot = HEADS * text, band.top() + 0.15 * band.height()
        for flag in flags(marks, self.width(), QFontMetricsF(self.font()).horizontalAdvance):
            top = ROWS[flag.row] * text
            painter.setPen(QPen(colour(theme.line), 1.0))
            painter.drawLine(QPointF(flag.x, top - 0.75 * text), QPointF(flag.x, band.top()))
            painter.setPen(colour(theme.text))
            painter.drawText(QPointF(flag.left, top), flag.words)
        # The closest last, so that it lies on top; those that the mouse means on top of all.
        for contact in sorted(near, key=lambda c: (c in self._meant, -c.clearance_mm)):
            x, size = self._pin(contact), (0.36 if contact in self._meant else 0.26) * text
            ink = colour(theme.accent if contact.touched else theme.text)
            painter.setPen(QPen(ink, 1.6))
            painter.setBrush(ink if contact.touched else colour(theme.panel))
            painter.drawLine(QPointF(x, head), QPointF(x, foot))
            if contact.structure.kind == "nerve":
                painter.drawEllipse(QPointF(x, head), size, size)
            else:
                painter.drawRect(QRectF(x - size, head - size, 2.0 * size, 2.0 * size))

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
        """Point at a depth, or at the pins within a few pixels."""
        if self._docking is None:
            return
        x = event.position().x()
        depth = (x - self._margin) / max(1.0, self.width() - 2.0 * self._margin) * self._length
        self._point(depth if 0.0 <= depth <= self._length else -1.0, self.pins_at(x))
        here = [y for y in self._axis_layers() if y.from_mm <= depth <= y.to_mm][:1]
        layers = [f"{self._explained(y)}: {y.from_mm:.1f} to {y.to_mm:.1f} mm" for y in here]
        self.setToolTip("\n".join([*(self.pin_words(c) for c in self._meant), *layers]))

    def _explained(self, layer: Layer) -> str:
        """A layer's name with the letters that may stand for it."""
        letters = LETTERS.get(stem(layer.id))
        return f"{layer.name} ({letters})" if letters else layer.name

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

    def _point(self, depth: float, meant: tuple[Contact, ...] = ()) -> None:
        if (depth, meant) != (self._pointed, self._meant):
            moved = depth != self._pointed
            self._pointed, self._meant = depth, meant
            self._describe()
            if moved:
                self.depth_pointed.emit(depth)
            self.update()

    def told(self) -> str:
        """What is said of the depth that is pointed at: the pins that are meant, or else what is there."""
        if not self._meant:
            return self.at(self._pointed)
        more = [f"and {len(self._meant) - TOLD} more"] if len(self._meant) > TOLD else []
        return "; ".join([*(self.pin_words(c) for c in self._meant[:TOLD]), *more])

    def at(self, depth_mm: float) -> str:
        """A depth in words: the layer there, and what is near at this depth."""
        layers = [y.name for y in self._axis_layers() if y.from_mm <= depth_mm <= y.to_mm][:1]
        near = [c for c in self._near() if abs(c.depth_mm - depth_mm) <= STEP_MM]
        words = [f"{small(self._name(c))} {'touched' if c.touched else 'near'}" for c in near[:TOLD]]
        more = [f"and {len(near) - TOLD} more"] if len(near) > TOLD else []
        return f"{depth_mm:.0f} mm: {'; '.join([*layers, *words, *more]) or 'nothing named'}"

    def _name(self, contact: Contact) -> str:
        """The whole name; with its side where that is not the docked one, or the approach may meet either."""
        assert self._docking is not None
        structure, portal = contact.structure, self._docking.portal
        own_side = structure.side == portal.side and portal.approach != "anterior"
        return structure.name if own_side else named(structure)

    def pin_words(self, contact: Contact) -> str:
        """What a pin says: the structure, its depth from the skin, and how it lies to the portal."""
        clear = contact.clearance_mm
        how = f"{-clear:.1f} mm inside the portal" if contact.touched else f"{clear:.1f} mm clear of the portal"
        if abs(clear) < 0.05:
            how = "at the portal's edge"
        return f"{self._name(contact)}: {contact.depth_mm:.0f} mm deep, {how}"

    def _describe(self) -> None:
        here = [self.told()] if self._docking is not None and self._pointed >= 0.0 else []
        self.setAccessibleDescription("; ".join([*here, *self.texts()]) or "No portal docked.")


def _first_fitting(choices: tuple[str, ...], metrics: QFontMetricsF, room: float) -> str:
    return next((c for c in choices if metrics.horizontalAdvance(c) <= room), "")


def _is_pale(fill: RGB) -> bool:
    return contrast(fill, (17, 23, 28)) > contrast(fill, (255, 255, 255))
