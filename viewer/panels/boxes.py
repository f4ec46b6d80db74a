"""Boxes for numbers and words that leave the window's one-letter keys alone."""

from __future__ import annotations

from PySide6.QtCore import QEvent
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QWidget


class NumberBox(QDoubleSpinBox):
    """A number with its unit and range; letters typed in it reach the window."""

    def __init__(
        self, low: float, high: float, step: float, decimals: int, unit: str, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setRange(low, high)
        self.setSingleStep(step)
        self.setDecimals(decimals)
        self.setSuffix(f" {unit}" if unit else "")
        self.setKeyboardTracking(False)
        self.setAccelerated(True)
        self.setAccessibleName(name)

    def event(self, event: QEvent) -> bool:
        """Do not claim letters."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and event.text().isalpha():
            event.ignore()
            return False
        return super().event(event)


class WordBox(QComboBox):
    """One of a few words; shows them for people, answers with them as the program writes them."""

    def __init__(self, words: dict[str, str], name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        for word, shown in words.items():
            self.addItem(shown, word)
        self.setAccessibleName(name)

    @property
    def word(self) -> str:
        """The word chosen."""
        return str(self.currentData())

    def choose(self, word: str) -> None:
        """Choose a word without telling anyone."""
        self.blockSignals(True)
        self.setCurrentIndex(self.findData(word))
        self.blockSignals(False)
