"""The step of a lesson in the readout: its words, large enough for the back row, its question, its sources."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from lessons.lesson import Step
from lessons.prose import Paragraph, Prose, prose
from lessons.run import Run
from lessons.stepmap import skin_of
from meshes.structures import side_of
from viewer.panels.bodymap import BodyMap
from viewer.panels.dress import text_height
from viewer.panels.folded import Folded, label, plain

NOTHING = "No lesson is open. Ctrl+Shift+L opens one of the course: then Page Down or a clicker goes step by step."
#: Letters of the words, in heights of the window's text, and how far they may be changed.
WORDS, WORDS_LEAST, WORDS_MOST = 1.5, 1.0, 3.0

#: The body map follows the words after this long, milliseconds: by then the field has begun to move.
MAP_MS = 150


class LessonPage(QWidget):
    """Shows where a lesson stands; knows nothing of the body.

    back_asked, next_asked, return_asked : what was pressed
    look_at : what is to be scrolled to
    larger : how large the words are, times the window's text
    """

    back_asked = Signal()
    next_asked = Signal()
    return_asked = Signal()
    list_asked = Signal()
    look_at = Signal(QWidget)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.larger = WORDS
        self.head, self.title, self.words = plain(), plain(1.3), label()
        self.question, self.answer = label(), label()
        self.reveal = QPushButton("Show the answer")
        self.reveal.clicked.connect(self.next_asked)
        self.left = _Left()
        self.left.button.clicked.connect(self.return_asked)
        self.map, self.sources = BodyMap(), Folded("Sources")
        self.bar = _Bar()
        self.bar.back.clicked.connect(self.back_asked)
        self.bar.next.clicked.connect(self.next_asked)
        self.bar.list.clicked.connect(self.list_asked)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        # The buttons stand above the words, so that they stay where the mouse is, however long a step is.
        self._parts = (
            self.bar, self.title, self.left, self.words, self.question, self.reveal, self.answer, self.map,
            self.sources,
        )  # fmt: skip
        for widget in (self.head, *self._parts):
            layout.addWidget(widget)
        layout.addStretch(1)
        self._run: Run | None = None
        self._mapped: tuple[object, ...] = ()
        self._mapping = QTimer(self, singleShot=True, interval=MAP_MS)
        self._mapping.timeout.connect(self._show_map)
        self.show_run(None)

    def show_run(self, run: Run | None) -> None:
        """Where the lesson stands, or that there is none."""
        before, self._run = self._run, run
        if run is None:
            self.head.setText(NOTHING)
            self._mapping.stop()
            self._mapped = ()
            for widget in self._parts:
                widget.hide()
            return
        step, count = run.step, len(run.lesson.steps)
        told = prose(step.words, step.answer, run.lesson.sources)
        self.head.setText(f"{run.lesson.title}, step {run.index + 1} of {count}")
        self.title.setText(step.title)
        self.words.setText(self._html(told.paragraphs))
        self.question.setText(self._question(step))
        self.answer.setText(self._html(told.answer))
        self._show_parts(run, told)
        if before is None or before.step is not run.step:
            self.look_at.emit(self.head)
        elif run.revealed and not before.revealed:
            self.look_at.emit(self.answer)

    def _show_parts(self, run: Run, told: Prose) -> None:
        step = run.step
        # Each is shown or hidden once: a body map that only flickers up is drawn for nothing.
        for widget, shown in (
            (self.title, True),
            (self.left, run.left),
            (self.words, bool(told.paragraphs)),
            (self.question, bool(step.question)),
            (self.reveal, run.waits),
            (self.answer, bool(told.answer) and run.revealed),
            (self.bar, True),
        ):
            widget.setVisible(shown)
        # What is cited in an answer that is held back would give it away.
        cited = told.sources if not run.waits else prose(step.words, "", run.lesson.sources).sources
        self.sources.show_html("<br><br>".join(f"[{n}] {escape(s)}" for n, s in enumerate(cited, start=1)))
        self.sources.setVisible(bool(cited))
        if self._mapped != _mapped(step):
            self.map.hide()
            self._mapping.start()
        self.bar.back.setEnabled(run.index > 0 or run.left or run.blank)
        self.bar.next.setEnabled(run.waits or run.next_step is not None or run.left or run.blank)

    def _show_map(self) -> None:
        """The skin of the step, a moment after its words: to draw it takes as long as two pictures of the field."""
        step = self._run.step if self._run is not None else None
        self._mapped = _mapped(step)
        if step is not None and step.body_map:
            skin = skin_of(step.body_map, step.specimen)
            self.map.show_skin([i for i, _ in skin], [side_of(step.body_map)], uncertain=[i for i, u in skin if u])
        self.map.setVisible(bool(self._mapped))

    def enlarge(self, factor: float) -> None:
        """Make the words larger or smaller, within bounds."""
        self.larger = min(max(self.larger * factor, WORDS_LEAST), WORDS_MOST)
        self.show_run(self._run)

    def _question(self, step: Step) -> str:
        return self._sized(f"<p style='margin:10px 0 0 0'><b>{escape(step.question)}</b></p>") if step.question else ""

    def _html(self, paragraphs: Sequence[Paragraph]) -> str:
        return self._sized("".join(map(_paragraph, paragraphs))) if paragraphs else ""

    def _sized(self, html: str) -> str:
        return f"<div style='font-size:{round(self.larger * text_height(self))}px'>{html}</div>"


def _mapped(step: Step | None) -> tuple[object, ...]:
    """What the body map of a step depends on; nothing for one without."""
    return (step.body_map, step.specimen) if step is not None and step.body_map else ()


def _paragraph(paragraph: Paragraph) -> str:
    words = "".join(
        f"<span style='font-size:small'>&nbsp;[{run.number}]</span>" if run.number else escape(run.text)
        for run in paragraph.runs
    )
    if paragraph.item:
        return f"<p style='margin:5px 0 0 20px; text-indent:-14px'>\N{BULLET}&nbsp;{words}</p>"
    return f"<p style='margin:8px 0 0 0'>{words}</p>"


class _Left(QWidget):
    """Says that the script has been left, and leads back."""

    def __init__(self) -> None:
        super().__init__()
        self.button = QPushButton("Back to the step")
        words = label()
        words.setText("You have left the script. Backspace, or a step in any direction, leads back.")
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(words, 1)
        layout.addWidget(self.button)


class _Bar(QWidget):
    """Back, list and next."""

    def __init__(self) -> None:
        super().__init__()
        self.back, self.list, self.next = QPushButton("Back"), QPushButton("Steps..."), QPushButton("Next")
        for button, says in ((self.back, "Step before"), (self.list, "List of steps"), (self.next, "Next step")):
            button.setAccessibleName(says)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        for button in (self.back, self.list, self.next):
            layout.addWidget(button)
