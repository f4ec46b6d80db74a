"""The spot test in the window: by keys and by mouse, nothing given away, nothing lost, everything brought back."""

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtWidgets import QApplication, QDialog, QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from lessons.spot.item import Item, Named
from lessons.spot.record import open_record
from lessons.spot.response import Arranged, Clicked, Picked, Placed, Quarter, Response, Said, Segments, Skipped
from lessons.view import Placement, View
from meshes.body import Body
from tests.window.conftest import MainWindow, Make
from tests.window.hands import Key, Left, Mod, move, press
from tests.window.lessonhands import finder, told
from tests.window.spothands import (
    asked,
    bank,
    control,
    field_spot,
    giving_away,
    round_of,
    settled,
    visible_words,
)  # fmt: skip
from viewer.actions import ACTIONS
from viewer.cameras import Eye
from viewer.panels.spotanswers import ChoiceAnswer, QuarterAnswer, RootsAnswer
from viewer.panels.spotorder import OrderAnswer
from viewer.spotmode import ONLY_IN_SPOT, layers_stay


@pytest.fixture(autouse=True)
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The learner's record lies in the test's own folder."""
    path = tmp_path / "record.sqlite"
    monkeypatch.setenv("FURCAL_RECORD", str(path))
    return path


@pytest.fixture
def items(tmp_path: Path) -> dict[str, Item]:
    return bank(tmp_path)


def kept(path: Path) -> list[tuple[str, bool]]:
    """Items that were answered, and whether they were known, as they lie on the disk."""
    with open_record(path) as record:
        return [(answer.item, answer.right) for answer in record.answers()]


def eye_now(window: MainWindow) -> Eye:
    assert window.field.eye is not None
    return window.field.eye


def focused() -> QWidget:
    widget = QApplication.focusWidget()
    assert widget is not None
    return widget


def on(qtbot: QtBot, window: MainWindow, key: Qt.Key = Key.Key_Return) -> None:
    """Mark, or go on."""
    qtbot.keyClick(focused(), key)
    settled(qtbot, window)


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


# --- nothing gives it away


@pytest.mark.parametrize("name", ["name_femoral", "wire_femoral"])
@pytest.mark.parametrize("language", ["english", "latin"])
def test_while_it_is_asked_its_name_is_nowhere(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], name: str, language: str
) -> None:
    if language == "latin":
        window.toggle_latin()
    window.pick("femoral_left")
    window.show_first_steps()  # it names the nerve
    item, body = items[name], window.session.body
    assert body is not None
    assert isinstance(item.answer, Named)
    structure = body.structures[item.answer.mark]
    assert giving_away(visible_words(window), structure), "it was there before"
    asked(qtbot, window, [item])
    qtbot.wait_until(lambda: not giving_away(visible_words(window), structure), timeout=2_000)
    assert not window.field.named
    hand = window.field.hand
    for signal in (hand.hovered, hand.asked, hand.clicked):
        signal.emit(QPointF(field_spot(window, item.answer.mark)))
        settled(qtbot, window)
        assert not giving_away(visible_words(window), structure)
    assert not [d for d in window.findChildren(QDialog) if d.isVisible()]
    assert QApplication.activePopupWidget() is None
    window.places.film.picked.emit(item.answer.mark, 0.5)
    window.places.strip.parts_asked.emit("psoas", QPoint(10, 10))
    window.places.show_page("structure")
    settled(qtbot, window)
    assert window.places.page == "spot test"
    assert not giving_away(visible_words(window), structure)
    assert not [d for d in window.findChildren(QDialog) if d.isVisible()]
    window._take_answer(Skipped())
    settled(qtbot, window)
    assert giving_away(visible_words(window), structure), "now it is told"


def test_pages_and_actions_that_tell_are_put_away_with_a_reason_and_come_back(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    places, actions = window.places, window.actions_by_name
    before = {name: action.isEnabled() for name, action in actions.items()}
    assert not any(before[name] for name in ONLY_IN_SPOT)
    asked(qtbot, window, [items["name_femoral"]])
    assert [places.pages.tabText(i) for i in range(places.pages.count()) if places.pages.isTabVisible(i)] == [
        "Spot test"
    ]
    told: tuple[QWidget, ...] = (places.readout, places.log, places.form, places.specimen)
    for place in (*told, places.card):
        assert not place.isVisible()
    for name in ("find_structure", "toggle_labels", "show_patient", "walk_approach", "show_nerve_parts", "toggle_film",
                 "open_scene", "lie prone", "follow", "toggle_latin", "show_first_steps", "spot_test"):  # fmt: skip
        assert not actions[name].isEnabled(), name
    for name in ("see_from left", "lift 1", "toggle_dark", "close", "spot_skip"):
        assert actions[name].isEnabled(), name
    window.show_commands()
    hints = {row.payload: row.hint for row in finder(window).shown}
    assert hints["find_structure"] == "not while an item is asked"
    finder(window).reject()
    window.spot_skip()
    settled(qtbot, window)
    for name in ("find_structure", "toggle_labels", "show_patient"):
        assert actions[name].isEnabled(), name
    for name in ("lie prone", "open_course", "spot_skip"):
        assert not actions[name].isEnabled(), name
    window.spot_leave()
    settled(qtbot, window)
    assert {name: action.isEnabled() for name, action in actions.items()} == before
    assert window.why_not("spot_on") == "no spot test is going on"
    assert not places.pages.isTabVisible(5)
    for place in (*told, places.face):
        assert place.isVisible()
    assert {row.name for row in ACTIONS} >= set(ONLY_IN_SPOT)


def test_layers_are_kept_only_where_they_do_not_answer(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    lift, strip = window.actions_by_name["lift 1"], window.places.strip
    muscle = replace(items["name_femoral"], id="muscle", answer=Named("psoas_major_left"),
                     view=View(dissection="psoas"))  # fmt: skip
    asked(qtbot, window, [items["name_femoral"], items["order_wall"], muscle])
    for stays in (True, False, False):
        assert round_of(window).item is not None
        assert layers_stay(round_of(window).item, window.session.body) == stays  # type: ignore[arg-type]
        assert (lift.isEnabled(), strip.isVisible()) == (stays, stays)
        window.spot_skip()
        settled(qtbot, window)
        window.spot_on()
        settled(qtbot, window)


def test_what_a_portal_touches_is_not_told_before_it_is_marked(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    asked(qtbot, window, [items["dock_l3_4"]])
    docking, scene, face = window.session.docking, window.field.scene, window.places.face
    assert docking is not None
    assert scene is not None
    touched = {c.id for c in docking.nerves if c.touched}
    assert touched, "it begins on a nerve"

    def ringed() -> set[str]:
        assert scene is not None
        return {i for i, one in scene.looks.items() if one.ringed}

    assert not ringed()
    assert (face.names_shown, window.places.film.names_shown) == (False, False)
    form = window.places.form
    assert form.isVisible()
    assert not any(box.isEnabled() for box in (form.level, form.side, form.approach, form.docked))
    where = window.session.view.portal
    for other in (None, Placement(level="L1-2"), replace(where or Placement(), side="right")):
        form.placed.emit(other)
        assert window.session.view.portal is not None
        assert (window.session.view.portal.level, window.session.view.portal.side) == ("L3-4", "left")
    window._take_answer(control(window).response)
    settled(qtbot, window)
    assert ringed() >= {c.id for c in window.session.docking.nerves if c.touched}  # type: ignore[union-attr]
    assert (face.names_shown, window.places.film.names_shown) == (True, True)
    assert window.places.spot.isAncestorOf(face)
    window.spot_leave()
    assert not window.places.spot.isAncestorOf(face)
    assert form.level.isEnabled()


def test_a_portal_that_is_not_asked_for_cannot_be_moved(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    item = replace(items["quarter_l4_5"], view=replace(items["quarter_l4_5"].view, portal=Placement()))
    asked(qtbot, window, [item])
    view = window.session.view
    press(qtbot, window, Key.Key_Left, Mod.AltModifier)
    window._at_dragged(0.9)
    window._sized("radius", 1.0)
    window.place_portal(None)
    assert window.session.view == view


# --- what is right, in the control itself


def test_what_is_right_is_marked_in_the_control_by_a_sign_and_in_words(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    asked(qtbot, window, [items[name] for name in ("predict_femoral", "quarter_l4_5", "order_wall", "trace_obturator")])

    def marked(response: Response) -> None:
        control(window).give(response)
        on(qtbot, window)

    choice = control(window)
    assert isinstance(choice, ChoiceAnswer)
    right, wrong = "Front of the thigh and inner side of the leg", "Back of the thigh and outer side of the leg"
    marked(Picked(wrong))
    rows = {row.words: row for row in choice.rows}
    assert {words: row.says.text() for words, row in rows.items()} == {
        words: {right: "\u2713 ", wrong: "\u2717 "}.get(words, "") + words for words in choice.options
    }
    assert rows[right].button.accessibleName().endswith(f"{right}, right")
    assert rows[wrong].button.accessibleName().endswith(f"{wrong}, answered, not right")
    window.places.spot.enlarge(1.1)
    assert {words for words, row in rows.items() if row.says.font().bold()} == {right}
    on(qtbot, window)

    quarter = control(window)
    assert isinstance(quarter, QuarterAnswer)
    assert [b.text() for b in quarter.buttons.values()] == ["I", "II", "III", "IV"]
    marked(Quarter("II"))
    assert [b.text() for b in quarter.buttons.values()] == ["I", "\u2713 II", "III", "IV"]
    assert quarter.buttons["II"].accessibleName() == "Quarter II, right, and answered"
    on(qtbot, window)

    order = control(window)
    assert isinstance(order, OrderAnswer)
    marked(Arranged(("internal oblique", "external oblique", "transversus abdominis")))
    assert [order.list.item(i).text() for i in range(3)] == [
        "\u2717 1.  internal oblique (right: 2)", "\u2717 2.  external oblique (right: 1)",
        "\u2713 3.  transversus abdominis",
    ]  # fmt: skip
    heard = [order.list.item(i).data(Qt.ItemDataRole.AccessibleTextRole) for i in range(3)]
    assert heard[0] == "1: internal oblique, not right; its place is 2"
    assert heard[2] == "3: transversus abdominis, right"
    assert not order.list.selectedItems()
    light = order.list.palette().text().color()
    window.toggle_dark()
    settled(qtbot, window)
    dark = order.list.palette().text().color()
    assert dark.lightness() > light.lightness() + 40, "still to be read on a dark ground"
    window.toggle_dark()
    on(qtbot, window)

    roots = control(window)
    assert isinstance(roots, RootsAnswer)
    marked(Segments(("L1", "L2")))
    words = [box.text() for box in roots.boxes.values()]
    assert words == ["T11", "T12", "\u2717 L1", "\u2713 L2", "\u2713 L3", "\u2713 L4", "L5", "S1"]


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
    assert [row.text for row in choice.shown] == ["10 items", "20 items", "30 items", "All that is due today"]
    assert "due today: 2" in choice.line.accessibleName()
    qtbot.keyClick(choice.line, Key.Key_Return)
    settled(qtbot, window)
    assert {item.id for item in round_of(window).items} == set(items)
    window.spot_skip()
    settled(qtbot, window)
    assert round_of(window).phase == "explained"


# --- what can go wrong


def test_an_answer_that_cannot_be_written_is_told_once_and_the_test_goes_on(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path
) -> None:
    asked(qtbot, window, [items["quarter_l4_5"], items["predict_femoral"], items["name_femoral"]])
    connection = window.keeping.record._current()
    connection.execute("PRAGMA query_only = ON")  # nothing can be written
    window.spot_skip()
    settled(qtbot, window)
    assert str(record) in told(window)
    assert round_of(window).phase == "explained"
    window.spot_on()
    assert told(window) == ""
    window.spot_skip()
    settled(qtbot, window)
    assert told(window) == "", "it was told"
    assert kept(record) == []
    connection.execute("PRAGMA query_only = OFF")
    window.spot_on()
    window.spot_skip()
    settled(qtbot, window)
    assert [name for name, _ in kept(record)] == ["quarter_l4_5", "predict_femoral", "name_femoral"], "none is lost"


def test_a_record_that_is_damaged_while_it_is_open_is_set_aside_at_once(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path
) -> None:
    asked(qtbot, window, [items["quarter_l4_5"]])
    assert window.keeping.record.path == record
    record.unlink()
    record.write_bytes(b"no record" * 100)
    window.spot_skip()
    settled(qtbot, window)
    assert str(record) in told(window)
    assert kept(record) == [("quarter_l4_5", False)]


def test_a_record_that_cannot_be_read_is_set_aside_and_named(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record.write_bytes(b"no record" * 100)
    monkeypatch.setattr(window.keeping, "items", lambda: tuple(items.values()))
    monkeypatch.setattr(window.keeping, "prepare", lambda _: None)
    window.spot_test()
    finder(window).reject()
    assert str(record) in told(window)
    assert told(window).count(".") >= 1
    window.begin_spot(3)
    window.spot_skip()
    settled(qtbot, window)
    assert len(kept(record)) == 1


def test_an_item_that_the_body_lacks_is_left_out_and_named(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    lacks = replace(items["name_femoral"], id="lacks", answer=Named("accessory_obturator_left"))
    asked(qtbot, window, [lacks, items["quarter_l4_5"]])
    assert round_of(window).item == items["quarter_l4_5"]
    assert "accessory_obturator_left" in told(window)
    assert "left out" in told(window)


def test_an_item_of_another_body_waits_for_it_and_one_that_it_lacks_is_left_out(
    qtbot: QtBot, make: Make, items: dict[str, Item], larch: Body, alder: Body
) -> None:
    bodies = {larch.specimen: larch}
    window = make(load=lambda specimen, _: replace(bodies.get(specimen, alder), specimen=specimen))
    qtbot.waitUntil(lambda: window.session.docking is not None, timeout=60_000)
    variant = replace(
        items["name_femoral"], id="variant", specimen=larch.specimen, answer=Named("accessory_obturator_left"),
        view=replace(items["name_femoral"].view, hidden=frozenset()),
    )  # fmt: skip
    broken = replace(
        items["name_femoral"], id="broken", specimen=replace(larch.specimen, name="Yew"), answer=Named("not_there")
    )
    asked(qtbot, window, [variant, broken, items["quarter_l4_5"]])
    assert window.session.body is not None
    assert window.session.body.specimen == larch.specimen
    assert not any("Larch" in words for words in visible_words(window)), "a specimen's name may tell its variant"
    qtbot.keyClicks(focused(), "accessory obturator nerve")
    on(qtbot, window)
    assert round_of(window).last is not None
    assert not round_of(window).last.missed  # type: ignore[union-attr]
    on(qtbot, window)
    qtbot.waitUntil(lambda: round_of(window).item == items["quarter_l4_5"], timeout=10_000)
    settled(qtbot, window)
    assert "left out" in told(window)
    assert len(round_of(window).items) == 2


def test_an_open_lesson_is_closed_and_resumed_later(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], tmp_path: Path
) -> None:
    from tests.window.lessonhands import run_of, written

    window.open_lesson(written(tmp_path / "femoral.toml"))
    window.jump_to(2)
    asked(qtbot, window, [items["name_femoral"]])
    assert window._run is None
    assert window.windowTitle() == "Spot test - furcal"
    window.spot_leave()
    window.resume_lesson()
    assert run_of(window).index == 2
