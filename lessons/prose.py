"""The words of a step: paragraphs, items of a list, and the sources that stand behind a figure.

Three marks and no more: a blank line, `- ` at the start of a line, and `[key]`, a source. Everything else is text, so
that whatever stands in a file is shown as it stands there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from meshes.errors import FurcalError, unknown_word
from meshes.story import NO_PUBLICATION, citation
from meshes.tables import source_keys

#: What stands for a key here in other words than beside the tables of the body.
OUR_WORDS = {"judgement": "our judgement, no source"}
#: A source in brackets.
MARK = re.compile(r"\[([a-z][a-z0-9_]*)\]")
#: Names with digits that are no figures: vertebrae, levels, roots, ribs, steps of a list.
_NAMES = re.compile(
    r"\b[TLS]\d{1,2}(?:[-–/](?:[TLS]?\d{1,2}))?\b|\bribs \d{1,2}(?: and | to |[-–])\d{1,2}\b|\bribs? \d{1,2}\b|"
    r"\b(?:quarter|third|zone)s? [IV]+\b",
    re.IGNORECASE,
)
_FIGURE = re.compile(r"\d")
_BRACKETS = re.compile(r"\[([^\[\]\n]{1,80})\]")
#: As people cite: a year, "et al.", numbers of a list, a key with capitals or hyphens.
_CITED = re.compile(
    r"(?:1[89]|20)\d\d(?!\d)|\bet al\b|^\s*\d{1,3}(?:\s*[,;–-]\s*\d{1,3})*\s*$|^[^\W\d]\w*_\w+$", re.IGNORECASE
)
#: To its end, with the sources that stand behind that.
_SENTENCE = re.compile(r".+?(?:[.!?](?:\s*\[[a-z][a-z0-9_]*\])*(?=\s|$)|$)")


@dataclass(frozen=True)
class Run:
    """A piece of a line: text, or the number of a source (`number` > 0, `text` is then its key)."""

    text: str
    number: int = 0


@dataclass(frozen=True)
class Paragraph:
    """A paragraph, or an item of a list."""

    runs: tuple[Run, ...]
    item: bool = False

    @property
    def plain(self) -> str:
        """Its text with the numbers of its sources in brackets."""
        return "".join(f" [{run.number}]" if run.number else run.text for run in self.runs).strip()


@dataclass(frozen=True)
class Prose:
    """The words of a step, and what was cited in them.

    paragraphs, answer : the words, and the answer to the question
    sources            : citations, the first one is number 1
    """

    paragraphs: tuple[Paragraph, ...]
    answer: tuple[Paragraph, ...]
    sources: tuple[str, ...]


def prose(words: str, answer: str, own: Mapping[str, str], after: int = 0) -> Prose:
    """Words and answer told apart into paragraphs; sources are numbered through both in the order they come.

    own   : the lesson's own sources
    after : numbers that are taken already
    Raises FurcalError for a key that is none.
    """
    numbers: dict[str, int] = {}
    told = tuple(_paragraph(block, item, numbers, own, after) for block, item in _blocks(words))
    more = tuple(_paragraph(block, item, numbers, own, after) for block, item in _blocks(answer))
    return Prose(told, more, tuple(source(key, own) for key in numbers))


def noted(notes: str, own: Mapping[str, str], after: int = 0) -> tuple[str, ...]:
    """What the speaker reads, line by line: the notes, then what was cited in them.

    after : numbers that are taken already, where notes stand beside words
    Raises FurcalError as `prose`.
    """
    told = prose(notes, "", own, after)
    cited = (f"[{number}] {text}" for number, text in enumerate(told.sources, start=after + 1))
    return (*(f"- {p.plain}" if p.item else p.plain for p in told.paragraphs), *cited)


def source(key: str, own: Mapping[str, str]) -> str:
    """What a key in brackets stands for. Raises FurcalError for a key that is none."""
    if key in own:
        return own[key]
    if key in known_sources():
        return OUR_WORDS.get(key) or citation(key)
    raise unknown_word(key, [*own, *sorted(known_sources())], "source")


@cache
def known_sources() -> frozenset[str]:
    """Every key that may be cited in any lesson."""
    return source_keys() | frozenset(NO_PUBLICATION)


def unsourced(text: str) -> list[str]:
    """Sentences that hold a figure (a digit that belongs to no name) and no source."""
    found = []
    for block, _ in _blocks(text):
        for sentence in (match[0].strip() for match in _SENTENCE.finditer(block)):
            bare = _NAMES.sub("", MARK.sub("", sentence))
            if _FIGURE.search(bare) and not MARK.search(sentence):
                found.append(sentence)
    return found


def no_sources(text: str) -> list[str]:
    """Words in brackets that seem to be meant as a source and are text: with a year, a number, a key in capitals."""
    return [match[0] for match in _BRACKETS.finditer(text) if not MARK.fullmatch(match[0]) and _is_meant(match[1])]


def _is_meant(inside: str) -> bool:
    as_key = re.sub(r"[^a-z0-9]+", "_", inside.casefold()).strip("_")
    return bool(_CITED.search(inside)) or as_key in known_sources()


def checked_text(text: str, where: str, own: Mapping[str, str]) -> None:
    """Raise FurcalError, naming the place, for a source that is none."""
    for match in MARK.finditer(text):
        try:
            source(match[1], own)
        except FurcalError as error:
            raise FurcalError(f"{where}: {error}") from None


def _blocks(text: str) -> Iterator[tuple[str, bool]]:
    """Paragraphs and items of a text, each on one line: (text, whether it is an item)."""
    for part in re.split(r"\n[ \t]*\n", text.strip()):
        lines: list[tuple[str, bool]] = []
        for line in part.splitlines():
            bare = line.strip()
            if bare.startswith("- "):
                lines.append((bare[2:].strip(), True))
            elif lines:
                lines[-1] = (f"{lines[-1][0]} {bare}".strip(), lines[-1][1])
            else:
                lines.append((bare, False))
        yield from (line for line in lines if line[0])


def _paragraph(block: str, item: bool, numbers: dict[str, int], own: Mapping[str, str], after: int) -> Paragraph:
    runs: list[Run] = []
    end = 0
    for match in MARK.finditer(block):
        # The number of a source stands close behind what it belongs to.
        before = block[end : match.start()].rstrip(" ") if match.start() > end else ""
        if before:
            runs.append(Run(before))
        source(match[1], own)
        runs.append(Run(match[1], numbers.setdefault(match[1], after + len(numbers) + 1)))
        end = match.end()
    if block[end:]:
        runs.append(Run(block[end:]))
    return Paragraph(tuple(runs), item)
