"""Builds bodies beside the window, so that it stays responsive."""

from __future__ import annotations

import threading
from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer, Signal

from meshes.body import Body
from meshes.contact import Ready
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from viewer.part import Meshes
from viewer.scene import meshes_of

Load = Callable[[Specimen, Callable[[float, str], None]], Body]

#: Bodies that are kept: the one on the screen, the one before, the one to come. One takes some 60 MB.
KEPT = 3
#: A body that is kept is given after this long, milliseconds: what moves has then begun to move.
SOON_MS = 60


class Stopped(Exception):  # noqa: N818  (no error: the body is not wanted any more)
    """Raised inside a build whose body nobody wants any more."""


class Loader(QObject):
    """One build at a time; a newer request makes the older one stop at its next stage. The last few bodies are kept.

    built    : (Body, its VTK meshes)
    failed   : a sentence
    progress : (share 0..1, stage)
    """

    built = Signal(object, object)
    failed = Signal(str)
    progress = Signal(float, str)
    _done = Signal(int, object, object)
    _failed = Signal(int, str)

    def __init__(self, load: Load, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._done.connect(self._end)
        self._failed.connect(self._end_badly)
        self._load = load
        self._ticket = 0
        self._wanted: Specimen | None = None
        # Built before anybody asked; becomes the one that is wanted when somebody does.
        self._ahead: Specimen | None = None
        self._kept: dict[Specimen, tuple[Body, dict[str, Meshes]]] = {}
        self._threads: list[threading.Thread] = []

    @property
    def wanted(self) -> Specimen | None:
        """The specimen being built, or None."""
        return self._wanted

    @property
    def is_building(self) -> bool:
        """Whether any body is being built, wanted already or ahead."""
        return self._wanted is not None or self._ahead is not None

    def start(self, specimen: Specimen) -> None:
        """Build a body; the answer comes as a signal in the window's own thread, later than this call."""
        if specimen == self._wanted:
            return
        self._wanted = specimen
        if specimen == self._ahead:
            self._ahead = None
        elif specimen in self._kept:
            self._give_soon(specimen)
        else:
            self._build(specimen)

    def build_ahead(self, specimen: Specimen) -> None:
        """Build a body that will be asked for, unless one is being built now."""
        if self._wanted is None and specimen not in self._kept and specimen != self._ahead:
            self._build(specimen)
            self._ahead = specimen

    def drop(self) -> None:
        """Nobody wants what is being built; it stops at its next stage."""
        self._ticket += 1
        self._wanted = self._ahead = None

    def stop(self) -> None:
        """Stop what is being built, and wait for it."""
        self.drop()
        for thread in self._threads:
            thread.join()
        self._threads.clear()

    def _give_soon(self, specimen: Specimen) -> None:
        """Give a body that is kept; what is being built stops."""
        self._ticket += 1
        self._ahead = None
        kept = self._kept[specimen] = self._kept.pop(specimen)  # asked for last, kept longest
        QTimer.singleShot(SOON_MS, self, lambda ticket=self._ticket: self._give(ticket, *kept))

    def _build(self, specimen: Specimen) -> None:
        self._ticket += 1
        self._ahead = None
        self._threads = [t for t in self._threads if t.is_alive()]
        thread = threading.Thread(target=self._run, args=(specimen, self._ticket), daemon=True)
        self._threads.append(thread)
        thread.start()

    def _run(self, specimen: Specimen, ticket: int) -> None:
        def told(share: float, stage: str) -> None:
            if ticket != self._ticket:
                raise Stopped
            self.progress.emit(share, stage)

        try:
            body = self._load(specimen, told)
            told(0.97, "drawing it")
            # Where nothing is drawn yet the first picture is waited for, and what moves later comes after it.
            meshes = meshes_of(body, (False, True) if self._kept else (False,))
            Ready.of(body)  # kept, and found when the window asks
            told(1.0, "ready")
        except Stopped:
            return
        except FurcalError as error:
            self._failed.emit(ticket, str(error))
        except Exception as error:  # noqa: BLE001  (a thread's last resort: the window must hear of it)
            self._failed.emit(ticket, f"the body could not be built ({type(error).__name__}: {error}).")
        else:
            self._done.emit(ticket, body, meshes)

    def _end(self, ticket: int, body: Body, meshes: dict[str, Meshes]) -> None:
        """A body is there, in the window's own thread: keep it, and give it to who wants it."""
        self._kept.pop(body.specimen, None)
        self._kept[body.specimen] = body, meshes
        while len(self._kept) > KEPT:
            self._kept.pop(next(iter(self._kept)))
        if ticket == self._ticket:
            self._ahead = None
        self._give(ticket, body, meshes)

    def _give(self, ticket: int, body: Body, meshes: dict[str, Meshes]) -> None:
        if ticket == self._ticket and self._wanted is not None:
            self._wanted = None
            self.built.emit(body, meshes)

    def _end_badly(self, ticket: int, sentence: str) -> None:
        if ticket == self._ticket:
            # What nobody wants yet will be told when it is wanted.
            wanted, self._wanted, self._ahead = self._wanted, None, None
            if wanted is not None:
                self.failed.emit(sentence)
