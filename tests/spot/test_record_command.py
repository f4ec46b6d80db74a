"""`furcal record`: where it is, all of it as a file, and gone; what is refused in one sentence."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from lessons.spot.record import open_record
from lessons.spot.response import Said
from lessons.spot.xapi import xapi_json
from tests.house.programs import furcal
from tests.spot.commands import Capture, refused
from tests.spot.records import ASKED, MORNING, RIGHT, WRONG, answer_all, write_schema_1
from tests.spot.xapirules import RULES
from viewer.__main__ import main


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the record of this test lies."""
    path = tmp_path / "kept" / "record.sqlite"
    monkeypatch.setenv("FURCAL_RECORD", str(path))
    return path


@pytest.fixture
def answered(path: Path) -> dict[str, Any]:
    """What is kept of a learner who answered."""
    with open_record(path) as record:
        answer_all(record, rounds=2)
        return record.export()


# --- where


def test_where_says_the_path_how_many_answers_and_what_is_due_today(path: Path, capsys: Capture) -> None:
    now = datetime.now().astimezone()
    with open_record(path) as record:
        for number, (item, response) in enumerate(ASKED[:5]):  # three of them a week ago, missed; two now
            record.add(item, response, WRONG, 3.0, now - timedelta(days=7 if number < 3 else 0))
        record.add(*ASKED[0], WRONG, 3.0, now - timedelta(days=6))
    assert main(["record", "where"]) == 0
    assert capsys.readouterr().out == f"{path}\nanswers: 6; items: 5; due today: 3\n"
    assert main(["record", "where", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "schema": 1, "path": str(path), "answers": 6, "items": 5, "due_today": 3,
    }  # fmt: skip


def test_where_there_is_no_record_none_is_made(path: Path, capsys: Capture) -> None:
    assert main(["record", "where"]) == 0
    assert capsys.readouterr().out == f"{path}\nno answers yet\n"
    assert not path.parent.exists()


def test_a_damaged_record_is_told_beside_the_answer(path: Path, capsys: Capture) -> None:
    path.parent.mkdir()
    path.write_text("garbage")
    assert main(["record", "where"]) == 0
    out, err = capsys.readouterr()
    assert out == f"{path}\nno answers yet\n"
    assert err.startswith(f"furcal: {path}: is damaged; it was set aside as record-damaged-")
    assert err.count("\n") == 1


# --- export


def test_export_to_json_is_all_that_is_kept(
    path: Path, answered: dict[str, Any], tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "mine.json"
    assert main(["record", "export", "--to", "json", "--out", str(out)]) == 0
    assert capsys.readouterr().out == f"{out}: answers: {2 * len(ASKED)}\n"
    assert json.loads(out.read_text()) == answered


def test_export_to_xapi_is_an_array_of_statements_that_break_no_rule(
    path: Path, answered: dict[str, Any], tmp_path: Path
) -> None:
    out = tmp_path / "mine.json"
    assert main(["record", "export", "--to", "xapi", "--out", str(out)]) == 0
    with open_record(path) as record:
        assert out.read_text() == xapi_json(record)
    made = json.loads(out.read_text())
    assert len(made) == 2 * len(ASKED)
    # Right and wrong were given by turns here, whatever the responses.
    rules = [rule for rule in RULES if rule.__name__ != "what_is_right_matches_the_pattern"]
    assert [rule.__name__ for rule in rules for statement in made if not rule(statement)] == []
    assert {one["actor"]["account"]["name"] for one in made} == {answered["learner"]["id"]}


def test_what_is_exported_is_written_whole_or_not_at_all(
    path: Path, answered: dict[str, Any], tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "mine.json"
    out.write_text("the last one")

    def full(*_words: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", full)
        told = refused(capsys, "record", "export", "--to", "json", "--out", str(out))
    assert told == f"{out}: cannot be written (No space left on device); make room or choose another folder."
    assert out.read_text() == "the last one"
    assert {file.name for file in tmp_path.iterdir()} == {"kept", "mine.json"}


def test_the_record_is_not_written_over(path: Path, answered: dict[str, Any], capsys: Capture) -> None:
    path.unlink()
    write_schema_1(path)
    open_record(path).close()
    for name in ("record.sqlite", "record-v1-backup.sqlite"):
        before = (path.parent / name).read_bytes()
        told = refused(capsys, "record", "export", "--to", "json", "--out", str(path.parent / ".." / "kept" / name))
        assert "is the record itself, or a copy of it" in told
        assert (path.parent / name).read_bytes() == before


def test_without_a_record_there_is_nothing_to_export(path: Path, capsys: Capture, tmp_path: Path) -> None:
    told = refused(capsys, "record", "export", "--to", "json", "--out", str(tmp_path / "mine.json"))
    assert told.startswith(f"{path}: there is no record yet; ")
    assert list(tmp_path.iterdir()) == []


# --- forget


def test_forget_asks_first_and_deletes_nothing(path: Path, answered: dict[str, Any], capsys: Capture) -> None:
    before = path.read_bytes()
    told = refused(capsys, "record", "forget")
    assert told == f"{path.parent}: record.sqlite would be deleted, for good; say so with --yes."
    assert path.read_bytes() == before


def test_forget_deletes_the_record_its_copies_and_what_was_set_aside(path: Path, capsys: Capture) -> None:
    path.parent.mkdir()
    write_schema_1(path)
    open_record(path).close()
    path.write_text("garbage")
    open_record(path).close()
    (path.parent / "mine.txt").write_text("stays")
    files = sorted(file for file in path.parent.iterdir() if file.name != "mine.txt")
    assert len(files) == 3
    assert main(["record", "forget", "--yes"]) == 0
    assert sorted(capsys.readouterr().out.splitlines()) == [f"{file}: deleted" for file in files]
    assert [file.name for file in path.parent.iterdir()] == ["mine.txt"]
    assert main(["record", "forget"]) == 0
    assert capsys.readouterr().out == f"{path}: there is no record\n"


def test_a_record_of_a_newer_furcal_can_be_forgotten_and_not_read(path: Path, capsys: Capture) -> None:
    import sqlite3
    from contextlib import closing

    open_record(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 99")
    for words in (("where",), ("export", "--to", "json", "--out", "x.json")):
        assert "was written by a newer furcal (schema 99" in refused(capsys, "record", *words)
    assert main(["record", "forget", "--yes"]) == 0
    assert not path.exists()


# --- words


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("wher",), "unknown record 'wher'. Nearest: where."),
        (("export",), "furcal record export: say what and where to, with --to and --out."),
        (("export", "--to", "json"), "furcal record export: say what and where to, with --to and --out."),
        (("export", "--to", "csv"), "--to: unknown to 'csv'. Legal: json, xapi."),
        (("where", "--yes"), "furcal record where: --yes goes with forget only."),
        (("forget", "--out", "x"), "furcal record forget: --out goes with export only."),
        (("forget", "--json"), "furcal record forget: --json goes with where only."),
        ((), "the following arguments are required: VERB"),
    ],
)
def test_wrong_words_are_told(path: Path, words: tuple[str, ...], says: str, capsys: Capture) -> None:
    assert says in refused(capsys, "record", *words)
    assert not path.exists()


@pytest.mark.parametrize("verb", ["where", "forget"])
def test_a_name_that_no_record_has_is_refused(
    verb: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    thesis = tmp_path / "thesis.txt"
    thesis.write_text("a year's work")
    monkeypatch.setenv("FURCAL_RECORD", str(thesis))
    assert "is no name of a record" in refused(capsys, "record", verb)
    assert thesis.read_text() == "a year's work"


def test_as_a_person_would(path: Path) -> None:
    with open_record(path) as record:
        record.add(ASKED[0][0], Said("Femoral"), RIGHT, 3.0, MORNING)
    env = {"FURCAL_RECORD": str(path)}
    done = furcal("record", "where", env=env)
    assert (done.returncode, done.stdout, done.stderr) == (0, f"{path}\nanswers: 1; items: 1; due today: 1\n", "")
    assert furcal("record", "forget", env=env).returncode == 2
    assert furcal("record", "forget", "--yes", env=env).returncode == 0
    assert not path.exists()
