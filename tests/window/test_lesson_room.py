"""What a room and a speaker need: blank, pointer, own pictures, only the pictures, the speaker's window, its clock."""

from datetime import datetime
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QPushButton, QToolBar, QWidget
from pytestqt.qtbot import QtBot

from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, colour_at, move, press
from tests.window.lessonhands import HEAD, STEPS, on_step, read, run_of, written
from viewer.panels.speaker import SpeakerWindow

PICTURE = '\n[[steps]]\nid = "own"\ntitle = "Own"\npicture = "red.png"\npicture_says = "Only red."\n'


@pytest.fixture
def lesson(window: MainWindow, tmp_path: Path) -> Path:
    Image.new("RGB", (400, 200), (200, 10, 10)).save(tmp_path / "red.png")
    path = written(tmp_path / "femoral.toml", HEAD + STEPS + PICTURE)
    window.open_lesson(path)
    return path


def middle(widget: QWidget) -> QPoint:
    return QPoint(widget.width() // 2, widget.height() // 2)


def speaker_of(window: MainWindow) -> SpeakerWindow:
    assert window._speaker is not None
    return window._speaker


# --- the room


def test_blank_shows_nothing_and_any_step_brings_the_picture_back(
    qtbot: QtBot, window: MainWindow, lesson: Path
) -> None:
    blank = window._blank
    for key in (Key.Key_PageDown, Key.Key_PageUp, Key.Key_Period, Key.Key_Space):
        press(qtbot, window, Key.Key_Period)
        assert blank.isVisible()
        assert blank.geometry() == window.places.rect()
        assert colour_at(window.places.grab().toImage(), middle(window.places)) == [0, 0, 0]
        assert window.actions_by_name["toggle_blank"].isChecked()
        press(qtbot, window, key)
        assert not blank.isVisible()
        assert on_step(window, 0)
    press(qtbot, window, Key.Key_Minus)
    press(qtbot, window, Key.Key_Period)
    press(qtbot, window, Key.Key_PageDown)
    assert not blank.isVisible()
    assert run_of(window).left, "it only brings back what was seen"
    press(qtbot, window, Key.Key_Period)
    window.end_lesson()
    assert not blank.isVisible()


def test_a_picture_of_the_lessons_own_stands_in_place_of_the_body(
    qtbot: QtBot, window: MainWindow, lesson: Path
) -> None:
    board, pictures = window._board, window.places.pictures
    assert not board.isVisible()
    field = window.field.geometry()
    window.jump_to(5)
    assert board.isVisible()
    assert board.mapToGlobal(QPoint(0, 0)) == pictures.mapToGlobal(QPoint(0, 0))
    assert board.size() == pictures.size()
    assert board.accessibleName() == "Only red."
    assert colour_at(board.grab().toImage(), middle(board)) == [200, 10, 10]
    assert window.field.geometry() == field, "the body keeps its place below"
    window.resize(window.width() - 100, window.height() - 50)
    qtbot.waitUntil(lambda: board.size() == pictures.size(), timeout=10_000)
    press(qtbot, window, Key.Key_Left, Mod.ShiftModifier)
    assert not board.isVisible(), "who leaves the script sees the body"
    press(qtbot, window, Key.Key_Backspace)
    assert board.isVisible()
    press(qtbot, window, Key.Key_PageUp)
    assert not board.isVisible()
    window.jump_to(5)
    window.end_lesson()
    assert not board.isVisible()


def test_a_ring_goes_with_the_mouse_over_field_film_and_picture(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    ring = window._pointer
    press(qtbot, window, Key.Key_Z)
    assert ring.isVisible()
    for index, widget in ((0, window.field), (3, window.places.film), (5, window._board)):
        window.jump_to(index)
        move(widget, QPoint(50, 60))
        assert ring._at.toPoint() == widget.mapTo(window.places, QPoint(50, 60))
        assert ring.geometry() == window.places.rect()
    window.jump_to(0)
    qtbot.mousePress(window.field, Left, pos=QPoint(300, 300))
    for x in range(310, 400, 10):
        qtbot.mouseMove(window.field, QPoint(x, 300))
    qtbot.mouseRelease(window.field, Left, pos=QPoint(400, 300))
    assert run_of(window).left, "it takes nothing from what lies below"
    press(qtbot, window, Key.Key_Z)
    assert not ring.isVisible()


def test_for_the_room_the_bars_go_and_come_back(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    bars = [*window.findChildren(QToolBar), window.places.strip, window.places.log]
    assert all(bar.isVisible() for bar in bars)
    high = window.places.pictures.height()
    press(qtbot, window, Key.Key_F11, Mod.ShiftModifier)
    assert not [bar for bar in bars if bar.isVisible()]
    assert window.places.lesson.isVisible()
    qtbot.waitUntil(lambda: window.places.pictures.height() > high, timeout=10_000)
    assert window.actions_by_name["toggle_for_room"].isChecked()
    press(qtbot, window, Key.Key_PageDown)
    assert on_step(window, 1)
    press(qtbot, window, Key.Key_F11, Mod.ShiftModifier)
    assert all(bar.isVisible() for bar in bars)


# --- the speaker


def test_the_speakers_window_follows_and_leads(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    press(qtbot, window, Key.Key_F6)
    speaker = speaker_of(window)
    assert speaker.isVisible()
    assert window.actions_by_name["toggle_speaker"].isChecked()
    assert read(speaker.title) == "Where's it & why <i>there</i>?"
    assert read(speaker.place) == "Bone & nerve: where's <b>it</b>?: step 1 of 6"
    assert "Point at <u>the groove</u> & wait." in read(speaker.notes)
    assert read(speaker.next_title) == "A question"
    assert "Look from the side." in read(speaker.next_words)
    buttons = {button.text(): button for button in speaker.findChildren(QPushButton)}
    qtbot.mouseClick(buttons["Next"], Left)
    assert on_step(window, 1)
    assert "The femoral nerve" in read(speaker.notes), "the speaker knows the answer"
    assert "held back" in read(speaker.state)
    qtbot.mouseClick(buttons["Next"], Left)
    assert run_of(window).revealed
    assert read(speaker.state) == ""
    qtbot.mouseClick(buttons["Back"], Left)
    assert on_step(window, 0)
    qtbot.mouseClick(buttons["Blank"], Left)
    assert window._blank.isVisible()
    assert "sees nothing" in read(speaker.state)
    qtbot.mouseClick(buttons["Blank"], Left)
    press(qtbot, window, Key.Key_Minus)
    assert "left the script" in read(speaker.state)
    qtbot.mouseClick(buttons["Back to the step"], Left)
    assert on_step(window, 0)
    item = speaker.list.item(4)
    qtbot.mouseClick(speaker.list.viewport(), Left, pos=speaker.list.visualItemRect(item).center())
    assert on_step(window, 4)
    assert speaker.list.currentRow() == 4
    window.jump_to(5)
    assert read(speaker.next_title) == "The lesson ends here."
    assert speaker.list.currentRow() == 5


def test_its_keys_step_and_closing_it_is_known(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    window.toggle_speaker()
    speaker = speaker_of(window)
    with qtbot.waitActive(speaker, timeout=10_000):
        speaker.activateWindow()
    for key, to in ((Key.Key_PageDown, 1), (Key.Key_Up, 0), (Key.Key_Space, 1), (Key.Key_Left, 0)):
        qtbot.keyClick(speaker, key)
        assert on_step(window, to), key
    qtbot.keyClick(speaker, Key.Key_Period)
    assert run_of(window).blank
    speaker.close()
    assert window._speaker is None
    assert not window.actions_by_name["toggle_speaker"].isChecked()
    window.toggle_speaker()
    again = speaker_of(window)
    assert again is not speaker
    window.end_lesson()
    assert window._speaker is None


def test_the_clock_tells_the_time_and_how_much_of_it_is_gone(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    window.toggle_speaker()
    speaker = speaker_of(window)
    before = datetime.now()
    speaker._tell_time()
    now, gone, _, whole = speaker.clock.text().split()
    assert now in (f"{before:%H:%M}", f"{datetime.now():%H:%M}")
    assert whole == "5:00"
    qtbot.waitUntil(lambda: speaker.clock.text().split()[1] > gone, timeout=20_000)
    window.jump_to(3)
    assert speaker.clock.text().split()[1] > gone, "a step does not set it back"
