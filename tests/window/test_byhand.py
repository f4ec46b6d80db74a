"""The portal by hand: pulled by either end in the field, nudged by keys, sized by the wheel; steps and snaps."""

from dataclasses import astuple, replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from lessons.view import Camera, Placement
from meshes.contact import dock
from meshes.portal import place
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, answer, at_rest, press
from viewer.cameras import projected
from viewer.grips import MIDDLES


def spot(window: MainWindow, point: np.ndarray) -> QPoint:
    """Where a point is seen in the field."""
    field = window.field
    assert field.eye is not None
    x, y = projected(point[None], field.eye, (field.width(), field.height()))[0]
    return QPoint(round(x), round(y))


def drag(qtbot: QtBot, window: MainWindow, start: QPoint, by: QPoint, steps: int = 6) -> None:
    """Press, move, let go."""
    field = window.field
    qtbot.mousePress(field, Left, pos=start)
    for i in range(1, steps + 1):
        qtbot.mouseMove(field, start + by * i / steps)
    qtbot.mouseRelease(field, Left, pos=start + by)


def side_view(window: MainWindow) -> None:
    window.session.change(replace(window.session.view, camera=Camera("left"), portal=Placement(anterior_deg=20.0)))
    window.field.stand_still()


def placed(window: MainWindow) -> Placement:
    where = window.session.view.portal
    assert where is not None
    return where


def assert_told_as_the_command_tells_it(window: MainWindow) -> None:
    body = window.session.body
    assert body is not None
    assert answer(window.session.docking) == answer(dock(body, place(body, *astuple(placed(window)))))


def test_the_inner_end_pulled_moves_the_portal_along_the_disc(qtbot: QtBot, window: MainWindow) -> None:
    side_view(window)
    docking = window.session.docking
    assert docking is not None
    before = window.session.view
    drag(qtbot, window, spot(window, docking.portal.end_mm), QPoint(-25, 0))  # from the left the front is at the left
    assert placed(window).at > 0.6
    assert replace(placed(window), at=0.5) == before.portal
    assert_told_as_the_command_tells_it(window)
    assert window.places.form.at.value() == pytest.approx(placed(window).at, abs=0.006)
    press(qtbot, window, Key.Key_Z, Mod.ControlModifier)
    assert window.session.view == before


def test_the_outer_end_pulled_leans_the_portal(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F)
    docking = window.session.docking
    assert docking is not None
    start = spot(window, docking.portal.entry_mm)
    drag(qtbot, window, start, QPoint(0, -30))
    leaned = placed(window)
    assert leaned.cranial_deg > 4.0
    assert (leaned.at, leaned.level) == (0.5, "L4-5")
    assert_told_as_the_command_tells_it(window)
    docking = window.session.docking
    assert docking is not None
    assert abs(spot(window, docking.portal.entry_mm).y() - (start.y() - 30)) < 8


def test_a_portal_pulled_off_the_body_stays_and_the_window_says_so(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F)
    docking = window.session.docking
    assert docking is not None
    drag(qtbot, window, spot(window, docking.portal.entry_mm), QPoint(-60, -400), steps=12)
    assert window.statusBar().currentMessage().endswith(".")
    assert abs(placed(window).cranial_deg) <= 45.0
    assert_told_as_the_command_tells_it(window)
    side_view(window)
    docking = window.session.docking
    assert docking is not None
    drag(qtbot, window, spot(window, docking.portal.end_mm), QPoint(-300, 150))
    assert placed(window).at == 1.0
    assert "stays on the disc" in window.statusBar().currentMessage()
    assert not window.places.message.isVisible()


def test_a_border_seen_end_on_is_told(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F)
    for _ in range(12):
        press(qtbot, window, Key.Key_Minus)
    docking, before = window.session.docking, placed(window)
    assert docking is not None
    drag(qtbot, window, spot(window, docking.portal.end_mm), QPoint(12, 0))
    assert "end on" in window.statusBar().currentMessage()
    assert placed(window) == before


def test_beside_the_portal_the_body_turns(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F)
    before = placed(window)
    drag(qtbot, window, QPoint(40, 40), QPoint(60, 0))
    assert window.session.view.camera.name == "free"
    assert placed(window) == before


def test_snapping_stands_in_the_middle_of_quarters(qtbot: QtBot, window: MainWindow) -> None:
    side_view(window)
    press(qtbot, window, Key.Key_Q)
    assert placed(window).at in MIDDLES
    assert window.actions_by_name["toggle_snaps"].isChecked()
    docking = window.session.docking
    assert docking is not None
    drag(qtbot, window, spot(window, docking.portal.end_mm), QPoint(-30, 0))
    assert placed(window).at in MIDDLES[2:]
    press(qtbot, window, Key.Key_Q)
    assert not window.snaps


