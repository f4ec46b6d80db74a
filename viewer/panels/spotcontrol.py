"""What every control that takes an answer does.

A control knows what is offered, never what is right. It gives a response at any time: the one that stands.
"""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QWidget

from lessons.spot.response import Response, Skipped


class AnswerControl(QWidget):
    """What all of them do.

    changed : another response stands
    hint    : how it is answered, in a few words
    first   : what has the keyboard while the item is asked; None for the field
    """

    changed = Signal()
    hint = ""

    def __init__(self) -> None:
        super().__init__()
        self.first: QWidget | None = None

    @property
    def response(self) -> Response:
        """The response that stands; `Skipped` while there is none."""
        return Skipped()

    def give(self, response: Response) -> None:
        """Let a response stand that was given elsewhere, or before."""

    def take_key(self, key: Qt.Key) -> bool:
        """Answer by a key that nothing else wanted; whether it was one of the control's."""
        return False
