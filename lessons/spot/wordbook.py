"""Which words name which structure: the body's own tables, its short forms and `synonyms.toml`, folded into bags.

A name is a bag of plain words, so that their order does not matter ("nerve, femoral"). Words that only tell the kind
or the side are taken out. A bag that two structures share ("divisio posterior") names neither.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from lessons.find import short_names
from meshes.errors import FurcalError
from meshes.structures import SEGMENTS, SIDES, Structure
from meshes.tables import Table, check_keys, cited, number, read_toml, require

SYNONYMS = Path(__file__).parent / "synonyms.toml"
#: The words of a name, in alphabetical order.
Bag = tuple[str, ...]
_PARTS = {
    "kind": ("words",), "side": ("words",), "word": ("words",), "letter": ("words",), "number": ("words",),
    "also": ("names", "for"),
}  # fmt: skip
_SEGMENT = re.compile(r"([tls])(\d{1,2})")
_SPAN = re.compile(r"\b([tls]\d{1,2})\s*[-–/_]\s*([tls]?)(\d{1,2})\b")


@dataclass(frozen=True)
class Synonyms:
    """The table: every spelling with what it may stand for.

    means : word -> what it may be read as, each (sort, value); a word of no row stands for itself
    also  : id without side -> further names
    """

    means: Mapping[str, tuple[tuple[str, str], ...]]
    also: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Reading:
    """One way to read some words.

    words : those of the name; kinds, sides: what was told beside them
    """

    words: Bag
    kinds: frozenset[str] = frozenset()
    sides: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Wordbook:
    """What names what.

    names : bag of words -> id, without side, of the one structure that it names
    words : every word that is spelt rightly
    kinds : id without side -> kind
    """

    names: Mapping[Bag, str]
    words: frozenset[str]
    kinds: Mapping[str, str]


def read_synonyms(path: Path) -> Synonyms:
    """The table of synonyms. Raises FurcalError naming file and place."""
    table = read_toml(path)
    check_keys(table, (*_PARTS, "filler"), str(path))
    means: dict[str, list[tuple[str, str]]] = {}
    for part, value, row, where in _rows(table, str(path)):
        if part == "number":
            number(value, where)
        for word in (*_texts(row, "words", where), *(() if part in ("filler", "letter") else (value,))):
            if (part, value) not in means.setdefault(word, []):
                means[word].append((part, value))
    also: dict[str, tuple[str, ...]] = {}
    for name, row in require(table, "also", str(path)).items():
        where = f"{path}, [also.{name}]"
        check_keys(row, (*_PARTS["also"], "source"), where)
        cited(row, where)
        for v in row.get("for", ("",)):
            also[name.replace("{v}", v)] = tuple(n.replace("{V}", v.upper()) for n in _texts(row, "names", where))
    return Synonyms({word: tuple(rows) for word, rows in means.items()}, also)


def _rows(table: Table, path: str) -> Iterator[tuple[str, str, Table, str]]:
    """Every row of words: its part, what it stands for, the row, its place."""
    for part in ("kind", "side", "word", "letter", "number"):
        for value, row in require(table, part, path).items():
            yield part, str(value), row, f"{path}, [{part}.{value}]"
    yield "filler", "", require(table, "filler", path), f"{path}, [filler]"


def _texts(row: Table, key: str, where: str) -> tuple[str, ...]:
    value: Any = require(row, key, where)
    if not isinstance(value, list) or not value or not all(isinstance(v, str) for v in value):
        raise FurcalError(f"{where}, {key}: expected a list of texts.")
    if key == "words":
        check_keys(row, ("words", "source"), where)
        cited(row, where)
    return tuple(value)


@cache
def synonyms() -> Synonyms:
    """The table that comes with furcal."""
    return read_synonyms(SYNONYMS)


def plain_words(text: str) -> list[str]:
    """Small words without accents; a span of segments is one word, `l4-l5`."""
    folded = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    folded = re.sub(r"['\u2019]s\b", " ", folded)
    folded = re.sub(r"\ba\.", "aa", folded)  # with a full stop it is short for a word, and no article
    spans = _SPAN.sub(lambda m: f" {m[1]}={m[2] or m[1][0]}{m[3]} ", folded)
    found = re.findall(r"[tls]\d{1,2}=[tls]\d{1,2}|[^\W_]+", spans)
    return [word.replace("=", "-") for word in found]


def bare_id(structure: Structure) -> str:
    """A structure's id without its side."""
    return structure.id.removesuffix(f"_{structure.side}") if structure.side else structure.id


