"""A wire that is asked in the window is filmed near; marks and clicks lie where the wires of that film are."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint
from pytestqt.qtbot import QtBot

from lessons.spot.item import Item
from meshes.curves import Array
from meshes.film.filmed import FIELD_MM, wired_nerves
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left
from tests.window.spothands import asked, focused, settled
from viewer.filmer import lines_on
from viewer.overlay import Stroke
from viewer.palette import THEMES


@pytest.fixture
def wire(items: dict[str, Item]) -> Item:
    return items["wire_femoral"]


def rested(qtbot: QtBot, window: MainWindow) -> None:
    settled(qtbot, window)
    qtbot.waitUntil(lambda: window.places.film.is_resting, timeout=60_000)


def field_mm(window: MainWindow) -> float:
    exposed = window.places.film._exposed
    assert exposed is not None
    return exposed.beam.pixel_mm * exposed.beam.width


def line_on_screen(window: MainWindow, name: str) -> Array:
    """Where a nerve's wire lies on the widget, pixels (n, 2)."""
    film, body = window.places.film, window.session.body
    assert film._exposed is not None
    assert body is not None
    pixels = lines_on(film._exposed.beam, body, [name])[name] + 0.5
    out: Array = pixels * film._scale + np.array(film._corner)
    return out


def test_the_film_is_near_while_asked_and_explained_and_whole_again_at_the_end(
    qtbot: QtBot, window: MainWindow, wire: Item
) -> None:
    window.toggle_film()
    rested(qtbot, window)
    before = window.session.scene
    assert field_mm(window) == pytest.approx(FIELD_MM)
    asked(qtbot, window, [wire])
    rested(qtbot, window)
    near = field_mm(window)
    assert near < 0.65 * FIELD_MM
    film = window.places.film
    line = line_on_screen(window, "femoral_left")
    assert (line > 0.0).all()
    assert (line < np.array([film.width(), film.height()])).all()
    lit = [s for s in film._shapes if isinstance(s, Stroke) and s.colour == THEMES["dark"].accent]
    assert len(lit) == 1
    assert np.abs(np.array(lit[0].points) + np.array(film._corner) - line).max() < 1e-6

    qtbot.keyClicks(focused(), "femoral nerve")
    qtbot.keyClick(focused(), Key.Key_Return)
    rested(qtbot, window)
    assert window.places.spot.verdict.text().startswith("Right")
    assert field_mm(window) == near, "it does not jump while it is explained"
    window.spot_leave()
    rested(qtbot, window)
    assert field_mm(window) == pytest.approx(FIELD_MM)
    assert window.session.scene == before


def lonely_spot(window: MainWindow, name: str) -> QPoint:
    """The pixel of the film at which a wire lies furthest from every other one."""
    film, body = window.places.film, window.session.body
    assert body is not None
    line = line_on_screen(window, name)
    others = np.concatenate([line_on_screen(window, n) for n in wired_nerves(body) if n != name])
    gaps = np.linalg.norm(line[:, None] - others[None], axis=2).min(axis=1)
    inside = (line > 20.0).all(axis=1) & (line < np.array([film.width(), film.height()]) - 20.0).all(axis=1)
    at = int(np.argmax(np.where(inside, gaps, 0.0)))
    assert gaps[at] > 3.0
    return QPoint(round(float(line[at, 0])), round(float(line[at, 1])))


def test_a_click_means_the_wire_of_the_film_that_is_seen(qtbot: QtBot, window: MainWindow, wire: Item) -> None:
    asked(qtbot, window, [wire])
    rested(qtbot, window)
    film, view = window.places.film, window.session.view
    qtbot.mouseClick(film, Left, pos=lonely_spot(window, "subcostal_left"))
    assert window.session.view == view, "while it is asked a click picks nothing"

    qtbot.keyClick(focused(), Key.Key_F7)
    rested(qtbot, window)
    for name in ("subcostal_left", "obturator_right"):
        qtbot.mouseClick(film, Left, pos=lonely_spot(window, name))
        assert window._traced is not None
        assert window._traced.id == name
