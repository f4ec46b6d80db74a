"""The page *Spot test* of the readout: what is asked, the control for its answer, and why, once it was marked."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PySide6.QtCore import QEvent, Qt, QTimer, Signal
from PySide6.QtGui import QFontMetrics, QPalette, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from lessons.prose import Paragraph, prose
from lessons.spot.item import OBJECTIVE_WORDS, Item
from lessons.spot.round import Answered, Round
from viewer.panels.dress import colour, text_height, theme_of
from viewer.panels.folded import label, plain
from viewer.panels.lesson import WORDS, WORDS_LEAST, WORDS_MOST
from viewer.panels.spotanswers import control_for
from viewer.panels.spotcontrol import AnswerControl

#: How the verdict is headed, in words: right or not.
RIGHT, WRONG = "Right", "Not right"
#: The letters of answers, times those of the words.
ANSWERS = 0.87
#: What a button has beside its words, heights of the text.
BESIDE = 2.4
#: A last sentence that is shorter than so many letters does not tell items apart.
TELLING = 16


class SpotPage(QWidget):
    """Shows where a spot test stands; knows nothing of the body.

    on_asked, skip_asked, return_asked, leave_asked : what was pressed
    again_asked : the number of a missed item, from 0; -1 for the end
    answered : another response stands
    look_at  : what is to be scrolled to
    larger   : how large the words are, times the window's text
    """

    on_asked = Signal()
    skip_asked = Signal()
    return_asked = Signal()
    leave_asked = Signal()
    again_asked = Signal(int)
    answered = Signal()
    look_at = Signal(QWidget)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.larger = WORDS
        self.control: AnswerControl | None = None
        self.head, self.clock = plain(), plain()
        self.clock.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.bar = _Bar()
        self.verdict, self.why, self.cited = plain(1.3), label(), label()
        self.vignette, self.ask, self.hint = label(), label(), plain()
        #: Where the control stands, and below it what is lent to the page.
        self.slot, self.lent = QVBoxLayout(), QVBoxLayout()
        self.end = _End()
        self.bar.on.clicked.connect(self.on_asked)
        self.bar.skip.clicked.connect(self.skip_asked)
        self.bar.back.clicked.connect(self.return_asked)
        self.bar.leave.clicked.connect(self.leave_asked)
        self.end.again_asked.connect(self.again_asked)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        top = QHBoxLayout()
        top.addWidget(self.head, 1)
        top.addWidget(self.clock)
        layout.addLayout(top)
        # The buttons stand above the words, so that they stay where the mouse is, however long an item is.
        for widget in (self.bar, self.verdict, self.why, self.cited, self.end, self.vignette, self.ask):
            layout.addWidget(widget)
        layout.addLayout(self.slot)
        layout.addWidget(self.hint)
        layout.addLayout(self.lent)
        layout.addStretch(1)
        self._shown: tuple[Round, str] | None = None

    # --- what is shown

    def show_round(self, round_: Round, where: str, timed: bool = False) -> None:
        """Where a spot test stands.

        where : the place in words, such as "Item 3 of 30"
        timed : a paper: nothing is said about an answer, and no station is met again
        """
        before, self._shown = self._shown, (round_, where)
        self.head.setText(where)
        phase, item = round_.phase, round_.item
        if before is None or before[0].phase != phase or before[0].item is not item:
            self._place_control(round_)
        self._show_item(item)
        self._show_verdict(round_.last)
        self.bar.show()
        self.end.show_end(round_ if phase == "ended" else None, self._sized, timed)
        self.bar.show_phase(phase, timed)
        self._tell_answer()
        if before is None or before[0] is not round_:
            self.look_at.emit(self.head)

    def changeEvent(self, event: QEvent) -> None:
        """Dress the control for another theme, too."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.StyleChange:
            QTimer.singleShot(0, self, self._dress_control)  # once its parts have theirs, which would undo it

    def show_turned(self, turned: bool) -> None:
        """Whether something else than the item's view is seen."""
        self.bar.back.setEnabled(turned)

    def show_clock(self, words: str) -> None:
        """How much time is left; nothing where there is no clock."""
        self.clock.setText(words)

    def enlarge(self, factor: float) -> None:
        """Make the words larger or smaller, within bounds."""
        self.larger = min(max(self.larger * factor, WORDS_LEAST), WORDS_MOST)
        self._dress_control()
        if self._shown is not None:
            item, last = self._shown[0].item, self._shown[0].last
            self._show_item(item)
            self._show_verdict(last)

    def forget(self, words: str = "") -> None:
        """No spot test is going on; `words` say what else."""
        self._shown = None
        self.head.setText(words)
        self.show_clock("")
        self._take_control_away()
        self._show_item(None)
        self._show_verdict(None)
        self.end.show_end(None, self._sized, timed=False)
        self.bar.hide()
        self._tell_answer()

    # --- the item

    def _show_item(self, item: Item | None) -> None:
        for words, text, heavy in (
            (self.vignette, item.vignette if item else "", False),
            (self.ask, item.ask if item else "", True),
        ):
            inner = f"<b>{escape(text)}</b>" if heavy else escape(text)
            words.setText(self._sized(f"<p style='margin:8px 0 0 0'>{inner}</p>") if text else "")
            words.setVisible(bool(text))

    def _place_control(self, round_: Round) -> None:
        if round_.phase == "explained":
            if self.control is not None:
                self.control.setEnabled(False)
                if round_.last is not None and round_.last.verdict is not None:
                    self.control.tell_right(round_.last.item.answer)
                self._dress_control()
            return
        self._take_control_away()
        if round_.phase == "asked" and round_.item is not None:
            self.control = control_for(round_.item, round_.offered)
            self.control.changed.connect(self._changed)
            self._dress_control()
            self.slot.addWidget(self.control)

    def _take_control_away(self) -> None:
        if self.control is not None:
            self.slot.removeWidget(self.control)
            self.control.hide()
            self.control.deleteLater()
        self.control = None

    def _dress_control(self) -> None:
        if self.control is None:
            return
        face, palette = self.font(), self.palette()
        face.setPixelSize(round(ANSWERS * self.larger * text_height(self)))
        # An answer that was marked is still to be read.
        for role in (QPalette.ColorRole.WindowText, QPalette.ColorRole.Text, QPalette.ColorRole.ButtonText):
            palette.setColor(QPalette.ColorGroup.Disabled, role, colour(theme_of(self).quiet))
        # One by one: under a style sheet a widget hands neither down.
        for part in (self.control, *self.control.findChildren(QWidget)):
            face.setBold(part in self.control.heavy)
            part.setFont(face)
            part.setPalette(palette)

    def _changed(self) -> None:
        self._tell_answer()
        self.answered.emit()

    def _tell_answer(self) -> None:
        asked = self._shown is not None and self._shown[0].phase == "asked"
        self.hint.setText(self.control.hint if asked and self.control is not None else "")
        self.hint.setVisible(bool(self.hint.text()))

    # --- the verdict

    def _show_verdict(self, last: Answered | None) -> None:
        shown = last is not None and last.verdict is not None
        for widget in (self.verdict, self.why, self.cited):
            widget.setVisible(shown)
        if last is None or last.verdict is None:
            return
        self.verdict.setText(verdict_words(last.verdict.right, last.verdict.says))
        told = prose(last.item.explain, "", last.item.own)
        self.why.setText(self._sized("".join(map(_paragraph, told.paragraphs))))
        self.cited.setText("<br>".join(f"[{n}] {escape(s)}" for n, s in enumerate(told.sources, start=1)))
        self.cited.setVisible(bool(told.sources))

    def _sized(self, html: str) -> str:
        return f"<div style='font-size:{round(self.larger * text_height(self))}px'>{html}</div>"


