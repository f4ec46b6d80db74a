"""The see-through sheet over the field: labels, orientation mark, scale, the measured line, the picked point."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from lessons.view import View
from viewer.cameras import Array, Eye
from viewer.columns import Label, column_width, columns_beside, lay_out
from viewer.labels import Anchor
from viewer.overlay import Shape, Stroke, label_shapes, orientation_shapes, point_shapes, scale_shapes, span_shapes
from viewer.palette import THEMES, Theme
from viewer.panels.brush import brush
from viewer.panels.dress import text_height


class Overlay(QWidget):
    """Lies over its parent and is as large; it paints only what has changed, for painting costs a whole composition.

    labels : what is named now
    framed : whether the keyboard's frame is shown
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        self.framed = False
        self.labels: list[Label] = []
        self._names: list[Shape] = []
        self._shapes: list[Shape] = []

    # --- sizes

    @property
    def text(self) -> float:
        """Height of the names, pixels."""
        return text_height(self) * 1.05

    @property
    def small(self) -> float:
        """Height of the words of the orientation mark and the scale: less where the field is small."""
        return min(self.text, self.height() / 22.0, self.width() / 26.0)

    @property
    def column(self) -> float:
        """Width of a column of names, pixels."""
        return column_width(self.width(), self.text)

    def width_of(self, text: str, height: float) -> float:
        """Width of a text in heavy letters of a height, pixels."""
        face = QFont(self.font())
        face.setPixelSize(max(1, round(height)))
        face.setBold(True)
        return QFontMetricsF(face).horizontalAdvance(text)

    # --- what it shows

    @property
    def names_are_shown(self) -> bool:
        """Whether anything is named."""
        return bool(self._names)

    def forget_names(self) -> None:
        """Nothing is named while something moves."""
        self._names = []

    def name(self, anchors: Sequence[Anchor], between: tuple[float, float], theme: Theme) -> None:
        """Lay out names beside the body, which is drawn between two shares of the width; `show_over` paints them."""
        width, height = self.width(), self.height()
        bottoms = (height - 7.6 * self.small, height - 3.0 * self.small)
        drawn = (between[0] * width, between[1] * width)
        columns = columns_beside(width, 0.4 * self.text, bottoms, self.text, drawn)
        self.labels, letters = lay_out(anchors, columns, self.width_of)
        self._names = label_shapes(self.labels, theme, letters, self.width_of)

    def show_over(self, eye: Eye | None, view: View, point: Array | None, words: str = "") -> None:
        """Everything as it lies for an eye; `point` (3,), mm, is what was picked, `words` are said beside it."""
        theme, shapes = THEMES[view.theme], list(self._names)
        if eye is not None:
            shapes += self._marks(eye, view, theme)
            shapes += point_shapes(point, words, eye, (self.width(), self.height()), theme, self.text, self.width_of)
        if self.framed:
            w, h = self.width() - 1.0, self.height() - 1.0
            shapes.append(Stroke(((1.0, 1.0), (w, 1.0), (w, h), (1.0, h), (1.0, 1.0)), theme.accent, 2.0))
        if shapes != self._shapes:
            self._shapes = shapes
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the shapes."""
        painter = QPainter(self)
        brush(painter, self._shapes, self.font())
        painter.end()

    def _marks(self, eye: Eye, view: View, theme: Theme) -> list[Shape]:
        small, size = self.small, (self.width(), max(1, self.height()))
        corner = (6.0 * small, size[1] - 3.6 * small)
        shapes = orientation_shapes(eye, corner, 2.2 * small, theme, small, self.width_of)
        shapes += scale_shapes(eye, size[0] - 1.2 * small, size[1] - 1.0 * small, size[1], theme, small)
        return shapes + span_shapes(view.measured, eye, size, theme, self.text, self.width_of)
