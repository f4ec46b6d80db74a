"""A paper that is sat in the window: a clock, nothing said, no way back, signed results, nothing lost."""

import time
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPointF
from PySide6.QtWidgets import QMessageBox
from pytestqt.qtbot import QtBot

from lessons.spot.item import Item
from lessons.spot.paper import Paper, made_paper
from lessons.spot.response import Arranged, Quarter, Said, Skipped
from lessons.spot.results import Given, read_result
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left
from tests.window.lessonhands import told
from tests.window.spothands import control, focused, giving_away, round_of, settled, visible_words
from viewer.doing.exam import NO_ANSWER, STANDS, clock_words
from viewer.panels.examstart import ExamStart
from viewer.panels.spotanswers import QuarterAnswer
from viewer.panels.spotorder import OrderAnswer
from viewer.spotmode import AT_DESK

KEY = bytes(range(32))
ORDER = ("name_femoral", "quarter_l4_5", "order_wall")
#: A test that fails at a station leaves no window that waits for an answer.
pytestmark = pytest.mark.usefixtures("never_asked")


@pytest.fixture
def paper(items: dict[str, Item]) -> Paper:
    return made_paper([items[name] for name in ORDER], seed=7, seconds=60)


def start_page(window: MainWindow) -> ExamStart:
    return next(d for d in window.findChildren(ExamStart) if d.isVisible())


def begun(qtbot: QtBot, window: MainWindow, paper: Paper, folder: Path, candidate: str = "17") -> None:
    """At the first station that is still to come."""
    window.open_desk(paper, folder, KEY)
    start = start_page(window)
    qtbot.keyClicks(start.line, candidate)
    qtbot.mouseClick(start.begin, Left)
    settled(qtbot, window)


def run_out(qtbot: QtBot, window: MainWindow) -> None:
    """The time of the station is over."""
    station = len(window._sat.given) if window._sat is not None else 0
    qtbot.waitUntil(lambda: window._ends_at > 0.0, timeout=5_000)
    window._ends_at = time.monotonic() - 0.01
    qtbot.waitUntil(lambda: window._sat is not None and len(window._sat.given) > station, timeout=5_000)
    settled(qtbot, window)


def given(path: Path) -> tuple[Given, ...]:
    return read_result(path, KEY).answers


def test_a_paper_is_sat_and_its_results_are_signed(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path
) -> None:
    scene = window.session.scene
    begun(qtbot, window, paper, tmp_path, "017")
    page = window.places.spot
    assert page.head.text() == "Station 1 of 3, candidate 17"
    assert page.clock.text() in ("1:00 left", "0:59 left", "0:58 left", "0:57 left")

    qtbot.keyClicks(focused(), "obturator")
    qtbot.keyClick(focused(), Key.Key_Return)
    assert page.head.text().startswith("Station 1"), "Return does not end a station"
    qtbot.keyClick(focused(), Key.Key_PageDown)
    settled(qtbot, window)
    assert page.head.text().startswith("Station 2")
    for silent in (page.verdict, page.why, page.cited):
        assert not silent.isVisible()
    assert not window.session.view.labels
    assert [g.response for g in given(tmp_path / "results-17.part")] == [Said("obturator")]

    for key in (Key.Key_PageDown, Key.Key_Return):
        window.statusBar().clearMessage()
        qtbot.keyClick(focused(), key)
        assert page.head.text().startswith("Station 2"), "not without an answer"
        assert window.statusBar().currentMessage() == NO_ANSWER
    qtbot.keyClick(focused(), Key.Key_3)
    qtbot.keyClick(focused(), Key.Key_Return)
    assert window.statusBar().currentMessage() == STANDS
    run_out(qtbot, window)
    assert page.head.text().startswith("Station 3"), "the clock goes on by itself and takes what stands"
    words = control(window).response
    assert isinstance(words, Arranged)
    assert words.words == paper.offered[2]
    run_out(qtbot, window)

    assert round_of(window).phase == "ended"
    rows = given(tmp_path / "results-17.json")
    assert [(g.item, g.response, g.right) for g in rows] == [
        ("name_femoral", Said("obturator"), False), ("quarter_l4_5", Quarter("III"), False),
        ("order_wall", words, False),
    ]  # fmt: skip
    assert all(0.0 <= g.seconds <= 60.0 for g in rows)
    assert not (tmp_path / "results-17.part").exists()
    assert str(tmp_path / "results-17.json") in told(window)
    assert "Known" not in " ".join(visible_words(window))
    assert not page.end.buttons
    femoral = window.session.body.structures["femoral_left"]  # type: ignore[union-attr]
    window.field.hand.hovered.emit(QPointF(window.field.rect().center()))
    window.field.hand.clicked.emit(QPointF(window.field.rect().center()))
    assert not giving_away(visible_words(window), femoral), "the next candidate may look on"
    assert not window.places.pages.isTabVisible(0)
    assert not window.actions_by_name["find_structure"].isEnabled()
    assert window.why_not("find_structure") == "not during a paper"
    qtbot.mouseClick(page.bar.leave, Left)
    settled(qtbot, window)
    assert window._round is None
    start = start_page(window)
    assert not giving_away(visible_words(window), femoral), "nor is there anything to study for the next one"
    qtbot.keyClicks(start.line, "17")
    qtbot.keyClick(start.line, Key.Key_Return)
    assert "has sat this paper" in start.says.text()
    assert start.isVisible()
    start.reject()
    settled(qtbot, window)
    assert window.session.scene == scene
    assert str(tmp_path / "results-17.json") in told(window)


