"""The controls that take an answer, and which one fits an item."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QButtonGroup,
    QCheckBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.spot.item import QUARTERS, Answer, Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.response import (
    Clicked,
    Picked,
    Placed,
    Quarter,
    Response,
    Said,
    Segments,
    Skipped,
)  # fmt: skip
from meshes.structures import SEGMENTS
from viewer.panels.folded import plain
from viewer.panels.spotcontrol import AnswerControl, sign
from viewer.panels.spotorder import OrderAnswer

#: The segments that a nerve of the lumbar plexus, and what lies beside it, can come from.
ASKED_SEGMENTS = SEGMENTS[SEGMENTS.index("T11") : SEGMENTS.index("S1") + 1]
COLUMNS = 4
#: Longer than any name.
WORDS_MAX = 200


def control_for(item: Item, words: Sequence[str]) -> AnswerControl:
    """The control for an item's sort of answer; `words` are what is offered."""
    made: Mapping[type[Answer], Callable[[], AnswerControl]] = {
        Named: TypedAnswer,
        Pointed: PointAnswer,
        Rooted: RootsAnswer,
        Quartered: QuarterAnswer,
        Docked: DockAnswer,
        Ordered: lambda: OrderAnswer(words),
        Chosen: lambda: ChoiceAnswer(words),
    }
    return made[type(item.answer)]()


class TypedAnswer(AnswerControl):
    """A line for a name."""

    hint = "Type its name, in English or Latin."

    def __init__(self) -> None:
        super().__init__()
        self.line = QLineEdit()
        self.line.setAccessibleName("Your answer")
        self.line.setMaxLength(WORDS_MAX)
        self.line.setStyleSheet("border: 1px solid palette(mid); padding: 3px;")  # seen on a dark ground, too
        self.line.textChanged.connect(self.changed)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.line)
        self.first = self.line

    @property
    def response(self) -> Response:
        """What is typed."""
        words = " ".join(self.line.text().split())
        return Said(words) if words else Skipped()

    def give(self, response: Response) -> None:
        """Words that were typed before."""
        self.line.setText(response.words if isinstance(response, Said) else "")


