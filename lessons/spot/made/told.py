"""Why an answer is right, in the sentences of the tables, each with its source."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache

from meshes.reference import all_courses, solid_rows
from meshes.solidtable import SolidRow
from meshes.specimen import Specimen
from meshes.structures import Structure

#: So many sentences are told at most.
MOST = 5


def marks(keys: Iterable[str]) -> str:
    """Source keys as a text cites them; keys that a table joins by + are several."""
    every = dict.fromkeys(key.strip() for joined in keys for key in joined.split("+"))
    return " ".join(f"[{key}]" for key in every if key)


def sourced(words: str, keys: Iterable[str]) -> str:
    """A sentence with its sources behind it, a mark behind every sentence of several."""
    behind = marks(keys)
    parts = [part for part in words.strip().rstrip(".").split(". ") if part]
    return " ".join(f"{part[:1].upper()}{part[1:].rstrip('.')}. {behind}" for part in parts)


def told_of(structure: Structure, specimen: Specimen) -> str:
    """What the tables say of a structure's way or shape."""
    bare = structure.id.removesuffix(f"_{structure.side}") if structure.side else structure.id
    course = all_courses().get(bare) or all_courses().get(structure.id)
    if course is None:
        row = _solids().get(structure.id) or _solids()[f"{bare}_left"]
        return " ".join(sourced(str(says), [str(row.header["source"])]) for says in row.header["says"][:MOST])
    way = next(
        (w for v, w in course.when.items() if {v, f"{v}_{structure.side}"} & specimen.variants), course.way
    )  # fmt: skip
    phrases = dict.fromkeys((point.says, point.source) for point in way if point.says)
    who = "They" if " branches " in structure.name else "It"
    return " ".join(sourced(f"{who} {says}", [source]) for says, source in spread(list(phrases)))


def spread(rows: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """At most so many rows, from the first to the last."""
    if len(rows) <= MOST:
        return list(rows)
    return [rows[round(i * (len(rows) - 1) / (MOST - 1))] for i in range(MOST)]


@cache
def _solids() -> dict[str, SolidRow]:
    return {row.structure.id: row for row in solid_rows()}
