"""Words that break their lines, and words under a heading that opens and closes them."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QSizePolicy, QToolButton, QVBoxLayout, QWidget


class Folded(QWidget):
    """Words under a heading that opens and closes them."""

    def __init__(self, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.button, self.words = QToolButton(), label()
        self.button.setText(title)
        self.button.setCheckable(True)
        self.button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.button.toggled.connect(self._open)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        layout.addWidget(self.button)
        layout.addWidget(self.words)
        self._open(False)

    def show_html(self, html: str) -> None:
        """What is folded away."""
        self.words.setText(html)

    def _open(self, is_open: bool) -> None:
        self.button.setArrowType(Qt.ArrowType.DownArrow if is_open else Qt.ArrowType.RightArrow)
        self.words.setVisible(is_open)


def plain(larger: float = 1.0) -> QLabel:
    """The same for words of which nothing is a mark: Qt would guess, and take some for HTML."""
    made = label(larger)
    made.setTextFormat(Qt.TextFormat.PlainText)
    return made


def label(larger: float = 1.0) -> QLabel:
    """A label that breaks its lines, in heavy letters if they are larger."""
    made = QLabel()
    made.setWordWrap(True)
    made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    if larger > 1.0:
        face = made.font()
        face.setBold(True)
        face.setPointSizeF(face.pointSizeF() * larger)
        made.setFont(face)
    return made
