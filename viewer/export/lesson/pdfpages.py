"""Where everything stands on the pages of a hand-out, before anything is drawn. Lengths in mm, y runs down.

A step has its picture on the left, sources and ruled lines under it, and its words on the right; two steps a page where
they fit. What is too long goes on in the same two columns of the next page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from lessons.lesson import Lesson
from lessons.prose import Prose, prose
from viewer.export.lesson.mappicture import MAP_CAUTION, map_aspect
from viewer.export.lesson.wrapping import LEADING, Line, Told, Width, height_of, lines_of, plain, told_of

PT = 25.4 / 72.0
PAGE, LEFT, TOP, FOOT = (210.0, 297.0), 12.0, 12.0, 14.0
WIDE, HIGH = PAGE[0] - 2.0 * LEFT, PAGE[1] - TOP - FOOT
#: The picture's box, the column of words beside it, and the room between and around.
PICTURE, COLUMN, AIR = (128.0, 84.0), 53.0, 5.0
COLUMN_X = LEFT + PICTURE[0] + AIR
#: Sizes of letters. Labels on a picture as wide as PICTURE print at 6 pt, and sources are no smaller.
TITLE, HEADING, WORDS, SMALL = 22.0 * PT, 12.0 * PT, 9.0 * PT, 6.5 * PT
#: Ruled lines: their distance, and the least height of the space for notes on a step's first page.
RULE, NOTES_LEAST = 7.5, 15.5
#: Room around the rule between two steps.
BETWEEN = 6.0
THINK_FIRST = "Think first: the answer is on the last pages."


@dataclass(frozen=True)
class Block:
    """What of one step stands on one page.

    place   : of the step among those that are handed out, from 0
    first   : with heading in full and picture; else it goes on
    has_map : with the body map under the words
    """

    place: int
    first: bool
    heading: list[Line]
    words: list[Line]
    sources: list[Line]
    caution: list[Line]
    has_map: bool
    least: float
    top: float = 0.0
    height: float = 0.0


@dataclass(frozen=True)
class Item:
    """Lines that run over pages: on the first pages and under Answers.

    colour : "text", "quiet" or "accent"
    goes   : place of the step that it leads to; `mark` stands at the right end of its last line
    anchor : what leads here: "answers", or "answer" or "cited" of a place
    keep   : the next item begins on the same page
    cites  : place of the step whose answer it is, for its raised numbers
    """

    lines: list[Line]
    size: float
    before: float = 0.0
    colour: str = "text"
    goes: int | None = None
    mark: str = ""
    anchor: tuple[str, int] | None = None
    keep: bool = False
    cites: int | None = None


@dataclass(frozen=True)
class Placed:
    """A line of an item at its place on the page."""

    item: Item
    line: Line
    top: float
    begins: bool
    ends: bool


@dataclass
class Pages:
    """The hand-out: pages of the head, of the steps and of the answers."""

    head: list[list[Placed]]
    steps: list[list[Block]]
    answers: list[list[Placed]]
    told: list[Prose] = field(default_factory=list)


def pages_of(lesson: Lesson, numbers: Sequence[int], picture_high: float, width_of: Width) -> Pages:
    """The whole hand-out laid out. picture_high : of every picture, mm."""
    told = [prose(lesson.steps[n].words, lesson.steps[n].answer, lesson.sources) for n in numbers]
    setter = _Setter(lesson, numbers, told, picture_high, width_of)
    steps = _packed([block for place in range(len(numbers)) for block in setter.blocks(place)])
    first = {block.place: page for page, blocks in enumerate(steps) for block in blocks if block.first}
    before = len(_flowed(setter.head({})))
    head = _flowed(setter.head({place: page + before + 1 for place, page in first.items()}))
    return Pages(head, steps, _flowed(setter.answers()), told)


@dataclass(frozen=True)
class _Setter:
    lesson: Lesson
    numbers: Sequence[int]
    told: list[Prose]
    picture_high: float
    width_of: Width

    def lines(self, told: Iterable[Told], size: float, width: float = WIDE) -> list[Line]:
        """Paragraphs as lines."""
        return lines_of(told, width, size, self.width_of)

    def named(self, place: int) -> str:
        """Number and title of a step."""
        number = self.numbers[place]
        return f"{number + 1}. {self.lesson.steps[number].title}"

    def head(self, pages: dict[int, int]) -> list[Item]:
        """Title, for whom, objectives, and the steps with their pages."""
        lesson = self.lesson
        steps = f"{len(self.numbers)} of {len(lesson.steps)}" if len(self.numbers) < len(lesson.steps) else len(
            lesson.steps)  # fmt: skip
        whom = f"For a {lesson.level}, {lesson.minutes} minutes, {steps} steps"
        items = [
            Item(self.lines([plain(lesson.title, heavy=True)], TITLE), TITLE, keep=True),
            Item(self.lines([plain(whom)], HEADING), HEADING, 3.0, "quiet"),
        ]
        if lesson.about:
            items.append(Item(self.lines([plain(lesson.about)], WORDS), WORDS, 5.0))
        items.append(self.title("Afterwards one can"))
        items.append(Item(self.lines([plain(o, item=True) for o in lesson.objectives], WORDS), WORDS, 1.0))
        items.append(self.title("Steps"))
        for place in range(len(self.numbers)):
            lines = self.lines([plain(self.named(place))], WORDS, WIDE - 12.0)
            items.append(Item(lines, WORDS, 1.0, goes=place, mark=str(pages.get(place, ""))))
        return items

    def title(self, text: str) -> Item:
        """A heading in a run of items."""
        return Item(self.lines([plain(text, heavy=True)], HEADING), HEADING, 7.0, keep=True)

    def blocks(self, place: int) -> Iterator[Block]:
        """A step, on as many pages as it needs."""
        step, told = self.lesson.steps[self.numbers[place]], self.told[place]
        words = told_of(told.paragraphs)
        if step.question:
            words.append(plain(step.question, heavy=True))
        if told.answer:
            words.append(plain(THINK_FIRST))
        right = self.lines(words, WORDS, COLUMN)
        cited = {run.number for paragraph in told.paragraphs for run in paragraph.runs if run.number}
        left = self.lines(_sources(told, cited), SMALL, PICTURE[0])
        caution = self.lines([plain(MAP_CAUTION)], SMALL, COLUMN) if step.body_map else []
        first = True
        while first or left or right or caution:
            name = self.named(place) if first else f"{self.named(place)} (continued)"
            heading = self.lines([plain(name, heavy=True)], HEADING)
            room = HIGH - _heading_high(heading)
            above = self.picture_high + AIR / 2.0 + NOTES_LEAST if first else 0.0
            here, right = _cut(right, WORDS, room)
            under, left = _cut(left, SMALL, room - above)
            beside = height_of(here, WORDS) + (map_high(caution) if caution else 0.0)
            mapped = bool(caution) and not right and beside <= room
            high = max(above + height_of(under, SMALL), beside if mapped else height_of(here, WORDS))
            yield Block(place, first, heading, here, under, caution if mapped else [], mapped,
                        _heading_high(heading) + high)  # fmt: skip
            caution = [] if mapped else caution
            first = False

    def answers(self) -> list[Item]:
        """The answers to every question, with what they cite."""
        items: list[Item] = []
        for place, told in enumerate(self.told):
            if not told.answer:
                continue
            if not items:
                items.append(Item(self.lines([plain("Answers", heavy=True)], TITLE), TITLE, keep=True,
                                  anchor=("answers", 0)))  # fmt: skip
            step = self.lesson.steps[self.numbers[place]]
            items.append(replace(self.title(self.named(place)), goes=place, anchor=("answer", place)))
            items.append(Item(self.lines([plain(step.question)], WORDS), WORDS, 1.0, "quiet", keep=True))
            items.append(Item(self.lines(told_of(told.answer), WORDS), WORDS, 2.0, cites=place))
            cited = {run.number for paragraph in told.answer for run in paragraph.runs if run.number}
            for k, source in enumerate(_sources(told, cited)):
                anchor = None if k else ("cited", place)
                items.append(Item(self.lines([source], SMALL), SMALL, 0.0 if k else 2.0, "quiet", anchor=anchor))
        return items


def _sources(told: Prose, cited: set[int]) -> list[Told]:
    """What was cited, numbered."""
    return [plain(f"[{n}] {source}", tight=True) for n, source in enumerate(told.sources, start=1) if n in cited]


def map_high(caution: Sequence[Line]) -> float:
    """Height of the body map in the column of words, with the room above and the caution below."""
    return AIR / 2.0 + COLUMN / map_aspect() + 1.0 + height_of(caution, SMALL)


def _heading_high(heading: Sequence[Line]) -> float:
    return height_of(heading, HEADING) + AIR / 2.0


def _cut(lines: list[Line], size: float, room: float) -> tuple[list[Line], list[Line]]:
    """The lines that fit into a height, and the rest."""
    count = len(lines)
    while count and height_of(lines[:count], size) > room:
        count -= 1
    return lines[:count], lines[count:]


def _packed(blocks: Iterable[Block]) -> list[list[Block]]:
    """Blocks on pages, two where they fit; what is left of a page is theirs, for notes."""
    pages: list[list[Block]] = []
    for block in blocks:
        if pages and len(pages[-1]) == 1 and pages[-1][0].least + BETWEEN + block.least <= HIGH:
            pages[-1].append(block)
        else:
            pages.append([block])
    return [list(_shared(page)) for page in pages]


def _shared(page: Sequence[Block]) -> Iterator[Block]:
    if len(page) == 1:
        yield replace(page[0], top=TOP, height=HIGH)
        return
    both = HIGH - BETWEEN
    upper = min(max(both / 2.0, page[0].least), both - page[1].least)
    yield replace(page[0], top=TOP, height=upper)
    yield replace(page[1], top=TOP + upper + BETWEEN, height=both - upper)


def _flowed(items: Sequence[Item]) -> list[list[Placed]]:
    """Items from page to page, line by line; a heading stays with what it is the heading of."""
    pages: list[list[Placed]] = []
    y = HIGH + 1.0
    for k, item in enumerate(items):
        y += item.before
        needed, follows = height_of(item.lines, item.size), k
        while items[follows].keep and follows + 1 < len(items):
            follows += 1
            needed += items[follows].before + LEADING * items[follows].size
        if item.keep and y + needed > HIGH:
            y = HIGH + 1.0
        for n, line in enumerate(item.lines):
            y += line.gap * LEADING * item.size if n else 0.0
            if y + LEADING * item.size > HIGH:
                pages.append([])
                y = 0.0
            pages[-1].append(Placed(item, line, TOP + y, n == 0, n + 1 == len(item.lines)))
            y += LEADING * item.size
    return pages
