"""Items made from a body and the tables of supply, by a seed: never ambiguous, for each has one right answer on it.

What is made is held to what is written: every item keeps the rules of writing (`lessons.spot.rules`), else it is not
made. The same question of the same body has the same id, whatever the seed; the seed chooses and shuffles.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from random import Random
from typing import TYPE_CHECKING

from lessons.spot.item import KINDS, Item
from lessons.spot.made.draft import Asked, Draft, Maker, Making
from meshes.errors import unknown_word

if TYPE_CHECKING:
    from meshes.body import Body


def makers() -> Mapping[str, tuple[Maker, ...]]:
    """What makes the items of each kind."""
    from lessons.spot.made import differs, lost, named, ordered, placed

    return {
        "name": (named.name_items,),
        "point": (named.point_items,),
        "trace": (named.trace_items,),
        "order": (ordered.layer_items, ordered.nerve_items),
        "predict": (lost.predict_items,),
        "examine": (lost.examine_items,),
        "find": (lost.find_items,),
        "quarter": (placed.quarter_items,),
        "dock": (placed.dock_items,),
        "wire": (named.wire_items,),
        "differs": (differs.differ_items,),
    }


def generated(body: Body, seed: int, kinds: Iterable[str] = KINDS, count: int | None = None) -> tuple[Item, ...]:
    """Items of a body, in an order that the seed gives.

    count : so many, by turns of each kind; None for all that can be asked
    Raises FurcalError for an unknown kind.
    """
    found: list[Item] = []
    if count is not None and count <= 0:
        return ()
    for item in _by_turns(body, seed, tuple(dict.fromkeys(kinds))):
        found.append(item)
        if len(found) == count:
            break
    return tuple(found)


def drafts(body: Body, kinds: Iterable[str] = KINDS) -> Iterator[Draft]:
    """Every draft of a body: what is right, and all that may stand beside it."""
    asked = Asked.of(body)
    for kind in kinds:
        for _, make in _makings(asked, kind):
            draft = make()
            if draft is not None:
                yield draft


def _makings(asked: Asked, kind: str) -> Iterator[Making]:
    if kind not in KINDS:
        raise unknown_word(kind, KINDS, "kind")
    for maker in makers()[kind]:
        yield from maker(asked)


def _by_turns(body: Body, seed: int, kinds: tuple[str, ...]) -> Iterator[Item]:
    """One of each kind, again and again; made only when its turn comes, for some take long."""
    asked = Asked.of(body)
    queues: list[list[Callable[[], Draft | None]]] = []
    for kind in kinds:
        making = [make for _, make in _makings(asked, kind)]
        Random(f"{seed} {kind}").shuffle(making)
        queues.append(making)
    while any(queues):
        for queue in queues:
            item = _next_of(queue, partial(_item_of, seed))
            if item is not None:
                yield item


def _item_of(seed: int, draft: Draft) -> Item | None:
    return draft.item(seed)


def _next_of(queue: list[Callable[[], Draft | None]], made: Callable[[Draft], Item | None]) -> Item | None:
    """The next item that a queue gives, if it gives one more."""
    while queue:
        draft = queue.pop()()
        item = made(draft) if draft is not None else None
        if item is not None:
            return item
    return None
