"""The time of a station: what was spent before a crash stays spent, by a clock of our own and by a real kill."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from lessons.spot.item import Item
from lessons.spot.paper import Paper, made_paper, paper_text
from lessons.spot.response import Quarter, Skipped
from lessons.spot.results import new_key, read_result
from lessons.spot.sat import sitting
from tests.house.programs import ROOT
from tests.window.conftest import MainWindow, Make
from tests.window.hands import Key, Left
from tests.window.lessonhands import told
from tests.window.spothands import control, focused, round_of, settled
from viewer.doing.exam import KEEP_S
from viewer.panels.examstart import ExamStart

KEY, SECONDS = bytes(range(32)), 60
#: A test that fails at a station leaves no window that waits for an answer.
pytestmark = pytest.mark.usefixtures("never_asked")


@pytest.fixture
def paper(items: dict[str, Item]) -> Paper:
    return made_paper([items[name] for name in ("name_femoral", "quarter_l4_5")], seed=7, seconds=SECONDS)


class Clock:
    """Seconds as a test has them."""

    def __init__(self) -> None:
        self.now = 5000.0

    def __call__(self) -> float:
        return self.now


def begun(qtbot: QtBot, window: MainWindow, paper: Paper, folder: Path, key: bytes = KEY) -> None:
    window.open_desk(paper, folder, key)
    start = next(d for d in window.findChildren(ExamStart) if d.isVisible())
    qtbot.keyClicks(start.line, "17")
    qtbot.mouseClick(start.begin, Left)
    settled(qtbot, window)


def seen(qtbot: QtBot, window: MainWindow, words: str) -> None:
    """The clock comes to say so."""
    qtbot.waitUntil(lambda: window.places.spot.clock.text() == words, timeout=5_000)


def killed(window: MainWindow) -> None:
    """What is left of a window whose process is gone, as far as the disk knows."""
    window._tick.stop()
    window._sat = window._round = window._before = None
    window.places.spot.forget()


def test_what_was_spent_before_a_crash_stays_spent(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path
) -> None:
    window.clock = clock = Clock()
    begun(qtbot, window, paper, tmp_path)
    seen(qtbot, window, "1:00 left")
    assert not (tmp_path / "results-17.clock").exists(), "nothing is spent yet"
    clock.now += 25.0
    seen(qtbot, window, "0:35 left")
    assert sitting(paper, "17", tmp_path, KEY).spent == 25.0
    clock.now += KEEP_S - 0.5
    seen(qtbot, window, "0:33 left")
    assert sitting(paper, "17", tmp_path, KEY).spent == 25.0, "not at every tick"

    killed(window)
    clock.now += 3600.0  # nobody sits in between
    begun(qtbot, window, paper, tmp_path)
    seen(qtbot, window, "0:35 left")
    assert window.places.spot.head.text() == "Station 1 of 2, candidate 17"
    clock.now += 20.0
    seen(qtbot, window, "0:15 left")
    killed(window)
    begun(qtbot, window, paper, tmp_path)
    seen(qtbot, window, "0:15 left")

    clock.now += 15.0
    qtbot.waitUntil(lambda: window.places.spot.head.text().startswith("Station 2"), timeout=5_000)
    settled(qtbot, window)
    seen(qtbot, window, "1:00 left")
    qtbot.keyClick(focused(), Key.Key_2)
    clock.now += 10.0
    seen(qtbot, window, "0:50 left")
    qtbot.keyClick(focused(), Key.Key_PageDown)
    settled(qtbot, window)
    assert round_of(window).phase == "ended"
    rows = read_result(tmp_path / "results-17.json", KEY).answers
    assert [(row.response, row.seconds) for row in rows] == [(Skipped(), 60.0), (Quarter("II"), 10.0)]
    assert not list(tmp_path.glob("results-17.[cp]*"))


def test_a_station_whose_time_was_over_ends_when_it_is_taken_up(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path
) -> None:
    sitting(paper, "17", tmp_path, KEY).keep_time(60.0)
    window.clock = Clock()
    begun(qtbot, window, paper, tmp_path)
    qtbot.waitUntil(lambda: window.places.spot.head.text().startswith("Station 2"), timeout=5_000)
    settled(qtbot, window)
    seen(qtbot, window, "1:00 left")
    assert [row.response for row in read_result(tmp_path / "results-17.part", KEY).answers] == [Skipped()]


def test_a_clock_that_cannot_be_written_is_told_once_and_the_paper_goes_on(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path
) -> None:
    desk = tmp_path / "desk"
    desk.mkdir()
    window.clock = clock = Clock()
    begun(qtbot, window, paper, desk)
    seen(qtbot, window, "1:00 left")
    desk.rmdir()
    clock.now += 4.0
    qtbot.waitUntil(lambda: "The paper goes on." in told(window), timeout=5_000)
    assert str(desk) in told(window)
    window.tell("")
    clock.now += 4.0
    seen(qtbot, window, "0:52 left")
    assert told(window) == ""
    assert window.places.spot.head.text().startswith("Station 1")
    desk.mkdir()
    clock.now += 4.0
    qtbot.waitUntil((desk / "results-17.clock").exists, timeout=5_000)


def test_a_clock_that_was_changed_is_told_on_the_start_page(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path
) -> None:
    part = sitting(paper, "17", tmp_path, KEY)
    part.keep_time(60.0)
    part.clock.write_text(part.clock.read_text().replace("60.0", "6.0"))
    window.open_desk(paper, tmp_path, KEY)
    start = next(d for d in window.findChildren(ExamStart) if d.isVisible())
    qtbot.keyClicks(start.line, "17")
    qtbot.mouseClick(start.begin, Left)
    assert start.isVisible()
    assert start.says.text().startswith(f"{part.clock}, signature: does not match")
    start.reject()


def test_a_window_that_is_killed_gives_no_time_back(
    qtbot: QtBot, make: Make, paper: Paper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "paper.json").write_text(paper_text(paper), encoding="utf-8")
    key = new_key(tmp_path / "key")
    monkeypatch.setenv("FURCAL_SETTINGS", str(tmp_path / "settings"))
    words = ["--paper", f"{tmp_path}/paper.json", "--key", f"{tmp_path}/key", "--candidate", "17"]
    # The start page stands with the number in it: Begin is pressed as soon as it is there.
    program = "\n".join((
        "import sys",
        "from PySide6.QtCore import QTimer",
        "from viewer.panels.examstart import ExamStart",
        "shown = ExamStart.showEvent",
        "def show(self, event):",
        "    shown(self, event)",
        "    QTimer.singleShot(0, self.begin.click)",
        "ExamStart.showEvent = show",
        "from viewer.__main__ import main",
        "sys.exit(main(sys.argv[1:]))",
    ))  # fmt: skip
    with subprocess.Popen([sys.executable, "-c", program, *words], cwd=ROOT, stderr=subprocess.PIPE) as running:
        kept, until = tmp_path / "results-17.clock", time.monotonic() + 120.0
        while not kept.exists() and running.poll() is None and time.monotonic() < until:
            time.sleep(0.1)
        running.kill()
        assert running.stderr is not None
        errors = running.stderr.read()
    assert (running.returncode, errors) == (-9, b"")
    spent = sitting(paper, "17", tmp_path, key).spent
    assert KEEP_S <= spent < SECONDS

    window = make()
    qtbot.waitUntil(lambda: window.session.docking is not None, timeout=60_000)
    window.clock = Clock()
    begun(qtbot, window, paper, tmp_path, key)
    assert window.places.spot.head.text() == "Station 1 of 2, candidate 17"
    left = int(SECONDS - spent + 0.999)
    seen(qtbot, window, f"{left // 60}:{left % 60:02d} left")
    assert control(window).response == Skipped()
