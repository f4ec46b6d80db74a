"""A cross over the field that is carried by keys, for whoever points without a mouse."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from viewer.panels.curtain import _Over
from viewer.panels.dress import colour, text_height, theme_of

#: How far one press carries it, pixels: less than what a click may miss a nerve by.
STEP_PX = 6.0


class Cross(_Over):
    """It shows itself with the first step; the mouse goes through it."""

    def __init__(self, host: QWidget) -> None:
        super().__init__(host)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        self.setAccessibleName("Cross that is carried by the arrow keys")
        self._at: QPointF | None = None

    @property
    def at(self) -> QPointF:
        """Where it stands, pixels of the field; in the middle at first."""
        return self._at if self._at is not None else QPointF(self.host.width() / 2.0, self.host.height() / 2.0)

    def step(self, right: float, up: float) -> None:
        """Carry it on, within the field."""
        here = self.at
        if not self.isHidden():
            x = min(max(here.x() + right * STEP_PX, 0.0), self.host.width() - 1.0)
            y = min(max(here.y() - up * STEP_PX, 0.0), self.host.height() - 1.0)
            here = QPointF(x, y)
        self._at = here
        self.lie(True)
        self.update()

    def hideEvent(self, event: object) -> None:
        """The next one begins in the middle again."""
        self._at = None

    def paintEvent(self, event: QPaintEvent) -> None:
        """Four arms that leave the middle free."""
        painter, theme, text = QPainter(self), theme_of(self), text_height(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        here = self.at
        for ink, width in ((theme.background, 5.0), (theme.text, 2.0)):
            painter.setPen(QPen(colour(ink), width))
            for u, v in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                ends = [here + QPointF(u, v) * (share * text) for share in (0.35, 1.1)]
                painter.drawLine(*ends)
        painter.end()
