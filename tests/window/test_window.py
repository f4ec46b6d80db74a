"""The real window: it opens, is looked at from everywhere, and says what the command says."""

import threading
from dataclasses import astuple, replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from lessons.readout import CLOSE_MM
from lessons.rows import headline, reach_text, row_text, rows_of
from lessons.view import Placement
from meshes.body import Body
from meshes.contact import dock
from meshes.portal import place
from meshes.specimen import Specimen
from meshes.structures import LEVELS
from tests.window.conftest import MainWindow, Make, Told
from tests.window.hands import Key, Left, Mod, answer, at_rest, move, press
from viewer.actions import VIEW_KEYS
from viewer.cameras import DIRECTIONS

# --- opening


def test_it_opens_with_the_body_a_portal_and_names(qtbot: QtBot, window: MainWindow) -> None:
    at_rest(qtbot, window)
    qtbot.waitUntil(lambda: bool(window.field.named), timeout=10_000)
    assert window.session.view.portal == Placement()
    assert "femoral_left" in window.field.scene.looks  # type: ignore[union-attr]
    assert not window.places.progress.isVisible()
    assert not window.places.message.isVisible()
    assert "Alder" in window.windowTitle()


def test_it_answers_while_a_body_is_being_built_and_shows_how_far(qtbot: QtBot, make: Make, alder: Body) -> None:
    go_on = threading.Event()

    def slow(specimen: Specimen, told: Told) -> Body:
        told(0.4, "bones")
        assert go_on.wait(30)
        return replace(alder, specimen=specimen)

    window = make(load=slow)
    qtbot.waitUntil(lambda: window.places.progress.value() == 40, timeout=5_000)
    assert "bones" in window.places.progress.format()
    press(qtbot, window, Key.Key_BracketRight)
    assert window.session.view.dissection == "iliacus_quadratus"
    go_on.set()
    qtbot.waitUntil(lambda: window.session.body is not None, timeout=30_000)
    assert not window.places.progress.isVisible()


def test_a_window_closed_while_building_stops_the_build(qtbot: QtBot, make: Make, alder: Body) -> None:
    stages = []

    def endless(specimen: Specimen, told: Told) -> Body:
        for stage in range(100_000):
            stages.append(stage)
            told(stage / 100_000, "round and round")
            threading.Event().wait(0.002)
        return alder

    window = make(load=endless)
    qtbot.waitUntil(lambda: len(stages) > 5, timeout=5_000)
    window.close()
    assert len(stages) < 10_000
    assert not [t for t in window.loader._threads if t.is_alive()]


# --- views


@pytest.mark.parametrize("name", VIEW_KEYS)
def test_named_views_are_one_key_away(qtbot: QtBot, window: MainWindow, name: str) -> None:
    press(qtbot, window, Key.Key_B if name != "back" else Key.Key_F)
    press(qtbot, window, getattr(Key, f"Key_{VIEW_KEYS[name]}"))
    assert window.session.view.camera.name == name
    eye, docking = window.field.eye, window.session.docking
    assert eye is not None
    assert docking is not None
    towards = -docking.portal.direction if name == "portal" else np.array(DIRECTIONS[name][0])
    assert eye.axes()[2] @ (towards / np.linalg.norm(towards)) == pytest.approx(1.0)


def test_a_flight_ends_where_it_should(qtbot: QtBot, window: MainWindow) -> None:
    window.field.animated = True
    press(qtbot, window, Key.Key_L)
    at_rest(qtbot, window)
    assert window.field.eye is not None
    assert window.field.eye.axes()[2] == pytest.approx(np.array([1.0, 0.0, 0.0]))


def test_dragging_turns_and_is_one_step_to_undo(qtbot: QtBot, window: MainWindow) -> None:
    before = window.session.view
    field = window.field
    qtbot.mousePress(field, Left, pos=QPoint(300, 300))
    for x in range(310, 400, 10):
        qtbot.mouseMove(field, QPoint(x, 300))
    qtbot.mouseRelease(field, Left, pos=QPoint(400, 300))
    assert window.session.view.camera.name == "free"
    assert len(window.session.history.past) == 1
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
    assert window.session.view == before
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier | Mod.ShiftModifier)
    assert window.session.view.camera.name == "free"


def test_wheel_and_keys_zoom_turn_and_move(qtbot: QtBot, window: MainWindow) -> None:
    field = window.field
    assert field.eye is not None
    start = field.eye
    spot = QPointF(200.0, 200.0)
    idle, phase = Qt.MouseButton.NoButton, Qt.ScrollPhase.NoScrollPhase
    wheel = QWheelEvent(spot, spot, QPoint(), QPoint(0, 120), idle, Mod.NoModifier, phase, False)
    QApplication.sendEvent(field, wheel)
    zoomed = field.eye
    assert zoomed.half_height_mm < start.half_height_mm
    press(qtbot, window, Key.Key_Minus)
    assert field.eye.half_height_mm == pytest.approx(start.half_height_mm)
    press(qtbot, window, Key.Key_Left)
    turned = field.eye
    assert turned.axes()[2] @ start.axes()[2] == pytest.approx(np.cos(np.radians(5.0)), abs=2e-3)
    press(qtbot, window, Key.Key_Up, Mod.ControlModifier)
    assert np.linalg.norm(field.eye.focus - turned.focus) > 1.0


