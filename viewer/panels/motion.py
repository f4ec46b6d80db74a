"""A motion in the field: how far it is, told picture after picture."""

from __future__ import annotations

import time

from PySide6.QtCore import QObject, QTimer, Signal

#: From one picture of a motion to the next, milliseconds.
STEP_MS = 16


class Motion(QTimer):
    """Active while something moves.

    went : share 0..1 of its time; 1 once, when it has ended
    """

    went = Signal(float)

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent, interval=STEP_MS)
        self._since, self._seconds = 0.0, 1.0
        self.timeout.connect(self._go_on)

    def last(self, seconds: float) -> None:
        """Begin, anew where it is on its way, and last so long."""
        self._since, self._seconds = time.perf_counter(), seconds
        self.start()

    @property
    def left_s(self) -> float:
        """How long it still lasts, seconds."""
        return max(0.0, self._seconds - (time.perf_counter() - self._since))

    def _go_on(self) -> None:
        share = min(1.0, (time.perf_counter() - self._since) / self._seconds)
        if share >= 1.0:
            self.stop()
        self.went.emit(share)
