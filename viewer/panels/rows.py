"""Controls side by side that go on in a next row where a window is too narrow for one."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QSize
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QWidget

from viewer.panels.dress import text_height

#: After these the controls may have another size, or the width is known for the first time.
CHANGES = (QEvent.Type.LayoutRequest, QEvent.Type.Polish, QEvent.Type.FontChange, QEvent.Type.Show)


class Rows(QWidget):
    """For tool bars: so nothing of them is ever hidden, whatever the size of the text.

    gap : between two groups, heights of the text

    A layout that is as high as its width makes it would do, but a window does not ask its tool bars for that; this
    fixes its own height instead.
    """

    def __init__(self, gap: float = 0.8, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._share = gap
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._groups: list[QWidget] = []

    def add(self, *controls: QWidget, apart: bool = False) -> None:
        """Controls that stay together; `apart` from those before them."""
        group = QWidget(self)
        layout = QHBoxLayout(group)
        layout.setContentsMargins(round(1.2 * text_height(self)) if apart else 0, 0, 0, 0)
        layout.setSpacing(4)
        for control in controls:
            layout.addWidget(control)
        self._groups.append(group)

    def sizeHint(self) -> QSize:
        """All in one row."""
        widths = [group.sizeHint().width() for group in self._groups]
        return QSize(sum(widths) + self._gap * (len(widths) - 1), self.height())

    def minimumSizeHint(self) -> QSize:
        """One group in a row."""
        return QSize(max((group.sizeHint().width() for group in self._groups), default=0), self.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width, other rows."""
        super().resizeEvent(event)
        self._place()

    def event(self, event: QEvent) -> bool:
        """Place anew when a control, the text or the style has another size."""
        done = super().event(event)
        if event.type() in CHANGES:
            self._place()
        return done

    @property
    def _gap(self) -> int:
        return round(self._share * text_height(self))

    def _place(self) -> None:
        x, y = 0, 0
        high = max((group.sizeHint().height() for group in self._groups), default=0)
        for group in self._groups:
            wide = group.sizeHint().width()
            # Before it is shown its width means nothing, and many rows would make the window higher for good.
            if self.isVisible() and x and x + wide > self.width():
                x, y = 0, y + high + 3
            group.setGeometry(x, y, wide, high)
            x += wide + self._gap
        if self.height() != y + high:
            self.setFixedHeight(y + high)
            self.updateGeometry()