# --- the portal: the window says what the command says


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_readout_equals_the_command(qtbot: QtBot, window: MainWindow, level: str, side: str) -> None:
    form = window.places.form
    form.level.setCurrentIndex(form.level.findData(level))
    form.side.setCurrentIndex(form.side.findData(side))
    form.at.setValue(0.35)
    form.radius_mm.setValue(9.0)
    form.anterior_deg.setValue(5.0)
    wanted = Placement(level, side, "lateral", 0.35, 9.0, 0.0, 0.0, 5.0)
    assert window.session.view.portal == wanted
    body = window.session.body
    assert body is not None
    docking = dock(body, place(body, *astuple(wanted)))
    assert answer(window.session.docking) == answer(docking)
    readout, rows = window.places.readout, rows_of(docking)
    assert readout.texts() == [row_text(row) for row in rows if row.clearance_mm <= CLOSE_MM]
    assert readout.head.text() == reach_text(docking)
    assert readout.head.text().startswith("Reaches the") == docking.access.reaches_disc
    assert readout.touches.text() == headline(docking, rows)
    assert readout.barred.isVisible() == (not docking.access.reaches_disc)


def test_touched_nerves_are_marked_in_the_field_by_more_than_colour(qtbot: QtBot, window: MainWindow) -> None:
    docking, scene = window.session.docking, window.field.scene
    assert docking is not None
    assert scene is not None
    touched = {c.id for c in docking.nerves if c.touched}
    assert touched
    assert {i for i, one in scene.looks.items() if one.ringed} >= touched
    press(qtbot, window, Key.Key_D)
    assert window.session.docking is None
    assert not [i for i, one in scene.looks.items() if one.ringed]
    assert window.places.readout.head.text() == "No portal docked."


def test_the_slider_the_disc_face_and_the_box_move_the_same_portal(qtbot: QtBot, window: MainWindow) -> None:
    form, face = window.places.form, window.places.face
    form.slider.setValue(80)
    assert window.session.view.portal == Placement(at=0.8)
    assert form.at.value() == pytest.approx(0.8)
    columns = face.pixels(face._face.border)[:, 0]  # type: ignore[union-attr]
    assert face.at_of(float(columns[10])) == pytest.approx(0.25)
    circle = QPoint(round(float(columns[32])), face.picture.center().toPoint().y())
    qtbot.mousePress(face, Left, pos=circle)
    move(face, QPoint(round(float(columns[10])), circle.y()), Left)
    qtbot.mouseRelease(face, Left)
    # The boxes follow a drag a little later.
    qtbot.waitUntil(lambda: form.at.value() == pytest.approx(0.25, abs=0.03), timeout=10_000)
    assert window.session.view.portal is not None
    assert window.session.view.portal.at == pytest.approx(form.at.value(), abs=0.005)


def test_the_disc_face_looks_from_outside(window: MainWindow) -> None:
    """Seen from the left the front is at the left, from the right at the right; from the front the right is left."""
    face = window.places.face
    assert face._face is not None
    assert face._face.ends == ("front", "back")
    window.place_portal(Placement(side="right"))
    assert face._face.ends == ("back", "front")
    window.place_portal(Placement(approach="anterior", level="L5-S1"))
    assert face._face.ends == ("right", "left")


def test_a_portal_that_cannot_be_placed_is_told_and_the_last_one_stays(window: MainWindow) -> None:
    before, docking = window.session.view, window.session.docking
    window.places.form.placed.emit(Placement(cranial_deg=999.0))
    assert window.places.message.words.text().startswith("Tilt to head 999: must be")
    assert window.places.message.isVisible()
    assert window.session.view == before
    assert window.session.docking is docking
    window.places.form.placed.emit(Placement(at=0.4))
    assert not window.places.message.isVisible()


def test_an_exception_in_a_slot_becomes_a_sentence(window: MainWindow, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(window.session, "undo", broken)
    window.actions_by_name["undo"].setEnabled(True)
    window.actions_by_name["undo"].trigger()
    assert "ZeroDivisionError" in window.places.message.words.text()


def test_a_barred_way_offers_what_clears_it(qtbot: QtBot, window: MainWindow) -> None:
    docking, readout = window.session.docking, window.places.readout
    assert docking is not None
    assert docking.access.barred_by == ("hip_left",)  # L4-5 on an unbent body
    assert "--" not in readout.barred.text()
    clearing = docking.access.clears_at
    assert clearing is not None
    assert clearing.cranial_deg is not None
    qtbot.mouseClick(readout.tilt, Left)
    assert window.session.view.portal == Placement(cranial_deg=float(clearing.cranial_deg))
    assert window.session.docking is not None
    assert window.session.docking.access.reaches_disc
    assert not readout.tilt.isVisible()
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
    qtbot.mouseClick(readout.opened, Left)
    assert window.session.specimen.table_break_deg == clearing.table_break_deg
    qtbot.waitUntil(lambda: not window.session.needs_body(), timeout=30_000)
    assert window.session.body is not None
    assert window.session.body.specimen.up == "left"


def test_depth_log_runs_from_skin_to_end(window: MainWindow) -> None:
    log, docking = window.places.log, window.session.docking
    assert docking is not None
    assert log.x_of(0.0) < log.x_of(docking.portal.length_mm) <= log.width()
    words = log.texts()
    assert words[0].startswith("subcutaneous fat")
    assert any(w.startswith("psoas major") for w in words)
    others = (*docking.vessels, *docking.viscera)
    near = sum(c.clearance_mm <= 10.0 for c in docking.nerves) + sum(c.touched for c in others)
    assert sum("near at" in w for w in words) == near
