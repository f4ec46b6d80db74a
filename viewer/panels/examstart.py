"""The start page of an examination: which paper, the candidate's number, Begin."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLineEdit, QPushButton, QVBoxLayout, QWidget

from viewer.panels.focusframe import FocusFrame
from viewer.panels.folded import plain


class ExamStart(QDialog):
    """Asks for a number; stays until a paper was begun with it.

    begun : the number that was typed
    """

    begun = Signal(str)

    def __init__(self, about: str, candidate: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("Examination")
        words, asks = plain(), plain()
        words.setText(about)
        asks.setText("Candidate's number")
        self.line = QLineEdit(candidate)
        self.line.setAccessibleName("Candidate's number")
        asks.setBuddy(self.line)
        self.says = plain()
        self.says.setAccessibleName("Message")
        self.begin = QPushButton("Begin")
        self.begin.setDefault(True)
        buttons = QDialogButtonBox()
        buttons.addButton(self.begin, QDialogButtonBox.ButtonRole.AcceptRole)
        self.away = buttons.addButton(QDialogButtonBox.StandardButton.Cancel)
        layout = QVBoxLayout(self)
        for widget in (words, asks, self.line, self.says, buttons):
            layout.addWidget(widget)
        self._frame = FocusFrame(self)
        self.begin.clicked.connect(lambda: self.begun.emit(self.line.text()))
        self.away.clicked.connect(self.reject)
        self.setMinimumWidth(460)

    def tell(self, sentence: str) -> None:
        """Why it does not begin."""
        self.says.setText(sentence)
        self.says.setAccessibleDescription(sentence)
        self.line.setFocus()
        self.line.selectAll()
