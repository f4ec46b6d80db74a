"""Paragraphs broken into lines: raised numbers stay with their words, and a word too long for a line is divided."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from lessons.prose import Paragraph
from viewer.export.lesson.letters import printable, runs_left

#: Width of a text in sizes of its font: (text, whether it is heavy).
Width = Callable[[str, bool], float]
#: Size and height of raised numbers, the bullet and how far items stand in, the distance of lines: sizes of the font.
RAISED, RAISED_BY, BULLET, INDENT, LEADING = 0.64, 0.36, "•", 1.1, 1.25
#: Room before a paragraph and before an item, in lines.
GAP, ITEM_GAP = 0.5, 0.25


@dataclass(frozen=True)
class Piece:
    """Text, or the raised number of a source (`number` > 0)."""

    text: str
    number: int = 0


@dataclass(frozen=True)
class Told:
    """A paragraph to be set; `heavy` sets it apart, `item` gives it a bullet, `tight` leaves no room before it."""

    pieces: tuple[Piece, ...]
    item: bool = False
    heavy: bool = False
    tight: bool = False

    @property
    def leftward(self) -> bool:
        """Whether it runs from right to left."""
        return runs_left("".join(piece.text for piece in self.pieces if not piece.number))


@dataclass(frozen=True)
class Line:
    """A line of a paragraph; `first` of it or not, `divides` where it ends within a word."""

    pieces: tuple[Piece, ...]
    told: Told
    first: bool
    divides: bool = False

    @property
    def gap(self) -> float:
        """Room before it, in lines."""
        if self.told.tight:
            return 0.0
        return (ITEM_GAP if self.told.item else GAP) if self.first else 0.0

    @property
    def numbers(self) -> set[int]:
        """Of the sources that it cites."""
        return {piece.number for piece in self.pieces if piece.number}


def told_of(paragraphs: Iterable[Paragraph]) -> list[Told]:
    """Paragraphs of a step; between the numbers of two sources that stand together goes a comma."""
    return [Told(tuple(_pieces(paragraph)), paragraph.item) for paragraph in paragraphs]


def plain(text: str, heavy: bool = False, item: bool = False, tight: bool = False) -> Told:
    """A text without sources as a paragraph."""
    return Told((Piece(printable(text)),), item, heavy, tight)


def _pieces(paragraph: Paragraph) -> Iterator[Piece]:
    before = 0
    for run in paragraph.runs:
        if run.number:
            yield Piece(f",{run.number}" if before else str(run.number), run.number)
        else:
            yield Piece(printable(run.text))
        before = run.number


def piece_width(piece: Piece, heavy: bool, width_of: Width) -> float:
    """Width of a piece in sizes of the font."""
    return RAISED * width_of(piece.text, False) if piece.number else width_of(piece.text, heavy)


def height_of(lines: Sequence[Line], size: float) -> float:
    """Height of lines one below the other; nothing stands before the first."""
    gaps = sum(line.gap for line in lines[1:])
    return (len(lines) + gaps) * LEADING * size


def lines_of(told: Iterable[Told], width: float, size: float, width_of: Width) -> list[Line]:
    """All paragraphs as lines no wider than `width`; `size` of the font is in the same unit."""
    return [line for one in told for line in _broken(one, width / size, width_of)]


def _broken(told: Told, room: float, width_of: Width) -> Iterator[Line]:
    room -= INDENT if told.item else 0.0
    space = width_of(" ", told.heavy)
    line, used, first = list[Piece](), 0.0, True

    for word in _words(told.pieces):
        parts = list(_divided(word, room, told.heavy, width_of))
        for k, (part, wide) in enumerate(parts):
            if line and used + space + wide > room:
                yield Line(_joined(line), told, first)
                line, used, first = [], 0.0, False
            used += wide + (space if line else 0.0)
            line += [Piece(" "), *part] if line else part
            if k + 1 < len(parts):  # the rest of a word too long for a line begins on the next
                yield Line(_joined(line), told, first, divides=True)
                line, used, first = [], 0.0, False
    if line:
        yield Line(_joined(line), told, first)


def _words(pieces: Iterable[Piece]) -> Iterator[list[Piece]]:
    """Pieces that stand together without a space."""
    word: list[Piece] = []
    for piece in pieces:
        if piece.number:
            word.append(piece)
            continue
        for k, part in enumerate(piece.text.split(" ")):
            if k and word:
                yield word
                word = []
            if part:
                word.append(Piece(part))
    if word:
        yield word


def _divided(word: list[Piece], room: float, heavy: bool, width_of: Width) -> Iterator[tuple[list[Piece], float]]:
    """A word whole, or in parts of at most a line, each with its width."""
    part, used = list[Piece](), 0.0
    for piece in word:
        wide = piece_width(piece, heavy, width_of)
        if used + wide <= room:
            part.append(piece)
            used += wide
            continue
        for letter in [piece.text] if piece.number else piece.text:
            one = replace(piece, text=letter)
            wide = piece_width(one, heavy, width_of)
            if part and used + wide > room:
                yield list(_joined(part)), used
                part, used = [], 0.0
            part.append(one)
            used += wide
    yield list(_joined(part)), used


def _joined(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Neighbouring texts as one."""
    found: list[Piece] = []
    for piece in pieces:
        if found and not piece.number and not found[-1].number:
            found[-1] = Piece(found[-1].text + piece.text)
        else:
            found.append(piece)
    return tuple(found)