def test_behind_the_start_page_nothing_can_be_studied(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path
) -> None:
    places, actions, body = window.places, window.actions_by_name, window.session.body
    assert body is not None
    window.pick("femoral_left")
    settled(qtbot, window)
    femoral, scene, history = body.structures["femoral_left"], window.session.scene, list(window.session.history.past)
    enabled = {name: action.isEnabled() for name, action in actions.items()}
    assert giving_away(visible_words(window), femoral), "it was there before"
    for again in (False, True):
        window.open_desk(paper, tmp_path, KEY)
        settled(qtbot, window)
        qtbot.waitUntil(lambda: not giving_away(visible_words(window), femoral), timeout=2_000)
        view = window.session.view
        assert {s.id for s in body.structures.values() if view.visibility(s) == "on"} == {"skin"}
        assert (view.portal, view.film, view.labels, window.field.named) == (None, None, False, [])
        for told_there in (places.readout, places.log, places.form, places.strip, places.card, places.spot.bar):
            assert not told_there.isVisible()
        free = {name for name, action in actions.items() if action.isEnabled()}
        assert free <= AT_DESK
        assert window.why_not("find_structure") == "not before the paper begins"
        window.field.hand.hovered.emit(QPointF(window.field.rect().center()))
        window.field.hand.clicked.emit(QPointF(window.field.rect().center()))
        window.undo()
        assert window.session.view == view
        window.statusBar().showMessage("New here?")
        window.keep_scene()
        assert window.settings.view() == replace(scene.view, highlighted=frozenset()), "the next start shows the body"
        if again:
            start_page(window).reject()
    settled(qtbot, window)
    assert (window.session.scene, window.session.history.past) == (scene, history)
    now = {name: action.isEnabled() for name, action in actions.items()}
    assert now == {**enabled, "sit_paper": True}, "all is as it was, and the start page can be opened again"
    assert places.readout.isVisible() or places.card.isVisible()
    assert places.form.isVisible()
    assert window.statusBar().currentMessage() == "", "no message lies over the specimen's name"


