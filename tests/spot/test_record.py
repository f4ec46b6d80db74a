"""A learner's record: what is kept comes back, two windows write one record, and it can be taken away whole."""

from __future__ import annotations

import json
import sqlite3
import stat
from contextlib import closing
from datetime import datetime, timedelta, timezone
from pathlib import Path
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot import recordfile
from lessons.spot.item import Answer
from lessons.spot.record import PSEUDONYM_MAX, Record, asked_json, open_record, spare_record
from lessons.spot.recordfile import COLUMNS, SCHEMA, files_of, forget, record_path
from lessons.spot.response import Said, response_json, response_of
from lessons.spot.schedule import Schedule, card_row
from meshes.errors import FurcalError
from tests.spot.records import ASKED, LEARNER, MORNING, RIGHT, WRONG, answer_all, write_schema_1

ITEM = ASKED[0][0]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "record.sqlite"


def replayed(record: Record) -> Schedule:
    """The cards that the answers lead to, by the schedule alone."""
    schedule = Schedule()
    for answer in record.answers():
        schedule.answered(answer.item, answer.verdict, answer.seconds, answer.when)
    return schedule


# --- what is kept


def test_every_sort_of_answer_comes_back(path: Path) -> None:
    assert {type(item.answer) for item, _ in ASKED} == set(Answer.__args__)
    with open_record(path) as record:
        assert record.notice == ""
        answer_all(record, rounds=3)
        before, cards = record.answers(), record.cards()
    with open_record(path) as record:
        assert (record.answers(), record.cards(), record.notice) == (before, cards, "")
    assert [answer.number for answer in before] == list(range(1, 3 * len(ASKED) + 1))
    for number, answer in enumerate(before):
        item, response = ASKED[number % len(ASKED)]
        assert response_of(answer.response, "here") == response
        assert (answer.item, answer.asked) == (item.id, asked_json(item))
        assert (answer.right, answer.score) == (number % len(ASKED) % 2 == 0, float(number % len(ASKED) % 2 == 0))
        assert answer.when == MORNING + timedelta(days=number // len(ASKED), minutes=number % len(ASKED))
        assert answer.seconds == 4.0 + number % len(ASKED)


def test_the_cards_are_those_that_the_answers_lead_to(path: Path) -> None:
    with open_record(path) as record:
        made = [record.add(ITEM, Said("x"), RIGHT, 3.0, MORNING + timedelta(days=day)) for day in (0, 2, 9)]
        assert record.cards() == (made[-1],)
        answer_all(record, rounds=4)
        assert {card.item: card for card in record.cards()} == replayed(record).cards
        assert record.schedule().cards == replayed(record).cards


@given(
    st.datetimes(datetime(1970, 1, 3), datetime(9000, 1, 1)), st.integers(-1439, 1439), st.floats(0, 1e6),
    st.text(st.characters(codec=None, exclude_categories=()), max_size=30),
)  # fmt: skip
def test_any_time_zone_and_word_comes_back(when: datetime, minutes: int, seconds: float, words: str) -> None:
    at = when.replace(tzinfo=timezone(timedelta(minutes=minutes)))
    record = spare_record()
    record.add(ITEM, Said(words), RIGHT, seconds, at)
    (answer,) = record.answers()
    assert (answer.when, answer.when.utcoffset(), answer.seconds) == (at, at.utcoffset(), seconds)
    assert answer.response == response_json(Said(words))


@pytest.mark.parametrize("seconds", [float("nan"), float("inf"), -1.0])
def test_a_time_that_is_none_is_a_fault_of_ours_and_nothing_is_kept(seconds: float) -> None:
    record = spare_record()
    with pytest.raises(ValueError, match="time"):
        record.add(ITEM, Said("x"), RIGHT, seconds, MORNING)
    with pytest.raises(ValueError, match="zone"):
        record.add(ITEM, Said("x"), RIGHT, 1.0, MORNING.replace(tzinfo=None))
    for year in (1, 1969, 9001, 9999):  # no clock says so, and the calendar would end before the item is due again
        with pytest.raises(ValueError, match="year"):
            record.add(ITEM, Said("x"), RIGHT, 1.0, MORNING.replace(year=year))
    assert (record.answers(), record.cards(), record.waiting) == ((), (), 0)


def test_the_export_is_all_of_it_and_json(path: Path) -> None:
    with open_record(path) as record:
        answer_all(record)
        told = json.loads(json.dumps(record.export(), allow_nan=False))
        assert set(told) == {"furcal_record", "learner", "answers", "cards"}
        assert told["furcal_record"] == SCHEMA
        assert [answer["item"] for answer in told["answers"]] == [item.id for item, _ in ASKED]
        assert told["cards"] == [card_row(card) for card in record.cards()]
        assert told["learner"] == {"id": record.learner.id, "pseudonym": ""}


# --- who learns


def test_the_learner_is_a_random_number_made_once_and_nothing_else_is_known(path: Path, tmp_path: Path) -> None:
    with open_record(path) as record, open_record(tmp_path / "other.sqlite") as other:
        first, second = record.learner, other.learner
        answer_all(record)
    assert UUID(first.id).version == UUID(second.id).version == 4
    assert first.id != second.id
    with open_record(path) as record:
        assert record.learner == first
    with closing(sqlite3.connect(path)) as connection:
        tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        assert {name for (name,) in tables} == {*COLUMNS, "sqlite_sequence"}
        for table, columns in COLUMNS.items():
            rows = connection.execute("SELECT name FROM pragma_table_info(?)", (table,)).fetchall()
            assert {name for (name,) in rows} == columns


def test_a_pseudonym_is_kept_and_taken_back(path: Path) -> None:
    with open_record(path) as record:
        record.call("  grey \n heron ")
        assert record.learner.pseudonym == "grey heron"
        for wrong in ("x" * (PSEUDONYM_MAX + 1), "he\x00ron"):
            with pytest.raises(FurcalError, match="pseudonym"):
                record.call(wrong)
        assert record.learner.pseudonym == "grey heron"
        record.call("")
        assert record.learner.pseudonym == ""


# --- where it lies


def test_it_lies_in_the_user_s_data_folder_or_where_furcal_record_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("FURCAL_RECORD", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    usual = record_path()
    assert usual.name == "record.sqlite"
    assert "furcal" in usual.parts
    monkeypatch.setenv("FURCAL_RECORD", "")
    assert record_path() == usual
    monkeypatch.setenv("FURCAL_RECORD", str(tmp_path / "mine.sqlite"))
    assert record_path() == tmp_path / "mine.sqlite"
    with open_record() as record:
        assert record.path == tmp_path / "mine.sqlite"
    assert (tmp_path / "mine.sqlite").is_file()


@pytest.mark.parametrize("name", ["thesis.txt", "record", "record.sqlite.bak"])
def test_a_file_of_another_name_is_not_touched(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text("a year's work")
    for touch in (open_record, forget):
        with pytest.raises(FurcalError, match=r"is no name of a record; name a file that ends in \.sqlite"):
            touch(path)
    assert [file.name for file in tmp_path.iterdir()] == [name]
    assert path.read_text() == "a year's work"


def test_nobody_else_may_read_it_or_its_copy(tmp_path: Path) -> None:
    write_schema_1(tmp_path / "old.sqlite")
    for name in ("old.sqlite", "new.sqlite"):
        with open_record(tmp_path / name) as record:
            answer_all(record)
    for name in ("new.sqlite", "old-v1-backup.sqlite"):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600


# --- two windows


def test_two_windows_write_one_record_and_each_sees_what_the_other_wrote(path: Path) -> None:
    with open_record(path) as one, open_record(path) as other:
        assert one.learner == other.learner
        for day in range(8):
            (one, other)[day % 2].add(ITEM, Said(str(day)), (RIGHT, WRONG)[day % 3 == 0], 3.0, MORNING + timedelta(day))
        assert one.answers() == other.answers()
        assert [answer.response["said"] for answer in one.answers()] == [str(day) for day in range(8)]
        assert {card.item: card for card in one.cards()} == replayed(other).cards


def test_what_waits_for_another_window_is_not_lost(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recordfile, "WAIT_S", 0.05)
    with open_record(path) as record:
        record.add(ITEM, Said("0"), RIGHT, 3.0, MORNING)
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            for number in (1, 2):
                with pytest.raises(FurcalError) as told:
                    record.add(ITEM, Said(str(number)), RIGHT, 3.0, MORNING + timedelta(days=number))
                assert "another window of furcal has been writing" in str(told.value)
                assert "in memory, to be written with the next one" in str(told.value)
                assert record.waiting == number
            # What waits is seen all the same.
            assert [answer.response["said"] for answer in record.answers()] == ["0", "1", "2"]
            assert [answer.number for answer in record.answers()] == [1, 2, 3]
            assert record.count() == 3
            assert {card.item: card for card in record.cards()} == replayed(record).cards
            other.execute("ROLLBACK")
        record.add(ITEM, Said("3"), RIGHT, 3.0, MORNING + timedelta(days=3))
        assert record.waiting == 0
        expected = replayed(record).cards
    with open_record(path) as record:
        assert [answer.response["said"] for answer in record.answers()] == ["0", "1", "2", "3"]
        assert record.schedule().cards == expected


def test_what_waits_is_written_when_it_is_closed_or_told_as_lost(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recordfile, "WAIT_S", 0.05)
    record = open_record(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(FurcalError, match="the answer waits in memory"):
            record.add(ITEM, Said("0"), RIGHT, 3.0, MORNING)
        with pytest.raises(FurcalError, match="another window"):
            record.close()
        assert record.waiting == 1
        other.execute("ROLLBACK")
    record.close()
    with open_record(path) as again:
        assert [answer.response["said"] for answer in again.answers()] == ["0"]


# --- taken away


def test_forgetting_deletes_everything_of_it_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    others = {"record.txt", "my-record.sqlite", "record-v1.sqlite", "recordXsqlite", "record-damaged-soon.sqlite"}
    for name in others:
        (tmp_path / name).write_text("stays")
    for _ in range(2):
        write_schema_1(path)
        open_record(path).close()
        path.write_text("garbage")
        open_record(path).close()
        path.unlink()
    with open_record(path) as record:
        answer_all(record)
        assert len(files_of(path)) == 5  # it, two copies, two set aside
        assert {file.name for file in record.forget()} == {
            "record.sqlite", "record-v1-backup.sqlite", "record-v1-backup-2.sqlite",
            *(f"record-damaged-{datetime.now().astimezone():%Y-%m-%d}{tail}.sqlite" for tail in ("", "-2")),
        }  # fmt: skip
        assert {file.name for file in tmp_path.iterdir()} == others


def test_after_forgetting_a_new_learner_begins(path: Path) -> None:
    with open_record(path) as record:
        answer_all(record)
        before = record.learner
        record.forget()
        assert not path.exists()
        record.add(ITEM, Said("x"), RIGHT, 3.0, MORNING)
        assert len(record.answers()) == 1
        assert record.learner.id != before.id


def test_a_window_whose_record_another_one_took_away_begins_a_new_one(path: Path) -> None:
    with open_record(path) as record:
        answer_all(record)
        assert forget(path) == [path]
        record.add(ITEM, Said("kept"), RIGHT, 3.0, MORNING)
        with open_record(path) as other:
            assert [answer.response["said"] for answer in other.answers()] == ["kept"]


@pytest.mark.parametrize("content", [b"", b"garbage", b"SQLite format 3\0" + bytes(84)])
def test_what_cannot_be_read_can_be_forgotten(path: Path, content: bytes) -> None:
    path.parent.mkdir()
    path.write_bytes(content)
    assert forget(path) == [path]
    assert not path.exists()
    assert forget(path) == []


def test_where_there_is_nothing_nothing_is_forgotten(tmp_path: Path) -> None:
    assert forget(tmp_path / "nowhere" / "record.sqlite") == []
    assert list(tmp_path.iterdir()) == []


# --- in memory


def test_a_spare_record_does_the_same_without_a_file() -> None:
    record = spare_record("The disk is full.")
    assert record.take_notice() == "The disk is full."
    assert record.take_notice() == ""
    answer_all(record, rounds=2)
    assert record.schedule().cards == replayed(record).cards
    assert UUID(record.learner.id).version == 4
    assert record.forget() == []
    assert record.answers() == ()


# --- what a hand has changed


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"item": "named"}', "[" * 100_000])
def test_a_card_that_cannot_be_read_follows_from_the_answers(path: Path, text: str) -> None:
    with open_record(path) as record:
        answer_all(record, rounds=3)
        before = record.cards()
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute("UPDATE cards SET card = ? WHERE item = 'named'", (text,))
        assert record.cards() == before
        record.add(ITEM, Said("x"), RIGHT, 3.0, MORNING + timedelta(days=30))
        assert record.schedule().cards == replayed(record).cards


@pytest.mark.parametrize(
    ("column", "value"),
    [("at", "yesterday"), ("at", "2026-01-12T09:30:00"), ("response", "{"), ("asked", "["), ("score", "much")],
)
def test_an_answer_that_cannot_be_read_is_named(path: Path, column: str, value: str) -> None:
    with open_record(path) as record:
        answer_all(record)
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute(f"UPDATE answers SET {column} = ? WHERE number = 3", (value,))
        with pytest.raises(FurcalError, match=rf"^{path}, answer 3: is not as furcal writes it"):
            record.answers()
        assert len(record.cards()) == len(ASKED)


def test_a_record_of_another_learner_is_another_record(tmp_path: Path) -> None:
    write_schema_1(tmp_path / "one.sqlite")
    with open_record(tmp_path / "one.sqlite") as record:
        assert (record.learner.id, record.learner.pseudonym) == (LEARNER, "heron")
