"""A learner's record: every answer, and when each item is asked again. It stays on this machine and knows no name.

    with open_record() as record:
        schedule = Schedule(record.cards())
        record.add(item, response, verdict, seconds, datetime.now().astimezone())

An answer and its card are one transaction. What could not be written waits in memory and is written with the next one.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from math import isfinite
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from lessons.spot.item import Item
from lessons.spot.itemjson import item_json
from lessons.spot.recordfile import (
    SCHEMA,
    UnusableError,
    forget,
    identity,
    in_memory,
    in_words,
    opened,
    record_path,
    replayed,
    transaction,
)
from lessons.spot.response import Response, response_json
from lessons.spot.schedule import Card, Schedule, card_of, card_row, in_utc, next_card
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError

PSEUDONYM_MAX = 40
#: Years in which an answer may be given: the calendar goes on long enough for the item to be asked again.
YEARS = (1970, 9000)
#: What of an item is kept beside an answer; not the view, which no reader of answers needs.
ASKED_KEYS = ("kind", "objective", "structure", "depth", "vignette", "ask", "answer")


@dataclass(frozen=True)
class Learner:
    """Who learns: a random id that was made once, and a pseudonym where the learner gave one."""

    id: str
    pseudonym: str = ""


@dataclass(frozen=True)
class Answered:
    """One answer as it is kept.

    number   : from 1, in the order they were written;  item : id of the item
    asked    : the item's words and what is right (`asked_json`), so that the answer can be read when the item has long
               been changed; empty for answers of schema 1
    response : as `lessons.spot.response` writes it
    when     : with the zone in which it was given
    """

    number: int
    item: str
    asked: Mapping[str, Any]
    response: Mapping[str, Any]
    right: bool
    score: float
    seconds: float
    when: datetime

    @property
    def verdict(self) -> Verdict:
        """What was said about it, without the sentence."""
        return Verdict(self.right, self.score, "")


def open_record(path: Path | None = None) -> Record:
    """The learner's record, made where there is none. `notice` is then a sentence to show, or empty.

    Raises FurcalError where it cannot be opened at all; a window then goes on with `spare_record`.
    """
    return Record(record_path() if path is None else path)


def spare_record(notice: str = "") -> Record:
    """A record that is kept in memory alone, for a session that is to go on without a file."""
    return Record(None, notice)


class Record:
    """One learner's record, open.

    path   : None for one in memory
    notice : one sentence to show, once (`take_notice`); empty when all is well
    """

    def __init__(self, path: Path | None, notice: str = "") -> None:
        self.path = path
        self.notice = notice
        self._waiting: list[Answered] = []
        self._connection: sqlite3.Connection | None = None
        self._file = identity(path) if path else None
        self._open()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    # --- what is kept

    @property
    def learner(self) -> Learner:
        """Who learns."""
        with in_words(self.path):
            row = self._current().execute("SELECT id, pseudonym FROM learner").fetchone()
        return Learner(*row)

    def call(self, pseudonym: str) -> None:
        """Keep a pseudonym, or none for no words. Raises FurcalError for one that is too long."""
        words = " ".join(pseudonym.split())
        if len(words) > PSEUDONYM_MAX or not words.isprintable():
            raise FurcalError(f"a pseudonym has at most {PSEUDONYM_MAX} printable signs; choose another.")
        with in_words(self.path):
            connection = self._current()
            with transaction(connection):
                connection.execute("UPDATE learner SET pseudonym = ?", (words,))

    def answers(self) -> tuple[Answered, ...]:
        """All answers in the order they were given; those that wait to be written as well."""
        with in_words(self.path):
            rows = self._current().execute(
                "SELECT number, item, asked, response, is_right, score, seconds, at FROM answers ORDER BY number"
            )
            kept = [_answered(row, f"{self.path}, answer {row[0]}") for row in rows]
        last = kept[-1].number if kept else 0
        waiting = [_numbered(answer, last + place) for place, answer in enumerate(self._waiting, start=1)]
        return (*kept, *waiting)

    def count(self) -> int:
        """How many answers there are, without reading them."""
        with in_words(self.path):
            (kept,) = self._current().execute("SELECT count(*) FROM answers").fetchone()
        return int(kept) + len(self._waiting)

    def cards(self) -> tuple[Card, ...]:
        """The scheduler's card of every item that was answered, by item."""
        with in_words(self.path):
            connection = self._current()
            names = [name for (name,) in connection.execute("SELECT item FROM cards").fetchall()]
            cards = {name: card for name in names if (card := _card(connection, name)) is not None}
        for answer in self._waiting:
            cards[answer.item] = _moved(cards.get(answer.item), answer)
        return tuple(cards[name] for name in sorted(cards))

    def schedule(self) -> Schedule:
        """The same as a schedule."""
        return Schedule(self.cards())

    def export(self) -> dict[str, Any]:
        """Everything that is kept, as values of JSON."""
        learner = self.learner
        return {
            "furcal_record": SCHEMA,
            "learner": {"id": learner.id, "pseudonym": learner.pseudonym},
            "answers": [
                {
                    "number": answer.number,
                    "item": answer.item,
                    "when": answer.when.isoformat(),
                    "response": dict(answer.response),
                    "right": answer.right,
                    "score": answer.score,
                    "seconds": answer.seconds,
                    "asked": dict(answer.asked),
                }
                for answer in self.answers()
            ],
            "cards": [card_row(card) for card in self.cards()],
        }

    # --- what is added

    def add(self, item: Item, response: Response, verdict: Verdict, seconds: float, when: datetime) -> Card:
        """Take in an answer; the item's new card.

        It is on the disk when this returns. Where it cannot be written, FurcalError is raised with a sentence to show,
        and the answer waits in memory: it counts in `answers` and `cards`, and is written with the next one.
        """
        if not isfinite(seconds) or seconds < 0.0:
            raise ValueError(f"an answer takes a time, not {seconds!r} s")
        if not YEARS[0] <= in_utc(when).year <= YEARS[1]:
            raise ValueError(f"no clock says the year {when.year}")
        self._waiting.append(
            Answered(0, item.id, asked_json(item), response_json(response), verdict.right, verdict.score, seconds, when)
        )
        try:
            self.write_waiting()
        except FurcalError as error:
            kept = f"{len(self._waiting)} answers wait" if len(self._waiting) > 1 else "the answer waits"
            raise FurcalError(f"{str(error).rstrip('.')}; {kept} in memory, to be written with the next one.") from None
        with in_words(self.path):
            card = _card(self._current(), item.id)
        assert card is not None
        return card

    @property
    def waiting(self) -> int:
        """Answers that could not be written yet."""
        return len(self._waiting)

    def write_waiting(self) -> None:
        """Write what waits, an answer a transaction. Raises FurcalError; what was not written goes on waiting."""
        while self._waiting:
            try:
                self._write(self._waiting[0])
            except UnusableError:  # damaged while it was open: once more, into a fresh one
                self._open()
                self._write(self._waiting[0])
            del self._waiting[0]

    def _write(self, answer: Answered) -> None:
        with in_words(self.path):
            connection = self._current()
            with transaction(connection):
                connection.execute(
                    "INSERT INTO answers (item, response, is_right, score, seconds, at, asked)"
                    " VALUES (?, ?, ?, ?, ?, ?, ?)",
                    (
                        answer.item, _text(answer.response), answer.right, answer.score, answer.seconds,
                        answer.when.isoformat(), _text(answer.asked),
                    ),
                )  # fmt: skip
                card = _moved(_card(connection, answer.item, but_last=True), answer)
                connection.execute("INSERT OR REPLACE INTO cards VALUES (?, ?)", (card.item, _text(card_row(card))))

    # --- the file

    def take_notice(self) -> str:
        """The sentence to show, which is then shown."""
        notice, self.notice = self.notice, ""
        return notice

    def forget(self) -> list[Path]:
        """Delete everything: the record, copies of it and what was set aside; the files that were there.

        The next answer begins a new record with another id.
        """
        self._waiting.clear()
        self._leave()
        return forget(self.path) if self.path else []

    def close(self) -> None:
        """Write what waits, and close. Raises FurcalError where an answer could not be written and is lost now."""
        try:
            self.write_waiting()
        finally:
            self._leave()

    def _current(self) -> sqlite3.Connection:
        """The connection to the file that lies there now: another window may have taken it away, or set it aside."""
        if self._connection is None or (self.path is not None and identity(self.path) != self._file):
            return self._open()
        return self._connection

    def _open(self) -> sqlite3.Connection:
        self._leave()
        if self.path is None:
            self._connection = in_memory()
            return self._connection
        connection, notice = opened(self.path)
        self._connection, self._file = connection, identity(self.path)
        self.notice = notice or self.notice
        return connection

    def _leave(self) -> None:
        if self._connection is not None:
            self._connection.close()
            self._connection = None


