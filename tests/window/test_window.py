"""The real window: what it shows is what the session says, by mouse and by keyboard."""

import json
import threading
from collections.abc import Callable
from dataclasses import astuple, replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QImage, QWheelEvent
from PySide6.QtWidgets import QApplication, QToolButton, QWidget
from pytestqt.qtbot import QtBot

from lessons.view import Camera, Placement, View, as_table
from meshes.body import Body
from meshes.contact import Docking, dock
from meshes.errors import FurcalError
from meshes.portal import place
from meshes.specimen import Specimen
from meshes.structures import DISSECTION, LEVELS
from tests.window.conftest import MainWindow, Make, Told
from viewer.actions import ACTIONS, VIEW_KEYS
from viewer.cameras import DIRECTIONS
from viewer.palette import THEMES
from viewer.panels.parts import PartsDialog

Key = Qt.Key
Mod = Qt.KeyboardModifier
Left = Qt.MouseButton.LeftButton


def press(qtbot: QtBot, window: MainWindow, key: Qt.Key, modifier: Qt.KeyboardModifier = Mod.NoModifier) -> None:
    """A key pressed while the field has the focus."""
    window.field.setFocus()
    qtbot.keyClick(window.field, key, modifier)


def answer(docking: Docking | None) -> list[tuple[str, float]]:
    """What a docking says of every structure."""
    assert docking is not None
    return [(c.id, c.clearance_mm) for c in (*docking.nerves, *docking.vessels, *docking.viscera)]


