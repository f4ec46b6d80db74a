"""The body map in the window: which skin belongs to a nerve or a level, from a corner to a full slide."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import TypeVar

from PySide6.QtCore import QByteArray, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QSizePolicy, QWidget

from lessons.bodymap import CAUTION, NARROWEST_PX, WORDS_FROM_PX, body_map, body_map_shape, described
from viewer.mapstyles import ground_of, styles
from viewer.panels.dress import colour, text_height, theme_of

#: From this width on, numbers and a key are drawn and can be read.
NAMES_FROM_PX = 600
#: Widths are drawn in steps: a drag of the window's edge does not write the picture anew at every pixel.
STEP_PX = 20
#: Pictures that are kept, each of a width and of what is lit.
KEPT = 24
_T = TypeVar("_T")
_FLAGS = int(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop) | int(Qt.TextFlag.TextWordWrap)


class BodyMap(QWidget):
    """Shows lit skin on the body; beside a small picture the caution stands in the window's own letters.

    place : where the picture was drawn last, pixels
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self._lit: tuple[str, ...] = ()
        self._partly: tuple[str, ...] = ()
        self._sides: tuple[str, ...] = ()
        self._layer = "nerves"
        self._drawn: tuple[object, ...] = ()
        self._written: dict[tuple[object, ...], QByteArray] = {}
        self._renderer = QSvgRenderer(self)
        self.place = QRectF()
        self._tell()

    def show_skin(
        self, ids: Iterable[str], sides: Iterable[str], layer: str = "nerves", uncertain: Iterable[str] = ()
    ) -> None:
        """Light areas of one layer. Raises FurcalError, all unchanged, for what is not of it."""
        lit, shown, partly = tuple(ids), tuple(sides), tuple(uncertain)
        described((*lit, *partly), shown, layer)
        self._lit, self._sides, self._layer, self._partly = lit, shown, layer, partly
        self._tell()
        self.updateGeometry()
        self.update()

    def svg(self, width_px: float) -> str:
        """The picture as it is drawn at a width."""
        return self._asked(body_map, width_px)

    def _asked(self, of: Callable[..., _T], width_px: float) -> _T:
        theme = theme_of(self)
        return of(
            styles(self._lit, theme, self._layer, self._partly),
            self._sides,
            ground=ground_of(theme),
            layer=self._layer,
            names=width_px >= NAMES_FROM_PX,
            width_px=width_px,
        )

    def sizeHint(self) -> QSize:
        """A corner of the window."""
        return QSize(280, self.heightForWidth(280))

    def minimumSizeHint(self) -> QSize:
        """Small, and still told left from right."""
        return QSize(200, self.heightForWidth(200))

    def hasHeightForWidth(self) -> bool:
        """The picture keeps its shape."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Height of the picture and of the caution below it."""
        return round(width * self._shape(width) + self._caution_height(width, width))

    def paintEvent(self, event: QPaintEvent) -> None:
        """The picture as large as it fits, and the caution where the picture is too small to hold it."""
        theme, whole = theme_of(self), QRectF(self.rect())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(whole, colour(theme.background))
        self.place = self._fitted(whole)
        high = self._caution_height(self.place.width(), self.width())
        if high:
            self.place = self._fitted(whole.adjusted(0.0, 0.0, 0.0, -high))
            painter.setPen(colour(theme.quiet))
            painter.drawText(whole.adjusted(0.0, whole.height() - high, 0.0, 0.0), _FLAGS, CAUTION[self._layer])
        self._renderer.render(painter, self.place)
        painter.end()

    def _fitted(self, room: QRectF) -> QRectF:
        """The largest place in a room that has the picture's shape; the picture is written for its width."""
        width = room.width()
        for _ in range(2):  # the shape depends a little on the width: a wide picture has a key
            width = max(1.0, min(room.width(), room.height() / self._shape(width)))
        self._write(width)
        shape = self._shape(width)
        width = max(1.0, min(width, room.height() / shape))
        high = width * shape
        return QRectF(room.center().x() - width / 2.0, room.top() + (room.height() - high) / 2.0, width, high)

    def _shape(self, width: float) -> float:
        """Height over width of the picture of a width."""
        return self._asked(body_map_shape, _step(width))

    def _write(self, width: float) -> None:
        """Have the picture of a width ready; it is written anew only when something about it changed."""
        step = _step(width)
        wanted = (step, self._lit, self._partly, self._sides, self._layer, theme_of(self))
        if wanted == self._drawn:
            return
        if wanted not in self._written:  # a layout asks for the same few widths again and again
            if len(self._written) >= KEPT:
                self._written.pop(next(iter(self._written)))
            self._written[wanted] = QByteArray(self.svg(step).encode())
        self._drawn = wanted
        self._renderer.load(self._written[wanted])

    def _caution_height(self, picture: float, width: int) -> float:
        """Height of the caution in the window's letters; none where the picture holds it."""
        if not self._lit or picture >= WORDS_FROM_PX:
            return 0.0
        lines = self.fontMetrics().boundingRect(0, 0, max(1, width), 10_000, _FLAGS, CAUTION[self._layer])
        return float(lines.height()) + 0.3 * text_height(self)

    def _tell(self) -> None:
        self.setAccessibleName("Body map: front, back and both sides, with the skin in question marked")
        told = described((*self._lit,), self._sides, self._layer)
        self.setAccessibleDescription(f"{told} {CAUTION[self._layer]}" if self._lit else told)


def _step(width: float) -> float:
    return max(NARROWEST_PX, STEP_PX * math.floor(width / STEP_PX))
