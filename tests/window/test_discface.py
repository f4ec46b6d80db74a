"""The disc face in the window: the hand moves the circle and nothing else, and words stand beside the picture."""

import numpy as np
import pytest
from PySide6.QtCore import QPoint
from PySide6.QtGui import QFontMetricsF
from pytestqt.qtbot import QtBot

from lessons.view import Placement
from meshes.portal import approaches
from meshes.structures import APPROACHES, SIDES
from tests.window.conftest import MainWindow
from tests.window.hands import Left, move
from viewer.panels.discface import DiscFace


def circle(face: DiscFace) -> QPoint:
    assert face._face is not None
    return face.point(face._face.centre).toPoint()


@pytest.mark.parametrize("approach", APPROACHES)
def test_a_click_moves_nothing_a_drag_does(qtbot: QtBot, window: MainWindow, approach: str) -> None:
    face = window.places.face
    window.place_portal(Placement(approach=approach, at=0.5))
    before, past = window.session.view, len(window.session.history.past)
    for spot in (circle(face), QPoint(5, 5), QPoint(face.width() - 5, face.height() // 2), face.rect().center()):
        qtbot.mouseClick(face, Left, pos=spot)
        qtbot.mousePress(face, Left, pos=spot)
        move(face, spot + QPoint(1, 1), Left)
        qtbot.mouseRelease(face, Left, pos=spot + QPoint(1, 1))
    assert window.session.view == before
    assert len(window.session.history.past) == past
    # Taken off its middle, the circle stays under the hand: it moves as far as the hand does, not to the hand.
    grip = circle(face) + QPoint(8, 3)
    start = circle(face).x()
    qtbot.mousePress(face, Left, pos=grip)
    move(face, grip + QPoint(12, 0), Left)
    qtbot.mouseRelease(face, Left, pos=grip + QPoint(12, 0))
    assert window.session.view != before
    assert circle(face).x() == pytest.approx(start + 12, abs=1.5)
    after = window.session.view
    move(face, grip, Left)
    assert window.session.view == after


def test_a_press_elsewhere_brings_the_circle_when_it_is_dragged(qtbot: QtBot, window: MainWindow) -> None:
    face = window.places.face
    window.place_portal(Placement(at=0.9, radius_mm=6.0))
    assert face._face is not None
    column = round(float(np.interp(0.2, face._face.ats, face._columns())))
    spot = QPoint(column - 10, face.rect().center().y())
    qtbot.mousePress(face, Left, pos=spot)
    move(face, QPoint(column, spot.y()), Left)
    qtbot.mouseRelease(face, Left, pos=QPoint(column, spot.y()))
    assert window.session.view.portal is not None
    assert window.session.view.portal.at == pytest.approx(0.2, abs=0.02)


@pytest.mark.parametrize("approach", APPROACHES)
@pytest.mark.parametrize("side", SIDES)
def test_names_stand_beside_the_picture_and_numerals_under_the_disc(
    qtbot: QtBot, window: MainWindow, side: str, approach: str
) -> None:
    face = window.places.face
    window.place_portal(Placement(side=side, approach=approach, at=0.4, radius_mm=11.0))
    assert face._face is not None
    docking = window.session.docking
    assert docking is not None
    drawn = face._spots([(line, line.before) for line in face._face.lines])
    names = face._names(drawn)
    touched = sum(c.touched for c in (*docking.nerves, *docking.vessels, *docking.viscera))
    assert len(names.placed) + names.more == touched
    metrics, picture = QFontMetricsF(face.font()), face.picture
    for name in names.placed:
        assert max(metrics.horizontalAdvance(line) for line in name.lines) < picture.left()
        assert picture.contains(*name.spot)
    bands = face._face.bands
    assert bool(bands) == (approaches()[approach].rim != "front")
    if bands:
        widths = [metrics.horizontalAdvance(band.quarter) for band in bands]
        middles = face.numerals(widths)
        for i in range(len(bands) - 1):
            assert middles[i] + widths[i] / 2.0 <= middles[i + 1] - widths[i + 1] / 2.0 + 1e-6
        assert picture.left() <= middles[0]
        assert middles[-1] <= picture.right()
