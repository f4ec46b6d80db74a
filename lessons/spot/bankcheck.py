"""Everything that is wrong with banks of items: their words, how the items are written, and each on its body."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from lessons.spot.bank import all_looked_over
from lessons.spot.item import Item
from lessons.spot.onbody import by_body, lying, problems
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
    """Problems in the order of the items."""
    wrong: dict[int, list[str]] = {id(item): [] for item in items}  # not by its own id, which may be given twice
    body: Body | None = None
    for done, item in enumerate(by_body(items)):
        progress(done / len(items), item.id)
        try:
            if body is None or body.specimen != lying(item):
                body = load_body(lying(item))
            wrong[id(item)] += problems(item, body)
        except FurcalError as error:
            wrong[id(item)].append(f"{item.where}, specimen: {error}")
    return [sentence for told in wrong.values() for sentence in told]
