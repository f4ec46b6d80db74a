"""Doings by keys and mouse in a spot test: what answers, what goes on, what gets the keyboard."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit

from lessons.spot.response import Clicked
from viewer.doing.quiet import Quiet
from viewer.panels.cross import Cross
from viewer.panels.hand import ARROWS
from viewer.panels.spotanswers import PointAnswer


class SpotKeys(Quiet):
    """Hands keys and clicks over to the control of the item that is asked."""

    _cross_mark: Cross

    def spot_on(self) -> None:
        """Mark the answer that stands; or go on."""
        raise NotImplementedError

    def lesson_key(self, event: QKeyEvent) -> bool:
        """A key that nothing else wanted: Return goes on, figures answer, arrows carry the cross."""
        if self._round is None:
            return super().lesson_key(event)
        key = Qt.Key(event.key())
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            return False
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.guarded(self._return_pressed)()
            return True
        control = self.places.spot.control
        if not self._is_asking or control is None:
            return False
        if isinstance(control, PointAnswer) and (key in ARROWS or key == Qt.Key.Key_Space):
            if key == Qt.Key.Key_Space:
                self.guarded(lambda: self._point_at(self._cross_mark.at))()
            else:
                self._cross_mark.step(*ARROWS[key])
            return True
        return control.take_key(key)

    def _return_pressed(self) -> None:
        self.spot_on()

    def _give_answer_keys(self) -> None:
        """The keyboard to what takes the answer, else to the picture."""
        control = self.places.spot.control if self._is_asking else None
        if control is not None and control.first is not None:
            control.first.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self._give_keys()

    def _back_to_typing(self) -> None:
        """Who has turned the body by hand goes on typing the name."""
        control = self.places.spot.control
        if self._is_asking and control is not None and isinstance(control.first, QLineEdit):
            control.first.setFocus(Qt.FocusReason.OtherFocusReason)

    def _clicked(self, spot: QPointF) -> None:
        if not self._is_quiet:
            super()._clicked(spot)
        elif isinstance(self.places.spot.control, PointAnswer):
            self._point_at(spot)
        else:
            self._back_to_typing()

    def _point_at(self, spot: QPointF) -> None:
        """Let the place under a spot of the field be the answer."""
        hit, control = self._under(spot), self.places.spot.control
        if control is None or self.session.needs_body():
            return
        if hit is None:
            self.statusBar().showMessage("There is nothing at that place.", 4000)
            return
        self.statusBar().clearMessage()
        x, y, z = (float(value) for value in hit.point_mm)
        self._ring = np.array([x, y, z])
        control.give(Clicked(hit.id, (x, y, z)))
        self._show_card()

    def _enlarge(self, factor: float) -> None:
        super()._enlarge(factor)
        self.places.spot.enlarge(factor)
