"""A lesson as cards: title, picture, and the words beside it as large as they fit. Slides and video show them.

Lengths are points on a board of 960 by 540 (13.33 by 7.5 inches); y runs down. Words shrink only as far as they can be
read from the back row, then go on on a second card.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from lessons.caution import CAUTION
from lessons.lesson import Lesson, Step
from lessons.prose import Prose, noted, prose
from viewer.export.lesson.letters import printable, width_of
from viewer.export.lesson.mappicture import MAP_CAUTION, map_aspect
from viewer.export.lesson.wrapping import Line, Told, height_of, lines_of, plain, told_of


@dataclass(frozen=True)
class Box:
    """A place on the board."""

    x: float
    y: float
    wide: float
    high: float


BOARD = Box(0.0, 0.0, 960.0, 540.0)
TITLE = Box(24.0, 12.0, 912.0, 52.0)
#: About two thirds of the width; the words beside it; the whole width of a card without a picture; the sources below.
PICTURE = Box(24.0, 70.0, 624.0, 410.0)
WORDS = Box(662.0, 70.0, 274.0, 410.0)
WHOLE = Box(24.0, 84.0, 912.0, 380.0)
FOOT = Box(24.0, 486.0, 912.0, 46.0)
#: Pixels of the picture, in the shape of its box.
SIZE = (1404, 922)
#: Sizes of letters, largest first. 16 is the smallest that is read from the back row.
TITLE_SIZES = (30.0, 28.0, 26.0, 24.0, 22.0, 20.0, 18.0, 16.0, 14.0, 12.0)
WORD_SIZES = (24.0, 22.0, 20.0, 19.0, 18.0, 17.0, 16.0)
FOOT_SIZES = (11.0, 10.0, 9.0, 8.0)
#: The least height of a body map beside words, and the size of its caution.
MAP_LEAST, MAP_CAUTION_SIZE = 105.0, 9.0
_AIR = 8.0
#: Share of a box's width that is filled: letters shown small, or by another font, may come out a little wider.
_FILLED = 0.97
ELSEWHERE = "The sources stand on the next card."


@dataclass(frozen=True)
class Text:
    """Lines in a box, all of one size."""

    box: Box
    lines: tuple[Line, ...]
    size: float


@dataclass(frozen=True)
class Card:
    """One card.

    kind    : "head", "words", "question", "answer", "map" or "sources"
    opens   : whether it is the first of its step
    pictured: whether the step's picture stands on it
    foot    : sources, or the caution
    map_box : where the body map stands, or None; `map_caution` stands under it
    """

    kind: str
    title: Text
    words: Text
    foot: Text | None
    pictured: bool
    opens: bool = False
    map_box: Box | None = None
    map_caution: Text | None = None

    @property
    def read(self) -> int:
        """How many words there are to read on it."""
        return sum(
            len("".join(p.text for p in line.pieces).split()) for t in (self.title, self.words) for line in t.lines
        )


def head_cards(lesson: Lesson, steps: int) -> list[Card]:
    """The first card: title, for whom, objectives, caution."""
    whom = f"For a {lesson.level}, {lesson.minutes} minutes, {steps} step{'s' if steps > 1 else ''}"
    told = [plain(whom), *([plain(lesson.about)] if lesson.about else []), plain("Afterwards one can", heavy=True)]
    told += [plain(objective, item=True) for objective in lesson.objectives]
    foot = _fitted([plain(CAUTION, heavy=True)], replace(FOOT, y=498.0, high=34.0), (16.0, 14.0))
    title = _title(lesson.title)
    return [Card("head", title, words, foot, pictured=False, opens=k == 0) for k, words in enumerate(_set(told, WHOLE))]


def step_cards(step: Step, lesson: Lesson) -> list[Card]:
    """The cards of a step; a question waits on its own card, the answer comes on the next."""
    told = prose(step.words, step.answer, lesson.sources)
    words = told_of(told.paragraphs)
    asked = [plain(step.question, heavy=True)] if step.question else []
    if asked and step.body_map and not _fits([*words, *asked], WORDS, _map_high(MAP_LEAST)):
        # The map belongs to the words, and nothing comes between a question and its answer.
        chain = [*_chain("words", step, told, words), *_chain("question", replace(step, body_map=""), told, asked)]
    else:
        chain = list(_chain("question" if asked else "words", step, told, [*words, *asked]))
    if told.answer:
        chain += _chain("answer", replace(step, body_map=""), told, [*asked, *told_of(told.answer)])
    return [replace(card, opens=k == 0) for k, card in enumerate(chain)]


def _chain(kind: str, step: Step, told: Prose, words: Sequence[Told]) -> Iterator[Card]:
    """Cards that go on one after the other until everything is said."""
    title = _title(step.title)
    texts = _set(words, WORDS, _map_high(MAP_LEAST) if step.body_map else 0.0)
    overflow: list[Told] = []
    for k, text in enumerate(texts):
        sources = _sources(told, set().union(*(line.numbers for line in text.lines)))
        foot = _fitted([_in_a_row(sources)], FOOT, FOOT_SIZES) if sources else None
        if foot is None and sources:
            overflow += [one for one in sources if one not in overflow]
            foot = _fitted([plain(ELSEWHERE)], FOOT, FOOT_SIZES)
        card = Card(kind, title, text, foot, pictured=True)
        if step.body_map and k + 1 == len(texts):
            yield from _with_map(card)
        else:
            yield card
    for text in _set(overflow, WORDS) if overflow else []:
        yield Card("sources", title, text, None, pictured=True)


def _with_map(card: Card) -> Iterator[Card]:
    """The card with the body map below its words, or with one more that holds it."""
    used = height_of(card.words.lines, card.words.size)
    room = WORDS.high - used - (_AIR if used else 0.0)
    widest = _map_high(WORDS.wide / map_aspect())
    if room >= _map_high(MAP_LEAST):
        yield _mapped(card, WORDS.y + WORDS.high - min(room, widest), min(room, widest))
        return
    yield card
    yield _mapped(replace(card, kind="map", words=replace(card.words, lines=()), foot=None), WORDS.y, widest)


def _mapped(card: Card, y: float, room: float) -> Card:
    caution = _map_caution()
    high = room - (_map_high(0.0))
    wide = high * map_aspect()
    box = Box(WORDS.x + 0.5 * (WORDS.wide - wide), y, wide, high)
    return replace(card, map_box=box, map_caution=replace(caution, box=replace(WORDS, y=y + high + 2.0, high=30.0)))


def _map_high(high: float) -> float:
    """Height of a map with its caution."""
    caution = _map_caution()
    return high + 2.0 + height_of(caution.lines, caution.size)


def _map_caution() -> Text:
    lines = lines_of([plain(MAP_CAUTION)], _FILLED * WORDS.wide, MAP_CAUTION_SIZE, width_of)
    return Text(WORDS, tuple(lines), MAP_CAUTION_SIZE)


def _title(title: str) -> Text:
    found = _fitted([plain(title, heavy=True)], TITLE, TITLE_SIZES)
    assert found is not None  # a title has at most 120 letters
    return found


def _fitted(told: Sequence[Told], box: Box, sizes: Sequence[float]) -> Text | None:
    """Paragraphs in the largest size that fits; None when none does."""
    for size in sizes if told else ():
        lines = lines_of(told, _FILLED * box.wide, size, width_of)
        if height_of(lines, size) <= box.high:
            return Text(box, tuple(lines), size)
    return None


def _fits(told: Sequence[Told], box: Box, kept: float) -> Text | None:
    """The largest words that leave `kept` free below them."""
    found = _fitted(told, replace(box, high=box.high - kept - (_AIR if kept else 0.0)), WORD_SIZES)
    return replace(found, box=box) if found else None


def _set(told: Sequence[Told], box: Box, kept: float = 0.0) -> list[Text]:
    """Paragraphs in as few texts as hold them, as large as they fit; `kept` is free below the last where it can be."""
    if not told:
        return [Text(box, (), WORD_SIZES[0])]
    fits = _fits(told, box, kept) or _fits(told, box, 0.0)
    if fits is not None:
        return [fits]
    size = WORD_SIZES[-1]
    lines, found = lines_of(told, _FILLED * box.wide, size, width_of), list[Text]()
    while lines:
        count = len(lines)
        while count > 1 and height_of(lines[:count], size) > box.high:
            count -= 1
        found.append(Text(box, tuple(lines[:count]), size))
        lines = lines[count:]
    return found


def _in_a_row(sources: Sequence[Told]) -> Told:
    """Sources one behind the other, to save room."""
    return plain(" ".join(piece.text for source in sources for piece in source.pieces))


def _sources(told: Prose, numbers: set[int]) -> list[Told]:
    return [plain(f"[{n}] {told.sources[n - 1]}") for n in sorted(numbers)]


def said(step: Step, lesson: Lesson, opens: bool, asks: bool) -> str:
    """What the speaker sees under a card: the notes, the answer where the card asks, how one came here."""
    parts = list(noted(step.notes, lesson.sources))
    if asks and step.answer:
        first, *more = noted(step.answer, lesson.sources)
        parts += ["", f"Answer: {first}", *more]
    if opens:
        parts += ["", f"Transition: {step.transition}"]
    return "\n".join(map(printable, parts)).strip()
