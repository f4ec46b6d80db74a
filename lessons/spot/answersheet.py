"""Answers that candidates wrote on paper, typed by the lecturer into a CSV file, read and marked.

    candidate,item,answer
    7,1,lateral cutaneous nerve of thigh     words that were written
    7,2,C                                    the letter of an option or of a spot
    7,3,BCA                                  letters in order
    7,4,L2-L4                                segments
    7,5,III                                  a quarter
    7,6,                                     nothing, or nothing that can be told

`item` is the station's number or the item's id. Everything that is wrong is told with its line.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

from lessons.filehead import check_small
from lessons.spot.item import QUARTERS, Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.paper import LETTERS, Paper
from lessons.spot.response import Arranged, Picked, Quarter, Response, Said, Segments, Skipped
from meshes.errors import FurcalError, shown, unknown_word
from meshes.structures import SEGMENTS
from meshes.tables import read_text

if TYPE_CHECKING:
    from lessons.spot.results import Result

COLUMNS = ("candidate", "item", "answer")
#: Between cells: what spreadsheets write in one country or another.
DELIMITERS = ",;\t"
CANDIDATE = re.compile(r"[0-9]{1,12}")
CANDIDATES_MAX = 1000
SIZE_MAX_BYTES = 10_000_000
_EMPTY = "leave the cell empty where the candidate gave no answer that can be told"
_RANGE = re.compile(r"([TLS])?(\d{1,2})(?:-([TLS])?(\d{1,2}))?")


@dataclass(frozen=True)
class Answers:
    """What was typed: candidate -> id of an item -> response, and everything that is wrong with it."""

    given: Mapping[str, Mapping[str, Response]]
    problems: tuple[str, ...]


def sheet_text(paper: Paper, candidates: int = 1) -> str:
    """The empty sheet: a line for each station of each candidate. Raises FurcalError for too many."""
    if not 1 <= candidates <= CANDIDATES_MAX:
        raise FurcalError(f"--candidates: expected a whole number from 1 to {CANDIDATES_MAX}, found {candidates}.")
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for candidate in range(1, candidates + 1):
        writer.writerows((candidate, number, "") for number in range(1, len(paper.items) + 1))
    return out.getvalue()


# --- reading


def read_answers(path: Path, paper: Paper) -> Answers:
    """The answers of a sheet. Raises FurcalError for a file that is none at all."""
    given: dict[str, dict[str, Response]] = {}
    first: dict[tuple[str, str], int] = {}
    problems: list[str] = []
    for line, cells in _rows(path):
        where = f"{path}, line {line}"
        try:
            candidate, item = _who(cells["candidate"], where), _which(cells["item"], paper, where)
            before = first.setdefault((candidate, item.id), line)
            if before != line:
                raise FurcalError(f"{where}: candidate {candidate} answered station {paper.number_of(item.id)} in line "
                                  f"{before} already; keep one.")  # fmt: skip
            given.setdefault(candidate, {})[item.id] = response_typed(cells["answer"], item, paper, f"{where}, answer")
        except FurcalError as error:
            problems.append(str(error))
    if not first and not problems:
        problems.append(f"{path}: holds no answers; type a line for each station of each candidate.")
    return Answers(given, tuple(problems))


def _rows(path: Path) -> Iterator[tuple[int, dict[str, str]]]:
    """Lines that hold anything: number, and cells by their column."""
    check_small(path, SIZE_MAX_BYTES, "sheet of answers")
    text = read_text(path).removeprefix("\ufeff")
    heading = text.split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=heading.count)
    reader = csv.reader(StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        columns = [cell.strip().casefold() for cell in next(reader, [])]
        if sorted(columns) != sorted(COLUMNS):
            raise FurcalError(f"{path}, line 1: the columns must be {', '.join(COLUMNS)}.")
        before = reader.line_num
        for cells in reader:
            line, before = before + 1, reader.line_num
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(columns):
                raise FurcalError(f"{path}, line {line}: expected {len(columns)} cells, found {len(cells)}; put an "
                                  f"answer that holds {shown(delimiter)} into double quotes.")  # fmt: skip
            yield line, dict(zip(columns, (" ".join(cell.split()) for cell in cells), strict=True))
    except csv.Error as error:
        raise FurcalError(f"{path}, line {reader.line_num}: {error}; save the sheet as CSV anew.") from None


def _who(cell: str, where: str) -> str:
    if not CANDIDATE.fullmatch(cell):
        raise FurcalError(f"{where}, candidate: expected a number of at most 12 digits, found {shown(cell)}.")
    return cell


def _which(cell: str, paper: Paper, where: str) -> Item:
    """The item of a station's number, or of its own id."""
    if re.fullmatch(r"[0-9]{1,9}", cell):
        if not 1 <= int(cell) <= len(paper.items):
            raise FurcalError(f"{where}, item: the paper has stations 1 to {len(paper.items)}, found {cell}.")
        return paper.items[int(cell) - 1]
    number = paper.number_of(cell)
    if not number:
        raise unknown_word(cell, [item.id for item in paper.items], "item", f"{where}, item")
    return paper.items[number - 1]


# --- what was typed


