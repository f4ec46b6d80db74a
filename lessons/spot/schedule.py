"""When an item is asked again: the open scheduler of the package `fsrs`, a card for each item, the order of a session.

What is asked of `fsrs` is what its documentation says: `Scheduler(learning_steps=(), relearning_steps=())`, so that
what was answered comes back after whole days and not after minutes, `enable_fuzzing=False`, so that the same answers
give the same days, and its own parameters and retention (0.9).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from random import Random
from statistics import median
from typing import TYPE_CHECKING, Any

from lessons.spot.item import Item
from lessons.spot.response import is_number
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError, shown

if TYPE_CHECKING:
    import fsrs

#: A right answer is slow from so many times the item's own usual time on (our judgement).
SLOW = 2.0
#: The usual time of an item is the median of the learner's last right answers to it, once there are so many.
TIMES_NEEDED, TIMES_KEPT = 3, 9
#: The hour at which a learner's day turns, so that a late evening is still that day (our judgement).
DAY_TURNS_AT = 4
CARD_KEYS = ("item", "state", "step", "stability", "difficulty", "due", "last_review", "seconds")


@dataclass(frozen=True)
class Card:
    """What the scheduler knows of one item. All but `item` and `seconds` is the scheduler's own.

    due, last_review : with their zone, UTC
    seconds          : how long the last right answers took, the newest last
    """

    item: str
    state: int
    step: int | None
    stability: float
    difficulty: float
    due: datetime
    last_review: datetime
    seconds: tuple[float, ...] = ()


# --- one answer


@cache
def scheduler() -> fsrs.Scheduler:
    """The scheduler as it is used here."""
    from fsrs import Scheduler

    return Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)


def rating(verdict: Verdict, seconds: float, earlier: Sequence[float] = ()) -> int:
    """1 (Again) for what is wrong, 2 (Hard) for what is right in part or slow, 3 (Good) for what is right.

    Slow is measured by the item's own usual time, for to dock a portal takes longer than to name a nerve. Easy (4) is
    never given: the scheduler means by it what the learner felt, and nobody is asked. A quick right answer may as well
    be a guess among three options, which Easy would put off by weeks.
    """
    if not verdict.right:
        return 1
    slow = len(earlier) >= TIMES_NEEDED and seconds > SLOW * median(earlier)
    return 2 if slow or verdict.score < 1.0 else 3


def next_card(card: Card | None, item: str, verdict: Verdict, seconds: float, now: datetime) -> Card:
    """The card of an item after an answer; None before the first one. `now` has a zone, else ValueError."""
    from fsrs import Card as Memory
    from fsrs import Rating, State

    at, earlier = in_utc(now), card.seconds if card else ()
    memory = Memory(card_id=0, due=at)
    if card is not None:
        memory = Memory(0, State(card.state), card.step, card.stability, card.difficulty, card.due, card.last_review)
    after, _ = scheduler().review_card(memory, Rating(rating(verdict, seconds, earlier)), at)
    assert after.stability is not None
    assert after.difficulty is not None
    times = (*earlier, round(float(seconds), 3))[-TIMES_KEPT:] if verdict.right else earlier
    return Card(item, int(after.state), after.step, after.stability, after.difficulty, after.due, at, times)


def in_utc(when: datetime) -> datetime:
    """The same moment in the only zone that the scheduler takes."""
    if when.tzinfo is None:
        raise ValueError("a time without its zone tells no moment")
    return when.astimezone(UTC)


def end_of_day(now: datetime) -> datetime:
    """When the learner's day ends, in the zone of `now`."""
    turn = now.replace(hour=DAY_TURNS_AT, minute=0, second=0, microsecond=0)
    return turn if now < turn else turn + timedelta(days=1)


# --- cards as rows


def card_row(card: Card) -> dict[str, Any]:
    """A card as a row of JSON."""
    return {
        "item": card.item,
        "state": card.state,
        "step": card.step,
        "stability": card.stability,
        "difficulty": card.difficulty,
        "due": card.due.isoformat(),
        "last_review": card.last_review.isoformat(),
        "seconds": list(card.seconds),
    }


def card_of(row: Any, where: str) -> Card:
    """The card of a row. Raises FurcalError naming the place for what is none."""
    if not isinstance(row, Mapping) or set(row) != set(CARD_KEYS):
        raise FurcalError(f"{where}: expected a card with {', '.join(CARD_KEYS)}; found {shown(row)}.")
    item, state, step, seconds = row["item"], row["state"], row["step"], row["seconds"]
    good = (
        isinstance(item, str)
        and _is_whole(state, 1, 3)
        and (step is None or _is_whole(step, 0, 100))
        and all(is_number(row[key], low, high) for key, low, high in (("stability", 1e-3, 1e9), ("difficulty", 1, 10)))
        and isinstance(seconds, (list, tuple))
        and all(is_number(value, 0, 1e9) for value in seconds)
    )
    if not good:
        raise FurcalError(f"{where}: is no card as furcal writes it; found {shown(row)}.")
    return Card(
        item, state, step, float(row["stability"]), float(row["difficulty"]), _moment(row, "due", where),
        _moment(row, "last_review", where), tuple(float(value) for value in seconds),
    )  # fmt: skip