def verdict_words(right: bool, says: str) -> str:
    """The verdict in words, the first of which say whether it counts as known."""
    head = RIGHT if right else WRONG
    return says if says.startswith(head) else f"{head}. {says}"


def _paragraph(paragraph: Paragraph) -> str:
    words = "".join(
        f"<span style='font-size:small'>&nbsp;[{run.number}]</span>" if run.number else escape(run.text)
        for run in paragraph.runs
    )
    dot = "\N{BULLET}&nbsp;" if paragraph.item else ""
    return f"<p style='margin:8px 0 0 0'>{dot}{words}</p>"


class _Bar(QWidget):
    """Mark it or go on, skip, back to the view, leave."""

    def __init__(self) -> None:
        super().__init__()
        self.on, self.skip = QPushButton("Mark it"), QPushButton("I do not know")
        self.back, self.leave = QPushButton("Item's view"), QPushButton("Leave")
        self.back.setToolTip("Bring the item's view back (Backspace)")
        self.back.setAccessibleName("Back to the item's view")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        for row in ((self.on, self.skip), (self.back, self.leave)):
            line = QHBoxLayout()
            for button in row:
                line.addWidget(button, 1)
            layout.addLayout(line)

    def show_phase(self, phase: str, timed: bool) -> None:
        """What can be pressed now."""
        asked = phase == "asked"
        words = "Mark it" if asked and not timed else "Next"
        if asked and timed:
            words = "Next station"
        if phase == "again":
            words = "Next missed one"
        self.on.setText(words)
        key = "Return" if asked and not timed else "Page Down"
        self.on.setToolTip(f"{words} ({key})")
        self.on.setVisible(phase != "ended")
        self.skip.setVisible(asked)
        self.back.setVisible(phase != "ended")
        leave = "Leave the spot test"
        if timed:
            leave = "Next candidate" if phase == "ended" else "End the paper"
        self.leave.setText(leave if timed else "Leave")
        self.leave.setAccessibleName(leave)


