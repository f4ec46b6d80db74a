"""What lies over the places while a lesson is given: nothing at all, a picture of the lesson's own, the pointer."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QPointF, Qt
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen, QPixmap
from PySide6.QtWidgets import QWidget

from viewer.panels.dress import colour, text_height, theme_of

#: Radius of the pointer's ring, in heights of the text: seen from the back row.
RING = 1.7


class _Over(QWidget):
    """Lies over a widget and is as large; inside of it, or inside of another one that holds it."""

    def __init__(self, host: QWidget, inside: QWidget | None = None) -> None:
        super().__init__(inside or host)
        self.host = host
        host.installEventFilter(self)
        self.hide()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the widget below."""
        if event.type() in (QEvent.Type.Resize, QEvent.Type.Move):
            self._cover()
        return False

    def _cover(self) -> None:
        self.setGeometry(self.host.rect() if self.parentWidget() is self.host else self.host.geometry())

    def lie(self, shown: bool) -> None:
        """Be there, over all else, or not."""
        self._cover()
        self.setVisible(shown)
        if shown:
            self.raise_()


class Blank(_Over):
    """Nothing: the room is to listen."""

    def __init__(self, host: QWidget) -> None:
        super().__init__(host)
        self.setAccessibleName("The picture is blanked; any step brings it back")

    def paintEvent(self, event: QPaintEvent) -> None:
        """Black, whatever the theme: the room's screen gives no light."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(0, 0, 0))
        painter.end()


class Board(_Over):
    """A picture of the lesson's own, in place of the body."""

    def __init__(self, host: QWidget) -> None:
        super().__init__(host, host.parentWidget())  # inside of it, a splitter would give it a share beside the body
        self.setMouseTracking(True)  # for the pointer
        self._path: Path | None = None
        self._picture = QPixmap()

    def show_picture(self, path: Path | None, says: str = "") -> None:
        """A picture file, or none."""
        if path is not None and path != self._path:
            self._picture = QPixmap(str(path))
        self._path = path
        self.setAccessibleName(says)
        if (path is not None) == self.isHidden():
            self.lie(path is not None)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The picture as large as it fits."""
        painter = QPainter(self)
        theme = theme_of(self)
        painter.fillRect(self.rect(), colour(theme.background))
        if self._picture.isNull():
            painter.setPen(colour(theme.text))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, "This picture cannot be read.")
        else:
            fit = self._picture.scaled(
                self.size(), Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
            )
            painter.drawPixmap((self.width() - fit.width()) // 2, (self.height() - fit.height()) // 2, fit)
        painter.end()


class Pointer(_Over):
    """A ring that goes with the mouse; it takes nothing from what lies below."""

    def __init__(self, host: QWidget) -> None:
        super().__init__(host)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        self.setAccessibleName("Pointer")
        self._at = QPointF(-1000.0, -1000.0)
        self._watched: list[QWidget] = []

    def follow(self, *widgets: QWidget) -> None:
        """Go with the mouse over these, too."""
        for widget in widgets:
            widget.installEventFilter(self)
            self._watched.append(widget)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """See where the mouse is; let the event pass."""
        if isinstance(event, QMouseEvent) and not self.isHidden() and isinstance(watched, QWidget):
            self.point(QPointF(watched.mapTo(self.host, event.position().toPoint())))
        return super().eventFilter(watched, event) if watched is self.host else False

    def point(self, at: QPointF) -> None:
        """Put the ring at a place of the host, pixels."""
        reach = round((RING + 0.6) * text_height(self))
        for spot in (self._at, at):
            x, y = round(spot.x()), round(spot.y())
            self.update(x - reach, y - reach, 2 * reach, 2 * reach)
        self._at = at

    def paintEvent(self, event: QPaintEvent) -> None:
        """A ring with a dark and a light rim, to be seen on bone and on night alike."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        radius = RING * text_height(self)
        for rgb, width in (((255, 255, 255), 7.0), ((0, 0, 0), 5.0), ((255, 214, 0), 3.0)):
            painter.setPen(QPen(QColor(*rgb), width))
            painter.drawEllipse(self._at, radius, radius)
        painter.end()
