"""What the tables say of one structure, as sentences, and where they have it from.

A course is told by the phrases of its way, in order, from what it comes from to what it ends in; a vein from below
upwards, as the blood runs. A solid is told by the sentences of its header; its sources are also those of its parts.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from meshes.courses import Course, Waypoint
from meshes.errors import FurcalError
from meshes.reference import all_courses, solid_rows
from meshes.solidtable import SolidRow
from meshes.structures import Structure, side_of
from meshes.tables import ANATOMY, Table, cited, read_toml, require

#: What the reserved source keys mean.
NO_PUBLICATION = {
    "common_practice": "common practice, no source",
    "from_memory": "from memory",
    "judgement": "judgement, stated in the table",
}
#: Phrases of a sentence, at most.
_PHRASES = 3
#: A first phrase that begins so tells by itself what the course comes from.
_TELLS_ORIGIN = ("arises ", "forms ", "begins ", "parts from ")
_Phrase = tuple[str, str]


@dataclass(frozen=True)
class Source:
    """A source key and what it stands for: a citation, or the words of NO_PUBLICATION."""

    key: str
    text: str


@dataclass(frozen=True)
class Story:
    """Sentences, and the sources of what they say: publications first, each once."""

    sentences: tuple[str, ...]
    sources: tuple[Source, ...]


def story(structure: Structure, variants: Container[str] = frozenset()) -> Story:
    """What the tables say of a structure.

    variants : those of the specimen; one that changes the way of a course changes its words
    Raises FurcalError for a structure that no table has, and for a solid that its table does not tell of.
    """
    bare = structure.id.removesuffix(f"_{structure.side}") if structure.side else structure.id
    course = all_courses().get(bare) or all_courses().get(structure.id)
    if course is not None:
        phrases = _of_course(course, _way(course, structure.side, variants))
        return Story(tuple(_sentences([words for words, _ in phrases])), _sources(phrases))
    solid = _solids().get(bare) or _solids().get(structure.id)
    if solid is None:
        raise FurcalError(f"{structure.id}: no table of {ANATOMY} has this structure.")
    told = tuple(str(sentence) for sentence in require(solid.header, "says", solid.where))
    of = [solid.header, *solid.parts]
    fibres = _fibres().get(bare)
    if fibres:
        told, of = (*told, f"Its fibres run {fibres['says']}."), [*of, fibres]
    return Story(told, _sources([("", str(row["source"])) for row in of]))


def in_words(structure: Structure) -> str:
    """A structure's name as it stands within a sentence, without its side: "the ventral ramus of L2"."""
    name = structure.name
    return f"the {name[0].lower()}{name[1:]}" if name[1:2].islower() else f"the {name}"


def _way(course: Course, side: str, variants: Container[str]) -> Sequence[Waypoint]:
    """The way that the specimen's variants give a course."""
    for variant, way in course.when.items():
        if variant in variants or f"{variant}_{side}" in variants:
            return way
    return course.way


def _of_course(course: Course, way: Sequence[Waypoint]) -> list[_Phrase]:
    """Phrases and their source keys: where it comes from, its way, what it ends in. No phrase follows itself."""
    told = [(w.says, w.source) for w in way if w.says]
    begin, end = course.parent, course.target
    if course.structure.group == "vein":
        told, begin, end = told[::-1], end, begin
    told = [p for k, p in enumerate(told) if k == 0 or p[0] != told[k - 1][0]]
    plural = " branches " in course.structure.name
    if begin and not (told and (told[0][0].startswith(_TELLS_ORIGIN) or _names(told[0][0], begin))):
        told.insert(0, (f"{'come' if plural else 'comes'} from {_called(begin)}", ""))
    if end and not (told and _names(told[-1][0], end)):
        told.append((f"{'end' if plural else 'ends'} in {_called(end)}", ""))
    return told


def _called(course: str) -> str:
    return in_words(all_courses()[course].structure)


def _names(phrase: str, course: str) -> bool:
    """Whether a phrase names a course already."""
    return _called(course).removeprefix("the ") in phrase


def _sentences(phrases: Sequence[str]) -> Iterator[str]:
    """Phrases as sentences of about as many of them each."""
    count = -(-len(phrases) // _PHRASES)
    for k in range(count):
        some = phrases[k * len(phrases) // count : (k + 1) * len(phrases) // count]
        comma = "," if any("," in words or " and " in words for words in some) else ""
        yield _sentence(f"{', '.join(some[:-1])}{comma} and {some[-1]}" if len(some) > 1 else some[0])


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _sources(phrases: Sequence[_Phrase]) -> tuple[Source, ...]:
    keys = dict.fromkeys(key for _, source in phrases if source for key in cited({"source": source}, source))
    found = [Source(key, citation(key)) for key in keys]
    return tuple(sorted(found, key=lambda s: list(NO_PUBLICATION).index(s.key) if s.key in NO_PUBLICATION else -1))


def citation(key: str) -> str:
    """What a source key stands for: a citation, or the words of NO_PUBLICATION."""
    return NO_PUBLICATION.get(key) or str(_publications()[key]["cite"])


@cache
def _publications() -> Table:
    return read_toml(ANATOMY / "sources.toml")


@cache
def _fibres() -> Table:
    return read_toml(ANATOMY / "fibres.toml")


@cache
def _solids() -> dict[str, SolidRow]:
    """Every solid by its id, without the side where it is paired."""
    rows = solid_rows()
    return {r.structure.id.removesuffix(f"_{side_of(r.structure.id)}") if r.paired else r.structure.id: r for r in rows}