def wordbook(structures: Iterable[Structure]) -> Wordbook:
    """The names of some structures and of all that any body has, so that no word slips to one that is not there."""
    own = {bare_id(s): s for s in structures}
    return _book(tuple(s for name, s in own.items() if name not in _known() or not _bags(s) <= _bags(_known()[name])))


@cache
def _book(further: tuple[Structure, ...]) -> Wordbook:
    owners: dict[Bag, set[str]] = {}
    words: set[str] = set(synonyms().means)
    kinds: dict[str, str] = {}
    for structure in (*_known().values(), *further):
        name = bare_id(structure)
        kinds[name] = structure.kind
        for bag in _bags(structure):
            owners.setdefault(bag, set()).add(name)
            words |= set(bag)
        words |= {word for text in names_of(structure) for word in plain_words(text)}
    only = {bag: next(iter(ids)) for bag, ids in owners.items() if bag and len(ids) == 1}
    return Wordbook(only, frozenset(words), kinds)


@cache
def _known() -> dict[str, Structure]:
    """Id without side -> every structure that a body can have."""
    return {bare_id(structure): structure for structure in known_structures().values()}


@cache
def known_structures() -> Mapping[str, Structure]:
    """Every structure that a body can have, both sides, by id."""
    from meshes.body import other
    from meshes.reference import all_courses, solid_rows

    rows = [(row.structure, row.paired) for row in solid_rows()]
    rows += [(course.structure, course.paired) for course in all_courses().values()]
    both = [s for structure, paired in rows for s in ((structure, other(structure)) if paired else (structure,))]
    return {structure.id: structure for structure in both}


@cache
def _bags(structure: Structure) -> frozenset[Bag]:
    """Every way in which its names can be read."""
    return frozenset(reading.words for text in names_of(structure) for reading in readings(plain_words(text)))


def names_of(structure: Structure) -> tuple[str, ...]:
    """Everything that a structure is called: English, Latin, by its id, in short, and by the table of synonyms."""
    bare = bare_id(structure)
    short = (form for form, ids in short_names().items() if bare in ids)
    of_id = re.sub(r"^disc_(\w\d+)_(\w?\d+)$", r"disc \1-\2", bare)
    return (structure.name, structure.latin, of_id.replace("_", " "), *short, *synonyms().also.get(bare, ()))


def readings(words: Iterable[str], most: int = 64) -> list[Reading]:
    """Every way to read plain words, at most so many: `r` is the right side, or a branch."""
    found: list[list[tuple[str, str]]] = [[]]
    means = synonyms().means
    for typed in words:
        word = typed[:-1] if typed not in means and typed.endswith("s") and typed[:-1] in means else typed
        ways = means.get(word) or (("word", word),)
        if any(part in ("letter", "number") for part, _ in ways) and ("word", word) not in ways:
            ways = (*ways, ("word", word))
        found = [[*before, way] for before in found for way in ways][:most]
    return list(dict.fromkeys(_reading(ways) for ways in found))


def _reading(ways: list[tuple[str, str]]) -> Reading:
    told = {sort: frozenset(v for part, v in ways if part == sort) for sort in ("kind", "side")}
    rest = [way for way in ways if way[0] not in ("kind", "side", "filler")]
    return Reading(tuple(sorted(_joined(rest))), told["kind"], told["side"] & frozenset(SIDES))


def _joined(ways: list[tuple[str, str]]) -> list[str]:
    """Words with segments put together: a letter's word beside a number, and two segments that follow each other."""
    out: list[str] = []
    letter = ""
    for part, value in ways:
        numeral = value if part == "number" or value.isdigit() else ""
        if numeral and letter:
            out.append(f"{letter}{numeral}")
            letter = ""
            continue
        out += [_LETTERS[letter]] if letter else []
        letter = ""
        if part == "letter" and out and out[-1].isdigit():
            out.append(f"{value.lower()}{out.pop()}")
        elif part == "letter":
            letter = value.lower()
        else:
            out.append(value)
    out += [_LETTERS[letter]] if letter else []
    return _spans(out)


def _spans(words: list[str]) -> list[str]:
    out: list[str] = []
    for word in words:
        before = _SEGMENT.fullmatch(out[-1]) if out else None
        here = f"{before[1]}{word}" if before and word.isdigit() else word
        if before and _follow(out[-1], here):
            out.append(f"{out.pop()}-{here}")
        else:
            out.append(word)
    return out


def _follow(first: str, second: str) -> bool:
    """Whether two segments follow each other."""
    order = [s.lower() for s in SEGMENTS]
    return first in order and second in order and order.index(second) - order.index(first) == 1


#: What a letter's word is where no number stands beside it.
_LETTERS = {"t": "thoracic", "l": "lumbar", "s": "sacral"}
