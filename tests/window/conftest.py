"""A window on the average adult, already built; every test fails on an exception that a slot would have swallowed."""

import weakref
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QMessageBox
from pytestqt.qtbot import QtBot
from shiboken6 import isValid

from lessons.spot.item import Item
from meshes.body import Body
from meshes.specimen import Specimen
from viewer.display import prepare_window

Told = Callable[[float, str], None]
Make = Callable[..., "MainWindow"]

# Without a display this is the one sentence that says what is missing: the window is never skipped.
prepare_window()

from tests.window.shared import shared_filmed, shared_meshes  # noqa: E402
from viewer.window import MainWindow  # noqa: E402

__all__ = ["MainWindow", "Make", "Told"]


@pytest.fixture(autouse=True)
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The learner's record lies in the test's own folder: no window finds what another one's learner answered."""
    path = tmp_path / "record.sqlite"
    monkeypatch.setenv("FURCAL_RECORD", str(path))
    return path


@pytest.fixture
def never_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every question of the window is answered with yes."""
    yes = QMessageBox.StandardButton.Yes
    monkeypatch.setattr(QMessageBox, "question", staticmethod(lambda *_: yes))


@pytest.fixture
def items(tmp_path: Path) -> dict[str, Item]:
    """The small bank of tests of the spot test, by id."""
    from tests.window.spothands import bank

    return bank(tmp_path)


@pytest.fixture
def shares_meshes() -> bool:
    """Whether windows share what they only look at; to make it takes as long as all else in opening a window."""
    return True


@pytest.fixture
def make(
    qtbot: QtBot, alder: Body, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shares_meshes: bool
) -> Iterator[Make]:
    """Opens windows that are ready: their body is there and nothing moves."""
    if shares_meshes:
        monkeypatch.setattr("viewer.loader.meshes_of", shared_meshes)
        monkeypatch.setattr("viewer.filmer.Filmed.of", shared_filmed)
    windows: list[weakref.ref[MainWindow]] = []  # a window that a test lets go must be free to go

    def load(specimen: Specimen, told: Told) -> Body:
        told(0.5, "half way")
        return alder if specimen == alder.specimen else replace(alder, specimen=specimen)

    def opened(**options: object) -> MainWindow:
        window = MainWindow(**{"load": load, "settings": tmp_path, **options})  # type: ignore[arg-type]
        windows.append(weakref.ref(window))
        window.field.animated = False
        window.show()
        with qtbot.waitActive(window, timeout=10_000):
            window.activateWindow()
        return window

    yield opened
    for held in windows:
        window = held()
        if window is not None and isValid(window):
            window.close()
            window.deleteLater()
    # Now, or it would go in the next test, whose first window would dress this one's parts as well.
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture
def window(make: Make, qtbot: QtBot) -> MainWindow:
    window = make()
    qtbot.waitUntil(lambda: window.session.docking is not None, timeout=60_000)
    return window
