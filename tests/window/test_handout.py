"""Hand-outs from the window: another process writes them, its progress is shown, it can be cancelled."""

from pathlib import Path

import pytest
from PySide6.QtWidgets import QFileDialog, QProgressDialog
from pytestqt.qtbot import QtBot

from tests.window.conftest import MainWindow
from tests.window.hands import Key, Mod, press
from tests.window.lessonhands import HEAD, STEPS, finder, told, written

TWO = HEAD + STEPS.partition('\n[[steps]]\nid = "portal"')[0]


@pytest.fixture
def out(window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder that the dialog answers; a lesson of two steps is open."""
    folder = tmp_path / "out"
    folder.mkdir()
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", staticmethod(lambda *_: str(folder)))
    window.open_lesson(written(tmp_path / "two.toml", TWO))
    return folder


def progress(window: MainWindow) -> QProgressDialog:
    return next(d for d in window.findChildren(QProgressDialog))


def begun(qtbot: QtBot, window: MainWindow) -> QProgressDialog:
    """Pictures asked for by keys; what tells how far they are."""
    press(qtbot, window, Key.Key_H, Mod.ControlModifier | Mod.ShiftModifier)
    asked = finder(window)
    qtbot.keyClicks(asked.line, next(row.text for row in asked.shown if row.payload == "pictures"))
    qtbot.keyClick(asked.line, Key.Key_Return)
    assert window._writer is not None
    return progress(window)


def done(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.waitUntil(lambda: window._writer is None, timeout=240_000)


def test_pictures_of_two_steps_are_written_while_the_window_goes_on(
    qtbot: QtBot, window: MainWindow, out: Path
) -> None:
    dialog = begun(qtbot, window)
    shares: list[int] = []
    window._writer.readyReadStandardError.connect(lambda: shares.append(dialog.value()))  # type: ignore[union-attr]
    press(qtbot, window, Key.Key_PageDown)
    assert window._run is not None
    assert window._run.index == 1
    window.guarded(window.write_hand_out)("pdf", out / "other.pdf")
    assert "is being written" in told(window), "one after the other"
    done(qtbot, window)
    assert "written" in window.statusBar().currentMessage()
    pictures = sorted(out.glob("*.png"))
    assert len(pictures) == 2
    assert all(picture.stat().st_size > 10_000 for picture in pictures)
    assert not (out / "other.pdf").exists()
    assert shares == sorted(shares)
    assert max(shares) > 0
    qtbot.waitUntil(lambda: not window.findChildren(QProgressDialog), timeout=20_000)


def test_cancelled_nothing_is_left(qtbot: QtBot, window: MainWindow, out: Path) -> None:
    dialog = begun(qtbot, window)
    qtbot.waitUntil(lambda: dialog.value() > 0, timeout=240_000)
    dialog.canceled.emit()
    dialog.cancel()
    done(qtbot, window)
    assert not list(out.iterdir())
    assert "nothing was written" in window.statusBar().currentMessage()
    assert told(window) == ""


def test_a_refusal_is_told(qtbot: QtBot, window: MainWindow, out: Path) -> None:
    (out / "mine.txt").write_text("mine")
    begun(qtbot, window)
    done(qtbot, window)
    assert str(out)[1:] in told(window)
    assert "furcal:" not in told(window)
    assert [p.name for p in out.iterdir()] == ["mine.txt"]