def _is_whole(value: Any, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


def _moment(row: Mapping[str, Any], key: str, where: str) -> datetime:
    try:
        return in_utc(datetime.fromisoformat(row[key]))
    except (TypeError, ValueError, OverflowError):
        raise FurcalError(
            f"{where}, {key}: expected a time with its zone (ISO 8601); found {shown(row[key])}."
        ) from None


# --- all of a learner's cards


class Schedule:
    """The cards of one learner."""

    def __init__(self, cards: Iterable[Card] = ()) -> None:
        self.cards: dict[str, Card] = {card.item: card for card in cards}

    def rows(self) -> list[dict[str, Any]]:
        """The cards as rows of JSON, by item."""
        return [card_row(self.cards[item]) for item in sorted(self.cards)]

    def answered(self, item_id: str, verdict: Verdict, seconds: float, now: datetime) -> Card:
        """Take in an answer; the item's new card."""
        made = next_card(self.cards.get(item_id), item_id, verdict, seconds, now)
        self.cards[item_id] = made
        return made

    def due(self, now: datetime, items: Iterable[Item] | None = None) -> tuple[str, ...]:
        """Ids of what is due by the end of the day of `now`, the most overdue first; of these items, or of all."""
        known = self.cards if items is None else {item.id: None for item in items}
        end = in_utc(end_of_day(now))
        found = [self.cards[name] for name in known if name in self.cards and self.cards[name].due < end]
        return tuple(card.item for card in sorted(found, key=_soonest))

    def pick(
        self, items: Iterable[Item], count: int, now: datetime, seed: int = 0, ahead: bool = False
    ) -> tuple[Item, ...]:
        """Items of a session of at most so many: what is due, the most overdue first, then what was never asked.

        New ones are taken from those structures of which the session has least. Then they are interleaved: no two
        neighbours are about one structure, as far as the chosen ones allow. The same seed picks the same.

        ahead : where that is too little, go on with what is not due yet, the soonest first
        """
        by_id = {item.id: item for item in items}
        due = [by_id[name] for name in self.due(now, by_id.values())]
        count = max(count, 0)
        chosen = due[:count]
        chosen += _spread(chosen, [item for name, item in by_id.items() if name not in self.cards], count, seed)
        if ahead and len(chosen) < count:
            taken = {item.id for item in chosen}
            later = [self.cards[name] for name in by_id if name in self.cards and name not in taken]
            chosen += [by_id[card.item] for card in sorted(later, key=_soonest)[: count - len(chosen)]]
        return interleaved(chosen)


def _soonest(card: Card) -> tuple[datetime, str]:
    return card.due, card.item


def about(item: Item) -> str:
    """What an item is about, whichever the side: the left nerve after the right one is the same matter."""
    return item.structure.removesuffix("_left").removesuffix("_right")


def _spread(chosen: Sequence[Item], new: Sequence[Item], count: int, seed: int) -> list[Item]:
    """As many new items as are missing, of the structures of which there are least, else by lot."""
    order = sorted(new, key=lambda item: item.id)
    Random(seed).shuffle(order)
    waiting: dict[str, list[Item]] = {}
    for item in order:
        waiting.setdefault(about(item), []).append(item)
    have = Counter(about(item) for item in chosen)
    found: list[Item] = []
    while waiting and len(chosen) + len(found) < count:
        name = min(waiting, key=lambda one: have[one])  # the first of equals: the order of the lot
        found.append(waiting[name].pop(0))
        have[name] += 1
        if not waiting[name]:
            del waiting[name]
    return found


def interleaved(items: Iterable[Item]) -> tuple[Item, ...]:
    """The same items, as near to their order as goes with the fewest neighbours that are about one structure."""
    rest, left = list(items), Counter[str]()
    left.update(about(item) for item in rest)
    made: list[Item] = []
    before = ""
    while rest:
        item = _next(rest, left, before)
        rest.remove(item)
        made.append(item)
        before = about(item)
        left[before] -= 1
    return tuple(made)


def _next(rest: Sequence[Item], left: Mapping[str, int], before: str) -> Item:
    """The first of the rest after which no more neighbours must be equal than had to be."""
    least = _fewest(left, before)
    for item in rest:
        name = about(item)
        if (name == before) + _fewest({**left, name: left[name] - 1}, name) == least:
            return item
    raise AssertionError("an order with the fewest begins with one of them")


def _fewest(left: Mapping[str, int], before: str) -> int:
    """How many equal neighbours cannot be helped where so many of each are left and `before` went before.

    Of one name with c among n, the other n - c part it into n - c + 1 runs; one run less where it went just before.
    """
    n = sum(left.values())
    return max([0, *(2 * c - n - (name != before) for name, c in left.items() if c)])