def test_who_does_not_know_leaves_a_station_open_and_goes_on(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    marked: list[object] = []
    for sort in (QuarterAnswer, OrderAnswer):
        monkeypatch.setattr(sort, "tell_right", lambda *_: marked.append(1))
    begun(qtbot, window, paper, tmp_path)
    page = window.places.spot
    assert page.bar.skip.text() == "I do not know"
    qtbot.keyClick(focused(), Key.Key_PageDown)
    assert window.statusBar().currentMessage() == NO_ANSWER
    qtbot.mouseClick(page.bar.skip, Left)
    settled(qtbot, window)
    assert page.head.text().startswith("Station 2")
    assert window.statusBar().currentMessage() == ""
    qtbot.keyClick(focused(), Key.Key_2)
    qtbot.keyClick(focused(), Key.Key_F7)
    settled(qtbot, window)
    assert page.head.text().startswith("Station 3")
    assert not page.verdict.isVisible()
    qtbot.keyClick(focused(), Key.Key_F7)
    settled(qtbot, window)
    assert round_of(window).phase == "ended"
    assert not page.bar.skip.isVisible()
    assert not marked, "what is right is never marked in a paper"
    assert [(g.response, g.right) for g in given(tmp_path / "results-17.json")] == [(Skipped(), False)] * 3


def test_a_station_that_nobody_answers_is_skipped_and_a_crash_loses_no_other(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path
) -> None:
    begun(qtbot, window, paper, tmp_path)
    run_out(qtbot, window)
    qtbot.keyClick(focused(), Key.Key_2)
    window._tick.stop()  # as if it were killed here
    window._sat = window._round = None
    window._before = None
    window.places.spot.forget()
    begun(qtbot, window, paper, tmp_path)
    assert window.places.spot.head.text() == "Station 2 of 3, candidate 17"
    assert control(window).response == Skipped(), "the answer of the station that was not over is asked anew"
    run_out(qtbot, window)
    run_out(qtbot, window)
    assert [g.response for g in given(tmp_path / "results-17.json")][:2] == [Skipped(), Skipped()]


def test_leaving_early_asks_once_and_writes_what_is_there(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = [QMessageBox.StandardButton.No, QMessageBox.StandardButton.Yes]
    asked: list[str] = []

    def question(_: object, __: str, words: str) -> QMessageBox.StandardButton:
        asked.append(words)
        return answers[len(asked) - 1]

    monkeypatch.setattr(QMessageBox, "question", staticmethod(question))
    begun(qtbot, window, paper, tmp_path)
    qtbot.keyClicks(focused(), "femoral")
    qtbot.keyClick(focused(), Key.Key_PageDown)
    settled(qtbot, window)
    qtbot.keyClick(focused(), Key.Key_4)
    assert not window.close()
    assert window.isVisible()
    assert round_of(window).phase == "asked"
    assert window.close()
    assert len(asked) == 2
    assert asked[0].startswith("1 of 3")
    assert [(g.response, g.right) for g in given(tmp_path / "results-17.json")] == [
        (Said("femoral"), True), (Quarter("IV"), False),
    ]  # fmt: skip


def test_results_that_cannot_be_written_are_asked_for_another_folder(
    qtbot: QtBot, window: MainWindow, paper: Paper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk, other = tmp_path / "desk", tmp_path / "other"
    desk.mkdir()
    other.mkdir()
    begun(qtbot, window, paper, desk)
    desk.rmdir()
    run_out(qtbot, window)
    assert str(desk) in told(window)
    assert "goes on" in told(window)
    run_out(qtbot, window)
    run_out(qtbot, window)
    assert round_of(window).phase == "ended"
    assert str(desk) in told(window)
    monkeypatch.setattr("viewer.doing.exam.QFileDialog.getExistingDirectory", staticmethod(lambda *_: ""))
    assert not window.may_close()
    monkeypatch.setattr("viewer.doing.exam.QFileDialog.getExistingDirectory", staticmethod(lambda *_: str(other)))
    assert window.may_close()
    assert len(given(other / "results-17.json")) == 3


def test_the_clock_is_told_in_minutes_and_seconds() -> None:
    assert [clock_words(s) for s in (90.0, 60.0, 59.2, 0.4, 0.0, -3.0)] == [
        "1:30 left", "1:00 left", "1:00 left", "0:01 left", "0:00 left", "0:00 left",
    ]  # fmt: skip