class _End(QWidget):
    """What was missed, by objective; each can be seen again.

    again_asked : number of a missed item, from 0
    """

    again_asked = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self.words = label()
        self.buttons: list[QPushButton] = []
        self._rows = QVBoxLayout()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.words)
        layout.addLayout(self._rows)
        self.hide()

    def show_end(self, ended: Round | None, sized: object, timed: bool) -> None:
        """The end of a round; None takes it away."""
        for button in self.buttons:
            self._rows.removeWidget(button)
            button.deleteLater()
        self.buttons = []
        self.setVisible(ended is not None)
        if ended is None:
            return
        assert callable(sized)
        if timed:
            self.words.setText(sized("<p>The paper is over. Leave your place.</p>"))
            return
        self.words.setText(sized(_summary(ended)))
        for number, missed in enumerate(ended.missed):
            button = _Missed(missed.item.ask)
            button.setAccessibleName(f"See again: {missed.item.ask}")
            button.clicked.connect(lambda _=False, n=number: self.again_asked.emit(n))
            self.buttons.append(button)
            self._rows.addWidget(button)


def _summary(ended: Round) -> str:
    known, asked = sum(not a.missed for a in ended.done), len(ended.done)
    rows: Sequence[str] = [
        f"<p style='margin:5px 0 0 0'>{escape(OBJECTIVE_WORDS[objective])}: {right} of {count}</p>"
        for objective, right, count in ended.by_objective()
    ]
    again = "" if known == asked else "<p style='margin:10px 0 0 0'><b>See again what was missed</b></p>"
    return f"<p><b>Known: {known} of {asked}</b></p>{''.join(rows)}{again}"


class _Missed(QPushButton):
    """A question, of its words as many as there is room for, the last ones rather than the first."""

    def __init__(self, ask: str) -> None:
        super().__init__()
        self._ask = ask
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.setToolTip(ask)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As many words as this width holds."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        room = self.width() - round(BESIDE * text_height(self))
        metrics = QFontMetrics(self.font())
        last = self._ask.split(". ")[-1]
        # "Name it." alone tells no items apart.
        words = last if metrics.horizontalAdvance(self._ask) > room and len(last) >= TELLING else self._ask
        words = metrics.elidedText(words, Qt.TextElideMode.ElideRight, room)
        if self.text() != words.replace("&", "&&"):
            self.setText(words.replace("&", "&&"))
