"""A blueprint: how many items of each objective, kind and depth a paper has. TOML of schema 1.

furcal_blueprint = 1
seconds = 90              # a station
[objectives]
course = 6                # exactly six; objectives that are not named share what is left
[kinds]
name = 10
[depths]
apply = 8
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lessons.filehead import check_schema
from lessons.reading import text_of
from lessons.spot.item import DEPTHS, KINDS, OBJECTIVES, Item
from meshes.errors import FurcalError, shown, unknown_word
from meshes.tables import parsed_toml

SCHEMA = 1
MARK_KEY = "furcal_blueprint"
#: How long a station may last, s, and how many items a paper may have.
SECONDS = (10, 3600)
ITEMS = (1, 500)
#: Table of the file -> legal words, and the field of an item that it counts.
AXES: Mapping[str, tuple[tuple[str, ...], str]] = {
    "objectives": (OBJECTIVES, "objective"),
    "kinds": (KINDS, "kind"),
    "depths": (DEPTHS, "depth"),
}
KEYS = (MARK_KEY, "seconds", *AXES)
#: A table of the file and one of its words.
Word = tuple[str, str]
#: Stands for every item, in what is short.
_ANY: Word = ("", "items")
#: What of an item a blueprint looks at, in the order of AXES.
Cell = tuple[str, str, str]


@dataclass(frozen=True)
class Blueprint:
    """How many items of which sort.

    counts  : (table, word) -> how many; what is not named shares the rest
    seconds : a station, None where it is left open
    where   : the file, as errors name it
    """

    counts: Mapping[Word, int] = field(default_factory=dict)
    seconds: int | None = None
    where: str = "blueprint"


def read_blueprint(path: Path) -> Blueprint:
    """A blueprint from its file. Raises FurcalError naming file, place and remedy."""
    where = str(path)
    table = parsed_toml(text_of(path), where)
    check_schema(table, where, MARK_KEY, SCHEMA, "blueprint")
    for key in table:
        if key not in KEYS:
            raise unknown_word(key, KEYS, "key", where)
    counts = {pair: n for axis in AXES for pair, n in _counts(table.get(axis, {}), axis, where)}
    seconds = table.get("seconds")
    if seconds is not None:
        seconds = whole(seconds, *SECONDS, f"{where}, seconds")
    return Blueprint(counts, seconds, where)


def _counts(table: Any, axis: str, where: str) -> Iterable[tuple[Word, int]]:
    place = f"{where}, [{axis}]"
    if not isinstance(table, Mapping):
        raise FurcalError(f"{place}: must be a table of words and how many items each has.")
    legal, what = AXES[axis]
    for word, value in table.items():
        if word not in legal:
            raise unknown_word(word, legal, what, place)
        yield (axis, word), whole(value, 0, ITEMS[1], f"{place}, {word}")


def whole(value: object, low: int, high: int, where: str) -> int:
    """A whole number of a range. Raises FurcalError naming the place."""
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise FurcalError(f"{where}: expected a whole number from {low} to {high}, found {shown(value)}.")
    return value


# --- whether it can be met


def cell_of(item: Item) -> Cell:
    """Objective, kind and depth of an item."""
    return item.objective, item.kind, item.depth


def has_word(cell: Cell, word: Word) -> bool:
    """Whether an item of that cell counts for a word of a blueprint."""
    return cell[list(AXES).index(word[0])] == word[1]


def check_met(items: Iterable[Item], blueprint: Blueprint, count: int) -> None:
    """Raise FurcalError, naming what is short, where no choice of so many of the items is as the blueprint says."""
    cells = Counter(cell_of(item) for item in items)
    for axis, (legal, what) in AXES.items():
        named = {word: n for (table, word), n in blueprint.counts.items() if table == axis}
        place = f"{blueprint.where}, [{axis}]"
        total = sum(named.values())
        if total > count:
            raise FurcalError(f"{place}: adds up to {total} items, and the paper has {count}; ask for fewer here, or "
                              f"for --items {total}.")  # fmt: skip
        for word, asked in named.items():
            there = sum(n for cell, n in cells.items() if has_word(cell, (axis, word)))
            if there < asked:
                raise FurcalError(f"{place}, {word}: {_items(asked)} asked for, and the bank has {there}; ask for "
                                  "fewer, or give another bank.")  # fmt: skip
        others = [word for word in legal if word not in named]
        there = sum(n for cell, n in cells.items() if cell[list(AXES).index(axis)] in others)
        if named and there < count - total:
            raise FurcalError(f"{place}: adds up to {total} items, and of every other {what} the bank has {there}, "
                              f"which is short of the {count} of the paper; ask for more here.")  # fmt: skip
    short = shortfall(cells, blueprint.counts, count)
    if short:
        words = ", ".join(f"{n} of {word}" for (_, word), n in short.items())
        raise FurcalError(f"{blueprint.where}: its tables cannot be met together; at best the paper is short of "
                          f"{words}; change one of the tables, or give another bank.")  # fmt: skip


def _items(count: int) -> str:
    return "1 item is" if count == 1 else f"{count} items are"


def shortfall(cells: Mapping[Cell, int], counts: Mapping[Word, int], count: int) -> dict[Word, int]:
    """What is short at best where `count` items are chosen from cells with exactly so many of each word; empty if none.

    A whole-number program: how many of each cell are taken, with what is lacking of each word as its cost.
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    # Cells that count for the same words are one: a few unknowns instead of hundreds.
    words = [*counts, _ANY]
    sorts: Counter[tuple[bool, ...]] = Counter()
    for cell, there in cells.items():
        sorts[tuple(word == _ANY or has_word(cell, word) for word in words)] += there
    size = len(sorts) + len(words)
    table = np.hstack([np.array(list(sorts), dtype=float).reshape(-1, len(words)).T, np.eye(len(words))])
    wanted = np.array([*counts.values(), count], dtype=float)
    most = np.array([*sorts.values(), *wanted], dtype=float)
    cost = np.arange(size) >= len(sorts)
    found = milp(
        cost, integrality=np.ones(size), bounds=Bounds(0.0, most), constraints=LinearConstraint(table, wanted, wanted)
    )
    lacking = [round(float(n)) for n in found.x[len(sorts) :]]  # lacking all is a solution, so that there is one
    return {word: n for word, n in zip(words, lacking, strict=True) if n}
