"""`furcal items`: good items of a bank are shown whatever else it holds, and everything wrong is told once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import tomlkit

from lessons.spot.bankcheck import checked
from lessons.spot.names import is_called
from lessons.spot.qti import accepted_names
from lessons.spot.wordbook import known_structures
from tests.spot.anyitem import item
from tests.spot.commands import Capture
from viewer.__main__ import main

GOOD: dict[str, Any] = {
    "id": "good", "kind": "name", "objective": "course", "structure": "femoral_left", "mark": "femoral_left",
    "ask": "Seen from in front. Name the marked nerve.", "explain": "It lies in the groove. [common_practice]",
}  # fmt: skip
BAD = {**GOOD, "id": "bad", "mark": "femoral"}
WRONG = "item 2 (bad), mark: unknown structure 'femoral'."


def bank(folder: Path, *rows: dict[str, Any]) -> Path:
    path = folder / "bank.toml"
    path.write_text(tomlkit.dumps({"furcal_items": 1, "items": list(rows)}))
    return path


def items(*words: str | Path) -> int:
    return main(["items", *map(str, words)])


def test_a_good_item_beside_a_broken_one_is_shown_and_what_is_wrong_is_told(tmp_path: Path, capsys: Capture) -> None:
    assert items("show", "good", "--bank", bank(tmp_path, GOOD, BAD)) == 0
    said = capsys.readouterr()
    assert said.out.startswith("good: name, course, recall, about femoral_left\n")
    assert said.err.count("\n") == 1
    assert WRONG in said.err


def test_a_good_item_beside_a_broken_one_is_drawn(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[str] = []
    monkeypatch.setattr("viewer.spotshots.write_item_picture", lambda one, *_, **__: drawn.append(one.id))
    assert items("picture", "good", "--bank", bank(tmp_path, GOOD, BAD), "--out", tmp_path / "a.png") == 0
    assert drawn == ["good"]
    assert WRONG in capsys.readouterr().err


def test_a_broken_item_itself_is_refused_with_its_own_fault(tmp_path: Path, capsys: Capture) -> None:
    worse = {**GOOD, "id": "worse", "mark": ""}
    for names, said in (("bad", WRONG), ("worse", "item 3 (worse), mark: is empty"), ("goo", "unknown item 'goo'")):
        assert items("show", names, "--bank", bank(tmp_path, GOOD, BAD, worse)) == 2
        told = capsys.readouterr()
        assert told.out == ""
        assert said in told.err.splitlines()[-1]
    assert items("list", "--bank", bank(tmp_path, GOOD, BAD)) == 2
    assert WRONG in capsys.readouterr().err


def test_a_bank_that_holds_no_good_item_is_refused_with_what_is_wrong(tmp_path: Path, capsys: Capture) -> None:
    assert items("show", "good", "--bank", tmp_path / "none.toml") == 2
    assert "none.toml: " in capsys.readouterr().err


def test_of_an_id_that_is_given_twice_the_first_is_shown(tmp_path: Path, capsys: Capture) -> None:
    assert items("show", "good", "--bank", bank(tmp_path, GOOD, {**GOOD, "ask": "Second. From in front."})) == 0
    said = capsys.readouterr()
    assert "Name the marked nerve" in said.out
    assert said.err.count("is the id of") == 1


def test_an_id_that_is_given_twice_is_told_once_and_so_is_what_is_wrong_on_the_body(tmp_path: Path) -> None:
    hidden = {**GOOD, "view": {"dissection": "skin"}}
    found = checked([bank(tmp_path, hidden, hidden)])
    assert found.items == 2
    assert [("is the id of" in said, "marked but not shown" in said) for said in found.problems] == [
        (True, False), (False, True), (False, True),
    ]  # fmt: skip
    assert [f"item {n} (good)" in said for n, said in zip((2, 1, 2), found.problems, strict=True)] == [True] * 3


@pytest.mark.parametrize(("count", "said"), [(1, "1 item"), (2, "2 items")])
def test_items_are_counted_in_words(count: int, said: str, tmp_path: Path, capsys: Capture) -> None:
    path = bank(tmp_path, *({**GOOD, "id": f"good_{n}"} for n in range(count)))
    assert items("list", "--bank", path) == 0
    assert capsys.readouterr().out.endswith(f"\n{said}.\n")
    assert items("check", path) == 0
    assert capsys.readouterr().out == f"nothing wrong ({said} in 1 file).\n"


def test_an_item_that_asks_for_a_name_lists_what_is_accepted(tmp_path: Path, capsys: Capture) -> None:
    assert items("show", "good", "--bank", bank(tmp_path, GOOD)) == 0
    said = " ".join(capsys.readouterr().out.split())
    names = said.split("other order too: ")[1].split(" It lies")[0].split("; ")
    assert {"Femoral nerve", "Femoral", "nervus femoralis", "FN"} <= set(names)
    assert all(is_called(name, "femoral_left", known_structures()) for name in names)
    told = [name.casefold() for name in names]
    assert len(set(told)) == len(told)
    assert {name.casefold().removeprefix("left ") for name in accepted_names(item("good"))} == set(told)


def test_an_item_of_another_kind_lists_no_names(tmp_path: Path, capsys: Capture) -> None:
    row = {key: value for key, value in GOOD.items() if key != "mark"}
    assert items("show", "good", "--bank", bank(tmp_path, {**row, "kind": "trace", "roots": ["L2"]})) == 0
    assert "accepted" not in capsys.readouterr().out
