"""One sentence over the field: what went wrong, until it is read or made good."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QToolButton, QWidget

from lessons.readout import capital


class Message(QFrame):
    """Hidden while there is nothing to say."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("panel")
        self._host: QWidget | None = None
        self.setAutoFillBackground(True)
        self.words = QLabel()
        self.words.setWordWrap(True)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.words.setAccessibleName("Message")
        away = QToolButton()
        away.setText("Close")
        away.clicked.connect(lambda: self.tell(""))
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 6, 8, 6)
        mark = QLabel("!")
        mark.setStyleSheet("font-weight: bold; font-size: 130%;")
        layout.addWidget(mark)
        layout.addWidget(self.words, 1)
        layout.addWidget(away)
        self.hide()

    def float_over(self, host: QWidget) -> None:
        """Lie along the top of a widget, which keeps its size: nothing jumps when something is said."""
        self.setParent(host.parentWidget())
        host.installEventFilter(self)
        self._host = host

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the widget that it floats over."""
        if event.type() in (QEvent.Type.Resize, QEvent.Type.Move, QEvent.Type.Show):
            self._lie()
        return False

    def _lie(self) -> None:
        if self._host is not None:
            place, width = self._host.geometry(), self._host.width()
            self.setGeometry(
                place.left(), place.top(), width, max(self.sizeHint().height(), self.heightForWidth(width))
            )
            self.raise_()

    def tell(self, sentence: str) -> None:
        """Say it; empty hides the message."""
        words = capital(sentence)
        self.words.setText(words)
        self.words.setAccessibleDescription(words)
        self.setVisible(bool(words))
        self._lie()
