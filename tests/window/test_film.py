"""The film in the window: in place of the field or beside it, its beam turned, its wires picked and faded."""

from pathlib import Path

import numpy as np
from PIL import Image
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from lessons.view import Placement
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Mod, press
from viewer.export.png16 import grey
from viewer.filmer import lines_on
from viewer.overlay import Words


def rested(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.waitUntil(lambda: window.places.film.is_resting, timeout=60_000)


def pixels(window: MainWindow) -> np.ndarray:
    image = window.places.film._image
    return np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())[:, : image.width()]


def test_a_key_puts_the_film_in_place_of_the_field_and_back(qtbot: QtBot, window: MainWindow) -> None:
    places = window.places
    assert places.film.isHidden()
    press(qtbot, window, Key.Key_F, Mod.ShiftModifier)
    assert not places.film.isHidden()
    assert not places.film_bar.isHidden()
    assert places.field.isHidden()
    rested(qtbot, window)
    assert pixels(window).std() > 20
    press(qtbot, window, Key.Key_S, Mod.ShiftModifier)
    assert not places.film.isHidden()
    assert not places.field.isHidden()
    window.undo()
    window.undo()
    assert places.film.isHidden()
    assert not places.field.isHidden()


def test_the_keys_of_the_views_turn_the_film_too_and_a_drag_turns_the_beam(qtbot: QtBot, window: MainWindow) -> None:
    window.toggle_film()
    press(qtbot, window, Key.Key_L)
    film = window.session.view.film
    assert film is not None
    assert (film.view, film.turn_deg) == ("left", 0.0)
    widget = window.places.film
    qtbot.mousePress(widget, Qt.MouseButton.LeftButton, pos=QPoint(200, 200))
    for x in range(205, 250, 5):
        qtbot.mouseMove(widget, QPoint(x, 200))
    qtbot.mouseRelease(widget, Qt.MouseButton.LeftButton, pos=QPoint(250, 200))
    turned = window.session.view.film
    assert turned is not None
    assert turned.turn_deg != 0.0
    assert turned.view == "left"
    window.undo()
    assert window.session.view.film == film  # one drag is one step


def test_the_arrow_keys_turn_the_beam_at_once(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F, Mod.ShiftModifier)
    assert window.places.film.hasFocus()
    qtbot.keyClick(window.places.film, Qt.Key.Key_Left)
    film = window.session.view.film
    assert film is not None
    assert film.turn_deg == 5.0
    qtbot.keyClick(window.places.film, Qt.Key.Key_Up)
    assert window.session.view.film is not None
    assert window.session.view.film.cranial_deg == -5.0
    window.toggle_film()
    assert window.places.field.hasFocus()


def test_a_wire_that_is_clicked_is_the_nerve_traced_and_a_traced_nerve_is_lit_on_the_film(
    qtbot: QtBot, window: MainWindow
) -> None:
    window.toggle_film()
    rested(qtbot, window)
    widget, body = window.places.film, window.session.body
    assert body is not None
    assert widget._exposed is not None
    (line,) = lines_on(widget._exposed.beam, body, ["femoral_left"]).values()
    x, y = widget._corner
    col, row = line[len(line) * 2 // 3]
    spot = QPoint(round(x + (col + 0.5) * widget._scale), round(y + (row + 0.5) * widget._scale))
    before = len(widget._shapes)
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=spot)
    assert window._traced is not None
    assert window._traced.id == "femoral_left"
    assert "femoral_left" in window.session.view.highlighted
    assert len(widget._shapes) > before
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=QPoint(2, 2))
    assert window._traced is None


def test_wires_fade_and_come_off_and_leave_the_rest_as_it_is(qtbot: QtBot, window: MainWindow) -> None:
    window.place_portal(None)
    window.toggle_film()
    widget, bar = window.places.film, window.places.film_bar

    def film() -> np.ndarray:
        rested(qtbot, window)
        exposed, asked = widget._exposed, window.session.view.film
        assert exposed is not None
        assert asked is not None
        return grey(widget.filmer.picture(exposed, asked, grain=False), 8).astype(int)

    full = film()
    bar.wires.setValue(50)
    half = film()
    press(qtbot, window, Key.Key_W, Mod.ShiftModifier)
    none = film()
    assert bar.wires.value() == 0
    changed = full - none > 40
    assert 0.005 < changed.mean() < 0.2
    assert (half[changed] > none[changed]).mean() > 0.99
    assert (half[changed] <= full[changed]).mean() > 0.99
    assert (np.abs(full - none)[~changed] <= 40).all()
    assert np.median(np.abs(full - none)) <= 1


def test_the_portal_is_metal_on_the_film_and_moves_on_it(qtbot: QtBot, window: MainWindow) -> None:
    window.toggle_film()
    rested(qtbot, window)
    with_it = pixels(window).astype(int)
    window.place_portal(Placement(level="L2-3"))
    rested(qtbot, window)
    moved = pixels(window).astype(int)
    window.place_portal(None)
    rested(qtbot, window)
    without = pixels(window).astype(int)
    assert (moved - without > 60).sum() > 300
    assert (with_it - without > 60).sum() > 300
    assert ((moved - with_it) > 60).sum() > 300


def test_what_is_saved_and_copied_is_the_film(qtbot: QtBot, window: MainWindow, tmp_path: Path) -> None:
    window.toggle_film()
    rested(qtbot, window)
    window.write_picture(tmp_path / "film.png")
    window.copy_picture()
    copied = QApplication.clipboard().image()
    assert copied.size() == window.places.film.size()
    with Image.open(tmp_path / "film.png") as image:
        rows = np.asarray(image.convert("RGB")).astype(int)
    assert rows.shape == (1080, 1920, 3)
    assert (rows[:, :400] == 0).all()  # a square film in the middle of black
    film = rows[200:900, 500:1400]
    assert film.std() > 20
    assert np.abs(film[..., 0] - film[..., 2]).mean() < 2.0
    window.toggle_beside()
    window.write_picture(tmp_path / "both.png")
    with Image.open(tmp_path / "both.png") as image:
        assert np.asarray(image.convert("RGB"))[:, :300].std() > 20


def test_wires_are_named_at_rest_as_the_labels_of_the_field_are(qtbot: QtBot, window: MainWindow) -> None:
    window.toggle_film()
    rested(qtbot, window)
    widget = window.places.film

    def words() -> set[str]:
        return {shape.text for shape in widget._shapes if isinstance(shape, Words)}

    assert "Femoral n." in words()
    window.toggle_labels()
    rested(qtbot, window)
    assert "AP" in words()
    assert "Femoral n." not in words()


def test_the_wires_that_crowd_between_l4_and_s1_are_listed_on_a_side_film(qtbot: QtBot, window: MainWindow) -> None:
    window.toggle_film()
    window.places.film_bar.crowd.click()
    film = window.session.view.film
    assert film is not None
    assert (film.view, film.crowd_side) == ("left", "left")
    rested(qtbot, window)
    said = {shape.text for shape in window.places.film._shapes if isinstance(shape, Words)}
    assert {"L4-5, front to back", "L5-S1, front to back", "Femoral n.", "Obturator n."} <= said
