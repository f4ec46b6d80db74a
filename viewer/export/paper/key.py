"""The key to a paper, for the lecturer: the answers at a glance, then each with its explanation and sources."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from io import BytesIO
from typing import TYPE_CHECKING

from lessons.prose import prose
from lessons.readout import named
from lessons.spot.item import OBJECTIVE_WORDS, Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.paper import CONFIDENTIAL, LETTERS, Paper
from viewer.export.lesson.wrapping import LEADING, Line, Told, height_of, plain, told_of
from viewer.export.paper.ink import (
    ACCENT,
    BOTTOM,
    HEADING,
    LEFT,
    QUIET,
    SMALL,
    TEXT,
    TITLE,
    TOP,
    WIDE,
    WORDS,
    Ink,
)
from viewer.export.paper.stations import AIR, title_of

if TYPE_CHECKING:
    from meshes.structures import Structure
    from viewer.palette import RGB

PICTURE = (66.0, 44.0)
COLUMN_X, COLUMN = LEFT + PICTURE[0] + AIR, WIDE - PICTURE[0] - AIR
BETWEEN = 7.0


def right_answer(paper: Paper, number: int, structures: Mapping[str, Structure]) -> str:
    """What is right at a station, from 1, as it would stand on the paper."""
    item, order = paper.items[number - 1], paper.offered[number - 1]
    match item.answer:
        case Named(mark):
            return named(structures[mark])
        case Pointed(target, _):
            spots = paper.spots.get(item.id, ())
            letters = [letter for letter, spot in zip(LETTERS, spots, strict=False) if spot.structure == target]
            return ", ".join([*letters, named(structures[target])])
        case Rooted(roots):
            return ", ".join(roots)
        case Ordered(right):
            return f"{''.join(LETTERS[order.index(word)] for word in right)}: {', '.join(right)}"
        case Chosen(right, _):
            return f"{LETTERS[order.index(right)]}: {right}"
        case Quartered(_, _, quarters):
            return " or ".join(quarters)
        case Docked(start, clear_mm):
            return f"a portal at {start.level} that reaches the disc, {clear_mm:g} mm clear of every nerve"


def key_pdf(paper: Paper, answers: Sequence[str], pictures: Sequence[BytesIO]) -> bytes:
    """The whole file. answers, pictures : of the stations, in their order, the pictures as they are explained."""
    ink = Ink(f"Key to {title_of(paper).lower()}", _texts(paper, answers))
    writer = _Writer(ink, paper, answers, pictures)
    writer.head()
    for k in range(len(paper.items)):
        writer.station(k)
    return ink.bytes()


def _texts(paper: Paper, answers: Sequence[str]) -> Iterator[str]:
    yield from answers
    for item in paper.items:
        yield from (item.vignette, item.ask, item.explain, *item.own.values())


class _Writer:
    def __init__(self, ink: Ink, paper: Paper, answers: Sequence[str], pictures: Sequence[BytesIO]) -> None:
        self.ink, self.paper, self.answers, self.pictures = ink, paper, answers, pictures
        self.y = TOP

    def head(self) -> None:
        """What it is, and the answers at a glance."""
        ink = self.ink
        self._page()
        self._set([plain(f"Key to spot test {self.paper.id}", heavy=True)], TITLE)
        self.y += 1.0
        self._set([plain(CONFIDENTIAL.replace("This file", "This key"), heavy=True)], HEADING, ACCENT)
        self.y += 1.0
        says = f"{len(self.paper.items)} stations of {self.paper.seconds} seconds, seed {self.paper.seed}."
        self._set([plain(says)], WORDS, QUIET)
        self.y += 5.0
        for k, answer in enumerate(self.answers):
            lines = ink.one(answer, WIDE - 12.0, WORDS)
            for n, line in enumerate(lines):
                self._room(LEADING * WORDS)
                if n == 0:
                    ink.text(str(k + 1), LEFT, self.y, WORDS, heavy=True)
                ink.line(line, LEFT + 12.0, WIDE - 12.0, self.y, WORDS)
                self.y += LEADING * WORDS
            self.y += 0.8
        self.y += BETWEEN

    def station(self, k: int) -> None:
        """Question, answer, explanation and sources beside the picture; what is too long goes on below and beyond."""
        item = self.paper.items[k]
        rows = list(self._rows(item, self.answers[k]))
        high = sum(height_of(lines, size) + gap for lines, size, _, gap in rows)
        if self.y + LEADING * HEADING + max(PICTURE[1], min(high, 120.0)) > BOTTOM:
            self._page()
        heading = f"Station {k + 1}: {item.kind}, {item.depth}"
        self.ink.text(heading, LEFT, self.y, HEADING, heavy=True)
        objective = OBJECTIVE_WORDS[item.objective]
        self.ink.text(objective, LEFT + WIDE - self.ink.width_of(objective, False) * SMALL, self.y + 1.5, SMALL, QUIET)
        self.y += LEADING * HEADING + 1.0
        top, page = self.y, self.ink.pdf.page
        self.ink.image(self.pictures[k], LEFT, top, *PICTURE, f"Station {k + 1}, explained.")
        for lines, size, colour, gap in rows:
            for n, line in enumerate(lines):
                self.y += line.gap * LEADING * size if n else 0.0
                self._room(LEADING * size)
                self.ink.line(line, COLUMN_X, COLUMN, self.y, size, colour)
                self.y += LEADING * size
            self.y += gap
        if self.ink.pdf.page == page:
            self.y = max(self.y, top + PICTURE[1])
        self.y += BETWEEN

    def _rows(self, item: Item, answer: str) -> Iterator[tuple[list[Line], float, RGB, float]]:
        told = prose(item.explain, "", item.own)
        broken = self.ink.broken
        if item.vignette:
            yield broken([plain(item.vignette)], COLUMN, WORDS), WORDS, QUIET, 1.0
        yield broken([plain(item.ask)], COLUMN, WORDS), WORDS, TEXT, 1.0
        yield broken([plain(answer, heavy=True)], COLUMN, WORDS), WORDS, ACCENT, 1.5
        yield broken(told_of(told.paragraphs), COLUMN, WORDS), WORDS, TEXT, 1.5
        sources = [plain(f"[{n}] {words}", tight=True) for n, words in enumerate(told.sources, start=1)]
        yield broken([*sources, plain(f"Item {item.id}", tight=True)], COLUMN, SMALL), SMALL, QUIET, 0.0

    def _set(self, told: list[Told], size: float, colour: RGB = TEXT) -> None:
        self.y = self.ink.lines(self.ink.broken(told, WIDE, size), LEFT, WIDE, self.y, size, colour)

    def _room(self, high: float) -> None:
        if self.y + high > BOTTOM:
            self._page()

    def _page(self) -> None:
        self.ink.page()
        self.y = TOP
