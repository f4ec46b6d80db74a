"""kill -9 at any moment loses at most the answer that was being taken in; two processes lose none."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from lessons.spot.record import open_record
from lessons.spot.schedule import Schedule
from tests.house.programs import ROOT
from tests.spot.records import ASKED, answer_all, write_schema_1

KILLED = -9
KILLS = 20

#: Answers without end and says each number when it is taken in. The answers go through the items by turns.
ANSWERING = """
import sys
from datetime import timedelta
from pathlib import Path
from lessons.spot.record import open_record
from lessons.spot.response import Said
from meshes.errors import FurcalError
from tests.spot.records import ASKED, MORNING, RIGHT, WRONG
record = open_record(Path(sys.argv[1]))
first, count = int(sys.argv[2]), int(sys.argv[3])
print("ready", flush=True)
for number in range(first, first + count):
    verdict = RIGHT if number % 3 else WRONG
    when = MORNING + timedelta(hours=number)
    try:
        record.add(ASKED[number % len(ASKED)][0], Said(str(number)), verdict, 3.0, when)
    except FurcalError:
        continue  # it waits for the other process, and is written with the next one
    print(number, flush=True)
record.close()
"""

#: Does the same again and again, each time in a process of its own that ends itself with SIGKILL before a statement:
#: the first, the second, ... until there are no more. Says how each process ended.
AT_STATEMENTS = """
import os, shutil, signal, sqlite3, sys
from pathlib import Path
from lessons.spot.record import open_record
from lessons.spot.response import Said
from lessons.spot.schedule import scheduler
from tests.spot.records import ASKED, MORNING, RIGHT
folder, begun = Path(sys.argv[1]), sys.argv[2]
scheduler()  # imported once for all
connect = sqlite3.connect

def ended(path, statement):
    left = statement
    def before(_):
        nonlocal left
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)
    def counted(*words, **keys):
        connection = connect(*words, **keys)
        connection.set_trace_callback(before)
        return connection
    sqlite3.connect = counted
    with open_record(path) as record:
        record.add(ASKED[0][0], Said("x"), RIGHT, 3.0, MORNING)
    sys.stdout.flush()
    os._exit(0)

for statement in range(1, 200):
    path = folder / f"{statement}.sqlite"
    if begun:
        shutil.copy(begun, path)
    process = os.fork()
    if process == 0:
        ended(path, statement)
    status = os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
    print(status, flush=True)
    if status == 0:
        break
"""


def child(program: str, *words: object) -> subprocess.Popen[str]:
    line = [sys.executable, "-c", program, *map(str, words)]
    return subprocess.Popen(line, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def check_whole(path: Path) -> list[int]:
    """The numbers that were answered, in their order; the file is whole and its cards are those of its answers."""
    with open_record(path) as record:
        assert record.notice == ""
        answers = record.answers()
        schedule = Schedule()
        for answer in answers:
            schedule.answered(answer.item, answer.verdict, answer.seconds, answer.when)
        assert record.schedule().cards == schedule.cards
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    return [int(answer.response["said"]) for answer in answers]


def test_twenty_kills_at_random_moments_lose_at_most_the_answer_in_flight(tmp_path: Path) -> None:
    path, dice, told = tmp_path / "record.sqlite", Random(20), 0
    for _ in range(KILLS):
        with child(ANSWERING, path, told, 100_000) as running:
            assert running.stdout is not None
            assert running.stderr is not None
            assert running.stdout.readline() == "ready\n"
            said = "".join(running.stdout.readline() for _ in range(dice.randint(1, 3)))  # however slow the machine is
            time.sleep(dice.uniform(0.0, 0.06))
            running.kill()
            said += running.stdout.read()
            errors = running.stderr.read()
        assert (running.returncode, errors) == (KILLED, "")
        lines = said.splitlines(keepends=True)
        whole = [int(line) for line in lines if line.endswith("\n")]
        assert whole == list(range(told, told + len(whole)))
        kept = check_whole(path)
        assert kept == list(range(len(kept)))
        assert told + len(whole) <= len(kept) <= told + len(whole) + 1
        told = len(kept)
    assert told >= KILLS  # it had been answering
    assert {file.name for file in tmp_path.iterdir()} <= {"record.sqlite", "record.sqlite-journal"}


@pytest.mark.parametrize("begun", ["nothing", "answers", "schema 1"])
def test_a_kill_before_any_statement_leaves_the_record_before_or_after(tmp_path: Path, begun: str) -> None:
    # Making a record, taking in an answer, and bringing an older one up to date.
    start, before = tmp_path / "start.sqlite", {"nothing": 0, "answers": len(ASKED), "schema 1": 12}[begun]
    if begun == "schema 1":
        write_schema_1(start)
    elif begun == "answers":
        with open_record(start) as record:
            answer_all(record)
    running = child(AT_STATEMENTS, tmp_path, start if before else "")
    said, errors = running.communicate()
    assert errors == ""
    ends = [int(line) for line in said.split()]
    assert ends[:-1] == [KILLED] * (len(ends) - 1)
    assert ends[-1] == 0
    assert len(ends) > 8
    counts = []
    for statement in range(1, len(ends) + 1):
        with open_record(tmp_path / f"{statement}.sqlite") as record:
            assert record.notice == ""
            answers = record.answers()
            assert len(record.cards()) == len({answer.item for answer in answers})
            counts.append(len(answers))
    assert set(counts) == {before, before + 1}
    assert counts == sorted(counts)  # once it is in, it stays in


def test_two_processes_write_one_record_and_none_loses_an_answer(tmp_path: Path) -> None:
    path, each = tmp_path / "record.sqlite", 40
    running = [child(ANSWERING, path, first, each) for first in (0, 1000)]
    for one in running:
        _, errors = one.communicate()
        assert (one.returncode, errors) == (0, "")
    kept = check_whole(path)
    assert sorted(kept) == [*range(each), *range(1000, 1000 + each)]
    for first in (0, 1000):  # each in its own order
        mine = [number for number in kept if first <= number < first + 1000]
        assert mine == sorted(mine)
