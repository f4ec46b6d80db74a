"""Builds bodies beside the window, so that it stays responsive."""

from __future__ import annotations

import threading
from collections.abc import Callable

from PySide6.QtCore import QObject, Signal

from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from viewer.scene import meshes_of

Load = Callable[[Specimen, Callable[[float, str], None]], Body]


class Stopped(Exception):  # noqa: N818  (no error: the body is not wanted any more)
    """Raised inside a build whose body nobody wants any more."""


class Loader(QObject):
    """One build at a time; a newer request makes the older one stop at its next stage.

    built    : (Body, its VTK meshes)
    failed   : a sentence
    progress : (share 0..1, stage)
    """

    built = Signal(object, object)
    failed = Signal(str)
    progress = Signal(float, str)

    def __init__(self, load: Load, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._load = load
        self._ticket = 0
        self._wanted: Specimen | None = None
        self._threads: list[threading.Thread] = []

    @property
    def wanted(self) -> Specimen | None:
        """The specimen being built, or None."""
        return self._wanted

    def start(self, specimen: Specimen) -> None:
        """Build a body; the answer comes as a signal in the window's own thread."""
        if specimen == self._wanted:
            return
        self._ticket += 1
        self._wanted = specimen
        self._threads = [t for t in self._threads if t.is_alive()]
        thread = threading.Thread(target=self._run, args=(specimen, self._ticket), daemon=True)
        self._threads.append(thread)
        thread.start()

    def drop(self) -> None:
        """Nobody wants what is being built; it stops at its next stage."""
        self._ticket += 1
        self._wanted = None

    def stop(self) -> None:
        """Stop what is being built, and wait for it."""
        self.drop()
        for thread in self._threads:
            thread.join()
        self._threads.clear()

    def _run(self, specimen: Specimen, ticket: int) -> None:
        def told(share: float, stage: str) -> None:
            if ticket != self._ticket:
                raise Stopped
            self.progress.emit(share, stage)

        try:
            body = self._load(specimen, told)
            told(0.97, "drawing it")
            meshes = meshes_of(body, at_once=True)
            told(1.0, "ready")
        except Stopped:
            return
        except FurcalError as error:
            self._end(ticket, str(error))
        except Exception as error:  # noqa: BLE001  (a thread's last resort: the window must hear of it)
            self._end(ticket, f"the body could not be built ({type(error).__name__}: {error}).")
        else:
            if ticket == self._ticket:
                self._wanted = None
                self.built.emit(body, meshes)

    def _end(self, ticket: int, sentence: str) -> None:
        if ticket == self._ticket:
            self._wanted = None
            self.failed.emit(sentence)
