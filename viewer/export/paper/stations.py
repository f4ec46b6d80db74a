"""The paper as a candidate holds it: a head, then one or two stations a page. Nothing in the file tells an answer.

A station has its picture, its vignette, its question, and boxes to tick or lines to write on. Two stand on a page where
their words fit beside their pictures; else one has the page, its picture larger and its words below, and what is too
long even for that goes on on the next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO

from lessons.caution import CAUTION
from lessons.spot.item import QUARTERS, Chosen, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.paper import LETTERS, Paper
from viewer.export.lesson.letters import printable
from viewer.export.lesson.wrapping import LEADING, Line, plain
from viewer.export.paper.ink import (
    BOTTOM,
    BOX,
    HEADING,
    HIGH,
    LEFT,
    PT,
    QUIET,
    RULE,
    SMALL,
    TEXT,
    TITLE,
    TOP,
    WIDE,
    WORDS,
    Ink,
)
from viewer.picture import VIEW_WORDS

#: The picture of a station that shares its page, and of one that has it alone; the room beside and below it.
SHARED, ALONE, AIR = (127.5, 85.0), (WIDE, 124.0), 5.0
COLUMN_X, COLUMN = LEFT + SHARED[0] + AIR, WIDE - SHARED[0] - AIR
#: Room between the two stations of a page, and how high each may be.
BETWEEN = 8.0
HALF = (HIGH - BETWEEN) / 2.0
HEAD = LEADING * HEADING + 2.0
PROMPT = 8.0 * PT
OPTION_X = BOX + 8.0
SHOULD = (
    "It does not replace licensed practice, the patient's own imaging, monitoring or local protocol.",
    "The body in every picture is built from published figures; it is nobody's.",
)
#: How each sort of answer is given: in the head of the paper, and with the station.
HOW: dict[type, tuple[str, str]] = {
    Chosen: ("Where answers stand beside boxes, tick the best one.", "Tick one."),
    Named: (
        "Where a name is asked for, write it down; English, Latin and the trade's short forms all count.",
        "Write its name.",
    ),
    Rooted: (
        "Where segments are asked for, write every one, or the first and the last with a stroke between.",
        "Write the segments.",
    ),
    Ordered: (
        "Where words are to be put in order, write their letters into the boxes.",
        "Write their letters in order.",
    ),
    Pointed: (
        "Where you are to point, tick the letter whose spot lies on what is asked for.",
        "Tick the letter of its spot.",
    ),
    Quartered: (
        "The quarters of a disc are numbered from the front (I) to the back (IV).",
        "Tick one.",
    ),
}


@dataclass(frozen=True)
class Block:
    """A line or a row of a station: its height, and what draws it at (x, y)."""

    high: float
    draw: Callable[[float, float], object]


def paper_pdf(paper: Paper, pictures: Sequence[BytesIO]) -> bytes:
    """The whole file. pictures : of the stations, in their order."""
    ink = Ink(title_of(paper), _texts(paper))
    _Writer(ink, paper, pictures).write()
    return ink.bytes()


def title_of(paper: Paper) -> str:
    """What stands at the foot of its pages and in its properties."""
    return f"Spot test {paper.id}"


def prompt_of(item: Item) -> str:
    """How an item is answered on paper."""
    return HOW[type(item.answer)][1]


def picture_words(number: int, item: Item) -> str:
    """What the picture of a station is, for whoever cannot see it; it names nothing that is asked for."""
    seen = item.view.film.words if item.view.film is not None else VIEW_WORDS[item.view.camera.name]
    return f"Picture of station {number}. {seen}."


def _texts(paper: Paper) -> Iterator[str]:
    for item, order in zip(paper.items, paper.offered, strict=True):
        yield from (item.vignette, item.ask, *order)


class _Writer:
    def __init__(self, ink: Ink, paper: Paper, pictures: Sequence[BytesIO]) -> None:
        self.ink, self.paper, self.pictures = ink, paper, pictures

    def write(self) -> None:
        """Every page."""
        self._head()
        shared = [self._fits(k) for k in range(len(self.paper.items))]
        k = 0
        while k < len(self.paper.items):
            self._page()
            if shared[k] and k + 1 < len(self.paper.items) and shared[k + 1]:
                self._half(k, TOP)
                self.ink.rule(LEFT, TOP + HALF + BETWEEN / 2.0, WIDE, 0.4)
                self._half(k + 1, TOP + HALF + BETWEEN)
                k += 2
            else:
                self._alone(k)
                k += 1

    # --- the head

    def _head(self) -> None:
        ink, paper = self.ink, self.paper
        ink.page()
        y = ink.lines(ink.one("Spot test", WIDE, TITLE, heavy=True), LEFT, WIDE, TOP, TITLE)
        y = ink.lines(ink.one(f"Paper {paper.id}", WIDE, HEADING), LEFT, WIDE, y + 1.0, HEADING, QUIET) + 8.0
        for words, wide in (("Candidate number", 50.0), ("Date", 50.0)):
            ink.text(words, LEFT, y + 2.5, HEADING, heavy=True)
            ink.box(LEFT + 52.0, y, wide, 11.0)
            y += 15.0
        stations = "1 station" if len(paper.items) == 1 else f"{len(paper.items)} stations"
        y = self._paragraph(f"{stations} of {paper.seconds} seconds, {_minutes(paper)} in all.", y + 4.0, HEADING) + 4.0
        kinds = dict.fromkeys(HOW[type(item.answer)][0] for item in paper.items)
        told = [
            "Every station has a picture and one question with one best answer.",
            "The picture says from where the body is seen; arrows point to the patient's head, front and left.",
            "All nerves have one colour. What is asked about is lit and has a question mark, or is marked by letters.",
            *kinds,
            "Leave empty what you do not know, and write nothing but your number that says who you are.",
        ]
        y = ink.lines(ink.broken([plain(words, item=True) for words in told], WIDE, WORDS), LEFT, WIDE, y, WORDS) + 6.0
        for words in (CAUTION, *SHOULD):
            y = self._paragraph(words, y, WORDS, heavy=words == CAUTION)

    def _paragraph(self, words: str, y: float, size: float, heavy: bool = False) -> float:
        return self.ink.lines(self.ink.one(words, WIDE, size, heavy), LEFT, WIDE, y, size) + 1.0

    def _page(self) -> None:
        """A page that says whose it is, should it get loose."""
        self.ink.page()
        words, line = "Candidate number", 26.0
        wide = self.ink.width_of(words, False) * SMALL
        self.ink.text(words, LEFT + WIDE - line - wide - 2.0, TOP + 1.8, SMALL, QUIET)
        self.ink.rule(LEFT + WIDE - line, TOP + 5.0, line)

    # --- stations

    def _fits(self, k: int) -> bool:
        return HEAD + _height(self._blocks(k, COLUMN)) <= HALF

    def _half(self, k: int, top: float) -> None:
        y = self._heading(k, top)
        self.ink.image(self.pictures[k], LEFT, y, *SHARED, picture_words(k + 1, self.paper.items[k]))
        _drawn(self._blocks(k, COLUMN), COLUMN_X, y, BOTTOM)

    def _alone(self, k: int) -> None:
        y = self._heading(k, TOP)
        self.ink.image(self.pictures[k], LEFT, y, *ALONE, picture_words(k + 1, self.paper.items[k]))
        rest = _drawn(self._blocks(k, WIDE), LEFT, y + ALONE[1] + AIR, BOTTOM)
        while rest:
            self._page()
            rest = _drawn(rest, LEFT, self._heading(k, TOP, " (continued)"), BOTTOM)

    def _heading(self, k: int, y: float, more: str = "") -> float:
        self.ink.text(f"Station {k + 1}{more}", LEFT, y, HEADING, heavy=True)
        return y + HEAD

    # --- words

    def _blocks(self, k: int, wide: float) -> list[Block]:
        """Vignette, question, and where to answer, in a column."""
        item = self.paper.items[k]
        blocks: list[Block] = []
        if item.vignette:
            blocks += [*self._lines(item.vignette, wide), _gap(2.0)]
        blocks += [*self._lines(item.ask, wide, heavy=True), _gap(2.5)]
        blocks += [*self._lines(prompt_of(item), wide, size=PROMPT, quiet=True), _gap(2.0)]
        match item.answer:
            case Chosen():
                for letter, option in zip(LETTERS, self.paper.offered[k], strict=False):
                    blocks += self._option(letter, option, wide)
            case Ordered():
                order = self.paper.offered[k]
                for letter, option in zip(LETTERS, order, strict=False):
                    blocks += self._option(letter, option, wide, ticked=False)
                blocks += [_gap(2.0), *self._row([""] * len(order), wide, min(9.0, (wide + 2.0) / len(order) - 2.01))]
            case Pointed():
                blocks += self._row(LETTERS[: len(self.paper.spots.get(item.id, ()))], wide)
            case Quartered():
                blocks += self._row(QUARTERS, wide)
            case _:
                blocks += [self._written(wide), self._written(wide)]
        return blocks

    def _lines(
        self, text: str, wide: float, heavy: bool = False, size: float = WORDS, quiet: bool = False
    ) -> list[Block]:
        colour = QUIET if quiet else TEXT
        lines = self.ink.one(printable(text), wide, size, heavy)

        def block(line: Line) -> Block:
            return Block(LEADING * size, lambda x, y: self.ink.line(line, x, wide, y, size, colour))

        return [block(line) for line in lines]

    def _option(self, letter: str, option: str, wide: float, ticked: bool = True) -> list[Block]:
        indent = OPTION_X if ticked else OPTION_X - BOX - 2.0
        lines = self.ink.one(printable(option), wide - indent, WORDS)

        def block(k: int) -> Block:
            def drawn(x: float, y: float) -> None:
                if k == 0 and ticked:
                    self.ink.box(x, y + (LEADING * WORDS - BOX) / 2.0)
                if k == 0:
                    self.ink.text(letter, x + indent - 5.0, y, WORDS, heavy=True)
                self.ink.line(lines[k], x + indent, wide - indent, y, WORDS)

            return Block(LEADING * WORDS, drawn)

        return [*map(block, range(len(lines))), _gap(1.8)]

    def _row(self, words: Sequence[str], wide: float, side: float = BOX) -> list[Block]:
        """Boxes beside each other, each with its word before it; on as many rows as they need."""
        room = max(map(self._wide, words)) + 1.4 if any(words) else 0.0
        step = room + side + (2.4 if room else 2.0)
        a_row = max(1, int((wide + 2.0) // step))

        def block(some: Sequence[str]) -> Block:
            def drawn(x: float, y: float) -> None:
                for n, word in enumerate(some):
                    at = x + n * step
                    if word:
                        self.ink.text(word, at, y + (side - LEADING * WORDS) / 2.0, WORDS, heavy=True)
                    self.ink.box(at + room, y, side, side)

            return Block(side + 2.0, drawn)

        rows = [words[n : n + a_row] for n in range(0, len(words), a_row)]
        return [block(some) for some in rows]

    def _wide(self, word: str) -> float:
        return self.ink.width_of(word, True) * WORDS

    def _written(self, wide: float) -> Block:
        return Block(RULE, lambda x, y: self.ink.rule(x, y + RULE - 1.0, wide))


def _minutes(paper: Paper) -> str:
    whole, rest = divmod(len(paper.items) * paper.seconds, 60)
    minutes = "1 minute" if whole == 1 else f"{whole} minutes"
    return minutes if not rest else f"{minutes} {rest} seconds" if whole else f"{rest} seconds"


def _gap(high: float) -> Block:
    return Block(high, lambda _x, _y: None)


def _height(blocks: Sequence[Block]) -> float:
    return sum(block.high for block in blocks)


def _drawn(blocks: Sequence[Block], x: float, y: float, bottom: float) -> list[Block]:
    """Draw what fits above the bottom, and give back the rest."""
    for k, block in enumerate(blocks):
        if y + block.high > bottom:
            return list(blocks[k:])
        block.draw(x, y)
        y += block.high
    return []
