"""The file of a learner's record: where it lies, how it is opened, brought up to date, set aside and taken away.

It is SQLite with a rollback journal, not a write-ahead log: one file that can be copied and lies well on a home folder
that comes over a network, and `synchronous = EXTRA`, so that what was answered is on the disk when the answer has
been taken in. A damaged file is moved, never deleted; an older one is copied before it is changed.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

from lessons.spot.schedule import Card, card_row, next_card
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError

FILE, SUFFIX = "record.sqlite", ".sqlite"
SCHEMA = 2
#: "FURC" in the header of the file: no other program's database is taken for a record.
APPLICATION = 0x46555243
#: So long a window waits for another one that is writing.
WAIT_S = 3.0
TRIES = 4
#: Columns that a record of the present schema has.
COLUMNS: Mapping[str, frozenset[str]] = {
    "learner": frozenset({"id", "pseudonym"}),
    "answers": frozenset({"number", "item", "response", "is_right", "score", "seconds", "at", "asked"}),
    "cards": frozenset({"item", "card"}),
}
Identity = tuple[int, int] | None


class UnusableError(FurcalError):
    """A file that cannot be gone on with, and is to be set aside. `why` is the sentence without the file's name."""

    def __init__(self, path: Path, why: str) -> None:
        super().__init__(f"{path}: {why}.")
        self.why = why


def record_path() -> Path:
    """The learner's record in the user's data folder; FURCAL_RECORD names another file."""
    named = os.environ.get("FURCAL_RECORD")
    if named:
        return Path(named)
    from platformdirs import user_data_path

    return user_data_path("furcal", appauthor=False) / FILE


def identity(path: Path) -> Identity:
    """Which file it is, whatever its name; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def check_name(path: Path) -> None:
    """Raise FurcalError for a name that no record has, before a file of something else is touched."""
    if path.suffix != SUFFIX:
        raise FurcalError(f"{path}: is no name of a record; name a file that ends in {SUFFIX} with FURCAL_RECORD.")


# --- opening


def opened(path: Path) -> tuple[sqlite3.Connection, str]:
    """A connection to the record, made or brought up to date, and a sentence to show: empty when all is well.

    What cannot be gone on with is set aside, and a fresh one begun. Raises FurcalError for a record of a newer furcal,
    for a database of something else, for a folder that cannot be written, and for a disk that is full.
    """
    check_name(path)
    notice = ""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        for _ in range(TRIES):
            seen = identity(path)
            try:
                return _connected(path), notice
            except UnusableError as error:
                if identity(path) == seen:  # else another window has just set it aside
                    notice = _set_aside(path, error.why)
    except OSError as error:
        raise _not_written(path, error.strerror or str(error)) from None
    raise FurcalError(f"{path}: could not be begun anew; name another file with FURCAL_RECORD.")


def in_memory() -> sqlite3.Connection:
    """A record that is gone when furcal is closed."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    _bring_up(connection, None)
    return connection


