"""Finding actions and structures by typing: the list, its keys, the mouse, and what is said of it."""

import pytest
from PySide6.QtCore import QEvent, QPoint
from PySide6.QtWidgets import QApplication, QDialog, QLabel, QScrollArea
from pytestqt.qtbot import QtBot

from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, press
from viewer.actions import ACTIONS, plain
from viewer.panels.dialogs import PLACES
from viewer.panels.finder import Finder, Row, at_word_starts, nearest

ROWS = [
    Row("From in front", "F", "front", lead="View"),
    Row("Front of the disc", "", "disc", lead="Portal"),
    Row("Undo", "nothing to undo", "undo", enabled=False, lead="Edit"),
]


def opened(window: MainWindow) -> Finder:
    """The finder that is open now."""
    return next(d for d in window.findChildren(Finder) if d.isVisible())


def gone(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.waitUntil(lambda: not [d for d in window.findChildren(QDialog) if d.isVisible()], timeout=5_000)


# --- what is found


def test_every_typed_word_starts_a_word_of_the_row() -> None:
    match = at_word_starts(ROWS)
    assert list(match("")) == ROWS
    assert [r.payload for r in match("fro")] == ["front", "disc"]
    assert [r.payload for r in match("front")] == ["disc", "front"], "a row that begins so comes first"
    assert [r.payload for r in match("FRONT view")] == ["front"]
    assert not match("ront")
    assert not match("front nowhere")


def test_the_nearest_rows_are_the_likest() -> None:
    assert nearest("udno", ROWS)[0].payload == "undo"
    assert {r.payload for r in nearest("frunt", ROWS)[:2]} == {"front", "disc"}


# --- the command list


def test_the_command_list_holds_every_action(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_K, Mod.ControlModifier)
    finder = opened(window)
    assert [row.payload for row in finder.shown] == [a.name for a in ACTIONS if a.name != "show_commands"]
    for row, action in zip(finder.shown, (a for a in ACTIONS if a.name != "show_commands"), strict=True):
        assert plain(action.says) in row.text
        assert row.lead == plain(action.menu)
        if row.enabled and action.keys:
            assert action.keys[0] in row.hint
        if not row.enabled:
            assert row.hint.startswith(("no", "nothing")), "a row that cannot be taken says why"
    assert [row.payload for row in finder.shown if not row.enabled][:2] == ["undo", "redo"]


def test_typing_narrows_and_return_does_it(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_K, Mod.ControlModifier)
    finder = opened(window)
    counts = [len(finder.shown)]
    for letter in "label":
        qtbot.keyClicks(finder.line, letter)
        counts.append(len(finder.shown))
    assert counts == sorted(counts, reverse=True)
    assert [row.payload for row in finder.shown] == ["toggle_labels"]
    labels = window.session.view.labels
    qtbot.keyClick(finder.line, Key.Key_Return)
    gone(qtbot, window)
    assert window.session.view.labels is not labels


def test_arrows_choose_while_the_line_keeps_the_focus(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_K, Mod.ControlModifier)
    finder = opened(window)
    qtbot.waitUntil(finder.line.hasFocus, timeout=5_000)
    qtbot.keyClicks(finder.line, "dock at")
    rows = finder.shown
    assert len(rows) > 3
    for key, place in ((Key.Key_Down, 1), (Key.Key_Down, 2), (Key.Key_Up, 1), (Key.Key_PageUp, 0), (Key.Key_Up, 0)):
        qtbot.keyClick(finder.line, key)
        assert finder.current == rows[place]
        assert finder.line.hasFocus()
        assert rows[place].said in finder.line.accessibleDescription()
    qtbot.keyClick(finder.line, Key.Key_PageDown)
    assert finder.current == rows[-1]
    qtbot.keyClick(finder.line, Key.Key_Return)
    assert window.session.view.portal is not None
    assert f"dock_at {window.session.view.portal.level}" == rows[-1].payload


def test_a_double_click_does_it_and_escape_does_nothing(qtbot: QtBot, window: MainWindow) -> None:
    before = window.session.view
    press(qtbot, window, Key.Key_K, Mod.ControlModifier)
    qtbot.keyClick(opened(window).line, Key.Key_Escape)
    gone(qtbot, window)
    assert window.session.view == before
    press(qtbot, window, Key.Key_K, Mod.ControlModifier)
    finder = opened(window)
    qtbot.keyClicks(finder.line, "behind")
    spot = finder.list.visualRect(finder.model.index(0, 0)).center()
    qtbot.mouseClick(finder.list.viewport(), Left, pos=spot)
    qtbot.mouseDClick(finder.list.viewport(), Left, pos=spot)
    gone(qtbot, window)
    assert window.session.view.camera.name == "back"


def test_what_cannot_be_done_says_why_and_stays(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_K, Mod.ControlModifier)
    finder = opened(window)
    qtbot.keyClicks(finder.line, "undo")
    qtbot.keyClick(finder.line, Key.Key_Return)
    assert finder.isVisible()
    assert "nothing to undo" in finder.note.text()


@pytest.mark.parametrize("typed", ["qqq", "dokc"])
def test_nothing_found_is_said_and_the_nearest_are_there(qtbot: QtBot, window: MainWindow, typed: str) -> None:
    press(qtbot, window, Key.Key_K, Mod.ControlModifier)
    finder = opened(window)
    qtbot.keyClicks(finder.line, typed)
    assert typed in finder.note.text()
    assert "nearest" in finder.note.text()
    assert 0 < len(finder.shown) < 10
    if typed == "dokc":
        assert any("dock" in row.text.lower() for row in finder.shown)


# --- structures


def test_a_structure_is_found_by_its_name_and_by_its_latin_name(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F, Mod.ControlModifier)
    finder = opened(window)
    body = window.session.body
    assert body is not None
    assert {row.payload for row in finder.shown} == set(body.structures)
    for words in ("nervus femoralis", "femoral nerve"):
        finder.line.clear()
        qtbot.keyClicks(finder.line, words)
        assert {"femoral_left", "femoral_right"} <= {row.payload for row in finder.shown}
    chosen = finder.current
    assert chosen is not None
    qtbot.keyClick(finder.line, Key.Key_Return)
    gone(qtbot, window)
    assert chosen.payload in window.session.view.highlighted


# --- sheets


def test_the_sheet_lists_every_key_and_what_the_mouse_does(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F1)
    sheet = next(d for d in window.findChildren(QDialog) if d.isVisible())
    words = [label.text() for label in sheet.findChildren(QLabel)]
    for action in ACTIONS:
        assert not action.keys or ", ".join(action.keys) in words
    for heading, rows in PLACES:
        assert heading in words
        assert {text for row in rows for text in row} <= set(words)
    assert sheet.width() <= window.screen().availableGeometry().width()
    assert sheet.height() <= window.screen().availableGeometry().height()
    scroll = sheet.findChildren(QScrollArea)[0]
    qtbot.waitUntil(scroll.hasFocus, timeout=5_000)
    start = scroll.verticalScrollBar().value()
    qtbot.keyClick(scroll, Key.Key_PageDown)
    assert scroll.verticalScrollBar().value() > start or scroll.verticalScrollBar().maximum() == 0
    qtbot.keyClick(scroll, Key.Key_Escape)
    gone(qtbot, window)


def test_the_first_steps_name_keys_that_do_what_they_say(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F1, Mod.ShiftModifier)
    sheet = next(d for d in window.findChildren(QDialog) if d.isVisible())
    words = " ".join(label.text() for label in sheet.findChildren(QLabel))
    assert "not for planning or guiding an operation" in words
    for key, name in (
        ("Ctrl+F", "find_structure"), ("Ctrl+5", "dock_at L4-5"), ("]", "lift 1"), ("Ctrl+Z", "undo"),
        ("P", "see_from portal"), ("Ctrl+K", "show_commands"), ("X", "switch_side"), ("S", "see_from side_lying"),
        ("H", "see_from home"), ("F", "see_from front"), ("G", "toggle_outermost_glassy"), ("F1", "show_keys"),
    ):  # fmt: skip
        assert key in words
        assert key in next(a.keys for a in ACTIONS if a.name == name)


def test_a_row_under_the_mouse_does_not_take_the_focus(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_K, Mod.ControlModifier)
    finder = opened(window)
    qtbot.waitUntil(finder.line.hasFocus, timeout=5_000)
    qtbot.mouseClick(finder.list.viewport(), Left, pos=QPoint(20, finder.list.sizeHintForRow(0) + 5))
    assert finder.line.hasFocus()
    assert finder.current == finder.shown[1]
    QApplication.sendPostedEvents(finder, QEvent.Type.DeferredDelete)
