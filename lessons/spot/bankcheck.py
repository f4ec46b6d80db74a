"""Everything that is wrong with banks of items: their words, how the items are written, and each on its body."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lessons.spot.bank import all_looked_over
from lessons.spot.item import Item
from lessons.spot.onbody import lying, problems
from lessons.spot.rules import broken_rules, hints_of
from meshes.body import Body, load_body
from meshes.errors import FurcalError


@dataclass(frozen=True)
class Checked:
    """items: how many there are; problems: what is wrong, a sentence each; hints: what may be meant so"""

    items: int
    problems: tuple[str, ...]
    hints: tuple[str, ...]


def checked(paths: Sequence[Path], progress: Callable[[float, str], None] = lambda *_: None) -> Checked:
    """Look over banks that are used together. Where their words hold, every item is asked on its body."""
    items, wrong = all_looked_over(paths)
    wrong += [sentence for item in items for sentence in broken_rules(item)]
    wrong += _on_bodies(items, progress)
    return Checked(len(items), tuple(wrong), tuple(hint for item in items for hint in hints_of(item)))


def _on_bodies(items: Sequence[Item], progress: Callable[[float, str], None]) -> list[str]:
    """Items of one body after another, so that each body is fetched once."""
    wrong: list[list[str]] = [[] for _ in items]  # by place: an id may be given twice
    bodies: list[Body] = []
    by_body = sorted(range(len(items)), key=lambda place: repr(replace(lying(items[place]), name="")))
    for done, place in enumerate(by_body):
        item = items[place]
        progress(done / len(items), item.id)
        try:
            if not bodies or bodies[-1].specimen != lying(item):
                bodies[:] = [load_body(lying(item))]
            wrong[place] += problems(item, bodies[-1])
        except FurcalError as error:
            wrong[place].append(f"{item.where}, specimen: {error}")
    return [sentence for told in wrong for sentence in told]