def response_typed(cell: str, item: Item, paper: Paper, where: str) -> Response:
    """The response that a cell stands for. Raises FurcalError naming what the item asks for."""
    if not cell.strip():
        return Skipped()
    if isinstance(item.answer, Docked):
        raise FurcalError(f"{where}: a portal cannot be placed on paper; {_EMPTY}.")
    return _READ[type(item.answer)](cell.strip(), item, paper, where)


def _said(cell: str, _item: Item, _paper: Paper, _where: str) -> Response:
    return Said(cell)


def _picked(cell: str, item: Item, paper: Paper, where: str) -> Response:
    options = paper.offered[paper.number_of(item.id) - 1]
    own = [option for option in options if " ".join(option.split()).casefold() == cell.casefold()]
    if own and len(cell) > 1:
        return Picked(own[0])
    return Picked(options[_letter(cell, len(options), where)])


def _clicked(cell: str, item: Item, paper: Paper, where: str) -> Response:
    spots = paper.spots.get(item.id, ())
    if not spots:
        raise FurcalError(f"{where}: this paper was made for the window, and its picture has no letters; {_EMPTY}.")
    return spots[_letter(cell, len(spots), where)]


def _letter(cell: str, count: int, where: str) -> int:
    letter = cell.rstrip(".)").strip().upper()
    legal = LETTERS[:count]
    if len(letter) != 1 or letter not in legal:
        raise FurcalError(f"{where}: expected one letter from A to {legal[-1]}, found {shown(cell)}; {_EMPTY}.")
    return legal.index(letter)


def _arranged(cell: str, item: Item, paper: Paper, where: str) -> Response:
    words = paper.offered[paper.number_of(item.id) - 1]
    legal = LETTERS[: len(words)]
    letters = re.sub(r"[\s,;.>/–-]+", "", cell).upper()
    if sorted(letters) != sorted(legal):
        raise FurcalError(f"{where}: expected each letter from A to {legal[-1]} once, in order, found {shown(cell)}; "
                          f"{_EMPTY}.")  # fmt: skip
    return Arranged(tuple(words[legal.index(letter)] for letter in letters))


def _segments(cell: str, _item: Item, _paper: Paper, where: str) -> Response:
    found: set[str] = set()
    region = ""
    text = re.sub(r"\s*[-–—]\s*", "-", cell.upper())
    for part in re.split(r"[\s,;/+&]+|\bAND\b", text):
        match = _RANGE.fullmatch(part)
        if not part:
            continue
        first = f"{match[1] or region}{int(match[2])}" if match else ""
        region = first[:1]
        last = f"{match[3] or region}{int(match[4])}" if match and match[4] else first
        if first not in SEGMENTS or last not in SEGMENTS or SEGMENTS.index(first) > SEGMENTS.index(last):
            raise FurcalError(f"{where}: expected segments as L2-L4 or L2, L3, L4, found {shown(cell)}; {_EMPTY}.")
        found.update(SEGMENTS[SEGMENTS.index(first) : SEGMENTS.index(last) + 1])
    return Segments(tuple(sorted(found, key=SEGMENTS.index)))


def _quarter(cell: str, _item: Item, _paper: Paper, where: str) -> Response:
    if cell.upper() not in QUARTERS:
        raise FurcalError(f"{where}: expected a quarter, {', '.join(QUARTERS)}, found {shown(cell)}; {_EMPTY}.")
    return Quarter(cell.upper())


_READ: Mapping[type, Callable[[str, Item, Paper, str], Response]] = {
    Named: _said, Chosen: _picked, Pointed: _clicked, Ordered: _arranged, Rooted: _segments, Quartered: _quarter,
}  # fmt: skip


# --- marking


def results_of(
    answers: Answers, paper: Paper, when: str, progress: Callable[[float, str], None] = lambda *_: None
) -> list[Result]:
    """The result of every candidate, in the order of their numbers. What a sheet leaves out was not answered.

    when : date and time with its zone, ISO 8601
    """
    from lessons.spot.mark import marked
    from lessons.spot.onbody import lying
    from lessons.spot.results import Given, Result
    from meshes.body import load_body

    given: dict[tuple[str, str], Given] = {}
    for done, item in enumerate(paper.items):
        progress(done / len(paper.items), f"marking station {done + 1}")
        body = load_body(lying(item)) if isinstance(item.answer, Pointed) else None
        for candidate, own in answers.given.items():
            response = own.get(item.id, Skipped())
            verdict = marked(item, response, body)
            given[candidate, item.id] = Given(
                item.id, item.kind, item.objective, response, verdict.right, verdict.score, 0.0
            )
    return [
        Result(paper.id, paper.sha256, candidate, when, tuple(given[candidate, item.id] for item in paper.items))
        for candidate in sorted(answers.given, key=lambda number: (int(number), number))
    ]


def unknown_names(results: Iterable[Result]) -> Iterator[str]:
    """A sentence for each typed name that is none, for the lecturer to look at."""
    from lessons.spot.names import named_by
    from lessons.spot.wordbook import known_structures

    every = list(known_structures().values())
    for result in results:
        for station, given in enumerate(result.answers, start=1):
            words = given.response.words if isinstance(given.response, Said) else ""
            if words and not given.right and not named_by(words, every):
                yield (f"candidate {result.candidate}, station {station}: {shown(words)} is no name that furcal knows; "
                       "it was marked wrong, look at it yourself.")  # fmt: skip