def asked_json(item: Item) -> dict[str, Any]:
    """What was asked: the words of an item and what is right."""
    whole = item_json(item)
    return {key: whole[key] for key in ASKED_KEYS}


def _text(value: Any) -> str:
    return json.dumps(value, allow_nan=False)


def _moved(card: Card | None, answer: Answered) -> Card:
    return next_card(card, answer.item, answer.verdict, answer.seconds, answer.when)


def _numbered(answer: Answered, number: int) -> Answered:
    from dataclasses import replace

    return replace(answer, number=number)


def _card(connection: sqlite3.Connection, item: str, but_last: bool = False) -> Card | None:
    """The kept card of an item. One that cannot be read follows from the answers.

    but_last : the last answer is not in it yet
    """
    row = connection.execute("SELECT card FROM cards WHERE item = ?", (item,)).fetchone()
    if row is None:
        return None
    try:
        return card_of(json.loads(row[0]), item)
    except (FurcalError, TypeError, ValueError, RecursionError):
        rows = connection.execute(
            "SELECT item, is_right, score, seconds, at FROM answers WHERE item = ? ORDER BY number", (item,)
        ).fetchall()
        return replayed(rows[:-1] if but_last else rows).get(item)


def _answered(row: tuple[Any, ...], where: str) -> Answered:
    """The answer of a row. Raises FurcalError naming it for what furcal did not write."""
    number, item, asked, response, right, score, seconds, at = row
    try:
        made = Answered(
            number, item, json.loads(asked), json.loads(response), bool(right), float(score), float(seconds),
            datetime.fromisoformat(at),
        )  # fmt: skip
        in_utc(made.when)
    except (TypeError, ValueError, OverflowError, RecursionError):
        raise FurcalError(f"{where}: is not as furcal writes it; undo the change, or begin anew: furcal record "
                          "forget --yes.") from None  # fmt: skip
    return made
