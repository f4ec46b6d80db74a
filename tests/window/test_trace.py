"""Picking, tracing, asking what crosses, measuring; by mouse and by keyboard."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QMenu
from pytestqt.qtbot import QtBot

from lessons.view import Camera
from meshes.branches import roots_of
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, at_rest, press
from viewer.cameras import projected


def front(window: MainWindow, **changes: object) -> None:
    view = replace(window.session.view, camera=Camera("front"), portal=None, **changes)  # type: ignore[arg-type]
    window.session.change(view)
    window.field.stand_still()


def seen(window: MainWindow, structure_id: str, share: float = 0.5) -> QPoint:
    """Where a place along a structure is seen."""
    body, field = window.session.body, window.field
    assert body is not None
    assert field.eye is not None
    line = body.centrelines[structure_id]
    x, y = projected(line.at(share * line.length)[None], field.eye, (field.width(), field.height()))[0]
    return QPoint(round(x), round(y))


def picked(window: MainWindow) -> str:
    """Id of what is traced, empty for nothing."""
    traced = window._traced
    return traced.id if traced is not None else ""


def point(window: MainWindow) -> np.ndarray:
    assert window._picked is not None
    return window._picked.point_mm


def test_a_click_names_a_nerve_lights_its_roots_and_dims_the_rest(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    qtbot.mouseClick(window.field, Left, pos=seen(window, "femoral_left", 0.9))
    assert picked(window) == "femoral_left"
    body, scene = window.session.body, window.field.scene
    assert body is not None
    assert scene is not None
    lit = set(roots_of("femoral_left", body.structures))
    assert window.session.view.highlighted == lit
    assert {"l2_root_left", "l3_ramus_left", "l4_ramus_left", "femoral_left"} <= lit
    assert {i for i, look in scene.looks.items() if look.ringed} == lit & set(scene.looks)
    card = window.places.card
    assert window.places.page == "structure"
    assert card.title.text() == "Femoral nerve, left"
    assert card.latin.text() == "nervus femoralis"
    assert "L2, L3, L4" in card.facts.text()
    assert "psoas" in card.course.text()
    card.sources_button.click()
    assert card.sources.isVisible()
    assert len(card.sources.text()) > 20
    qtbot.mouseClick(window.field, Left, pos=QPoint(12, 12))
    assert picked(window) == ""
    assert window.session.view.highlighted == frozenset()


def test_a_click_that_drags_is_no_click(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    start = seen(window, "femoral_left", 0.9)
    qtbot.mousePress(window.field, Left, pos=start)
    qtbot.mouseMove(window.field, start + QPoint(30, 0))
    qtbot.mouseRelease(window.field, Left, pos=start + QPoint(30, 0))
    assert picked(window) == ""


def test_find_by_typing_and_trace_by_key(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_Home, Mod.ControlModifier)
    window.dissect_to(0)
    window._found("femoral_left")
    assert window.session.view.dissection != "skin"
    assert window.field.scene is not None
    assert "femoral_left" in window.field.scene.looks
    assert picked(window) == "femoral_left"
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
    assert window.session.view.dissection == "skin"
    assert picked(window) == ""


def test_the_trace_carries_the_eye_from_the_root_to_the_end_and_stays_there(
    qtbot: QtBot, window: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("viewer.flight.FOLLOW_LEAST_S", 1.5)
    monkeypatch.setattr("viewer.flight.FOLLOW_S_PER_M", 1.0)
    front(window)
    window.pick("obturator_left")
    steps = len(window.session.history.past)
    way = window._known_of("obturator_left").way
    seen_at = []
    window.field.followed.connect(lambda share: seen_at.append((share, window.field.eye, window.field._point_words)))
    window.field.animated = True
    press(qtbot, window, Key.Key_Return)
    qtbot.waitUntil(lambda: bool(seen_at) and seen_at[-1][0] == 1.0 and window.field._way is None, timeout=30_000)
    assert window.field.eye is not None
    assert window.field.eye.focus == pytest.approx(way[-1], abs=1e-6)
    middle = [eye for share, eye, _ in seen_at if 0.1 < share < 0.95]
    assert middle
    for eye in middle:
        assert eye is not None
        assert np.linalg.norm(way - eye.focus, axis=1).min() < 5.0
    told = [words for _, _, words in seen_at]
    assert any("inside psoas major" in words for words in told)
    assert told[-1].startswith("Obturator nerve")
    assert np.linalg.norm(point(window) - way[-1]) < 5.0
    assert window.session.view.camera.name == "free"
    assert len(window.session.history.past) == steps + 1
    window.undo()
    assert window.session.view.camera.name == "front"


def test_a_trace_stops_where_return_is_pressed_and_goes_on_from_there(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    window.pick("femoral_left")
    window.field.animated = True
    shares: list[float] = []
    window.field.followed.connect(shares.append)
    press(qtbot, window, Key.Key_Return)
    qtbot.waitUntil(lambda: bool(shares) and shares[-1] > 0.05, timeout=30_000)
    press(qtbot, window, Key.Key_Return)
    assert not window.field.is_following
    stopped = shares[-1]
    shares.clear()
    press(qtbot, window, Key.Key_Return)
    qtbot.waitUntil(lambda: bool(shares), timeout=10_000)
    assert shares[0] >= stopped
    press(qtbot, window, Key.Key_Escape)
    assert not window.field.is_following


def test_a_trace_is_cut_short_by_any_gesture(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    window.pick("femoral_left")
    window.field.animated = True
    press(qtbot, window, Key.Key_Return)
    qtbot.waitUntil(lambda: window.field._way is None or window.field.eye.half_height_mm < 150.0, timeout=10_000)  # type: ignore[union-attr]
    press(qtbot, window, Key.Key_Left)
    assert window.field._way is None
    assert window.session.view.camera.name == "free"


def test_a_bone_has_no_way_and_nothing_traced_says_so(qtbot: QtBot, window: MainWindow) -> None:
    window.pick("l4")
    assert not window.places.card.follow.isVisible()
    window.follow_guarded = window.guarded(window.follow)  # type: ignore[attr-defined]
    window.follow_guarded()  # type: ignore[attr-defined]
    assert "has no way to follow" in window.places.message.words.text()
    window.end_trace()
    assert not window.actions_by_name["follow"].isEnabled()


def test_what_crosses_here_lists_neighbours_within_ten_millimetres(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    window.pick("femoral_left")
    window.places.card.place.setValue(150)
    press(qtbot, window, Key.Key_C)
    near = window._near
    assert near
    beyond = [n for n in near if n.distance_mm > 10.0]
    assert len(beyond) == 3
    assert {n.structure.kind for n in beyond} <= {"nerve", "vessel", "viscus"}
    card = window.places.card
    rows = [card.near.item(i).text() for i in range(card.near.count())]
    assert len(rows) == len(near)
    assert any("psoas major" in row for row in rows)
    assert all(
        any(way in row for way in ("medial", "lateral", "front", "behind", "above", "below")) for row in rows[-3:]
    )
    assert not any(row.startswith("femoral nerve, left") for row in rows)
    card.place.setValue(card.place.maximum())
    assert window.session.body is not None
    end = window.session.body.centrelines["femoral_left"].points[-1]
    assert np.linalg.norm(point(window) - end) < 1.0
    assert {n.structure.id for n in window._near or []} != {n.structure.id for n in near}
    near_ids = [n.structure.id for n in window._near or []]
    card.near.itemActivated.emit(card.near.item(0))
    assert picked(window) == near_ids[0]


def test_two_picked_points_are_measured_in_mm_and_it_is_undone(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    qtbot.mouseClick(window.field, Left, pos=seen(window, "femoral_left", 0.9))
    a = point(window)
    press(qtbot, window, Key.Key_M)
    qtbot.mouseClick(window.field, Left, pos=seen(window, "femoral_right", 0.9))
    b = point(window)
    span = window.session.view.measured
    assert np.array(span) == pytest.approx(np.array([a, b]))
    said = window.statusBar().currentMessage()
    assert (
        f"{np.linalg.norm(b - a):.1f} mm in a straight line, femoral nerve, left to femoral nerve, right."
        in said.replace("Femoral", "femoral")
    )
    at_rest(qtbot, window)
    press(qtbot, window, Key.Key_M, Mod.ShiftModifier)
    assert window.session.view.measured == ()
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
    assert window.session.view.measured == span


def test_escape_leaves_a_measure_that_was_begun(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    window.pick("femoral_left")
    press(qtbot, window, Key.Key_M)
    assert "Measuring" in window.statusBar().currentMessage()
    press(qtbot, window, Key.Key_Escape)
    window.pick("l4")
    assert window.session.view.measured == ()


def test_a_right_click_offers_what_can_be_done_with_a_structure(qtbot: QtBot, window: MainWindow) -> None:
    from PySide6.QtCore import Qt

    front(window)
    qtbot.mouseClick(window.field, Qt.MouseButton.RightButton, pos=seen(window, "femoral_left", 0.9))
    menus = [m for m in window.findChildren(QMenu) if m.isVisible()]
    assert len(menus) == 1
    words = {a.text(): a for a in menus[0].actions()}
    assert "Femoral nerve, left" in words
    words["Hide it"].trigger()
    menus[0].close()
    assert "femoral_left" in window.session.view.hidden
    window.pick("femoral_left")
    assert "femoral_left" not in window.session.view.hidden


def test_what_is_under_the_mouse_is_named_in_the_status_line(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    qtbot.mouseMove(window.field, QPoint(5, 5))
    qtbot.mouseMove(window.field, seen(window, "femoral_left", 0.9))
    qtbot.waitUntil(lambda: window.places.hover.text() == "Femoral nerve, left", timeout=5_000)
    qtbot.mouseMove(window.field, QPoint(8, 8))
    qtbot.waitUntil(lambda: window.places.hover.text() == "", timeout=5_000)


def test_the_bodies_of_the_vertebrae_are_lifted_by_key(qtbot: QtBot, window: MainWindow) -> None:
    def lifted() -> bool:
        return window.session.view.bodies_lifted and window.actions_by_name["toggle_bodies"].isChecked()

    states = [lifted()]
    press(qtbot, window, Key.Key_V)
    states.append(lifted())
    front(window)
    qtbot.mouseClick(window.field, Left, pos=seen(window, "dural_sac", 0.6))
    assert picked(window) == "dural_sac"
    press(qtbot, window, Key.Key_Escape)
    press(qtbot, window, Key.Key_V)
    assert [*states, lifted()] == [False, True, False]


def test_latin_names_are_one_key_away(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_N)
    assert window.session.view.language == "latin"
    press(qtbot, window, Key.Key_N)
    assert window.session.view.language == "english"


def test_the_places_along_the_way_are_told_apart_in_the_field(qtbot: QtBot, window: MainWindow) -> None:
    front(window)
    window.pick("femoral_left")
    assert window.field.scene is not None
    name, edges = window.field.scene._stretched
    assert name == "femoral_left"
    assert len(edges) >= 2
    assert list(edges) == sorted(edges)
    press(qtbot, window, Key.Key_Escape)
    assert window.field.scene._stretched == ("", ())
