"""The readout: it says first whether the disc is reached, lists the worst on top, and never lies over itself."""

from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from lessons.view import Placement
from tests.window.conftest import MainWindow, Make
from tests.window.hands import Left, at_rest, letters_of
from viewer.panels.readout import broken


def test_the_bone_that_bars_is_marked_in_the_field_until_the_way_is_clear(qtbot: QtBot, window: MainWindow) -> None:
    docking, field, readout = window.session.docking, window.field, window.places.readout
    assert docking is not None
    assert field.scene is not None
    assert docking.access.barred_by == ("hip_left",)
    assert field.scene.looks["hip_left"].ringed
    assert readout.head.text() == "Does not reach the L4-5 disc: the left hip bone (iliac crest) is in the way."
    at_rest(qtbot, window)
    qtbot.waitUntil(lambda: "hip_left" in field.named, timeout=10_000)
    label = next(label for label in field._overlay.labels if label.anchor.id == "hip_left")
    assert label.anchor.words == "Hip bone, in the way"
    qtbot.mouseClick(readout.tilt, Left)
    assert readout.head.text() == "Reaches the L4-5 disc in quarter II."
    assert not field.scene.looks["hip_left"].ringed


def test_touched_vessels_are_drawn_and_named_though_their_layer_is_off(qtbot: QtBot, window: MainWindow) -> None:
    window.session.change(window.session.view.seen_from("front"))
    window.place_portal(Placement(approach="anterior"))
    docking, field = window.session.docking, window.field
    assert docking is not None
    assert field.scene is not None
    touched = {c.id for c in docking.vessels if c.touched}
    assert touched
    assert window.session.view.layer_state("vessels") == "off"
    assert {i for i, one in field.scene.looks.items() if one.ringed} >= touched
    at_rest(qtbot, window)
    qtbot.waitUntil(lambda: touched <= set(field.named), timeout=10_000)
    words = {label.anchor.id: label.anchor.words for label in field._overlay.labels}
    assert all(words[i].endswith(", touched") for i in touched)


def test_the_list_starts_at_its_top_after_a_move_and_stays_where_it_is_while_a_row_is_chosen(
    qtbot: QtBot, window: MainWindow
) -> None:
    readout = window.places.readout
    bar = readout.list.verticalScrollBar()
    assert bar.maximum() > 0
    bar.setValue(bar.maximum())
    scrolled = bar.value()
    last = readout.model.index(readout.model.rowCount() - 1, 0)
    qtbot.mouseClick(readout.list.viewport(), Left, pos=readout.list.visualRect(last).center())
    assert window.session.view.highlighted
    assert bar.value() == scrolled
    window.place_portal(Placement(at=0.45))
    assert bar.value() == 0
    assert not readout.list.selectedIndexes()
    first = readout.list.visualRect(readout.model.index(0, 0))
    assert readout.list.viewport().rect().contains(first)


@pytest.mark.parametrize(("width", "height", "points"), [(1024, 700, 9), (1280, 800, 16)])
def test_nothing_of_the_readout_lies_over_anything_else_and_three_rows_are_seen_whole(
    qtbot: QtBot, make: Make, width: int, height: int, points: int
) -> None:
    with letters_of(points):
        window = make()
        qtbot.waitUntil(lambda: window.session.docking is not None, timeout=60_000)
        window.resize(width, height)
        readout, face = window.places.readout, window.places.face
        for placement in (Placement(), Placement(level="L5-S1"), Placement(approach="anterior"), Placement(at=0.9)):
            window.place_portal(placement)
            # The page takes a turn or two of the loop to lay out words that have become longer.
            qtbot.waitUntil(lambda: not face.geometry().intersects(readout.geometry()), timeout=2_000)
            parts = [readout.head, readout.where, readout.barred, readout.tilt, readout.opened, readout.touches,
                     readout.list, readout.rest]  # fmt: skip
            seen = [part for part in parts if part.isVisible()]
            for a, b in combinations(seen, 2):
                assert not a.geometry().intersects(b.geometry())
            for label in seen:
                if isinstance(label, QLabel):
                    assert label.height() >= label.heightForWidth(label.width())
            assert readout.rect().contains(readout.childrenRect())
            assert not window.places.face.geometry().intersects(readout.geometry())
            rows = [readout.list.visualRect(readout.model.index(i, 0)) for i in range(3)]
            assert all(readout.list.viewport().rect().contains(row) for row in rows)


@given(st.lists(st.text("abcdefgh,", min_size=1, max_size=12), min_size=1, max_size=12), st.integers(3, 60))
def test_a_broken_name_loses_no_word_and_keeps_to_its_room(words: list[str], room: int) -> None:
    lines = broken(" ".join(words), room, len)
    assert " ".join(lines) == " ".join(words)
    assert all(len(line) <= room or " " not in line for line in lines)
    # No line could have taken the first word of the next.
    assert all(len(f"{a} {b.split(' ')[0]}") > room for a, b in pairwise(lines))