@pytest.mark.parametrize(("key", "gains"), [(Key.Key_Left, 1.0), (Key.Key_Right, -1.0)])
def test_alt_and_an_arrow_move_by_one_millimetre(qtbot: QtBot, window: MainWindow, key: Qt.Key, gains: float) -> None:
    side_view(window)
    docking = window.session.docking
    assert docking is not None
    before, end = placed(window), docking.portal.end_mm
    press(qtbot, window, key, Mod.AltModifier)
    assert np.sign(placed(window).at - before.at) == gains
    docking = window.session.docking
    assert docking is not None
    assert np.linalg.norm(docking.portal.end_mm - end) == pytest.approx(1.0, abs=0.1)


def test_alt_up_and_down_are_depth_and_alt_shift_leans(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_Down, Mod.AltModifier)
    press(qtbot, window, Key.Key_Down, Mod.AltModifier)
    press(qtbot, window, Key.Key_Up, Mod.AltModifier)
    assert placed(window).depth_mm == 1.0
    both = Mod.AltModifier | Mod.ShiftModifier
    press(qtbot, window, Key.Key_Up, both)
    assert placed(window).cranial_deg == 1.0
    press(qtbot, window, Key.Key_Left, both)
    assert abs(placed(window).anterior_deg) == 1.0
    press(qtbot, window, Key.Key_Right, both)
    assert placed(window).anterior_deg == 0.0
    assert_told_as_the_command_tells_it(window)


def test_the_wheel_sizes_the_portal_with_control_and_shift(qtbot: QtBot, window: MainWindow) -> None:
    field, at = window.field, QPointF(200.0, 200.0)
    half = field.eye.half_height_mm  # type: ignore[union-attr]
    for modifier, notches in ((Mod.ControlModifier, 2), (Mod.ShiftModifier, 3), (Mod.ShiftModifier, -1)):
        delta, idle = QPoint(0, 120 * notches), Qt.MouseButton.NoButton
        wheel = QWheelEvent(at, at, QPoint(), delta, idle, modifier, Qt.ScrollPhase.NoScrollPhase, False)
        QApplication.sendEvent(field, wheel)
    assert (placed(window).radius_mm, placed(window).depth_mm) == (13.0, 2.0)
    assert field.eye.half_height_mm == half  # type: ignore[union-attr]
    for _ in range(30):
        window._sized("radius", -1.0)
    assert placed(window).radius_mm == 1.0


def test_keys_and_wheel_work_on_the_disc_face(qtbot: QtBot, window: MainWindow) -> None:
    face = window.places.face
    window.place_portal(Placement())
    face.setFocus()
    for key, gains in ((Key.Key_Left, 1.0), (Key.Key_Right, -1.0)):  # from the left the front is at the left
        before = placed(window)
        qtbot.keyClick(face, key)
        assert np.sign(placed(window).at - before.at) == gains
    qtbot.keyClick(face, Key.Key_Down)
    qtbot.keyClick(face, Key.Key_Up, Mod.ShiftModifier)
    qtbot.keyClick(face, Key.Key_Left, Mod.ShiftModifier)
    assert (placed(window).depth_mm, placed(window).cranial_deg, placed(window).anterior_deg) == (1.0, 1.0, 1.0)
    middle = QPointF(face.rect().center())
    for modifier in (Mod.NoModifier, Mod.ShiftModifier):
        delta, idle = QPoint(0, 120), Qt.MouseButton.NoButton
        wheel = QWheelEvent(middle, middle, QPoint(), delta, idle, modifier, Qt.ScrollPhase.NoScrollPhase, False)
        QApplication.sendEvent(face, wheel)
    assert (placed(window).radius_mm, placed(window).depth_mm) == (12.0, 2.0)
    assert_told_as_the_command_tells_it(window)


def test_without_a_portal_the_keys_say_so(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_D)
    press(qtbot, window, Key.Key_Left, Mod.AltModifier)
    assert "No portal is docked" in window.statusBar().currentMessage()
    assert window.session.view.portal is None


def test_approaches_are_one_key_away(qtbot: QtBot, window: MainWindow) -> None:
    window.place_portal(Placement("L3-4", at=0.8, depth_mm=3.0, cranial_deg=4.0))
    for key, approach in ((Key.Key_2, "oblique"), (Key.Key_3, "anterior"), (Key.Key_4, "posterolateral")):
        press(qtbot, window, key, Mod.AltModifier)
        assert placed(window) == Placement("L3-4", approach=approach)


def test_turning_in_steps(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_F)
    press(qtbot, window, Key.Key_K)
    drag(qtbot, window, QPoint(40, 40), QPoint(-61, 0))  # 21 degrees of free turning
    assert window.field.eye is not None
    towards = window.field.eye.axes()[2]
    assert np.degrees(np.arctan2(towards[0], -towards[1])) == pytest.approx(15.0)
    press(qtbot, window, Key.Key_Left)
    towards = window.field.eye.axes()[2]
    assert np.degrees(np.arctan2(towards[0], -towards[1])) == pytest.approx(30.0)
    at_rest(qtbot, window)
    press(qtbot, window, Key.Key_K)
    drag(qtbot, window, QPoint(40, 40), QPoint(-10, 0))
    towards = window.field.eye.axes()[2]
    assert np.degrees(np.arctan2(towards[0], -towards[1])) == pytest.approx(33.5, abs=0.2)
