"""While an item is asked nothing in the window tells it; once it is marked, its own control says what is right."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtWidgets import QApplication, QDialog, QWidget
from pytestqt.qtbot import QtBot

from lessons.spot.item import Item, Named
from lessons.spot.response import Arranged, Picked, Quarter, Response, Segments, Skipped
from lessons.view import Placement, View
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Mod, press
from tests.window.lessonhands import finder
from tests.window.spothands import (
    asked,
    control,
    field_spot,
    giving_away,
    on,
    round_of,
    settled,
    visible_words,
)
from viewer.actions import ACTIONS
from viewer.panels.spotanswers import ChoiceAnswer, QuarterAnswer, RootsAnswer
from viewer.panels.spotorder import OrderAnswer
from viewer.spotmode import ONLY_IN_SPOT, layers_stay


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
