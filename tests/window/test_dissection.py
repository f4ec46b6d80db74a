"""The dissection by mouse and by keyboard; tracing; both themes."""

import pytest
from PySide6.QtCore import QPoint
from pytestqt.qtbot import QtBot

from lessons.rows import row_text
from meshes.structures import DISSECTION
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, at_rest, colour_at, parts, press
from viewer.palette import THEMES
from viewer.panels.readout import ROW
from viewer.panels.strip import LIFTED

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
    chosen = index.data(ROW).worst.id
    assert chosen in window.session.view.highlighted
    assert window.places.card.title.text().lower() in row_text(index.data(ROW)).lower()
    assert window.field.scene is not None
    assert window.field.scene.looks[chosen].ringed
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


def test_the_strip_says_that_the_bodies_are_lifted(qtbot: QtBot, window: MainWindow) -> None:
    strip = window.places.strip
    strip.setFocus()
    qtbot.keyClick(strip, Key.Key_End)
    assert strip._mixed["vertebrae"] == LIFTED
    assert LIFTED in strip.accessibleDescription()
    assert window.session.view.layer_state("vertebrae") == "on"
    qtbot.keyClick(strip, Key.Key_Left)
    assert LIFTED not in strip._mixed.values()
    assert LIFTED not in strip.accessibleDescription()


def test_a_press_on_a_band_can_be_dragged_on(qtbot: QtBot, window: MainWindow) -> None:
    strip = window.places.strip

    def middle(band: str) -> QPoint:
        return QPoint(round((0.5 + DISSECTION.index(band)) * strip.width() / len(DISSECTION)), strip.height() // 2)

    qtbot.mousePress(strip, Left, pos=middle("fat"))
    for band in ("fat", "transversus", "vessels"):
        qtbot.mouseMove(strip, middle(band))
        assert window.session.view.dissection == band
    qtbot.mouseRelease(strip, Left, pos=middle("vessels"))
    qtbot.mouseMove(strip, middle("dura"))
    assert window.session.view.dissection == "vessels"


def test_lifting_psoas_lifts_the_one_that_a_portal_made_glassy(qtbot: QtBot, window: MainWindow) -> None:
    body = window.session.body
    assert body is not None
    psoas = body.structures["psoas_major_left"]
    states = [window.session.view.own_state(psoas)]
    for key in (Key.Key_BracketRight, Key.Key_BracketLeft):
        press(qtbot, window, key)
        states.append(window.session.view.own_state(psoas))
    assert states == ["glassy", "off", "glassy"]


def test_a_slider_goes_to_where_it_is_pressed(qtbot: QtBot, window: MainWindow) -> None:
    slider = window.places.form.slider
    qtbot.mouseClick(slider, Left, pos=QPoint(round(0.8 * slider.width()), slider.height() // 2))
    # Seen from the left the front is at the left, on the disc face and on the slider.
    assert slider.value() == pytest.approx(18, abs=5)
    assert window.session.view.portal is not None
    assert window.session.view.portal.at == pytest.approx(slider.value() / 100.0)
