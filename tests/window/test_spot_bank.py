"""A bank of one's own in the window: opened on the start page, remembered, and refused in one sentence if broken."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from lessons.spot.bank import read_banks
from lessons.spot.ownbank import kept_id
from tests.window.conftest import MainWindow, Make
from tests.window.hands import Key, Mod
from tests.window.lessonhands import finder, told
from tests.window.spothands import BANK, bank, kept, round_of, settled
from viewer.settings import Settings

COUNT = BANK.count("[[items]]")


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A good bank."""
    bank(tmp_path)
    return tmp_path / "bank.toml"


def start_page(qtbot: QtBot, window: MainWindow) -> list[tuple[str, str]]:
    """Open it; its rows."""
    qtbot.keyClick(window, Key.Key_T, Mod.ControlModifier | Mod.ShiftModifier)
    return rows(window)


def rows(window: MainWindow) -> list[tuple[str, str]]:
    return [(row.text, row.hint) for row in finder(window).shown]


def take(qtbot: QtBot, window: MainWindow, words: str) -> None:
    """Take the row that is found by some words."""
    page = finder(window)
    page.line.clear()
    qtbot.keyClicks(page.line, words)
    assert len(page.shown) == 1, [row.text for row in page.shown]
    qtbot.keyClick(page.line, Key.Key_Return)


def choose(monkeypatch: pytest.MonkeyPatch, *paths: Path) -> list[tuple[str, str]]:
    """The file dialog gives these; what it asked for."""
    asked: list[tuple[str, str]] = []

    def chosen(_: object, title: str, __: str, kinds: str) -> tuple[list[str], str]:
        asked.append((title, kinds))
        return [str(path) for path in paths], kinds

    monkeypatch.setattr(QFileDialog, "getOpenFileNames", staticmethod(chosen))
    return asked


LENGTHS = [("10 items", ""), ("20 items", ""), ("30 items", "")]
OPEN = ("Open a bank file...", "items of your own")


def test_a_bank_is_opened_on_the_start_page_asked_and_kept(
    qtbot: QtBot, window: MainWindow, own: Path, record: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert start_page(qtbot, window) == [*LENGTHS, OPEN]
    asked = choose(monkeypatch, own)
    take(qtbot, window, "open bank")
    assert asked == [("Open bank", "Bank of items (*.toml)")]
    assert rows(window) == [
        ("All items of the bank", f"{COUNT} items"), ("Items of furcal's own bank", ""), OPEN,
    ]  # fmt: skip
    assert finder(window).line.accessibleName().endswith("Items of bank.toml")
    take(qtbot, window, "all")
    settled(qtbot, window)
    ids = {kept_id(item): item.id for item in read_banks([own])}
    assert {item.id for item in round_of(window).items} == set(ids)
    first = round_of(window).item
    assert first is not None
    qtbot.keyClick(window.field, Key.Key_F7)
    settled(qtbot, window)
    assert kept(record) == [(first.id, False)]
    assert first.id.startswith(f"own:{ids[first.id]}:")
    window.spot_leave()
    settled(qtbot, window)

    # What was not known is due some days later, and counted where its bank is asked alone.
    later = datetime.now().astimezone() + timedelta(days=3)
    monkeypatch.setattr("viewer.doing.spotkeeping._now", lambda: later)
    assert start_page(qtbot, window)[1] == ("All that is due today", "1 item")
    take(qtbot, window, "furcal")
    assert rows(window) == [*LENGTHS, ("Items of bank.toml", str(tmp_path)), OPEN]
    assert "nothing is due today" in finder(window).line.accessibleName()
    take(qtbot, window, "10")
    settled(qtbot, window)
    assert not any(item.id.startswith("own:") for item in round_of(window).items)


def test_the_last_bank_is_remembered_and_offered_the_next_time(
    qtbot: QtBot, make: Make, own: Path, tmp_path: Path
) -> None:
    first = make()
    qtbot.waitUntil(lambda: first.session.docking is not None, timeout=60_000)
    first.spot_when_ready(3, [own])
    settled(qtbot, first)
    assert len(round_of(first).items) == 3
    assert Settings(tmp_path).banks() == (own,)
    first.spot_leave()
    first.close()

    second = make()
    qtbot.waitUntil(lambda: second.session.docking is not None, timeout=60_000)
    assert start_page(qtbot, second) == [*LENGTHS, ("Items of bank.toml", str(tmp_path)), OPEN]
    take(qtbot, second, "items of bank")
    assert rows(second)[0] == ("All items of the bank", f"{COUNT} items")
    finder(second).reject()
    own.unlink()
    second.use_banks(())
    assert start_page(qtbot, second) == [*LENGTHS, OPEN], "a file that is gone is not offered"
    finder(second).reject()


def test_a_broken_bank_is_one_sentence_and_the_window_stays_as_it_was(
    qtbot: QtBot, window: MainWindow, own: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(BANK.replace('mark = "femoral_left"', 'mark = "femoral"', 1), encoding="utf-8")
    window.use_banks([own])
    scene, history = window.session.scene, list(window.session.history.past)
    start_page(qtbot, window)
    choose(monkeypatch, bad)
    take(qtbot, window, "open bank")
    said = told(window)
    assert said.startswith(f"{bad}, item 1 (name_femoral), mark: unknown structure 'femoral'. Nearest: femoral_left")
    assert window._round is None
    assert (window.session.scene, window.session.history.past) == (scene, history)
    assert window.keeping.banks == (own,)
    assert Settings(tmp_path).banks() == (own,), "what cannot be asked is not remembered"
    window.spot_test()
    assert rows(window)[0] == ("All items of the bank", f"{COUNT} items")
    choose(monkeypatch, own, bad)
    take(qtbot, window, "open bank")
    assert told(window).startswith(f"{bad}, item 1"), "of several, the one that is broken is named"


def test_a_dialog_that_is_closed_leads_back_to_the_start_page(
    qtbot: QtBot, window: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    start_page(qtbot, window)
    choose(monkeypatch)
    take(qtbot, window, "open bank")
    assert rows(window) == [*LENGTHS, OPEN]
    assert told(window) == ""
    finder(window).reject()


def test_several_banks_are_named_by_the_first(qtbot: QtBot, window: MainWindow, own: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    head, first, *_ = BANK.split("[[items]]")
    other.write_text(f"{head}[[items]]{first}".replace("name_femoral", "second"), encoding="utf-8")
    window.use_banks([own, other])
    start_page(qtbot, window)
    assert finder(window).line.accessibleName().endswith("Items of bank.toml and 1 more")
    assert rows(window)[0] == ("All items of the bank", f"{COUNT + 1} items")
    finder(window).reject()
