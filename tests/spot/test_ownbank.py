"""A bank of one's own: its items have ids in a record that clash with no others; a mistake is told before a window."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import tomlkit

from lessons.spot.bank import bank_files, bundled_items, read_banks
from lessons.spot.item import Item
from lessons.spot.ownbank import kept_id, own_items
from lessons.spot.record import open_record
from lessons.spot.response import Said
from lessons.spot.verdict import Verdict
from lessons.spot.xapi import statements
from meshes.errors import FurcalError
from viewer.__main__ import main, run

ROW: dict[str, Any] = {
    "id": "femoral_named", "kind": "name", "objective": "course", "structure": "femoral_left", "mark": "femoral_left",
    "ask": "Seen from in front. Name the marked nerve.", "explain": "It lies in the groove. [common_practice]",
}  # fmt: skip
RIGHT = Verdict(True, 1.0, "Right.")
NOW = datetime(2026, 11, 20, 10, 0, tzinfo=UTC)


def bank(path: Path, *rows: dict[str, Any], **head: Any) -> Path:
    path.parent.mkdir(exist_ok=True)
    path.write_text(tomlkit.dumps({"furcal_items": 1, **head, "items": list(rows or (ROW,))}))
    return path


def one(path: Path, **more: Any) -> Item:
    (item,) = own_items([bank(path, {**ROW, **more})])
    return item


def test_an_id_holds_that_of_the_bank_and_is_none_of_furcals(tmp_path: Path) -> None:
    """A bank that was begun as a copy of furcal's own has other ids for every item."""
    for path in bank_files():
        (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    own = own_items(sorted(tmp_path.glob("*.toml")))
    assert len(own) == len(bundled_items())
    ids = {item.id for item in own}
    assert len(ids) == len(own)
    assert not ids & {item.id for item in bundled_items()}
    for item, read in zip(own, read_banks(sorted(tmp_path.glob("*.toml"))), strict=True):
        assert item.id.startswith(f"own:{read.id}:")
        assert replace(item, id=read.id) == read, "but for its id it is the item that was written"


def test_a_bank_keeps_its_ids_where_it_is_moved_renamed_or_added_to(tmp_path: Path) -> None:
    first = one(tmp_path / "harbour.toml")
    assert one(tmp_path / "other" / "bank.toml").id == first.id
    more = own_items([bank(tmp_path / "harbour.toml", {**ROW, "id": "second"}, ROW, about="Second evening")])
    assert first.id in {item.id for item in more}
    for how in ({"explain": "So it is. [judgement]"}, {"objective": "relations"}, {"view": {"camera": "front"}}):
        assert one(tmp_path / "harbour.toml", **how).id == first.id, "how it is shown and explained may be mended"


@pytest.mark.parametrize(
    "more",
    [
        {"ask": "Seen from in front. Name the nerve."},
        {"mark": "obturator_left"},
        {"vignette": "After a fall."},
        {"id": "other"},
        {"specimen": {"psoas_scale": 1.3}},
    ],
    ids=lambda more: next(iter(more)),
)
def test_what_asks_something_else_is_another_item(more: dict[str, Any], tmp_path: Path) -> None:
    assert one(tmp_path / "a.toml", **more).id != one(tmp_path / "b.toml").id


def test_a_record_tells_items_of_one_id_apart(tmp_path: Path) -> None:
    (item,) = read_banks([bank(tmp_path / "a.toml")])
    kept = [item, one(tmp_path / "a.toml"), one(tmp_path / "b.toml", ask="Seen from the left. Name the marked nerve.")]
    with open_record(tmp_path / "record.sqlite") as record:
        for days, asked in enumerate(kept):
            record.add(asked, Said("femoral"), RIGHT, 3.0, NOW + timedelta(days=days))
    with open_record(tmp_path / "record.sqlite") as record:
        assert [answer.item for answer in record.answers()] == [asked.id for asked in kept]
        assert {card.item: card.last_review for card in record.cards()} == {
            asked.id: NOW + timedelta(days=days) for days, asked in enumerate(kept)
        }
        told = statements(record.learner.id, record.answers())
    names = [statement["object"]["id"] for statement in told]
    assert len(set(names)) == 3
    assert all(" " not in name and name.startswith("https://furcal.invalid/items/") for name in names)
    due = record.schedule().due(NOW + timedelta(days=400), kept[1:2])
    assert due == (kept[1].id,)


def test_the_same_id_twice_is_refused_as_elsewhere(tmp_path: Path) -> None:
    paths = [bank(tmp_path / "a.toml"), bank(tmp_path / "b.toml", {**ROW, "ask": "Seen from behind. Name it."})]
    with pytest.raises(FurcalError, match="is the id of"):
        own_items(paths)


def test_an_id_is_the_same_on_every_machine_and_for_ever(tmp_path: Path) -> None:
    """Another digest would make every learner begin anew with the banks that are in use."""
    (item,) = read_banks([bank(tmp_path / "a.toml")])
    assert kept_id(item) == "own:femoral_named:ac7fe1fdb27c"


# --- the command


@pytest.fixture
def no_window(monkeypatch: pytest.MonkeyPatch) -> None:
    def opens() -> None:
        raise AssertionError("a window would have been opened")

    monkeypatch.setattr("viewer.display.prepare_window", opens)


@pytest.mark.usefixtures("no_window")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--bank", "{}/good.toml"], "--bank goes with --spot"),
        (["--spot", "5", "--bank", "{}/none.toml"], "none.toml: "),
        (["--spot", "5", "--bank", "{}"], ""),
        (
            ["--spot", "5", "--bank", "{}/bad.toml"],
            "bad.toml, item 1 (femoral_named), mark: unknown structure 'femoral'",
        ),
        (["--spot", "--bank", "{}/good.toml", "--bank", "{}/bad.toml"], "bad.toml, item 1 (femoral_named), mark"),
        (["--spot", "5", "--bank", "{}/good.toml", "--bank", "{}/same.toml"], "femoral_named is the id of"),
    ],
)
def test_a_bank_that_cannot_be_asked_is_one_sentence(
    words: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bank(tmp_path / "good.toml")
    bank(tmp_path / "same.toml")
    bank(tmp_path / "bad.toml", {**ROW, "mark": "femoral"})
    assert main([word.format(tmp_path) for word in words]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert said in told


@pytest.mark.usefixtures("no_window")
def test_a_bank_that_holds_goes_on_to_the_window(tmp_path: Path) -> None:
    bank(tmp_path / "a.toml")
    bank(tmp_path / "b.toml", {**ROW, "id": "other"})
    for words in (["--spot", "5"], ["--spot"]):
        with pytest.raises(AssertionError, match="a window would have been opened"):
            run([*words, "--bank", f"{tmp_path}/a.toml", "--bank", f"{tmp_path}/b.toml"])


def test_help_tells_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        run(["--help"])
    told = " ".join(capsys.readouterr().out.split())
    assert "--bank FILE with --spot: items of this bank in place of furcal's own" in told
