"""A spot test that is going on, as a value: which items, which one is asked, what was answered. No clock, no window.

An item is asked, then explained, then comes the next one; a station of a paper is answered and never explained. Nothing
that was answered is ever changed: the one way is forward. At the end what was missed can be looked at again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from lessons.spot.item import OBJECTIVES, Item
from lessons.spot.response import Response
from lessons.spot.sitting import offered
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError

Phase = Literal["asked", "explained", "ended", "again"]


@dataclass(frozen=True)
class Answered:
    """One item and what was made of it. verdict: None where nothing is said, at a station of a paper"""

    item: Item
    response: Response
    verdict: Verdict | None
    seconds: float

    @property
    def missed(self) -> bool:
        """Whether it was not known."""
        return self.verdict is not None and not self.verdict.right


@dataclass(frozen=True)
class Round:
    """Where a spot test stands.

    items : all of them, in the order in which they are asked
    seed  : shuffles what is offered
    frozen: id -> what is offered, where a paper says it
    index : of the item that is asked or explained, from 0; as many as there are items at the end
    done  : what was answered, in order
    again : which of the missed ones is looked at again, from 0; -1 for none
    """

    items: tuple[Item, ...]
    seed: int = 0
    index: int = 0
    done: tuple[Answered, ...] = ()
    again: int = -1
    frozen: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def offered(self) -> tuple[str, ...]:
        """Options, or words to be put in order, as they are shown for the item that is seen."""
        item = self.item
        if item is None:
            return ()
        return self.frozen.get(item.id) or offered(item, self.seed)

    @property
    def phase(self) -> Phase:
        """What is seen now."""
        if self.index >= len(self.items):
            return "again" if self.again >= 0 else "ended"
        return "explained" if len(self.done) > self.index else "asked"

    @property
    def item(self) -> Item | None:
        """The item that is seen; None at the end."""
        match self.phase:
            case "ended":
                return None
            case "again":
                return self.missed[self.again].item
        return self.items[self.index]

    @property
    def last(self) -> Answered | None:
        """What was made of the item that is seen, once it was."""
        match self.phase:
            case "explained":
                return self.done[self.index]
            case "again":
                return self.missed[self.again]
        return None

    @property
    def next_item(self) -> Item | None:
        """The item that comes next, or None."""
        return self.items[self.index + 1] if self.index + 1 < len(self.items) else None

    # --- the one way

    def answered(self, response: Response, verdict: Verdict | None, seconds: float) -> Round:
        """The asked item with its answer, explained now. Raises FurcalError where nothing is asked."""
        if self.phase != "asked":
            raise FurcalError("no item is asked now.")
        return replace(self, done=(*self.done, Answered(self.items[self.index], response, verdict, seconds)))

    def forward(self) -> Round:
        """The next item, or the end; an item that is asked stays until it is answered."""
        match self.phase:
            case "explained":
                return replace(self, index=self.index + 1)
            case "again":
                after = self.again + 1
                return replace(self, again=after if after < len(self.missed) else -1)
        return self

    def dropped(self) -> Round:
        """Without the item that is asked: it cannot be shown."""
        if self.phase != "asked":
            return self
        return replace(self, items=(*self.items[: self.index], *self.items[self.index + 1 :]))

    # --- the end

    @property
    def missed(self) -> tuple[Answered, ...]:
        """What was not known, in the order in which it was asked."""
        return tuple(answered for answered in self.done if answered.missed)

    def seen_again(self, number: int) -> Round:
        """At the end: one of the missed ones, from 0. Raises FurcalError where there is none of that number."""
        if self.phase not in ("ended", "again") or not 0 <= number < len(self.missed):
            raise FurcalError(f"{number + 1}: there are {len(self.missed)} missed items to look at again.")
        return replace(self, again=number)

    def at_end(self) -> Round:
        """The end again, from a missed one."""
        return replace(self, again=-1)

    def by_objective(self) -> tuple[tuple[str, int, int], ...]:
        """Objective, how many of its items were known, how many were asked; in the order of OBJECTIVES."""
        found = []
        for objective in OBJECTIVES:
            asked = [a for a in self.done if a.item.objective == objective]
            if asked:
                found.append((objective, sum(not a.missed for a in asked), len(asked)))
        return tuple(found)
