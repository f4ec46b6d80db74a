"""Boxes for numbers and words that leave the window's one-letter keys alone."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QSlider, QStyle, QStyleOptionSlider, QWidget


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


class PlaceSlider(QSlider):
    """A lying slider that goes to where it is pressed, as if its handle had been taken there."""

    def __init__(self, most: int, name: str, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.setRange(0, most)
        self.setAccessibleName(name)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Put the handle under the mouse, then let it be dragged."""
        if event.button() == Qt.MouseButton.LeftButton:
            option = QStyleOptionSlider()
            self.initStyleOption(option)
            style, part = self.style(), QStyle.SubControl.SC_SliderHandle
            handle = style.subControlRect(QStyle.ComplexControl.CC_Slider, option, part, self).width()
            room = max(1, self.width() - handle)
            left = round(event.position().x() - handle / 2.0)
            upside_down = self.invertedAppearance()
            self.setValue(QStyle.sliderValueFromPosition(0, self.maximum(), left, room, upside_down))
        super().mousePressEvent(event)


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
