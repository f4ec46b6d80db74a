"""Words to be put in order: by dragging, by buttons, by Alt with the up and down keys."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHBoxLayout, QListWidget, QListWidgetItem, QPushButton, QVBoxLayout

from lessons.spot.item import Answer, Ordered
from lessons.spot.response import Arranged, Response
from viewer.panels.dress import text_height
from viewer.panels.spotcontrol import CROSS, TICK, AnswerControl

WORD = Qt.ItemDataRole.UserRole + 1
#: Room above and below the words of a row, and beside them, heights of the text.
AIR, BESIDE = 0.5, 1.6


class OrderAnswer(AnswerControl):
    """A numbered list; the first word is at the top."""

    hint = "Drag the words into order, or carry the chosen one with Alt and the up or down key."

    def __init__(self, words: Sequence[str]) -> None:
        super().__init__()
        self.list = _Words(words)
        self.list.setAccessibleName("Your order, first at the top")
        self.up, self.down = QPushButton("Up"), QPushButton("Down")
        self.up.setAccessibleName("Carry the chosen word up")
        self.down.setAccessibleName("Carry the chosen word down")
        self.up.clicked.connect(lambda: self.list.carry(-1))
        self.down.clicked.connect(lambda: self.list.carry(1))
        self.list.arranged.connect(self.changed)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.list)
        buttons = QHBoxLayout()
        for button in (self.up, self.down):
            buttons.addWidget(button)
        buttons.addStretch(1)
        layout.addLayout(buttons)
        self.first = self.list

    @property
    def response(self) -> Response:
        """The words as they stand."""
        return Arranged(self.list.words)

    def give(self, response: Response) -> None:
        """An order that was given before."""
        if isinstance(response, Arranged) and set(response.words) == set(self.list.words):
            self.list.show_words(response.words)

    def tell_right(self, answer: Answer) -> None:
        """A tick before each word that stands where it belongs; before another one a cross, and behind it its place."""
        if isinstance(answer, Ordered):
            self.list.tell_right(answer.right)


class _Words(QListWidget):
    """arranged : the order has changed"""

    arranged = Signal()

    def __init__(self, words: Sequence[str]) -> None:
        super().__init__()
        self.setDragDropMode(QAbstractItemView.DragDropMode.InternalMove)
        self.setDefaultDropAction(Qt.DropAction.MoveAction)
        self.setWordWrap(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSpacing(1)
        self._right: tuple[str, ...] = ()
        self.model().rowsMoved.connect(self._moved)
        self.show_words(words)

    @property
    def words(self) -> tuple[str, ...]:
        """Top to bottom."""
        return tuple(self.item(i).data(WORD) for i in range(self.count()))

    def show_words(self, words: Sequence[str]) -> None:
        """All of them anew."""
        self.clear()
        for word in words:
            item = QListWidgetItem()
            item.setData(WORD, word)
            self.addItem(item)
        self.setCurrentRow(0)
        self._number()

    def carry(self, steps: int) -> None:
        """The chosen word up (-1) or down (1)."""
        row = self.currentRow()
        to = row + steps
        if row >= 0 and 0 <= to < self.count():
            item = self.takeItem(row)
            self.insertItem(to, item)
            self.setCurrentRow(to)
            self._moved()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Alt carries the chosen word; without it the keys choose another."""
        key, alt = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.AltModifier)
        if alt and key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.carry(-1 if key == Qt.Key.Key_Up else 1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.ignore()  # the window marks the answer
        else:
            super().keyPressEvent(event)

    def _moved(self, *_: QModelIndex | int) -> None:
        self._number()
        self.arranged.emit()

    def tell_right(self, right: Sequence[str]) -> None:
        """Mark the words as they stand against the right order."""
        self._right = tuple(right)
        self.setCurrentRow(-1)  # a chosen word would look like a marked one
        self._number()

    def _number(self) -> None:
        for i in range(self.count()):
            word = self.item(i).data(WORD)
            before, behind, heard = self._marks(i, word)
            self.item(i).setText(f"{before}{i + 1}.  {word}{behind}")
            self.item(i).setData(Qt.ItemDataRole.AccessibleTextRole, f"{i + 1}: {word}{heard}")
        self._fit()

    def _marks(self, at: int, word: str) -> tuple[str, str, str]:
        """What stands before and behind a word once the right order was told, and what is heard."""
        if word not in self._right:
            return "", "", ""
        place = self._right.index(word)
        if place == at:
            return f"{TICK} ", "", ", right"
        return f"{CROSS} ", f" (right: {place + 1})", f", not right; its place is {place + 1}"

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As high as its words need in this width."""
        super().resizeEvent(event)
        self._fit()

    def changeEvent(self, event: QEvent) -> None:
        """Letters of another size."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._fit()

    def _fit(self) -> None:
        text, metrics = text_height(self), QFontMetrics(self.font())
        width = max(80, self.viewport().width() - round(BESIDE * text))
        high = 0
        for i in range(self.count()):
            box = metrics.boundingRect(QRect(0, 0, width, 10_000), Qt.TextFlag.TextWordWrap, self.item(i).text())
            size = QSize(0, box.height() + round(AIR * text))
            self.item(i).setSizeHint(size)
            high += size.height() + 2 * self.spacing()
        if self.height() != high + 4:
            self.setFixedHeight(high + 4)
