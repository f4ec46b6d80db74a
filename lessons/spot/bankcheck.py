"""Everything that is wrong with banks of items: their words, how the items are written, and each on its body."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lessons.reading import text_of
from lessons.spot.bank import looked_over, twice
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
    items: list[Item] = []
    wrong: list[str] = []
    for path in paths:
        try:
            found, problems_of_words = looked_over(text_of(path), path)
        except FurcalError as error:
            found, problems_of_words = (), [str(error)]
        items += found
        wrong += problems_of_words
    wrong += twice(items)
    wrong += [sentence for item in items for sentence in broken_rules(item)]
    wrong += _on_bodies(items, progress)
    return Checked(len(items), tuple(wrong), tuple(hint for item in items for hint in hints_of(item)))


def _on_bodies(items: Sequence[Item], progress: Callable[[float, str], None]) -> list[str]:
    """Items of one body after another, so that each body is fetched once."""
    wrong: dict[str, list[str]] = {item.id: [] for item in items}
    bodies: list[Body] = []
    by_body = sorted(items, key=lambda item: repr(replace(lying(item), name="")))
    for done, item in enumerate(by_body):
        progress(done / len(items), item.id)
        try:
            if not bodies or bodies[-1].specimen != lying(item):
                bodies[:] = [load_body(lying(item))]
            wrong[item.id] += problems(item, bodies[-1])
        except FurcalError as error:
            wrong[item.id].append(f"{item.where}, specimen: {error}")
    return [sentence for item in items for sentence in wrong[item.id]]
