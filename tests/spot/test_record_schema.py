"""A record of schema 1 is brought to schema 2: copied first, all of it or nothing, no answer lost."""

from __future__ import annotations

import sqlite3
from contextlib import AbstractContextManager, closing
from datetime import timedelta
from pathlib import Path

import pytest

from lessons.spot import recordfile
from lessons.spot.record import open_record
from lessons.spot.recordfile import APPLICATION, SCHEMA
from lessons.spot.response import Said
from lessons.spot.schedule import Schedule
from meshes.errors import FurcalError
from tests.spot.records import ASKED, LEARNER, MORNING, RIGHT, write_schema_1


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "record.sqlite"


def dump(path: Path) -> list[str]:
    """Everything in a database as SQL, and its two numbers."""
    with closing(sqlite3.connect(path)) as connection:
        numbers = [str(connection.execute(f"PRAGMA {name}").fetchone()) for name in ("user_version", "application_id")]
        return [*numbers, *connection.iterdump()]


def test_the_answers_stay_and_the_cards_follow_from_them(path: Path) -> None:
    write_schema_1(path, answers=12)
    with open_record(path) as record:
        assert record.notice == ""
        assert (record.learner.id, record.learner.pseudonym) == (LEARNER, "heron")
        answers = record.answers()
        schedule = Schedule()
        for number, answer in enumerate(answers):
            assert (answer.number, answer.item, answer.when) == (
                number + 1, f"item_{number % 2}", MORNING + timedelta(days=number),
            )  # fmt: skip
            assert (answer.right, answer.score, answer.seconds) == (number % 3 != 2, number % 3 != 2, 5.0 + number)
            assert (answer.response, answer.asked) == ({"said": "Femoral"}, {})
            schedule.answered(answer.item, answer.verdict, answer.seconds, answer.when)
        assert len(answers) == 12
        assert record.schedule().cards == schedule.cards
        assert len(schedule.cards) == 2
        record.add(ASKED[0][0], Said("x"), RIGHT, 3.0, MORNING + timedelta(days=40))
        assert [answer.number for answer in record.answers()] == list(range(1, 14))
    assert dump(path)[:2] == [f"({SCHEMA},)", f"({APPLICATION},)"]


def test_it_is_copied_first_and_the_copy_is_never_written_over(path: Path, tmp_path: Path) -> None:
    write_schema_1(path)
    older = dump(path)
    open_record(path).close()
    assert dump(tmp_path / "record-v1-backup.sqlite") == older
    open_record(path).close()  # is of the present schema: nothing to copy
    assert {file.name for file in tmp_path.iterdir()} == {"record.sqlite", "record-v1-backup.sqlite"}
    path.unlink()
    write_schema_1(path, answers=3)
    newer = dump(path)
    open_record(path).close()
    assert dump(tmp_path / "record-v1-backup.sqlite") == older
    assert dump(tmp_path / "record-v1-backup-2.sqlite") == newer


def test_a_copy_is_a_record_that_can_be_gone_on_with(path: Path, tmp_path: Path) -> None:
    write_schema_1(path)
    with open_record(path) as record:
        expected = record.answers(), record.cards(), record.learner
    with open_record(tmp_path / "record-v1-backup.sqlite") as record:
        assert (record.answers(), record.cards(), record.learner) == expected


def test_what_was_brought_up_to_date_is_as_what_was_begun_so(path: Path, tmp_path: Path) -> None:
    write_schema_1(path, answers=0)
    open_record(path).close()
    open_record(tmp_path / "new.sqlite").close()

    def shape(file: Path) -> list[tuple[object, ...]]:
        with closing(sqlite3.connect(file)) as connection:
            rows: list[tuple[object, ...]] = []
            for table in recordfile.COLUMNS:
                rows += connection.execute("SELECT ?, * FROM pragma_table_info(?)", (table, table)).fetchall()
            return rows

    assert shape(path) == shape(tmp_path / "new.sqlite") != []


def test_a_step_that_fails_leaves_the_older_record(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_schema_1(path)
    older = dump(path)

    def failing(connection: sqlite3.Connection) -> None:
        recordfile._second(connection)
        connection.execute("INSERT INTO nowhere VALUES (1)")

    with monkeypatch.context() as patched:
        patched.setattr(recordfile, "_STEPS", (recordfile._first, failing))
        with pytest.raises(
            FurcalError, match=r"^.*record\.sqlite: cannot be read or written \(no such table: nowhere\)"
        ):
            open_record(path)
    assert dump(path) == older
    with open_record(path) as record:
        assert len(record.answers()) == 12


def test_without_a_copy_nothing_is_changed(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_schema_1(path)
    older = dump(path)

    def full(*_words: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", full)
        with pytest.raises(FurcalError, match="No space left on device"):
            open_record(path)
    assert dump(path) == older
    assert [file.name for file in tmp_path.iterdir()] == ["record.sqlite"]


def test_a_window_that_finds_it_brought_up_to_date_already_does_nothing(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The other window is quicker: it is done between this one's look and its lock.
    write_schema_1(path)
    older, locked = dump(path), recordfile.transaction
    others: list[Path] = []

    def late(connection: sqlite3.Connection) -> AbstractContextManager[None]:
        if not others:
            others.append(path)
            open_record(path).close()
        return locked(connection)

    monkeypatch.setattr(recordfile, "transaction", late)
    with open_record(path) as record:
        assert len(record.answers()) == 12
    assert others == [path]
    assert {file.name for file in tmp_path.iterdir()} == {"record.sqlite", "record-v1-backup.sqlite"}
    assert dump(tmp_path / "record-v1-backup.sqlite") == older


def test_a_window_that_comes_meanwhile_waits_and_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_schema_1(path)
    monkeypatch.setattr(recordfile, "WAIT_S", 0.05)
    copied = recordfile._back_up
    told: list[str] = []

    def slow(file: Path, version: int) -> None:
        copied(file, version)
        with pytest.raises(FurcalError, match="another window of furcal has been writing") as error:
            open_record(path)
        told.append(str(error.value))

    monkeypatch.setattr(recordfile, "_back_up", slow)
    with open_record(path) as record:
        assert len(record.answers()) == 12
    assert len(told) == 1
    with open_record(path) as record:
        assert len(record.answers()) == 12


@pytest.mark.parametrize("column", ["at", "score", "seconds"])
def test_an_older_answer_that_cannot_be_read_stays_and_moves_no_card(path: Path, column: str) -> None:
    write_schema_1(path)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(f"UPDATE answers SET {column} = 'much' WHERE number = 3")
    with open_record(path) as record:
        assert len(record.cards()) == 2
        with pytest.raises(FurcalError, match="answer 3: is not as furcal writes it"):
            record.answers()
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT count(*) FROM answers").fetchone() == (12,)
