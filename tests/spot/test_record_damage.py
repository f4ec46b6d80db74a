"""What may happen to the file of a record: nothing is lost that was in it, and one sentence says what was done."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.spot import recordfile
from lessons.spot.record import Record, open_record
from lessons.spot.recordfile import APPLICATION, SCHEMA, UnusableError, forget
from lessons.spot.response import Said
from meshes.errors import FurcalError
from tests.house.programs import ROOT
from tests.spot.records import ASKED, MORNING, RIGHT, answer_all

ITEM = ASKED[0][0]
TODAY = f"{datetime.now().astimezone():%Y-%m-%d}"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The bytes of a good record of some pages."""
    path = tmp_path_factory.mktemp("whole") / "record.sqlite"
    with open_record(path) as record:
        answer_all(record, rounds=8)
    return path.read_bytes()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "record.sqlite"


def is_one_sentence(text: str) -> bool:
    return "\n" not in text and text.endswith(".") and "Traceback" not in text and "sqlite3" not in text


def check_begun_anew(path: Path, aside: str) -> None:
    """A fresh record was begun and works, and the sentence names both files."""
    with open_record(path) as record:
        assert record.notice.startswith(f"{path}: ")
        assert record.notice.endswith(f"; it was set aside as {aside}, and a fresh record was begun.")
        assert is_one_sentence(record.notice)
        assert record.answers() == ()
        record.add(ITEM, Said("x"), RIGHT, 3.0, MORNING)
    with open_record(path) as record:
        assert record.notice == ""
        assert len(record.answers()) == 1


# --- damaged


