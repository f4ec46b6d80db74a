"""A paper that a candidate sits: station by station, each answer on the disk before the next station begins.

What is there so far is a results file like the one at the end, signed, with fewer answers and another name; beside it
lies how much of the station is spent. Both are taken up again when the same candidate starts again, and gone when the
results are written.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from lessons.spot.item import Item
from lessons.spot.paper import Paper
from lessons.spot.response import Response
from lessons.spot.results import CANDIDATE, Given, Result, read_result, write_result
from lessons.spot.spent import read_spent, write_spent
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError, shown


@dataclass(frozen=True)
class Sitting:
    """One candidate at one paper.

    candidate : a number, as text without leading noughts: 017 and 17 are one candidate
    folder    : where the results go
    key       : signs them
    given     : the answers so far, in the order of the stations
    spent     : seconds of the next station that were over when it was left
    """

    paper: Paper
    candidate: str
    folder: Path
    key: bytes
    given: tuple[Given, ...] = ()
    spent: float = 0.0

    @property
    def path(self) -> Path:
        """The results file."""
        return self.folder / f"results-{self.candidate}.json"

    @property
    def part(self) -> Path:
        """The file of what is there so far."""
        return self.folder / f"results-{self.candidate}.part"

    @property
    def clock(self) -> Path:
        """The file of the time that is spent."""
        return self.folder / f"results-{self.candidate}.clock"

    @property
    def left(self) -> tuple[Item, ...]:
        """The stations that are still to come."""
        return self.paper.items[len(self.given) :]

    @property
    def orders(self) -> Mapping[str, tuple[str, ...]]:
        """What is offered at each station, as the paper was frozen."""
        return {item.id: words for item, words in zip(self.paper.items, self.paper.offered, strict=True)}

    def answered(self, response: Response, verdict: Verdict, seconds: float) -> Sitting:
        """With the answer of the next station."""
        item = self.left[0]
        row = Given(item.id, item.kind, item.objective, response, verdict.right, verdict.score, seconds)
        return replace(self, given=(*self.given, row), spent=0.0)

    def result(self, now: datetime) -> Result:
        """What is there, as a result that ended now."""
        return Result(self.paper.id, self.paper.sha256, self.candidate, now.isoformat(timespec="seconds"), self.given)

    def keep(self, now: datetime) -> None:
        """Write what is there so far. Raises FurcalError naming the file."""
        write_result(self.part, self.result(now), self.key)

    def keep_time(self, spent: float) -> None:
        """Write how many seconds of the next station are over. Raises FurcalError naming the file."""
        write_spent(self.clock, self.key, self.paper.sha256, self.candidate, len(self.given), spent)

    def finish(self, now: datetime) -> Path:
        """Write the results, and take the part away; the file. Raises FurcalError where nothing was answered."""
        if not self.given:
            raise FurcalError(f"candidate {self.candidate}: nothing was answered, so there are no results to write.")
        write_result(self.path, self.result(now), self.key)
        for path in (self.part, self.clock):
            with suppress(OSError):  # the results are there, and they count
                path.unlink(missing_ok=True)
        return self.path


def results_folder(folder: Path) -> Path:
    """A folder for results, made if need be. Raises FurcalError where it cannot be: only the last part is ever made."""
    if folder.is_dir():
        return folder
    if folder.exists():
        raise FurcalError(f"{folder}: is a file; name a folder for the results.")
    if not folder.parent.is_dir():
        raise FurcalError(f"{folder.parent}: no such folder; make it first, or name another one for the results.")
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        reason = error.strerror or str(error)
        raise FurcalError(f"{folder}: cannot be made ({reason}); name another folder for the results.") from error
    return folder


def sitting(paper: Paper, candidate: str, folder: Path, key: bytes) -> Sitting:
    """A candidate at a paper, where it was left or at its first station.

    Raises FurcalError for what is no number, for results that are there already, and for a part that does not fit.
    """
    number = candidate.strip()
    if not CANDIDATE.fullmatch(number) or not number.isascii():
        raise FurcalError(f"candidate {shown(candidate)}: expected a number of at most 12 digits.")
    if not folder.is_dir():
        raise FurcalError(f"{folder}: no such folder; make it first, or name another one for the results.")
    begun = Sitting(paper, str(int(number)), folder, key)
    if begun.path.exists():
        raise FurcalError(f"{begun.path}: candidate {begun.candidate} has sat this paper; take that file away first "
                          "if it is to be sat again.")  # fmt: skip
    if begun.part.exists():
        begun = taken_up(begun)
    return timed(begun) if begun.clock.exists() else begun


def taken_up(begun: Sitting) -> Sitting:
    """With the answers of its part file. Raises FurcalError naming that file."""
    found = read_result(begun.part, begun.key)
    if (found.paper, found.paper_hash) != (begun.paper.id, begun.paper.sha256):
        raise FurcalError(f"{begun.part}: is of another paper; take it away to begin this one.")
    ids = [given.item for given in found.answers]
    if found.number != int(begun.candidate) or ids != [item.id for item in begun.paper.items[: len(ids)]]:
        raise FurcalError(f"{begun.part}: does not hold the first stations of candidate {begun.candidate}; take it "
                          "away to begin anew.")  # fmt: skip
    return replace(begun, given=found.answers)


def timed(begun: Sitting) -> Sitting:
    """With the time of its station that is spent. Raises FurcalError naming the file where that does not fit."""
    station, seconds = read_spent(begun.clock, begun.key, begun.paper.sha256, begun.candidate)
    count = len(begun.given)
    if station > count:
        raise FurcalError(
            f"{begun.clock}: tells of station {station + 1}, and the answers before it are not there; put {begun.part} "
            "back, or take this file away, too, to begin anew."
        )
    # Of a station that has its answer by now it tells nothing more.
    return replace(begun, spent=min(max(seconds, 0.0), float(begun.paper.seconds))) if station == count else begun
