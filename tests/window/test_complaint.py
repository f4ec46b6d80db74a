"""From complaint to nerve in the window: ticks, the ranking, picking what comes first."""

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from lessons.clinic import rank
from lessons.findings import Finding, find
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, press
from viewer.panels.complaint import FOUND, SPARED, Complaint


@pytest.fixture
def dialog(qtbot: QtBot, window: MainWindow) -> Complaint:
    press(qtbot, window, Key.Key_J, Mod.ControlModifier)
    found = window.findChildren(Complaint)
    assert len(found) == 1
    return found[0]


KNEE = ("weak", "knee extension")


def test_what_is_ticked_is_ranked_as_the_command_ranks_it_and_can_be_picked(
    qtbot: QtBot, window: MainWindow, dialog: Complaint
) -> None:
    assert not dialog.buttons[0].isVisible()
    findings: list[Finding] = [find(*KNEE), find("lost", "knee jerk")]
    for finding in findings:
        dialog.tick(finding, FOUND)
    dialog.tick(find("weak", "hip adduction"), SPARED)
    qtbot.waitUntil(lambda: "1. " in dialog.answer.toPlainText(), timeout=5_000)
    first = rank(findings, [find("weak", "hip adduction")])[0]
    assert f"1. {first.name}" in dialog.answer.toPlainText()
    assert "Next, to tell" in dialog.answer.toPlainText()
    assert "not for planning" in dialog.answer.toPlainText()
    qtbot.mouseClick(dialog.buttons[0], Left)
    assert window._traced is not None
    assert window._traced.id.startswith(first.of.id)


def test_nothing_is_found_and_normal_at_once(dialog: Complaint) -> None:
    finding = find(*KNEE)
    dialog.tick(finding, FOUND)
    dialog.tick(finding, SPARED)
    assert dialog.ticked(FOUND) == []
    assert dialog.ticked(SPARED) == [finding]


def test_the_docked_portal_counts_where_it_went_before(dialog: Complaint) -> None:
    for finding in (find(*KNEE), find("numb", "above the pubis")):
        dialog.tick(finding, FOUND)
    dialog.after.setChecked(True)
    dialog.tell()
    assert "After: lateral L4-5 left." in dialog.answer.toPlainText()
    assert "think of two" in dialog.answer.toPlainText()


def test_the_list_narrows_by_typing(qtbot: QtBot, dialog: Complaint) -> None:
    qtbot.keyClicks(dialog.line, "knee ext")
    shown = [item.text(0) for item in dialog._items() if not item.isHidden()]
    assert shown == ["knee extension"]
    assert sum(not top.isHidden() for top in dialog._tops()) == 1
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()
