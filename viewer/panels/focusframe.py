"""Where the keyboard is: one frame a window, in the accent colour, around whatever has the focus."""

from __future__ import annotations

from collections.abc import Collection

from PySide6.QtCore import QEvent, QObject, QPoint, QRect, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QRegion
from PySide6.QtWidgets import QApplication, QWidget
from shiboken6 import isValid

from viewer.panels.dress import colour, theme_of

#: How thick the frame is, and how far outside the control it lies, pixels at 100 %.
THICK = 2
OUTSIDE = 2
_MOVED = (
    QEvent.Type.Move, QEvent.Type.Resize, QEvent.Type.Show, QEvent.Type.Hide, QEvent.Type.LayoutRequest,
)  # fmt: skip


class FocusFrame(QWidget):
    """Follows the focus of its window; shows nothing where the focus came with a click.

    It lies over the controls instead of being a border of each: so it looks the same on all of them, nothing shifts
    when it comes, and the picture in the field is not drawn anew for it.

    own     : what shows its focus itself
    at_once : whether it is there as soon as the window opens, or not before the first key
    """

    def __init__(self, window: QWidget, own: Collection[QWidget] = (), at_once: bool = True) -> None:
        super().__init__(window)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.hide()
        self._window, self._own, self._at_once = window, own, at_once
        self._on: QWidget | None = None
        self._kept: QWidget | None = None
        self._watched: list[QWidget] = []
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.focusChanged.connect(self._follow)

    @property
    def around(self) -> QWidget | None:
        """What it is shown around."""
        return self._on if self.isVisible() else None

    def paintEvent(self, event: QPaintEvent) -> None:
        """The mask leaves only the frame."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour(theme_of(self).accent))
        painter.end()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Stay around what has the focus while it, or what holds it, moves."""
        if event.type() in _MOVED:
            self._fit()
        return False

    def _follow(self, before: QWidget | None, now: QWidget | None) -> None:
        if not isValid(self):
            return
        for watched in self._watched:
            if isValid(watched):
                watched.removeEventFilter(self)
        self._watched, self._on = [], now if self._is_shown(before, now) else None
        if self._holds(now):
            self._kept, self._at_once = self._on, False
        widget: QWidget | None = self._on
        while widget is not None and widget is not self._window:
            widget.installEventFilter(self)
            self._watched.append(widget)
            widget = widget.parentWidget()
        self._fit()

    def _is_shown(self, before: QWidget | None, now: QWidget | None) -> bool:
        """Not after a click; and when the window comes to the front again, as it was when it left."""
        if not self._holds(now) or now in self._own or QApplication.mouseButtons() != Qt.MouseButton.NoButton:
            return False
        return self._holds(before) or self._at_once or now is self._kept

    def _holds(self, widget: QWidget | None) -> bool:
        inside = widget is not None and isValid(widget) and widget is not self._window
        return inside and widget is not None and widget.window() is self._window

    def _fit(self) -> None:
        seen = self._seen()
        if seen.isEmpty():
            self.hide()
            return
        self.setGeometry(seen)
        whole = self.rect()
        self.setMask(QRegion(whole) - QRegion(whole.adjusted(THICK, THICK, -THICK, -THICK)))
        self.raise_()
        self.show()

    def _seen(self) -> QRect:
        """The frame in pixels of the window: around the control, as far as what holds it lets it be seen."""
        window, widget = self._window, self._on
        if widget is None or not widget.isVisible():
            return QRect()
        out = OUTSIDE
        rect = QRect(widget.mapTo(window, QPoint(0, 0)), widget.size()).adjusted(-out, -out, out, out)
        for holder in (*self._watched[1:], window):
            rect &= QRect(holder.mapTo(window, QPoint(0, 0)), holder.size())
        return rect
