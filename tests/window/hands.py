"""What a hand does to the window, and what an eye reads off it."""

from collections.abc import Iterator
from contextlib import contextmanager

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QFont, QImage, QMouseEvent
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from meshes.contact import Docking
from tests.window.conftest import MainWindow
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
    """Until nothing moves and the best picture is drawn, without the pause in which a slow hand might go on."""
    field = window.field

    def rests() -> bool:
        if field._rest.isActive() and not (field._flight.isActive() or field._fading.isActive()):
            field._rest.start(0)
        return field.is_resting

    QApplication.processEvents()  # what moves is drawn as it moves
    qtbot.waitUntil(rests, timeout=10_000)
    QApplication.processEvents()


def parts(window: MainWindow) -> PartsDialog | None:
    """The dialog of single structures, if one is open."""
    return window._parts


def colour_at(image: QImage, place_: QPoint) -> list[int]:
    colour = image.pixelColor(place_)
    return [colour.red(), colour.green(), colour.blue()]


def move(widget: QWidget, spot: QPoint, held: Qt.MouseButton = Qt.MouseButton.NoButton) -> None:
    """The mouse moves to a place of a widget, a button held or none: told at once, however busy the machine is."""
    here, everywhere, none = QPointF(spot), QPointF(widget.mapToGlobal(spot)), Qt.MouseButton.NoButton
    QApplication.sendEvent(widget, QMouseEvent(QEvent.Type.MouseMove, here, everywhere, none, held, Mod.NoModifier))


@contextmanager
def letters_of(points: int) -> Iterator[None]:
    """The system's font in another size, for as long as it lasts."""
    before = QApplication.font()
    face = QFont(before)
    face.setPointSize(points)
    QApplication.setFont(face)
    try:
        yield
    finally:
        QApplication.setFont(before)
