"""The speaker's window, for the other screen: notes, what comes next, the clock, the list of steps."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from html import escape

from PySide6.QtCore import QElapsedTimer, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.prose import noted, prose
from lessons.run import Run
from viewer.panels.dress import text_height
from viewer.panels.folded import label, plain

#: Letters of the notes, in heights of the window's text: read standing, from a lectern.
NOTES = 1.6


class SpeakerWindow(QWidget):
    """Shows where a lesson stands to whoever speaks.

    asked     : "back", "next", "blank" or "return"
    jumped    : number of a step, from 0
    closed    : the window was closed
    key_taken : asked first of every key; whether it was a key of the lesson
    """

    asked = Signal(str)
    jumped = Signal(int)
    closed = Signal()

    def __init__(self, key_taken: Callable[[QKeyEvent], bool], parent: QWidget | None = None) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setWindowTitle("For the speaker - furcal")
        self._key_taken = key_taken
        self.place, self.title, self.notes = plain(), plain(1.5), label()
        self.next_title, self.next_words = plain(1.1), label()
        self.clock, self.state = QLabel(), label(1.1)
        self.list = QListWidget()
        self.list.setAccessibleName("Steps of the lesson")
        self.list.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setWordWrap(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemClicked.connect(lambda item: self.jumped.emit(self.list.row(item)))
        self._lay_out()
        self._run: Run | None = None
        self._gone = QElapsedTimer()
        self._tick = QTimer(self, interval=1000)
        self._tick.timeout.connect(self._tell_time)
        text = text_height(self)
        self.resize(round(62 * text), round(40 * text))

    def show_run(self, run: Run | None) -> None:
        """Where the lesson stands."""
        new = run is not None and (self._run is None or run.lesson.path != self._run.lesson.path)
        self._run = run
        if run is None:
            self._tick.stop()
            return
        if new:
            self._gone.start()
            self._tick.start()
        self._list_steps(run)
        step, following = run.step, run.next_step
        self.place.setText(f"{run.lesson.title}: step {run.index + 1} of {len(run.lesson.steps)}")
        self.title.setText(step.title)
        size = round(NOTES * text_height(self))
        lines = noted(step.notes, run.lesson.sources) or ("No notes for this step.",)
        notes = "".join(f"<p>{escape(line)}</p>" for line in lines)
        asks = f"<p><b>{escape(step.question)}</b></p>" if step.question else ""
        told = prose(step.words, step.answer, run.lesson.sources)
        answer = "".join(f"<p><i>{escape(p.plain)}</i></p>" for p in told.answer)
        self.notes.setText(f"<div style='font-size:{size}px'>{notes}{asks}{answer}</div>")
        self.state.setText(_state(run))
        self.next_title.setText(following.title if following else "The lesson ends here.")
        after = prose(following.words, "", run.lesson.sources).paragraphs if following else ()
        self.next_words.setText("".join(f"<p>{escape(p.plain)}</p>" for p in after))
        self._tell_time()

    def _list_steps(self, run: Run) -> None:
        rows = [f"{n}.  {step.title}" for n, step in enumerate(run.lesson.steps, start=1)]
        if [self.list.item(i).text() for i in range(self.list.count())] != rows:
            self.list.clear()
            self.list.addItems(rows)
        self.list.setCurrentRow(run.index)

    def _tell_time(self) -> None:
        if self._run is None:
            return
        gone = self._gone.elapsed() // 1000
        whole = self._run.lesson.minutes
        self.clock.setText(f"{datetime.now():%H:%M}   {gone // 60}:{gone % 60:02} of {whole}:00")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Keys of the lesson work here as in the other window."""
        if not self._key_taken(event):
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Tell that it is gone."""
        self._tick.stop()
        self.closed.emit()
        super().closeEvent(event)

    def _lay_out(self) -> None:
        face = self.clock.font()
        face.setPointSizeF(2.0 * face.pointSizeF())
        self.clock.setFont(face)
        self.clock.setAccessibleName("Clock, and how much of the lesson's time is gone")
        grid = QGridLayout(self)
        notes = QWidget()
        column = QVBoxLayout(notes)
        for widget in (self.place, self.title, self.state, self.notes):
            column.addWidget(widget)
        column.addStretch(1)
        beside = QWidget()
        side = QVBoxLayout(beside)
        heading = label(1.1)
        heading.setText("Next")
        for widget in (heading, self.next_title, self.next_words):
            side.addWidget(widget)
        side.addStretch(1)
        grid.addWidget(_scrolled(notes, "Notes"), 0, 0)
        grid.addWidget(_scrolled(beside, "Next step"), 0, 1)
        grid.addWidget(self.list, 0, 2)
        grid.addLayout(self._buttons(), 1, 0, 1, 3)
        for at, share in enumerate((5, 3, 3)):
            grid.setColumnStretch(at, share)

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.addWidget(self.clock)
        row.addStretch(1)
        for word, says in (("return", "Back to the step"), ("blank", "Blank"), ("back", "Back"), ("next", "Next")):
            button = QPushButton(says)
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # Space is a step, not a button
            button.clicked.connect(lambda _, word=word: self.asked.emit(word))
            row.addWidget(button)
        return row


def _state(run: Run) -> str:
    if run.blank:
        return "The room sees nothing: any step brings the picture back."
    if run.left:
        return "You have left the script: Backspace, or any step, leads back."
    return "The answer is held back: the next step shows it." if run.waits else ""


def _scrolled(content: QWidget, name: str) -> QScrollArea:
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setAccessibleName(name)
    scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setWidget(content)
    return scroll
