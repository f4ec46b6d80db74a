"""What can go wrong in a spot test: a record that cannot be used, items that a body lacks, a lesson that is open."""

from dataclasses import replace
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from lessons.spot.item import Item, Named
from meshes.body import Body
from tests.window.conftest import MainWindow, Make
from tests.window.lessonhands import finder, told
from tests.window.spothands import (
    asked,
    focused,
    kept,
    on,
    round_of,
    settled,
    visible_words,
)


def test_an_answer_that_cannot_be_written_is_told_once_and_the_test_goes_on(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path
) -> None:
    asked(qtbot, window, [items["quarter_l4_5"], items["predict_femoral"], items["name_femoral"]])
    connection = window.keeping.record._current()
    connection.execute("PRAGMA query_only = ON")  # nothing can be written
    window.spot_skip()
    settled(qtbot, window)
    assert str(record) in told(window)
    assert round_of(window).phase == "explained"
    window.spot_on()
    assert told(window) == ""
    window.spot_skip()
    settled(qtbot, window)
    assert told(window) == "", "it was told"
    assert kept(record) == []
    connection.execute("PRAGMA query_only = OFF")
    window.spot_on()
    window.spot_skip()
    settled(qtbot, window)
    assert [name for name, _ in kept(record)] == ["quarter_l4_5", "predict_femoral", "name_femoral"], "none is lost"


def test_a_record_that_is_damaged_while_it_is_open_is_set_aside_at_once(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path
) -> None:
    asked(qtbot, window, [items["quarter_l4_5"]])
    assert window.keeping.record.path == record
    record.unlink()
    record.write_bytes(b"no record" * 100)
    window.spot_skip()
    settled(qtbot, window)
    assert str(record) in told(window)
    assert kept(record) == [("quarter_l4_5", False)]


def test_a_record_that_cannot_be_read_is_set_aside_and_named(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record.write_bytes(b"no record" * 100)
    monkeypatch.setattr(window.keeping, "items", lambda: tuple(items.values()))
    monkeypatch.setattr(window.keeping, "prepare", lambda _: None)
    window.spot_test()
    finder(window).reject()
    assert str(record) in told(window)
    assert told(window).count(".") >= 1
    window.begin_spot(3)
    window.spot_skip()
    settled(qtbot, window)
    assert len(kept(record)) == 1


def test_an_item_that_the_body_lacks_is_left_out_and_named(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item]
) -> None:
    lacks = replace(items["name_femoral"], id="lacks", answer=Named("accessory_obturator_left"))
    asked(qtbot, window, [lacks, items["quarter_l4_5"]])
    assert round_of(window).item == items["quarter_l4_5"]
    assert "accessory_obturator_left" in told(window)
    assert "left out" in told(window)


def test_an_item_of_another_body_waits_for_it_and_one_that_it_lacks_is_left_out(
    qtbot: QtBot, make: Make, items: dict[str, Item], larch: Body, alder: Body
) -> None:
    bodies = {larch.specimen: larch}
    window = make(load=lambda specimen, _: replace(bodies.get(specimen, alder), specimen=specimen))
    qtbot.waitUntil(lambda: window.session.docking is not None, timeout=60_000)
    variant = replace(
        items["name_femoral"], id="variant", specimen=larch.specimen, answer=Named("accessory_obturator_left"),
        view=replace(items["name_femoral"].view, hidden=frozenset()),
    )  # fmt: skip
    broken = replace(
        items["name_femoral"], id="broken", specimen=replace(larch.specimen, name="Yew"), answer=Named("not_there")
    )
    asked(qtbot, window, [variant, broken, items["quarter_l4_5"]])
    assert window.session.body is not None
    assert window.session.body.specimen == larch.specimen
    assert not any("Larch" in words for words in visible_words(window)), "a specimen's name may tell its variant"
    qtbot.keyClicks(focused(), "accessory obturator nerve")
    on(qtbot, window)
    assert round_of(window).last is not None
    assert not round_of(window).last.missed  # type: ignore[union-attr]
    on(qtbot, window)
    qtbot.waitUntil(lambda: round_of(window).item == items["quarter_l4_5"], timeout=10_000)
    settled(qtbot, window)
    assert "left out" in told(window)
    assert len(round_of(window).items) == 2


def test_an_open_lesson_is_closed_and_resumed_later(
    qtbot: QtBot, window: MainWindow, items: dict[str, Item], tmp_path: Path
) -> None:
    from tests.window.lessonhands import run_of, written

    window.open_lesson(written(tmp_path / "femoral.toml"))
    window.jump_to(2)
    asked(qtbot, window, [items["name_femoral"]])
    assert window._run is None
    assert window.windowTitle() == "Spot test - furcal"
    window.spot_leave()
    window.resume_lesson()
    assert run_of(window).index == 2
