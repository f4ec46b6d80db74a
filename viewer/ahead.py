"""Work that is done ahead, a little at a time, while the window has nothing else to do."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from PySide6.QtCore import QObject, QTimer

from meshes.errors import FurcalError

#: While the window is busy it is asked again after this long, milliseconds.
BUSY_MS = 150


class Ahead(QObject):
    """is_idle : whether the window has nothing else to do now"""

    def __init__(self, is_idle: Callable[[], bool], parent: QObject) -> None:
        super().__init__(parent)
        self._is_idle = is_idle
        self._work: Iterator[object] = iter(())
        self._clock = QTimer(self, singleShot=True)
        self._clock.timeout.connect(self._go_on)

    def plan(self, work: Iterable[object]) -> None:
        """Do this, a piece at a time, instead of what is not yet done; an error ends it: it is met again in earnest."""
        self._work = iter(work)
        self._clock.start(BUSY_MS)

    @property
    def is_done(self) -> bool:
        """Whether nothing is left to do."""
        return not self._clock.isActive()

    def stop(self) -> None:
        """Do no more."""
        self._clock.stop()

    def _go_on(self) -> None:
        if not self._is_idle():
            self._clock.start(BUSY_MS)
            return
        try:
            next(self._work)
        except (StopIteration, FurcalError):
            return
        self._clock.start(0)
