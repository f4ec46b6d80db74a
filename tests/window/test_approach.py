"""The page of the approach: layer by layer with the arrow keys, the field opened to each."""

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from lessons.view import Placement
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Mod, press


def test_the_keys_walk_the_layers_and_one_step_back_undoes_the_walk(qtbot: QtBot, window: MainWindow) -> None:
    window.place_portal(Placement(level="L3-4", radius_mm=11.0))
    view = window.session.view
    press(qtbot, window, Key.Key_A, Mod.ShiftModifier)
    page = window.places.approach
    assert window.places.page == "approach"
    assert page.head.text().startswith("Lateral approach to L3-4, left")
    assert page.list.hasFocus()
    assert page.leaf is None
    assert window.session.view == view  # looking at the page changes nothing
    docking = window.session.docking
    assert docking is not None
    assert page.list.count() == len(docking.layers)
    opened = {}
    for row, layer in enumerate(docking.layers):
        QTest.keyClick(page.list, Qt.Key.Key_Down)
        assert page.list.chosen == row
        opened[layer.id] = (window.session.view.dissection, window.session.view.highlighted)
    assert opened["internal_oblique_left"][0] == "internal_oblique"
    psoas, lit = opened["psoas_major_left"]
    assert psoas == "psoas"
    assert "genitofemoral_left" in lit
    assert "Psoas major" not in page.words.text()  # the disc is open now
    assert "L3-4 disc" in page.words.text()
    window.undo()
    assert window.session.view == view


def test_it_follows_the_portal_and_keeps_the_open_layer(qtbot: QtBot, window: MainWindow) -> None:
    window.walk_approach()
    page = window.places.approach
    layers = [leaf.id for leaf in page._leaves.leaves] if page._leaves else []
    page.list.setCurrentRow(layers.index("psoas_major_left"))
    window.place_portal(Placement(level="L2-3"))
    assert window.places.page == "approach"
    assert page.head.text().startswith("Lateral approach to L2-3")
    assert page.leaf is not None
    assert page.leaf.id == "psoas_major_left"
    window.toggle_portal()
    assert page.head.text().startswith("No portal is docked")
    assert not page.list.isVisible()


def test_letters_typed_in_the_list_are_the_windows(qtbot: QtBot, window: MainWindow) -> None:
    window.walk_approach()
    page = window.places.approach
    page.list.setCurrentRow(2)
    press(qtbot, window, Key.Key_R)
    assert page.list.currentRow() == 2
    assert window.session.view.camera.name == "right"


def test_sources_and_what_belongs_to_no_layer_are_folded_away(qtbot: QtBot, window: MainWindow) -> None:
    window.walk_approach()
    path, more, sources = window.places.approach.more
    for fold, words in ((path, "Position:"), (more, "How often it was reported"), (sources, "lateral_injury_26: ")):
        assert not fold.words.isVisible()
        fold.button.click()
        assert fold.words.isVisible()
        assert words in fold.words.text()