@pytest.mark.parametrize("content", [b"garbage", b"\0" * 5000, b"SQLite format 3\0" + b"\xff" * 4080])
def test_garbage_is_set_aside_as_it_was(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    aside = f"record-damaged-{TODAY}.sqlite"
    check_begun_anew(path, aside)
    assert (path.parent / aside).read_bytes() == content


def test_a_file_cut_in_half_is_set_aside_as_it_was(path: Path, whole: bytes) -> None:
    path.write_bytes(whole[: len(whole) // 2])
    aside = f"record-damaged-{TODAY}.sqlite"
    check_begun_anew(path, aside)
    assert (path.parent / aside).read_bytes() == whole[: len(whole) // 2]


def test_a_page_that_is_lost_is_found_when_it_is_opened(tmp_path: Path, whole: bytes) -> None:
    # Not when the learner comes to the answer that stood there.
    size = int.from_bytes(whole[16:18], "big")
    assert len(whole) > 8 * size
    for page in range(1, len(whole) // size):
        path = tmp_path / str(page) / "record.sqlite"
        path.parent.mkdir()
        path.write_bytes(whole[: page * size] + bytes(size) + whole[(page + 1) * size :])
        check_begun_anew(path, f"record-damaged-{TODAY}.sqlite")


def test_an_index_that_has_lost_a_card_is_found_when_it_is_opened(path: Path, whole: bytes) -> None:
    # Every page can be read; the card would be missed in silence, and the item be taken for new.
    size = int.from_bytes(whole[16:18], "big")
    pages = [whole[start : start + size] for start in range(0, len(whole), size)]
    (index,) = (page for page in pages if page[0] == 0x0A and b"pointed" in page)  # a leaf of an index
    path.write_bytes(whole.replace(index, index.replace(b"pointed", b"pointeX")))
    check_begun_anew(path, f"record-damaged-{TODAY}.sqlite")


def test_a_window_does_not_set_aside_what_another_one_has_begun_anew(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path.write_text("garbage")
    connected = recordfile._connected
    judged: list[Path] = []

    def slow(file: Path) -> sqlite3.Connection:
        try:
            return connected(file)
        except UnusableError:
            if not judged:  # between this window's judgement and its deed another window does all of it
                judged.append(file)
                with open_record(path) as other:
                    other.add(ITEM, Said("kept"), RIGHT, 3.0, MORNING)
            raise

    monkeypatch.setattr(recordfile, "_connected", slow)
    with open_record(path) as record:
        assert [answer.response["said"] for answer in record.answers()] == ["kept"]
    assert {file.name for file in path.parent.iterdir()} == {"record.sqlite", f"record-damaged-{TODAY}.sqlite"}


def test_nothing_that_was_set_aside_is_written_over(path: Path) -> None:
    for number, tail in enumerate(("", "-2", "-3"), start=1):
        path.write_text(f"garbage {number}")
        check_begun_anew(path, f"record-damaged-{TODAY}{tail}.sqlite")
    kept = {file.name: file.read_text() for file in path.parent.iterdir() if file != path}
    assert kept == {
        f"record-damaged-{TODAY}.sqlite": "garbage 1",
        f"record-damaged-{TODAY}-2.sqlite": "garbage 2",
        f"record-damaged-{TODAY}-3.sqlite": "garbage 3",
    }


def test_a_folder_in_its_place_is_set_aside_with_what_is_in_it(path: Path) -> None:
    path.mkdir()
    (path / "letter.txt").write_text("stays")
    check_begun_anew(path, f"record-damaged-{TODAY}.sqlite")
    with open_record(path) as record:
        record.forget()
    assert (path.parent / f"record-damaged-{TODAY}.sqlite" / "letter.txt").read_text() == "stays"


def test_an_empty_file_is_a_record_that_was_just_being_begun(path: Path) -> None:
    path.touch()
    with open_record(path) as record:
        assert (record.notice, record.answers()) == ("", ())
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize("change", ["DROP TABLE cards", "ALTER TABLE answers DROP COLUMN seconds"])
def test_a_record_without_a_table_or_column_is_set_aside(path: Path, whole: bytes, change: str) -> None:
    path.write_bytes(whole)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(change)
    check_begun_anew(path, f"record-damaged-{TODAY}.sqlite")


def test_a_journal_goes_with_what_it_belongs_to(path: Path) -> None:
    # Left behind, it would be played into the fresh record.
    path.mkdir()
    path.with_name("record.sqlite-journal").write_bytes(b"of the old one")
    check_begun_anew(path, f"record-damaged-{TODAY}.sqlite")
    assert {file.name: file.is_dir() for file in path.parent.iterdir()} == {
        "record.sqlite": False,
        f"record-damaged-{TODAY}.sqlite": True,
        f"record-damaged-{TODAY}.sqlite-journal": False,
    }


@given(st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), max_size=6), st.floats(0, 2))
@settings(max_examples=60)
def test_whatever_is_changed_or_cut_off_no_traceback_comes_and_no_byte_is_lost(
    whole: bytes, changes: list[tuple[float, int]], kept: float
) -> None:
    broken = bytearray(whole)
    for place, value in changes:
        broken[int(place * len(broken))] = value
    broken = broken[: int(kept * len(broken))]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.sqlite"
        path.write_bytes(broken)
        said = worked(path)
        assert said == "" or (is_one_sentence(said) and str(path) in said)
        for aside in (file for file in Path(folder).iterdir() if "damaged" in file.name):
            assert aside.read_bytes() == bytes(broken)


def worked(path: Path) -> str:
    """Open a record, read all of it and add an answer; what was said of it, by notice or by error."""
    try:
        with open_record(path) as record:
            before = len(record.answers())
            record.cards()
            record.add(ITEM, Said("x"), RIGHT, 3.0, MORNING)
            assert len(record.answers()) == before + 1
            return record.notice
    except FurcalError as error:
        return str(error)


def test_what_is_damaged_while_it_is_open_is_set_aside_and_the_answer_goes_into_a_fresh_one(
    path: Path, whole: bytes
) -> None:
    path.write_bytes(whole)
    with open_record(path) as record:
        with path.open("rb+") as file:
            file.write(b"garbage" * 1000)
        record.add(ITEM, Said("kept"), RIGHT, 3.0, MORNING)
        assert is_one_sentence(record.notice)
        assert record.notice.endswith("a fresh record was begun.")
    with open_record(path) as record:
        assert [answer.response["said"] for answer in record.answers()] == ["kept"]


# --- not ours to change


def test_a_record_of_a_newer_furcal_is_refused_and_stays(path: Path, whole: bytes) -> None:
    path.write_bytes(whole)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    before = path.read_bytes()
    with pytest.raises(FurcalError) as told:
        open_record(path)
    assert f"{path}: was written by a newer furcal (schema {SCHEMA + 1}, this one knows up to {SCHEMA})" in str(
        told.value
    )
    assert is_one_sentence(str(told.value))
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize("application", [0, APPLICATION + 1])
def test_a_database_of_something_else_is_refused_and_stays(path: Path, application: int) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("CREATE TABLE ships (name TEXT)")
        connection.execute(f"PRAGMA application_id = {application}")
    before = path.read_bytes()
    with pytest.raises(FurcalError, match="is a database of something else"):
        open_record(path)
    assert path.read_bytes() == before


def test_a_database_of_something_else_is_not_forgotten(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("CREATE TABLE ships (name TEXT)")
        connection.execute("PRAGMA application_id = 7")
    with pytest.raises(FurcalError, match="is a database of something else, and stays"):
        forget(path)
    assert path.exists()


# --- a disk that does not take it


def test_a_full_disk_is_told_and_what_waited_is_written_when_there_is_room(path: Path) -> None:
    with open_record(path) as record:
        answer_all(record)
        before = len(record.answers())
        # SQLite's own limit of the file: it then answers as for a disk that is full.
        pages = record._current().execute("PRAGMA page_count").fetchone()[0]
        record._current().execute(f"PRAGMA max_page_count = {pages}")
        told = ""
        while not told:
            told = refused(record)
            before += 1
        assert told == (
            f"{path}: there is no room left on the disk; make some; the answer waits in memory, to be written with "
            "the next one."
        )
        assert record.waiting == 1
        with pytest.raises(FurcalError, match="2 answers wait in memory"):
            record.add(ITEM, Said("x" * 200), RIGHT, 3.0, MORNING)
        assert len(record.answers()) == before + 1
        record._current().execute("PRAGMA max_page_count = 100000")
        record.add(ITEM, Said("last"), RIGHT, 3.0, MORNING)
        assert record.waiting == 0
    with open_record(path) as record:
        assert len(record.answers()) == before + 2
        assert record.answers()[-1].response == {"said": "last"}


def refused(record: Record) -> str:
    """Add an answer; what was said against it."""
    try:
        record.add(ITEM, Said("x" * 200), RIGHT, 3.0, MORNING)
    except FurcalError as error:
        return str(error)
    return ""


LIMITED = """
import resource, signal, sys
from pathlib import Path
from lessons.spot.record import open_record
from lessons.spot.response import Said
from meshes.errors import FurcalError
from tests.spot.records import ASKED, MORNING, RIGHT
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
record = open_record(Path(sys.argv[1]))
hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), hard))
told = ""
for number in range(60):
    try:
        record.add(ASKED[0][0], Said(f"{number} " + "x" * 500), RIGHT, 3.0, MORNING)
    except FurcalError as error:
        told = str(error)
resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
record.close()
print(told)
"""


def test_a_file_that_the_system_does_not_let_grow_loses_nothing(path: Path) -> None:
    open_record(path).close()
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(path), "40000"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert is_one_sentence(done.stdout.strip())
    assert "answers wait in memory" in done.stdout
    with open_record(path) as record:
        assert [int(answer.response["said"].split()[0]) for answer in record.answers()] == list(range(60))


@contextmanager
def unprivileged(folder: Path) -> Iterator[None]:
    """As a user who may not do everything; the folder becomes theirs."""
    if os.geteuid() != 0:
        yield
        return
    os.chown(folder, 65534, 65534)
    for file in folder.iterdir():
        os.chown(file, 65534, 65534)
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.parametrize("mode", [0o000, 0o400, 0o200])
def test_a_file_that_may_not_be_read_and_written_is_set_aside_and_stays_as_it_is(whole: bytes, mode: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "record.sqlite"
        path.write_bytes(whole)
        with unprivileged(path.parent):
            path.chmod(mode)
            check_begun_anew(path, f"record-damaged-{TODAY}.sqlite")
            aside = path.with_name(f"record-damaged-{TODAY}.sqlite")
            assert aside.stat().st_mode & 0o777 == mode
            aside.chmod(0o600)
            assert aside.read_bytes() == whole


def test_a_folder_that_may_not_be_written_is_told_and_what_is_in_it_stays(whole: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "kept"
        with unprivileged(folder.parent):
            folder.mkdir()
            for content in (None, b"garbage"):
                if content is not None:
                    (folder / "record.sqlite").write_bytes(content)
                folder.chmod(0o500)
                with pytest.raises(
                    FurcalError, match=r"record.sqlite: cannot be read or written \(Permission denied\)"
                ) as told:
                    open_record(folder / "record.sqlite")
                assert is_one_sentence(str(told.value))
                folder.chmod(0o700)
            assert (folder / "record.sqlite").read_bytes() == b"garbage"


def test_a_folder_that_is_a_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("stays")
    with pytest.raises(FurcalError, match="cannot be read or written") as told:
        open_record(tmp_path / "file" / "record.sqlite")
    assert is_one_sentence(str(told.value))