class ChoiceAnswer(AnswerControl):
    """Numbered options, one of which is taken by its number, or by a click anywhere on it."""

    def __init__(self, options: Sequence[str]) -> None:
        super().__init__()
        self.hint = f"Take one with the keys 1 to {len(options)}, or by a click."
        self.options = tuple(options)
        self.rows = [_Option(number, words) for number, words in enumerate(options, start=1)]
        self._group = QButtonGroup(self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(6)
        for row in self.rows:
            self._group.addButton(row.button)
            layout.addWidget(row)
        self._group.buttonToggled.connect(lambda _, on: self.changed.emit() if on else None)

    @property
    def response(self) -> Response:
        """The option that is taken."""
        return next((Picked(row.words) for row in self.rows if row.button.isChecked()), Skipped())

    def give(self, response: Response) -> None:
        """An option that was taken before."""
        for row in self.rows:
            row.button.setChecked(isinstance(response, Picked) and row.words == response.option)

    def tell_right(self, answer: Answer) -> None:
        """A tick before the right option, a cross before one that was taken for it."""
        for row in self.rows:
            if row.tell(isinstance(answer, Chosen) and row.words == answer.right):
                self.heavy += [row.button, row.says]

    def take_key(self, key: Qt.Key) -> bool:
        """1 to 5."""
        number = _number(key)
        if not 1 <= number <= len(self.rows):
            return False
        self.rows[number - 1].button.setChecked(True)
        return True


class _Option(QWidget):
    """One option: its number, and its words on as many lines as they need."""

    def __init__(self, number: int, words: str) -> None:
        super().__init__()
        self.words = words
        self.button, self.says = QRadioButton(f"{number}"), plain()
        self.button.setAccessibleName(f"{number}: {words}")
        self.says.setText(words)
        self.says.setTextInteractionFlags(Qt.TextInteractionFlag.NoTextInteraction)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(6)
        layout.addWidget(self.button, 0, Qt.AlignmentFlag.AlignTop)
        layout.addWidget(self.says, 1)

    def tell(self, is_right: bool) -> bool:
        """Mark it; whether it is right."""
        before, heard = sign(is_right, self.button.isChecked())
        self.says.setText(f"{before}{self.words}")
        self.button.setAccessibleName(f"{self.button.text()}: {self.words}{heard}")
        return is_right

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A click beside the button means it, too."""
        if self.button.isEnabled():
            self.button.setChecked(True)


class RootsAnswer(AnswerControl):
    """A box for each segment."""

    hint = "Tick every segment. Arrow keys go from box to box, space ticks."

    def __init__(self) -> None:
        super().__init__()
        self.boxes = {name: _Segment(name, self._step) for name in ASKED_SEGMENTS}
        layout = QGridLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        for i, box in enumerate(self.boxes.values()):
            layout.addWidget(box, i // COLUMNS, i % COLUMNS)
            box.toggled.connect(self.changed)
        self.first = next(iter(self.boxes.values()))

    @property
    def response(self) -> Response:
        """The segments that are ticked."""
        ticked = tuple(name for name, box in self.boxes.items() if box.isChecked())
        return Segments(ticked) if ticked else Skipped()

    def give(self, response: Response) -> None:
        """Segments that were ticked before."""
        for name, box in self.boxes.items():
            box.setChecked(isinstance(response, Segments) and name in response.roots)

    def tell_right(self, answer: Answer) -> None:
        """A tick before each right segment, a cross before one that was ticked and is not."""
        for name, box in self.boxes.items():
            is_right = isinstance(answer, Rooted) and name in answer.roots
            _mark(box, name, name, is_right)
            self.heavy += [box] if is_right else []

    def _step(self, name: str, steps: int) -> None:
        to = ASKED_SEGMENTS.index(name) + steps
        if 0 <= to < len(ASKED_SEGMENTS):
            self.boxes[ASKED_SEGMENTS[to]].setFocus(Qt.FocusReason.TabFocusReason)


class _Segment(QCheckBox):
    """A box that hands the arrow keys over."""

    def __init__(self, name: str, step: Callable[[str, int], None]) -> None:
        super().__init__(name)
        self._name, self._step = name, step

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """To the next box, to the one before, or a row further."""
        ways = {Qt.Key.Key_Right: 1, Qt.Key.Key_Left: -1, Qt.Key.Key_Down: COLUMNS, Qt.Key.Key_Up: -COLUMNS}
        if Qt.Key(event.key()) in ways:
            self._step(self._name, ways[Qt.Key(event.key())])
        else:
            super().keyPressEvent(event)


class QuarterAnswer(AnswerControl):
    """The quarters of a disc, front to back."""

    hint = "Take one with the keys 1 to 4, or by a click."

    def __init__(self) -> None:
        super().__init__()
        self.buttons = {name: QRadioButton(name) for name in QUARTERS}
        self._group = QButtonGroup(self)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(QLabel("Front"))
        for name, button in self.buttons.items():
            button.setAccessibleName(f"Quarter {name}")
            self._group.addButton(button)
            layout.addWidget(button, 1)
        layout.addWidget(QLabel("Back"))
        self._group.buttonToggled.connect(lambda _, on: self.changed.emit() if on else None)

    @property
    def response(self) -> Response:
        """The quarter that is taken."""
        return next((Quarter(name) for name, button in self.buttons.items() if button.isChecked()), Skipped())

    def give(self, response: Response) -> None:
        """A quarter that was taken before."""
        if isinstance(response, Quarter):
            self.buttons[response.quarter].setChecked(True)

    def tell_right(self, answer: Answer) -> None:
        """A tick before each right quarter, a cross before one that was taken for it."""
        for name, button in self.buttons.items():
            is_right = isinstance(answer, Quartered) and name in answer.right
            _mark(button, name, f"Quarter {name}", is_right)
            self.heavy += [button] if is_right else []

    def take_key(self, key: Qt.Key) -> bool:
        """1 to 4."""
        number = _number(key)
        if not 1 <= number <= len(QUARTERS):
            return False
        self.buttons[QUARTERS[number - 1]].setChecked(True)
        return True


class _Elsewhere(AnswerControl):
    """Answered in the field; here stands whether it was."""

    empty, there = "", ""

    def __init__(self) -> None:
        super().__init__()
        self._response: Response = Skipped()
        self.says = plain()
        self.says.setText(self.empty)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.says)

    @property
    def response(self) -> Response:
        """What was given last."""
        return self._response

    def give(self, response: Response) -> None:
        """From the field."""
        if response != self._response:
            self._response = response
            self.says.setText(self.empty if isinstance(response, Skipped) else self.there)
            self.changed.emit()


class PointAnswer(_Elsewhere):
    """A click in the field."""

    hint = "Click it in the field. By keys: arrows carry the cross, with Shift they turn the body, space marks."
    empty = "No place is marked yet."
    there = "A place is marked by the ring; another click moves it."

    def give(self, response: Response) -> None:
        """Only a click."""
        super().give(response if isinstance(response, Clicked) else Skipped())


class DockAnswer(_Elsewhere):
    """The portal as it stands; it always stands somewhere."""

    hint = (
        "Move the portal: drag its ends in the field or the circle below, use the boxes above the field, or the arrow "
        "keys with Alt. Its level, side and approach stay."
    )

    def give(self, response: Response) -> None:
        """Only a portal."""
        super().give(response if isinstance(response, Placed) else Skipped())


def _mark(button: QAbstractButton, name: str, called: str, is_right: bool) -> None:
    """Write on a button whether it is right, or was taken for it."""
    before, heard = sign(is_right, button.isChecked())
    button.setText(f"{before}{name}")
    button.setAccessibleName(f"{called}{heard}")


def _number(key: Qt.Key) -> int:
    """The figure on a key; 0 for another key."""
    value = int(key) - int(Qt.Key.Key_0)
    return value if 0 <= value <= 9 else 0
