"""The start pages of a spot test and of a paper: closed, they come again from the window."""

from __future__ import annotations

from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from lessons.spot.item import Item
from lessons.spot.paper import Paper, made_paper
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod
from tests.window.lessonhands import finder, told
from tests.window.spothands import asked, settled
from viewer.doing.exam import NO_PAPER
from viewer.panels.examstart import ExamStart
from viewer.panels.finder import Finder

KEY = bytes(range(32))
#: A test that fails at a station leaves no window that waits for an answer.
pytestmark = pytest.mark.usefixtures("never_asked")


@pytest.fixture
def paper(items: dict[str, Item]) -> Paper:
    return made_paper([items["name_femoral"]], seed=7, seconds=60)


def pages(window: MainWindow) -> list[ExamStart]:
    return [d for d in window.findChildren(ExamStart) if d.isVisible()]


def test_the_start_page_of_a_spot_test_comes_again_after_it_was_closed(
    qtbot: QtBot, window: MainWindow, paper: Paper
) -> None:
    for _ in range(3):
        qtbot.keyClick(window, Key.Key_T, Mod.ControlModifier | Mod.ShiftModifier)
        page = finder(window)
        assert page.windowTitle() == "Spot test"
        qtbot.keyClick(page.line, Key.Key_Escape)
        qtbot.waitUntil(lambda: not [d for d in window.findChildren(Finder) if d.isVisible()], timeout=5_000)
        assert window._round is None
    window.spot_when_ready(0)
    qtbot.keyClick(finder(window).line, Key.Key_Escape)
    window.spot_test()
    qtbot.keyClick(finder(window).line, Key.Key_Return)
    settled(qtbot, window)
    assert window.places.spot.head.text() == "Item 1 of 10"


def test_the_start_page_of_a_paper_comes_again_after_it_was_closed(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path
) -> None:
    action = window.actions_by_name["sit_paper"]
    assert not action.isEnabled()
    assert window.why_not("sit_paper") == NO_PAPER
    window.guarded(window.sit_paper)()
    assert told(window).casefold() == f"{NO_PAPER}.".casefold()
    window.tell("")
    scene = window.session.scene

    window.open_desk(paper, tmp_path, KEY)
    for number in ("1", "12"):
        (page,) = pages(window)
        assert not action.isEnabled()
        assert window.why_not("sit_paper") == "not before the paper begins"
        qtbot.keyClicks(page.line, number[-1])
        qtbot.mouseClick(page.away, Left)
        settled(qtbot, window)
        assert pages(window) == []
        assert window.session.scene == scene
        assert action.isEnabled()
        assert window.why_not("sit_paper") == ""
        action.trigger()
        settled(qtbot, window)
        (page,) = pages(window)
        assert page.line.text() == number, "what was typed is still there"
        assert {s.id for s in window.session.body.structures.values()  # type: ignore[union-attr]
                if window.session.view.visibility(s) == "on"} == {"skin"}  # fmt: skip
    (page,) = pages(window)
    qtbot.mouseClick(page.begin, Left)
    settled(qtbot, window)
    assert window.places.spot.head.text() == "Station 1 of 1, candidate 12"
    assert not action.isEnabled()
    qtbot.keyClick(window.field, Key.Key_F7)
    settled(qtbot, window)
    qtbot.mouseClick(window.places.spot.bar.leave, Left)
    settled(qtbot, window)
    (page,) = pages(window)
    assert page.line.text() == "", "the next candidate has another number"
    page.reject()
    settled(qtbot, window)


def test_during_a_spot_test_no_paper_is_begun(qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path) -> None:
    window.open_desk(paper, tmp_path, KEY)
    pages(window)[0].reject()
    settled(qtbot, window)
    asked(qtbot, window, list(paper.items))
    assert not window.actions_by_name["sit_paper"].isEnabled()
    qtbot.keyClicks(window.places.spot.control.first, "femoral")  # type: ignore[union-attr]
    qtbot.keyClick(window.places.spot.control.first, Key.Key_Return)  # type: ignore[union-attr]
    settled(qtbot, window)
    assert not window.actions_by_name["sit_paper"].isEnabled()
    window.spot_leave()
    settled(qtbot, window)
    assert window.actions_by_name["sit_paper"].isEnabled()
