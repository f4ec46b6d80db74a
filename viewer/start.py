"""Opens the window and stays until it is closed."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from PySide6.QtWidgets import QApplication

from lessons.scenefile import SceneFile
from lessons.spot.paper import Paper
from meshes.specimen import Specimen
from viewer.lost import watch
from viewer.sentences import sentence_of
from viewer.window import MainWindow


def open_window(
    specimen: Specimen | None = None,
    opened: tuple[Path, SceneFile] | None = None,
    lesson: tuple[Path, int] | None = None,
    spot: int | None = None,
    paper: tuple[Paper, Path, bytes, str] | None = None,
    banks: Sequence[Path] = (),
) -> int:
    """Open the window and stay until it is closed; the exit code. Call `viewer.display.prepare_window` first.

    specimen, opened : as `MainWindow` takes them
    lesson           : the file of a lesson to begin, and the step, from 0
    spot             : begin a spot test of so many items; 0 asks how long
    banks            : whose items a spot test asks in place of furcal's own
    paper            : a paper to sit, the folder of its results, the key, and the candidate's number if it is known
    """
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("furcal")
    window = MainWindow(specimen, opened=opened)
    watch(window.keep_scene)

    def tell(_: type[BaseException], error: BaseException, __: TracebackType | None) -> None:
        window.tell(sentence_of(error))

    sys.excepthook = tell
    window.show()
    if lesson is not None:
        window.guarded(window.open_lesson)(*lesson)
    if spot is not None:
        window.guarded(window.spot_when_ready)(spot, banks)
    if paper is not None:
        window.guarded(window.open_desk)(*paper)
    return app.exec()
