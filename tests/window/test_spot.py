"""The spot test in the window: played by keys and by mouse, to its end, turned away and back, left as it was found."""

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QScrollArea
from pytestqt.qtbot import QtBot

from lessons.spot.item import Item
from lessons.spot.response import Arranged, Clicked, Picked, Placed, Quarter, Said, Segments, Skipped
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, move, press
from tests.window.lessonhands import finder
from tests.window.spothands import (
    asked,
    control,
    eye_now,
    field_spot,
    focused,
    kept,
    on,
    round_of,
    settled,
    visible_words,
)
from viewer.panels.spotanswers import ChoiceAnswer, QuarterAnswer, RootsAnswer
from viewer.panels.spotorder import OrderAnswer

# --- by keys, by mouse


def test_a_spot_test_is_played_by_keys(qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path) -> None:
    order = [
        "name_femoral", "point_lfcn", "trace_obturator", "order_wall", "predict_femoral", "quarter_l4_5", "dock_l3_4",
        "wire_femoral",
    ]  # fmt: skip
    asked(qtbot, window, [items[name] for name in order])
    page = window.places.spot

    assert page.head.text() == "Item 1 of 8"
    qtbot.keyClicks(focused(), "Femoral nerve")
    on(qtbot, window)
    assert page.verdict.text().startswith("Right")
    assert page.why.isVisible()
    assert window.session.view.highlighted == {"femoral_left"}
    on(qtbot, window, Key.Key_PageDown)

    assert page.head.text() == "Item 2 of 8"
    where, here = field_spot(window, "lateral_femoral_cutaneous_left", 0.6), window.field.rect().center()
    for key, steps in (
        (Key.Key_Right if where.x() > here.x() else Key.Key_Left, abs(where.x() - here.x()) / 6.0),
        (Key.Key_Down if where.y() > here.y() else Key.Key_Up, abs(where.y() - here.y()) / 6.0),
    ):
        for _ in range(round(steps)):
            qtbot.keyClick(window.field, key)
    qtbot.keyClick(window.field, key)  # the first press only brought it
    qtbot.keyClick(window.field, Key.Key_Space)
    assert isinstance(control(window).response, Clicked)
    on(qtbot, window)
    on(qtbot, window)

    qtbot.keyClick(focused(), Key.Key_Right)  # T12
    qtbot.keyClick(focused(), Key.Key_Right)  # L1
    for _ in range(3):
        qtbot.keyClick(focused(), Key.Key_Right)
        qtbot.keyClick(focused(), Key.Key_Space)
    on(qtbot, window)
    on(qtbot, window)

    words = control(window)
    assert isinstance(words, OrderAnswer)
    assert words.list.words == ("internal oblique", "external oblique", "transversus abdominis")
    qtbot.keyClick(focused(), Key.Key_Down, Mod.AltModifier)
    on(qtbot, window)
    on(qtbot, window)

    choice = control(window)
    assert isinstance(choice, ChoiceAnswer)
    right = 1 + choice.options.index("Front of the thigh and inner side of the leg")
    qtbot.keyClick(focused(), Qt.Key(Key.Key_0 + right))
    on(qtbot, window)
    on(qtbot, window)

    qtbot.keyClick(focused(), Key.Key_4)
    qtbot.keyClick(focused(), Key.Key_2)
    on(qtbot, window)
    on(qtbot, window)

    before = window.session.view.portal
    qtbot.keyClick(window.field, Key.Key_Left, Mod.AltModifier)
    assert window.session.view.portal != before
    on(qtbot, window)
    on(qtbot, window)

    qtbot.keyClick(window, Key.Key_F7)
    settled(qtbot, window)
    on(qtbot, window, Key.Key_PageDown)

    now = round_of(window)
    assert now.phase == "ended"
    assert [type(a.response) for a in now.done] == [
        Said, Clicked, Segments, Arranged, Picked, Quarter, Placed, Skipped,
    ]  # fmt: skip
    assert [a.missed for a in now.done[:6]] == [False] * 6
    assert now.done[-1].missed
    assert all(a.seconds > 0.0 for a in now.done)
    assert kept(record) == [(a.item.id, not a.missed) for a in now.done]
    assert page.end.isVisible()
    assert len(page.end.buttons) == len(now.missed)


