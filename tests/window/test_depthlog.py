"""The depth log read by mouse and by keys: each pin says what it is, how deep it lies, and how near the portal."""

import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from lessons.view import Placement
from meshes.layers import Layer
from tests.window.conftest import MainWindow
from tests.window.hands import Key, move
from viewer.panels.depthlog import LETTERS, DepthLog


def hover(log: DepthLog, x: float) -> None:
    move(log, QPoint(round(x), log.height() // 2))


PLACES = [Placement(), Placement(approach="anterior"), Placement("L1-2", "right", "oblique")]


@pytest.mark.parametrize("where", PLACES, ids=lambda p: f"{p.level} {p.approach}")
def test_every_pin_tells_its_structure_its_depth_and_its_distance(window: MainWindow, where: Placement) -> None:
    window.place_portal(where)
    log, docking = window.places.log, window.session.docking
    assert docking is not None
    pins = log._near()
    every = (*docking.nerves, *docking.vessels, *docking.viscera)
    assert {c.id for c in every if c.touched} <= {c.id for c in pins}
    for contact in pins:
        hover(log, log._pin(contact))
        says = log.toolTip().splitlines()
        assert f"{contact.depth_mm:.0f} mm deep" in log.pin_words(contact)
        assert log.pin_words(contact).startswith(contact.structure.name) or contact.structure.side in log.pin_words(
            contact
        )
        assert log.pin_words(contact) in says
        assert log._meant[0].clearance_mm <= contact.clearance_mm
        assert log.pin_words(log._meant[0]) in log.told()
        assert log.told() in log.accessibleDescription()
    inside = next(c for c in pins if c.clearance_mm < -0.1)
    assert log.pin_words(inside).endswith(f"{-inside.clearance_mm:.1f} mm inside the portal")


def test_with_keys_the_structure_at_the_mark_is_told(qtbot: QtBot, window: MainWindow) -> None:
    log = window.places.log
    contact = min(log._near(), key=lambda c: c.depth_mm)
    log.setFocus(Qt.FocusReason.OtherFocusReason)
    qtbot.keyClick(log, Key.Key_Home)
    for _ in range(round(contact.depth_mm)):
        qtbot.keyClick(log, Key.Key_Right)
    name = contact.structure.name
    assert name[:1].lower() + name[1:] in log.told()
    assert log.told().startswith(f"{contact.depth_mm:.0f} mm: ")
    assert log.accessibleDescription().startswith(log.told())
    before = log.grab().toImage()
    window.field.setFocus()
    assert log.grab().toImage() != before, "what is told is painted"


def test_a_narrow_layer_has_a_whole_name_or_none(window: MainWindow) -> None:
    window.place_portal(Placement(approach="anterior"))
    log = window.places.log
    vessel = next(y for y in log._axis_layers() if y.id.startswith("common_iliac"))
    side = vessel.id.rsplit("_", 1)[1]
    assert log.names_of(vessel)[1:] == (f"Common iliac a., {side}",)
    assert all(words not in ("left", "right", "hip") for y in log._axis_layers() for words in log.names_of(y))


def test_letters_are_explained(window: MainWindow) -> None:
    window.place_portal(Placement(approach="oblique"))
    log = window.places.log
    walls = [y for y in log._axis_layers() if y.id.rsplit("_", 1)[0] in LETTERS]
    assert walls
    for layer in walls:
        hover(log, log.x_of(_middle(layer)))
        letters = LETTERS[layer.id.rsplit("_", 1)[0]]
        assert f"{layer.name} ({letters}): {layer.from_mm:.1f} to {layer.to_mm:.1f} mm" in log.toolTip()
        assert log.names_of(layer)[-1] == letters


def _middle(layer: Layer) -> float:
    return 0.5 * (layer.from_mm + layer.to_mm)