def at_rest(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.waitUntil(lambda: window.field.is_resting, timeout=10_000)
    QApplication.processEvents()


def parts(window: MainWindow) -> PartsDialog | None:
    """The dialog of single structures, if one is open."""
    return window._parts


def colour_at(image: QImage, place_: QPoint) -> list[int]:
    colour = image.pixelColor(place_)
    return [colour.red(), colour.green(), colour.blue()]


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
    touched = [c for c in (*docking.nerves, *docking.vessels, *docking.viscera) if c.touched]
    rows = window.places.readout.texts()
    assert sum("touched" in row for row in rows) == len(touched)
    for row, contact in zip(rows, sorted(touched, key=lambda c: c.clearance_mm), strict=False):
        assert f"{-contact.clearance_mm:.1f} mm inside" in row
    assert window.places.readout.barred.isVisible() == (not docking.access.reaches_disc)


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
    qtbot.mousePress(face, Left, pos=QPoint(round(float(columns[10])), face.height() // 2))
    qtbot.mouseRelease(face, Left)
    assert form.at.value() == pytest.approx(0.25, abs=0.03)
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
    assert "--cranial" in window.places.message.words.text()
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
    assert sum("near at" in w for w in words) == min(8, sum(c.clearance_mm <= 10.0 for c in docking.nerves))


# --- dissection


def test_the_strip_follows_and_leads(qtbot: QtBot, window: MainWindow) -> None:
    strip = window.places.strip
    for key, layer in ((Key.Key_BracketLeft, "vessels"), (Key.Key_BracketRight, "psoas")):
        press(qtbot, window, key)
        assert window.session.view.dissection == layer
        assert DISSECTION[strip.value()] == layer
    strip.setFocus()
    qtbot.keyClick(strip, Key.Key_Left)
    assert window.session.view.dissection == "vessels"
    qtbot.keyClick(strip, Key.Key_End)
    assert window.session.view.dissection == "dura"
    middle = round((0.5 + DISSECTION.index("transversus")) * strip.width() / len(DISSECTION))
    qtbot.mouseClick(strip, Left, pos=QPoint(middle, strip.height() // 2))
    assert window.session.view.dissection == "transversus"
    assert "transversus" in strip.accessibleDescription()


def test_the_handle_can_be_dragged(qtbot: QtBot, window: MainWindow) -> None:
    strip = window.places.strip
    at = [round(i * strip.width() / len(DISSECTION)) for i in range(len(DISSECTION))]
    qtbot.mousePress(strip, Left, pos=QPoint(at[strip.value()] + 1, 20))
    qtbot.mouseMove(strip, QPoint(at[3], 20))
    assert window.session.view.dissection == "internal_oblique"
    qtbot.mouseMove(strip, QPoint(at[9], 20))
    qtbot.mouseRelease(strip, Left, pos=QPoint(at[9], 20))
    assert window.session.view.dissection == "vertebrae"
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
    assert window.session.view.dissection == "psoas"


def test_a_band_becomes_glassy_off_and_on_by_space(qtbot: QtBot, window: MainWindow) -> None:
    strip = window.places.strip
    press(qtbot, window, Key.Key_D)
    strip.setFocus()
    qtbot.keyClick(strip, Key.Key_Right)
    qtbot.keyClick(strip, Key.Key_Left)
    assert window.session.view.dissection == "psoas"
    for state in ("glassy", "off", "on"):
        qtbot.keyClick(strip, Key.Key_Space)
        assert window.session.view.layer_state("psoas") == state
    assert window.session.view.shown == window.session.view.glassy == window.session.view.hidden == frozenset()


def test_single_structures_are_shown_glassy_or_hidden(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_L, Mod.ControlModifier)
    dialog = parts(window)
    assert dialog is not None
    scene = window.field.scene
    assert scene is not None
    for state, opacity in (("glassy", 0.5), ("off", None), ("on", 1.0)):
        qtbot.mouseClick(dialog.button("psoas_major_right", state), Left)
        look = scene.looks.get("psoas_major_right")
        assert (look is None) == (opacity is None)
        assert look is None or (look.opacity < 1.0) == (state == "glassy")
    dialog.close()
    assert parts(window) is None
    press(qtbot, window, Key.Key_N, Mod.ControlModifier)
    nerves = parts(window)
    assert nerves is not None
    nerves.button("femoral_left", "off").click()
    assert "femoral_left" not in scene.looks


def test_glassy_by_key_and_back(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_G)
    assert window.session.view.layer_state("psoas") == "glassy"
    press(qtbot, window, Key.Key_G)
    assert window.session.view.layer_state("psoas") == "on"
    press(qtbot, window, Key.Key_G, Mod.ShiftModifier)
    press(qtbot, window, Key.Key_E, Mod.ControlModifier)
    assert window.session.view.glassy == frozenset()


# --- tracing, colours, theme


def test_a_row_traces_its_structure_and_escape_ends_it(qtbot: QtBot, window: MainWindow) -> None:
    readout = window.places.readout
    index = readout.model.index(0, 0)
    qtbot.mouseClick(readout.list.viewport(), Left, pos=readout.list.visualRect(index).center())
    traced = window.session.view.highlighted
    assert len(traced) == 1
    assert window.field.scene is not None
    assert window.field.scene.looks[next(iter(traced))].ringed
    press(qtbot, window, Key.Key_Escape)
    assert window.session.view.highlighted == frozenset()


@pytest.mark.parametrize("theme", THEMES)
def test_both_themes_dress_the_field_and_the_panels(qtbot: QtBot, window: MainWindow, theme: str) -> None:
    if window.session.view.theme != theme:
        press(qtbot, window, Key.Key_D, Mod.ControlModifier)
    at_rest(qtbot, window)
    image = window.grab().toImage()
    corner = window.field.mapTo(window, QPoint(window.field.width() // 2, 6))
    assert colour_at(image, corner) == pytest.approx(THEMES[theme].background, abs=2)
    beside = window.places.log.mapTo(window, QPoint(2, 2))
    assert colour_at(image, beside) == pytest.approx(THEMES[theme].panel, abs=2)


# --- undo, settings, pictures


def test_everything_done_can_be_undone_step_by_step(qtbot: QtBot, window: MainWindow) -> None:
    done = [window.session.view]
    for key, modifier in (
        (Key.Key_F, Mod.NoModifier), (Key.Key_BracketLeft, Mod.NoModifier), (Key.Key_G, Mod.NoModifier),
        (Key.Key_X, Mod.NoModifier), (Key.Key_Period, Mod.NoModifier), (Key.Key_T, Mod.NoModifier),
        (Key.Key_O, Mod.NoModifier), (Key.Key_D, Mod.NoModifier), (Key.Key_D, Mod.ControlModifier),
        (Key.Key_2, Mod.ControlModifier),
    ):  # fmt: skip
        press(qtbot, window, key, modifier)
        if window.session.view != done[-1]:
            done.append(window.session.view)
    assert len(done) >= 10
    for view in reversed(done[:-1]):
        window.undo()
        assert window.session.view == view
    assert not window.session.history.past


def test_what_was_seen_is_restored(qtbot: QtBot, make: Make, tmp_path: Path) -> None:
    first = make()
    qtbot.waitUntil(lambda: first.session.docking is not None, timeout=30_000)
    first.resize(1010, 700)
    for key in (Key.Key_L, Key.Key_BracketRight, Key.Key_X):
        press(qtbot, first, key)
    press(qtbot, first, Key.Key_D, Mod.ControlModifier)
    kept = first.session.view
    first.close()
    second = make()
    assert second.session.view == kept
    assert (second.width(), second.height()) == (1010, 700)


@pytest.mark.parametrize("text", ["{", "[]", '{"dissection": "fascia"}', '{"portal": {"at": "x"}}', '"word"'])
def test_broken_settings_are_done_without(qtbot: QtBot, make: Make, tmp_path: Path, text: str) -> None:
    (tmp_path / "window.ini").write_text(f"[General]\nview={json.dumps(text)}\ntheme=purple\ngeometry=3\n")
    window = make()
    assert window.session.view.portal == Placement()
    assert window.session.view.theme in THEMES
    assert as_table(View().docked(Placement()))["glassy"] == as_table(window.session.view)["glassy"]


def test_a_picture_is_saved_and_a_bad_place_is_told(
    qtbot: QtBot, window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from PIL import Image
    from PySide6.QtWidgets import QFileDialog

    place_ = [tmp_path / "shot"]
    monkeypatch.setattr(QFileDialog, "getSaveFileName", staticmethod(lambda *_: (str(place_[0]), "")))
    press(qtbot, window, Key.Key_S, Mod.ControlModifier)
    picture = np.asarray(Image.open(tmp_path / "shot.png").convert("RGB"))
    assert picture.shape == (1080, 1920, 3)
    assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 500
    place_[0] = tmp_path / "none" / "shot.png"
    press(qtbot, window, Key.Key_S, Mod.ControlModifier)
    assert "no such folder" in window.places.message.words.text()
    window.copy_picture()
    assert not QApplication.clipboard().pixmap().isNull()


def test_a_specimen_that_cannot_be_built_leaves_the_last_body(qtbot: QtBot, make: Make, alder: Body) -> None:
    def load(specimen: Specimen, told: Told) -> Body:
        if specimen.name == "Birch":
            raise FurcalError("bones.toml, [hip]: no such landmark.")
        return replace(alder, specimen=specimen)

    window = make(load=load)
    qtbot.waitUntil(lambda: window.session.docking is not None, timeout=30_000)
    window.use_specimen(Specimen(name="Birch"))
    qtbot.waitUntil(window.places.message.isVisible, timeout=10_000)
    assert "Bones.toml, [hip]" in window.places.message.words.text()
    assert window.session.specimen.name == "Alder"
    assert not window.session.needs_body()


def test_a_specimen_file_is_opened(
    qtbot: QtBot, window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from PySide6.QtWidgets import QFileDialog

    file = tmp_path / "birch.toml"
    monkeypatch.setattr(QFileDialog, "getOpenFileName", staticmethod(lambda *_: (str(file), "")))
    press(qtbot, window, Key.Key_O, Mod.ControlModifier)
    assert "birch.toml" in window.places.message.words.text()
    file.write_text('name = "Birch"\npsoas_scale = 1.3\n')
    press(qtbot, window, Key.Key_O, Mod.ControlModifier)
    qtbot.waitUntil(
        lambda: window.session.body is not None and window.session.body.specimen.name == "Birch", timeout=30_000
    )
    assert "Birch" in window.windowTitle()


# --- form


def test_every_key_is_used_once_and_every_action_has_a_method(window: MainWindow) -> None:
    keys = [key for action in ACTIONS for key in action.keys]
    assert len(set(keys)) == len(keys)
    assert len({action.name for action in ACTIONS}) == len(ACTIONS)
    assert all(callable(getattr(window, action.calls)) for action in ACTIONS)


def test_what_can_be_reached_by_tab_has_a_name(window: MainWindow) -> None:
    reached: list[QWidget] = []
    widget = window.field.nextInFocusChain()
    while widget is not None and widget is not window.field:
        if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            reached.append(widget)
        widget = widget.nextInFocusChain()
    nameless = [w for w in reached if not (w.accessibleName() or getattr(w, "text", str)() or _inside(w))]
    assert len(reached) > 15
    assert not nameless


def _inside(widget: QWidget) -> bool:
    """A part of a box that has a name itself."""
    parent = widget.parentWidget()
    return parent is not None and bool(parent.accessibleName())


def test_tool_buttons_tell_their_keys(window: MainWindow) -> None:
    tips = [b.toolTip() for b in window.findChildren(QToolButton) if b.defaultAction() is not None]
    assert any(tip.endswith("(F)") for tip in tips)


def test_keys_and_about_open(qtbot: QtBot, window: MainWindow) -> None:
    from PySide6.QtWidgets import QDialog, QLabel

    def words(open_it: Callable[[], None]) -> str:
        open_it()
        dialog = [d for d in window.findChildren(QDialog) if d.isVisible()][-1]
        text = " ".join(label.text() for label in dialog.findChildren(QLabel))
        dialog.close()
        return text

    assert "Ctrl+Z" in words(window.show_keys)
    assert "not for planning or guiding an operation" in words(window.show_about)


def test_muscle_pixels_are_there_in_the_window(qtbot: QtBot, window: MainWindow) -> None:
    """Glassy meshes once vanished without a word: so they are counted on the real screen too."""

    def shot(view: View) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
        window.session.change(view)
        window.field.stand_still()
        image = window.field.grabFramebuffer().convertToFormat(QImage.Format.Format_RGB888)
        bits = np.frombuffer(image.bits(), dtype=np.uint8).reshape(image.height(), image.bytesPerLine())
        return bits[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(np.int64)

    view = replace(window.session.view, camera=Camera("front"), labels=False, portal=None)
    psoas = ["psoas_major_left", "psoas_major_right"]
    without = shot(view.with_state(psoas, "off"))
    solid = (np.abs(shot(view.with_state(psoas, "on")) - without) > 12).any(axis=2).mean()
    glassy = (np.abs(shot(view.with_state(psoas, "glassy")) - without) > 6).any(axis=2).mean()
    assert solid > 0.01
    assert glassy > 0.85 * solid
