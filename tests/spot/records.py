"""Items, answers and older records that tests of the record share."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

from lessons.spot.item import Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.record import Record
from lessons.spot.response import (
    Arranged,
    Clicked,
    Picked,
    Placed,
    Quarter,
    Response,
    Said,
    Segments,
    Skipped,
)
from lessons.spot.verdict import Verdict
from lessons.view import Placement

MORNING = datetime(2026, 1, 12, 9, 30, tzinfo=UTC)
RIGHT, WRONG = Verdict(True, 1.0, "Yes."), Verdict(False, 0.0, "No.")
LEARNER = "3f0c6f0e-3f4b-4f7e-9a3a-0d9d5a1c2b10"


def made(name: str, kind: str, answer: object) -> Item:
    return Item(name, kind, "course", "femoral_left", "Which is it?", answer, "So it is.", vignette="A fall.")  # type: ignore[arg-type]


#: An item of every sort of answer, with a response to it.
ASKED: tuple[tuple[Item, Response], ...] = (
    (made("named", "name", Named("femoral_left")), Said("Femoral nerve")),
    (made("pointed", "point", Pointed("femoral_left", 6.0)), Clicked("psoas_left", (1.0, 2.5, -3.0))),
    (made("rooted", "trace", Rooted(("L2", "L3", "L4"))), Segments(("L2", "L3"))),
    (made("ordered", "order", Ordered(("skin", "fat", "psoas"))), Arranged(("fat", "skin", "psoas"))),
    (made("chosen", "predict", Chosen("The thigh.", ("The knee.", "The calf."))), Picked("The knee.")),
    (made("quartered", "quarter", Quartered("L4-5", "left", ("II", "III"))), Quarter("IV")),
    (made("docked", "dock", Docked(Placement(), 1.0)), Placed(Placement(side="right"))),
    (made("skipped", "name", Named("femoral_left")), Skipped()),
)


def answer_all(record: Record, rounds: int = 1) -> None:
    """Every item of ASKED, every second one right, a day a round."""
    for day in range(rounds):
        for number, (item, response) in enumerate(ASKED):
            when = MORNING + timedelta(days=day, minutes=number)
            record.add(item, response, (RIGHT, WRONG)[number % 2], 4.0 + number, when)


#: Schema 1 by hand, not by the code that is tested.
SCHEMA_1 = """
CREATE TABLE learner (id TEXT NOT NULL, pseudonym TEXT NOT NULL);
CREATE TABLE answers (number INTEGER PRIMARY KEY AUTOINCREMENT, item TEXT NOT NULL, response TEXT NOT NULL,
  is_right INTEGER NOT NULL, score REAL NOT NULL, seconds REAL NOT NULL, at TEXT NOT NULL);
PRAGMA application_id = 1179996739;
PRAGMA user_version = 1;
"""


def write_schema_1(path: Path, answers: int = 12) -> None:
    """A record of schema 1: two items by turns, every third answer wrong, one a day."""
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executescript(SCHEMA_1)
        connection.execute("INSERT INTO learner VALUES (?, 'heron')", (LEARNER,))
        for number in range(answers):
            right = number % 3 != 2
            connection.execute(
                "INSERT INTO answers (item, response, is_right, score, seconds, at) VALUES (?, ?, ?, ?, ?, ?)",
                (f"item_{number % 2}", '{"said": "Femoral"}', right, float(right), 5.0 + number,
                 (MORNING + timedelta(days=number)).isoformat()),
            )  # fmt: skip
