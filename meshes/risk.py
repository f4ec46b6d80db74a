"""What an approach goes through by the books, in order, and what they name as in danger at each step and each level.

What a channel passes, touches and comes near in a body is computed (meshes/contact.py) and never taken from here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from meshes.access import beside
from meshes.errors import FurcalError
from meshes.layers import planes
from meshes.reference import all_courses, solid_rows
from meshes.structures import APPROACHES, LEVELS, POSTURES, level_key, side_of
from meshes.tables import ANATOMY, Table, check_keys, read_toml, require
from meshes.told import KEYS, Told, table, tables, text, told_in, told_only, word, words

RISK = ANATOMY / "approach_risk.toml"
#: The side that the sentences of the table have in mind.
WRITTEN_FOR = "left"
#: Words that stand for what the level makes of them.
OF_LEVEL = ("disc", "vertebra", "exiting_ganglion", "exiting_ramus")


@dataclass(frozen=True)
class Stage:
    """One step of an approach by the books.

    crosses, at_risk : ids without side, or words of OF_LEVEL
    beside           : in danger too, but no part of the body that is shown
    """

    name: str
    crosses: tuple[str, ...]
    at_risk: tuple[str, ...]
    beside: tuple[str, ...]
    told: Told


@dataclass(frozen=True)
class AtLevel:
    """What is said of an approach at one level; ids without side."""

    level: str
    at_risk: tuple[str, ...]
    beside: tuple[str, ...]
    told: Told


@dataclass(frozen=True)
class ApproachRisk:
    """One approach by the books.

    levels  : where it is usual
    posture : how the patient lies, in the words of a specimen file
    before  : position of the patient, and what the position does; by a word each
    whole   : what is said of the approach and of no step of it
    """

    approach: str
    levels: tuple[str, ...]
    posture: str
    before: Mapping[str, Told]
    stages: tuple[Stage, ...]
    whole: tuple[Told, ...]
    at: tuple[AtLevel, ...]


def of_level(word: str, level: str) -> tuple[str, ...]:
    """Ids without side that a word stands for at a level; the nerve that leaves is that of the upper vertebra."""
    above, below = beside(f"disc_{level_key(level)}")
    return {
        "disc": (f"disc_{level_key(level)}",),
        "vertebra": (above, below),
        "exiting_ganglion": (f"{above}_ganglion",),
        "exiting_ramus": (f"{above}_ramus",),
    }.get(word, (word,))


@cache
def approach_risk() -> Mapping[str, ApproachRisk]:
    """approach_risk.toml, by approach."""
    return read_risk(RISK)


def read_risk(path: Path) -> Mapping[str, ApproachRisk]:
    """A table of this kind, which must tell of every approach. Raises FurcalError naming file and place."""
    rows = read_toml(path)
    check_keys(rows, APPROACHES, str(path))
    return {name: _approach(name, require(rows, name, str(path)), f"{path}, [{name}]") for name in APPROACHES}


def _approach(name: str, row: object, where: str) -> ApproachRisk:
    row = table(row, where)
    before = ("position", "preload", "turning")
    check_keys(row, ("levels", "posture", *before, "layer", "whole", "at"), where)
    require(row, "position", where)
    stages = [_stage(one, place, order) for order, (one, place) in enumerate(tables(row, "layer", where), start=1)]
    return ApproachRisk(
        approach=name,
        levels=words(row, "levels", LEVELS, where),
        posture=word(row, "posture", POSTURES, where),
        before={key: told_only(row[key], f"{where}, {key}") for key in before if key in row},
        stages=tuple(stages),
        whole=tuple(told_only(one, place) for one, place in tables(row, "whole", where)),
        at=tuple(_at(one, place) for one, place in tables(row, "at", where)),
    )


def _stage(row: Table, where: str, order: int) -> Stage:
    check_keys(row, ("order", "name", "crosses", "at_risk", "beside", *KEYS), where)
    if require(row, "order", where) != order:
        raise FurcalError(
            f"{where}: order is {row['order']!r} and should be {order}; steps stand from the skin inwards."
        )
    require(row, "crosses", where)
    require(row, "at_risk", where)
    named = text(row, "name", where)
    crosses, at_risk = (words(row, key, _known(), where) for key in ("crosses", "at_risk"))
    return Stage(named, crosses, at_risk, *_more(row, where))


def _at(row: Table, where: str) -> AtLevel:
    check_keys(row, ("level", "nerves", "other", "beside", *KEYS), where)
    named = [n for key in ("nerves", "other") for n in words(row, key, _known(), where)]
    return AtLevel(word(row, "level", LEVELS, where), tuple(named), *_more(row, where))


def _more(row: Table, where: str) -> tuple[tuple[str, ...], Told]:
    more = row.get("beside", [])
    if not isinstance(more, list) or not all(isinstance(one, str) and one for one in more):
        raise FurcalError(f"{where}, beside: expected a list of words.")
    return tuple(more), told_in(row, where)


@cache
def _known() -> tuple[str, ...]:
    """Every id, without side, that a path can pass or come near."""
    ids = (*all_courses(), *(row.structure.id for row in solid_rows()))
    bare = dict.fromkeys(n.removesuffix(f"_{side_of(n)}") for n in ids)
    return ("skin", *OF_LEVEL, *bare, *(plane.id for plane in (*planes().fat.values(), *planes().fasciae)))
