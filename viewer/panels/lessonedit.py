"""Where a lesson is written: its steps in order, the words of one of them, and what it shows."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QGridLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.lesson import TRANSITIONS, Lesson
from lessons.reading import CONTROL
from viewer.panels.dress import text_height
from viewer.panels.folded import plain

#: After a pause this long what was typed is written down, milliseconds.
PAUSE_MS = 900
#: Text of a step -> (its name, lines that are seen).
FIELDS = {
    "words": ("Words for the room", 8),
    "notes": ("Notes for the speaker", 4),
    "question": ("Question to the room", 2),
    "answer": ("Answer", 3),
}
TRANSITION_WORDS = {"fly": "fly, the shortest way", "cut": "at once", "follow": "along the lit nerve"}
BUTTONS = (
    ("keep_step", "Keep as a new step"),
    ("keep_scene_in_step", "Keep in this step"),
    ("move_step_up", "Up"),
    ("move_step_down", "Down"),
    ("copy_step", "Duplicate"),
    ("drop_step", "Delete"),
    ("undo_edit", "Undo edit"),
    ("redo_edit", "Redo edit"),
)
#: Rows of the list that are seen, at the least and at the most, and the height of one, in heights of the text.
LEAST_ROWS, MOST_ROWS, ROW = 3, 8, 1.35


class LessonEditor(QWidget):
    """Shows a lesson to be written; what is typed and pressed is told.

    chosen    : number of the step that was chosen, from 0
    written   : (key, text) of the step that is shown
    came_by   : a transition
    asked     : one of BUTTONS
    """

    chosen = Signal(int)
    written = Signal(str, str)
    came_by = Signal(str)
    asked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.head, self.list = plain(1.15), QListWidget()
        self.list.setAccessibleName("Steps of the lesson")
        self.list.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.list.currentRowChanged.connect(self._choose)
        self.title = QLineEdit()
        self.title.setAccessibleName("Title of the step")
        self.title.editingFinished.connect(lambda: self._write("title", self.title.text()))
        self.transition = QComboBox()
        self.transition.setAccessibleName("How one comes to the step")
        self.transition.addItems([TRANSITION_WORDS[t] for t in TRANSITIONS])
        self.transition.activated.connect(lambda i: self.came_by.emit(TRANSITIONS[i]))
        self.texts = {key: _Text(says, lines, self._writer(key)) for key, (says, lines) in FIELDS.items()}
        self.buttons = {word: QPushButton(says) for word, says in BUTTONS}
        self.saved = plain()
        self._showing = False
        self._shown = ("", "")  # id and title of the step that is shown
        self._lay_out()

    def show_lesson(self, lesson: Lesson, index: int, can_undo: bool, can_redo: bool) -> None:
        """A lesson, and the step that is edited. What is being typed stays as it is."""
        self._showing = True
        self.head.setText(lesson.title)
        rows = [f"{n}.  {step.title}" for n, step in enumerate(lesson.steps, start=1)]
        if [self.list.item(i).text() for i in range(self.list.count())] != rows:
            self.list.clear()
            self.list.addItems(rows)
            shown = min(max(len(rows), LEAST_ROWS), MOST_ROWS)
            self.list.setFixedHeight(round((shown * ROW + 0.5) * text_height(self)))
        self.list.setCurrentRow(index)
        step = lesson.steps[index]
        same = step.id == self._shown[0]
        if self._shown != (step.id, step.title):
            self.title.setText(step.title)
        self._shown = (step.id, step.title)
        self.transition.setCurrentIndex(TRANSITIONS.index(step.transition))
        for key, box in self.texts.items():
            box.show_text(getattr(step, key), same)
        self.buttons["undo_edit"].setEnabled(can_undo)
        self.buttons["redo_edit"].setEnabled(can_redo)
        self.buttons["move_step_up"].setEnabled(index > 0)
        self.buttons["move_step_down"].setEnabled(index + 1 < len(rows))
        self.buttons["drop_step"].setEnabled(len(rows) > 1)
        self.saved.setText(f"{lesson.path.name}: what is accepted is written at once; Undo edit takes it back.")
        self._showing = False

    def typed(self) -> list[tuple[str, str]]:
        """What was typed and waits: (key, text)."""
        waits = [(key, box.text) for key, box in self.texts.items() if box.waits]
        title = self.title.text()
        return [("title", title), *waits] if title.strip() and title.strip() != self._shown[1] else waits

    def finish(self) -> None:
        """Write down at once what was typed and waits."""
        for key, text in self.typed():
            self._write(key, text)

    def _choose(self, row: int) -> None:
        if not self._showing and row >= 0:
            self.chosen.emit(row)

    def _write(self, key: str, text: str) -> None:
        if not self._showing:
            self.written.emit(key, text)

    def _writer(self, key: str) -> Callable[[str], None]:
        return lambda text: self._write(key, text)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        grid = QGridLayout()
        for i, (word, _) in enumerate(BUTTONS):
            button = self.buttons[word]
            button.clicked.connect(lambda _, word=word: self.asked.emit(word))
            grid.addWidget(button, i // 2, i % 2)
        column.addWidget(self.head)
        column.addWidget(self.list)
        column.addLayout(grid)
        for says, widget in (("&Title", self.title), ("One comes here", self.transition)):
            name = QLabel(says)
            name.setBuddy(widget)
            column.addWidget(name)
            column.addWidget(widget)
        for key, box in self.texts.items():
            name = QLabel(FIELDS[key][0])
            name.setBuddy(box)
            column.addWidget(name)
            column.addWidget(box)
        column.addWidget(self.saved)
        column.addStretch(1)


class _Text(QPlainTextEdit):
    """Lines to type in; written down after a pause, and when one goes away."""

    def __init__(self, says: str, lines: int, write: Callable[[str], None]) -> None:
        super().__init__()
        self._write = write
        self.setAccessibleName(says)
        self.setTabChangesFocus(True)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self.setFixedHeight(round((1.35 * lines + 1.2) * text_height(self)))
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self.finish)
        self._shown = ""
        self.textChanged.connect(self._pause.start)

    @property
    def text(self) -> str:
        """What stands there, no-break spaces kept."""
        return self.document().toRawText().replace("\u2029", "\n").replace("\u2028", "\n")

    @property
    def waits(self) -> bool:
        """Whether something was typed that is not written yet."""
        return self.text.strip() != self._shown

    def show_text(self, text: str, same: bool) -> None:
        """The text of a step. Of the same step, what was typed meanwhile and is written nowhere stays."""
        if same and self.waits and CONTROL.sub("", self.text).strip() != text:
            return
        if self.text.strip() != text:
            self.setPlainText(text)
        self._shown = self.text.strip()
        self._pause.stop()

    def finish(self) -> None:
        """Write down what was typed."""
        self._pause.stop()
        if self.waits:
            self._write(self.text)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Going away ends the typing."""
        super().focusOutEvent(event)
        self.finish()
