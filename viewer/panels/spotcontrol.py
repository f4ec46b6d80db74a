"""What every control that takes an answer does.

A control knows what is offered; what is right it is told only once the answer was marked, never at a station of a
paper. It gives a response at any time: the one that stands.
"""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QWidget

from lessons.spot.item import Answer
from lessons.spot.response import Response, Skipped

#: What stands before what is right, and before what was answered and is not.
TICK, CROSS = "\N{CHECK MARK}", "\N{BALLOT X}"


class AnswerControl(QWidget):
    """What all of them do.

    changed : another response stands
    hint    : how it is answered, in a few words
    first   : what has the keyboard while the item is asked; None for the field
    heavy   : what is written in heavy letters: what is right, once that was told
    """

    changed = Signal()
    hint = ""

    def __init__(self) -> None:
        super().__init__()
        self.first: QWidget | None = None
        self.heavy: list[QWidget] = []

    @property
    def response(self) -> Response:
        """The response that stands; `Skipped` while there is none."""
        return Skipped()

    def give(self, response: Response) -> None:
        """Let a response stand that was given elsewhere, or before."""

    def tell_right(self, answer: Answer) -> None:
        """Mark in the control what is right, and what was answered and is not."""

    def take_key(self, key: Qt.Key) -> bool:
        """Answer by a key that nothing else wanted; whether it was one of the control's."""
        return False


def sign(is_right: bool, is_taken: bool) -> tuple[str, str]:
    """What is written before a part of a control that was marked, and the same in words for whoever hears it."""
    if is_right:
        return f"{TICK} ", ", right, and answered" if is_taken else ", right"
    return (f"{CROSS} ", ", answered, not right") if is_taken else ("", "")