def _connected(path: Path) -> sqlite3.Connection:
    if path.is_dir():
        raise UnusableError(path, "is a folder where a record was expected")
    with suppress(FileExistsError):  # it is nobody else's business
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    effective = os.access in os.supports_effective_ids
    if not os.access(path, os.R_OK | os.W_OK, effective_ids=effective):
        raise UnusableError(path, "may not be read and written")
    with in_words(path):
        connection = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
        try:
            connection.execute("PRAGMA synchronous = EXTRA")
            _check(connection, path)
            _bring_up(connection, path)
            _check_columns(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


@contextmanager
def in_words(path: Path | None) -> Iterator[None]:
    """Turn what SQLite answers into FurcalError, one sentence with file and remedy."""
    where = path or Path("the record in memory")
    try:
        yield
    except sqlite3.Error as error:
        match getattr(error, "sqlite_errorcode", -1) & 0xFF:
            case sqlite3.SQLITE_NOTADB | sqlite3.SQLITE_CORRUPT:
                raise UnusableError(where, "is damaged") from None
            case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
                why = f"another window of furcal has been writing for {WAIT_S:g} s; close it, or go on in that one"
                raise FurcalError(f"{where}: {why}.") from None
            case sqlite3.SQLITE_FULL:
                raise FurcalError(f"{where}: there is no room left on the disk; make some.") from None
        raise _not_written(where, str(error)) from None


def _not_written(path: Path, why: str) -> FurcalError:
    return FurcalError(f"{path}: cannot be read or written ({why}); make room, or name another file by FURCAL_RECORD.")


def _check(connection: sqlite3.Connection, path: Path) -> None:
    """Whether it is a record, whole, and of a schema that is known."""
    application, version = _number(connection, "application_id"), _number(connection, "user_version")
    if not _number(connection, "schema_version") and (application, version) == (0, 0):
        return  # nothing was ever written to it
    if application != APPLICATION:
        raise FurcalError(f"{path}: is a database of something else; name another file with FURCAL_RECORD.")
    if version > SCHEMA:
        raise FurcalError(
            f"{path}: was written by a newer furcal (schema {version}, this one knows up to {SCHEMA}); "
            "update furcal, or name another file with FURCAL_RECORD."
        )
    found = connection.execute("PRAGMA integrity_check").fetchall()
    if version < 1 or found != [("ok",)]:
        raise UnusableError(path, "is damaged")


def _check_columns(connection: sqlite3.Connection, path: Path) -> None:
    for table, columns in COLUMNS.items():
        found = connection.execute("SELECT name FROM pragma_table_info(?)", (table,)).fetchall()
        if not columns <= {name for (name,) in found}:
            raise UnusableError(path, f"is damaged: it has no whole table {table}")


def _number(connection: sqlite3.Connection, pragma: str) -> int:
    return int(connection.execute(f"PRAGMA {pragma}").fetchone()[0])


# --- schemas


def _first(connection: sqlite3.Connection) -> None:
    """Schema 1: answers alone."""
    connection.execute("CREATE TABLE learner (id TEXT NOT NULL, pseudonym TEXT NOT NULL)")
    connection.execute(
        "CREATE TABLE answers (number INTEGER PRIMARY KEY AUTOINCREMENT, item TEXT NOT NULL, response TEXT NOT NULL,"
        " is_right INTEGER NOT NULL, score REAL NOT NULL, seconds REAL NOT NULL, at TEXT NOT NULL)"
    )
    connection.execute("INSERT INTO learner VALUES (?, '')", (str(uuid4()),))


def _second(connection: sqlite3.Connection) -> None:
    """Schema 2: what was asked beside each answer, and the scheduler's cards, which follow from the answers."""
    connection.execute("ALTER TABLE answers ADD COLUMN asked TEXT NOT NULL DEFAULT '{}'")
    connection.execute("CREATE TABLE cards (item TEXT PRIMARY KEY, card TEXT NOT NULL)")
    rows = connection.execute("SELECT item, is_right, score, seconds, at FROM answers ORDER BY number")
    for card in replayed(rows).values():
        connection.execute("INSERT INTO cards VALUES (?, ?)", (card.item, json.dumps(card_row(card))))


#: From the schema before.
_STEPS: tuple[Callable[[sqlite3.Connection], None], ...] = (_first, _second)


def replayed(rows: Iterable[tuple[Any, ...]]) -> dict[str, Card]:
    """The cards that answers lead to: rows of item, right, score, seconds and time, in the order they were given.

    An answer whose numbers or time cannot be read stays an answer and moves no card.
    """
    cards: dict[str, Card] = {}
    for item, right, score, seconds, at in rows:
        with suppress(TypeError, ValueError, OverflowError):
            verdict, when = Verdict(bool(right), float(score), ""), datetime.fromisoformat(at)
            cards[item] = next_card(cards.get(item), item, verdict, float(seconds), when)
    return cards


def _bring_up(connection: sqlite3.Connection, path: Path | None) -> None:
    """Bring a record to the present schema, in one transaction, a copy of the older one beside it."""
    if _number(connection, "user_version") == SCHEMA:
        return
    with transaction(connection):
        version = _number(connection, "user_version")  # another window may have been quicker
        if version and path is not None and version < SCHEMA:
            _back_up(path, version)
        for step in _STEPS[version:]:
            step(connection)
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
        connection.execute(f"PRAGMA user_version = {SCHEMA}")


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All of it or nothing. The lock is taken at once, so that what is read in it is not written by another window."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):  # a disk that is full may have ended it already
            connection.execute("ROLLBACK")
        raise


# --- copies and what is set aside


def _back_up(path: Path, version: int) -> None:
    """Copy the record beside itself, whole or not at all."""
    target = _free(path, f"v{version}-backup")
    part = target.with_name(f"{target.name}.part")
    try:
        part.unlink(missing_ok=True)
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(part)) as copy:
            source.backup(copy)
        part.rename(target)
    finally:
        part.unlink(missing_ok=True)


def _set_aside(path: Path, why: str) -> str:
    """Move what cannot be gone on with; the sentence to show."""
    aside = _free(path, f"damaged-{datetime.now().astimezone():%Y-%m-%d}")
    for tail in ("-journal", "-wal", "-shm"):  # first: a journal left behind would be played into the fresh one
        with suppress(FileNotFoundError):
            path.with_name(path.name + tail).rename(aside.with_name(aside.name + tail))
    path.rename(aside)
    return f"{path}: {why}; it was set aside as {aside.name}, and a fresh record was begun."


def _free(path: Path, word: str) -> Path:
    """A name beside the record that nothing has."""
    number, name = 1, path.with_name(f"{path.stem}-{word}{SUFFIX}")
    while name.exists() or name.is_symlink():
        number += 1
        name = path.with_name(f"{path.stem}-{word}-{number}{SUFFIX}")
    return name


# --- taking away


def files_of(path: Path) -> list[Path]:
    """The files that a record is, and those that were copied or set aside from it. Folders are not ours."""
    kept = re.compile(
        rf"{re.escape(path.stem)}(-v\d+-backup(-\d+)?|-damaged-\d{{4}}-\d\d-\d\d(-\d+)?)?"
        rf"{re.escape(SUFFIX)}(\.part)?(-journal|-wal|-shm)?"
    )
    try:
        beside = sorted(path.parent.iterdir())
    except (FileNotFoundError, NotADirectoryError):
        return []
    found = [file for file in beside if kept.fullmatch(file.name) and (file.is_symlink() or not file.is_dir())]
    return sorted(found, key=lambda file: file != path)  # a journal goes after what it would be played into


def forget(path: Path) -> list[Path]:
    """Delete the record, its copies and what was set aside; the files that were there. It need not be readable.

    Raises FurcalError for a database of something else, and for what cannot be deleted.
    """
    check_name(path)
    try:
        with suppress(FileNotFoundError, IsADirectoryError), path.open("rb") as file:
            head = file.read(100)
            ours = APPLICATION.to_bytes(4, "big")
            if head.startswith(b"SQLite format 3\0") and len(head) == 100 and head[68:72] not in (ours, bytes(4)):
                raise FurcalError(f"{path}: is a database of something else, and stays; see FURCAL_RECORD.")
        found = files_of(path)
        for one in found:
            one.unlink(missing_ok=True)
    except OSError as error:
        raise FurcalError(
            f"{error.filename or path}: cannot be deleted ({error.strerror}); see who may write in that folder."
        ) from None
    return found