def test_a_spot_test_is_played_by_mouse(qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path) -> None:
    order = ["name_femoral", "point_lfcn", "trace_obturator", "order_wall", "predict_femoral", "quarter_l4_5"]
    asked(qtbot, window, [items[name] for name in [*order, "dock_l3_4"]])
    page = window.places.spot

    def press_on() -> None:
        qtbot.mouseClick(page.bar.on, Left)
        settled(qtbot, window)

    qtbot.mouseClick(page.bar.skip, Left)
    settled(qtbot, window)
    assert page.verdict.text().startswith("Not right")
    press_on()

    qtbot.mouseClick(window.field, Left, pos=QPoint(5, 5))
    assert control(window).response == Skipped(), "there is nothing in the corner"
    press_on()
    assert round_of(window).phase == "asked", "nothing is answered yet"
    assert "Nothing is answered" in window.statusBar().currentMessage()
    first = field_spot(window, "femoral_left", 0.7)
    qtbot.mouseClick(window.field, Left, pos=first)
    wrong = control(window).response
    assert isinstance(wrong, Clicked)
    assert wrong.structure != "lateral_femoral_cutaneous_left"
    qtbot.mouseClick(window.field, Left, pos=field_spot(window, "lateral_femoral_cutaneous_left", 0.6))
    taken = control(window).response
    assert isinstance(taken, Clicked)
    assert taken.structure == "lateral_femoral_cutaneous_left"
    assert window.field._point == pytest.approx(taken.point_mm)
    press_on()
    assert page.verdict.text().startswith("Right")
    assert window.field._point == pytest.approx(taken.point_mm), "the ring stays beside what was asked for"
    press_on()

    roots = control(window)
    assert isinstance(roots, RootsAnswer)
    for name in ("L2", "L3", "L4"):
        qtbot.mouseClick(roots.boxes[name], Left, pos=QPoint(8, roots.boxes[name].height() // 2))
    press_on()
    assert page.verdict.text().startswith("Right")
    press_on()

    words = control(window)
    assert isinstance(words, OrderAnswer)
    qtbot.mouseClick(words.down, Left)
    press_on()
    assert page.verdict.text().startswith("Right")
    press_on()

    choice = control(window)
    assert isinstance(choice, ChoiceAnswer)
    row = next(r for r in choice.rows if r.words.startswith("Front of the thigh"))
    qtbot.mouseClick(row.says, Left)
    press_on()
    assert page.verdict.text().startswith("Right")
    press_on()

    quarter = control(window)
    assert isinstance(quarter, QuarterAnswer)
    qtbot.mouseClick(quarter.buttons["II"], Left, pos=QPoint(8, quarter.buttons["II"].height() // 2))
    press_on()
    assert page.verdict.text().startswith("Right")
    press_on()

    face = window.places.face
    assert page.isAncestorOf(face)
    assert face.isVisible()
    circle = face.point(face._face.centre).toPoint()  # type: ignore[union-attr]
    qtbot.mousePress(face, Left, pos=circle)
    for step in range(1, 6):
        move(face, circle - QPoint(12 * step, 0), Left)
    qtbot.mouseRelease(face, Left, pos=circle - QPoint(60, 0))
    qtbot.waitUntil(lambda: not window._still.isActive(), timeout=5_000)
    placed = window.session.view.portal
    assert placed is not None
    assert placed.at > 0.3
    assert control(window).response == Placed(placed)
    press_on()
    assert window.session.view.portal == placed, "explained where it was placed"
    assert len(kept(record)) == 7


def test_words_are_dragged_into_order(qtbot: QtBot, window: MainWindow, items: dict[str, Item]) -> None:
    asked(qtbot, window, [items["order_wall"]])
    words = control(window)
    assert isinstance(words, OrderAnswer)
    before = words.list.words
    model = words.list.model()
    assert model.moveRow(model.index(0, 0).parent(), 0, model.index(0, 0).parent(), 3)  # as a drop does
    assert words.list.words == (*before[1:], before[0])
    assert [words.list.item(i).text()[0] for i in range(3)] == ["1", "2", "3"]
    assert words.response == Arranged((*before[1:], before[0]))


# --- turning away and back


def test_backspace_brings_the_view_back_exactly_and_undo_stays_within_the_item(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    asked(qtbot, window, [items["quarter_l4_5"], items["predict_femoral"]])
    window.spot_skip()
    settled(qtbot, window)
    window.spot_on()
    settled(qtbot, window)
    view, eye, page = window.session.view, eye_now(window), window.places.spot
    assert not page.bar.back.isEnabled()
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
    assert window.session.view == view, "no undo across items"
    press(qtbot, window, Key.Key_Left)
    press(qtbot, window, Key.Key_BracketRight)
    press(qtbot, window, Key.Key_Minus)
    assert window.session.view != view
    assert page.bar.back.isEnabled()
    press(qtbot, window, Key.Key_Backspace)
    settled(qtbot, window)
    assert window.session.view == view
    assert eye_now(window).is_close(eye)
    press(qtbot, window, Key.Key_B)
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
    assert window.session.view == view
    for _ in range(9):
        press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
        assert round_of(window).item == items["predict_femoral"]
    qtbot.mouseClick(page.bar.back, Left)
    assert window.session.view == view


def test_who_turns_the_body_by_hand_goes_on_typing(qtbot: QtBot, window: MainWindow, items: dict[str, Item]) -> None:
    asked(qtbot, window, [items["name_femoral"]])
    camera = window.session.view.camera
    qtbot.keyClicks(focused(), "fem")
    qtbot.mousePress(window.field, Left, pos=QPoint(300, 300))
    for x in range(310, 400, 10):
        qtbot.mouseMove(window.field, QPoint(x, 320))
    qtbot.mouseRelease(window.field, Left, pos=QPoint(400, 320))
    assert window.session.view.camera != camera
    qtbot.keyClicks(focused(), "oral")
    assert control(window).response == Said("femoral")


# --- leaving, the end


@pytest.mark.parametrize("explained", [False, True])
def test_leaving_asks_nothing_loses_nothing_and_brings_everything_back(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path, explained: bool
) -> None:
    press(qtbot, window, Key.Key_B)
    window.pick("obturator_left")
    settled(qtbot, window)
    scene, past, page = window.session.scene, list(window.session.history.past), window.places.page
    title, eye = window.windowTitle(), eye_now(window)
    asked(qtbot, window, [items["name_femoral"], items["wire_femoral"]])
    qtbot.keyClicks(focused(), "obturator")
    on(qtbot, window)
    if not explained:
        on(qtbot, window)
    assert kept(record) == [("name_femoral", False)]
    window.keep_scene()
    assert window.settings.view() == replace(scene.view, highlighted=frozenset()), "an item never comes back"
    qtbot.mouseClick(window.places.spot.bar.leave, Left)
    settled(qtbot, window)
    assert window._round is None
    assert window.session.scene == scene
    assert window.session.history.past == past
    assert (window.places.page, window.windowTitle()) == (page, title)
    assert eye_now(window).is_close(eye)
    assert kept(record) == [("name_femoral", False)]
    assert window.field.isVisible()
    press(qtbot, window, Key.Key_Left)
    assert window.session.view != scene.view, "arrows turn the body again"


def test_the_end_tells_what_was_missed_and_shows_each_again(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    asked(qtbot, window, [items["predict_femoral"], items["name_femoral"], items["quarter_l4_5"]])
    qtbot.keyClick(focused(), Key.Key_F7)
    on(qtbot, window)
    qtbot.keyClicks(focused(), "nervus femoralis")
    on(qtbot, window)
    on(qtbot, window)
    qtbot.keyClick(focused(), Key.Key_3)
    on(qtbot, window)
    on(qtbot, window)
    page = window.places.spot
    words = " ".join(visible_words(window))
    assert "Known: 1 of 3" in words
    assert "What a patient loses: 0 of 1" in words
    assert "Where a nerve runs and what it passes: 1 of 1" in words
    assert [b.accessibleName() for b in page.end.buttons] == [
        f"See again: {items[name].ask}" for name in ("predict_femoral", "quarter_l4_5")
    ]
    scroll = window.places.pages.currentWidget()
    assert isinstance(scroll, QScrollArea)
    whole = scroll.widget()
    assert whole is not None
    assert whole.width() <= scroll.viewport().width(), "nothing is cut at the right"
    assert page.end.buttons[0].text().startswith("Which skin is numb, by the")
    qtbot.mouseClick(page.end.buttons[1], Left)
    settled(qtbot, window)
    assert page.head.text() == "Missed item 2 of 2"
    assert page.why.isVisible()
    assert window.session.view.camera.name == "left"
    on(qtbot, window)
    assert round_of(window).phase == "ended"
    qtbot.mouseClick(page.end.buttons[0], Left)
    settled(qtbot, window)
    assert window.session.view.camera.name == "front"


def test_what_is_due_is_told_and_asked_first(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(window.keeping, "items", lambda: tuple(items.values()))
    monkeypatch.setattr(window.keeping, "prepare", lambda _: None)
    monkeypatch.setattr(window.keeping, "due", lambda: 2)
    press(qtbot, window, Key.Key_T, Mod.ControlModifier | Mod.ShiftModifier)
    choice = finder(window)
    assert [row.text for row in choice.shown] == [
        "10 items", "20 items", "30 items", "All that is due today", "Open a bank file...",
    ]  # fmt: skip
    assert "due today: 2" in choice.line.accessibleName()
    qtbot.keyClick(choice.line, Key.Key_Return)
    settled(qtbot, window)
    assert {item.id for item in round_of(window).items} == set(items)
    window.spot_skip()
    settled(qtbot, window)
    assert round_of(window).phase == "explained"
