"""A paper: items that a lecturer has frozen for an examination, whole, so that no later change of a bank changes it.

A paper's file is JSON of schema 1. It holds the answers, for whoever marks needs them; a hash of all that it holds
tells when it was edited, and the paper's id comes from that hash.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path, PurePath
from random import Random
from typing import Any

from lessons.filehead import check_schema, check_small
from lessons.spot.blueprint import ITEMS, SECONDS, Blueprint, Word, cell_of, check_met, has_word, shortfall, whole
from lessons.spot.item import Docked, Item, Pointed
from lessons.spot.itemjson import item_from_json, item_json
from lessons.spot.response import Clicked, response_json, response_of
from lessons.spot.sitting import offered
from meshes.errors import FurcalError, shown
from meshes.structures import side_of
from meshes.tables import read_text

SCHEMA = 1
MARK_KEY = "furcal_paper"
#: Stands first in the file, for whoever opens it.
CONFIDENTIAL = "This file holds the answers. Keep it from candidates until the examination is over."
USUAL_SECONDS = 90
SIZE_MAX_BYTES = 20_000_000
SEED_END = 10**18
#: Letters of options, of words to be put in order, and of spots on a picture.
LETTERS = "ABCDEFG"
_KEYS = ("confidential", MARK_KEY, "id", "sha256", "seed", "seconds", "items")
_ITEM_KEYS = ("item", "offered", "spots")


@dataclass(frozen=True)
class Paper:
    """Items frozen for an examination.

    id      : from the hash of all the rest
    seed    : what the order of stations and of options comes from; whoever knows it and the bank knows the paper
    seconds : a station
    items   : whole, in the order of the stations
    offered : beside each item its options, or its words to be ordered, in the order in which they are shown
    spots   : id of an item -> the lettered spots of its printed picture, A first, as clicks there would be
    """

    id: str
    seed: int
    seconds: int
    items: tuple[Item, ...]
    offered: tuple[tuple[str, ...], ...]
    spots: Mapping[str, tuple[Clicked, ...]] = field(default_factory=dict)

    @property
    def minutes(self) -> float:
        """How long all its stations last."""
        return len(self.items) * self.seconds / 60.0

    @property
    def sha256(self) -> str:
        """The hash of all that it holds, in hexadecimal."""
        return _hash_of(_content(self))

    def number_of(self, item_id: str) -> int:
        """The station of an item, from 1; 0 for one that is not in the paper."""
        return next((n for n, item in enumerate(self.items, start=1) if item.id == item_id), 0)


def made_paper(
    items: Iterable[Item],
    seed: int,
    seconds: int = USUAL_SECONDS,
    spots: Mapping[str, tuple[Clicked, ...]] | None = None,
) -> Paper:
    """A paper of items in their order. Raises FurcalError for a number out of its range and an item that comes twice.

    spots : id of a point item -> the lettered spots of its printed picture
    """
    chosen_items = tuple(replace(item, where=_short(item.where)) for item in items)
    whole(len(chosen_items), *ITEMS, "items of a paper")
    whole(seed, 0, SEED_END - 1, "seed")
    whole(seconds, *SECONDS, "seconds of a station")
    twice = [name for name, n in Counter(item.id for item in chosen_items).items() if n > 1]
    if twice:
        raise FurcalError(f"{twice[0]}: is in the paper twice; give every item an id of its own.")
    orders = tuple(offered(item, seed) for item in chosen_items)
    bare = Paper("", seed, seconds, chosen_items, orders, spots or {})
    # Once through JSON, which knows one sort of number only: so that the hash is that of what is read again.
    return _paper(_content(_paper(_content(bare), "paper")), "paper")


def _short(where: str) -> str:
    """Where an item stands without the folders before it: a paper is passed on, and tells nothing of whose it was."""
    path, sep, rest = where.rpartition(", item ")
    return f"{PurePath(path).name}{sep}{rest}"


# --- its file


def paper_json(paper: Paper) -> dict[str, Any]:
    """The paper as JSON; the first key says that it holds the answers."""
    content = _content(paper)
    return {"confidential": CONFIDENTIAL, MARK_KEY: SCHEMA, "id": paper.id, "sha256": _hash_of(content), **content}


def paper_text(paper: Paper) -> str:
    """The text of its file."""
    return json.dumps(paper_json(paper), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_paper(path: Path) -> Paper:
    """A paper from its file. Raises FurcalError for what is none, and for one that was edited or cut off."""
    return paper_from_json(_json_of(path), str(path))


def paper_from_json(table: Any, where: str) -> Paper:
    """A paper from JSON; `where` names it in errors."""
    if not isinstance(table, Mapping):
        raise FurcalError(f"{where}: is no paper; name a paper.json that `furcal paper` wrote.")
    if MARK_KEY not in table:
        raise FurcalError(f"{where}: is no paper; name a paper.json that `furcal paper` wrote.")
    check_schema(table, where, MARK_KEY, SCHEMA, "paper")
    edited = f"{where}: was edited or damaged since it was written; take the paper as `furcal paper` wrote it."
    if set(table) != set(_KEYS) or table["confidential"] != CONFIDENTIAL:
        raise FurcalError(edited)
    content = {key: table[key] for key in ("seed", "seconds", "items")}
    found = _hash_of(content)
    if not found or table["sha256"] != found or table["id"] != _id_of(content):
        raise FurcalError(edited)
    return _paper(content, where)


def _paper(content: Mapping[str, Any], where: str) -> Paper:
    """The paper of a content whose hash is known; what furcal cannot have written is refused."""
    seed = whole(content["seed"], 0, SEED_END - 1, f"{where}, seed")
    seconds = whole(content["seconds"], *SECONDS, f"{where}, seconds")
    rows = content["items"]
    if not isinstance(rows, list) or not ITEMS[0] <= len(rows) <= ITEMS[1]:
        raise FurcalError(f"{where}, items: expected a list of {ITEMS[0]} to {ITEMS[1]} items.")
    items, orders, spots = [], [], {}
    for number, row in enumerate(rows, start=1):
        place = f"{where}, item {number}"
        if not isinstance(row, Mapping) or set(row) != set(_ITEM_KEYS):
            raise FurcalError(f"{place}: expected an object with {', '.join(_ITEM_KEYS)}, found {shown(row)}.")
        item = item_from_json(row["item"], place)
        order = tuple(row["offered"]) if isinstance(row["offered"], list) else ()
        if sorted(map(str, order)) != sorted(offered(item, seed)) or not isinstance(row["spots"], list):
            raise FurcalError(f"{place}, offered: are not its options; take the paper as it was written.")
        items.append(item)
        orders.append(order)
        found = tuple(_spots(row["spots"], place))
        if found:
            spots[item.id] = found
    return Paper(_id_of(content), seed, seconds, tuple(items), tuple(orders), spots)


def _spots(rows: list[Any], where: str) -> Iterator[Clicked]:
    for row in rows[: len(LETTERS)]:
        spot = response_of({"clicked": row}, f"{where}, spots")
        assert isinstance(spot, Clicked)
        yield spot


def _content(paper: Paper) -> dict[str, Any]:
    rows = [
        {
            "item": item_json(item),
            "offered": list(order),
            "spots": [response_json(spot)["clicked"] for spot in paper.spots.get(item.id, ())],
        }
        for item, order in zip(paper.items, paper.offered, strict=True)
    ]
    return {"seed": paper.seed, "seconds": paper.seconds, "items": rows}


def _hash_of(content: Mapping[str, Any]) -> str:
    try:
        text = json.dumps(content, sort_keys=True, separators=(",", ":"), allow_nan=False)
    except ValueError:  # a number that JSON does not know: nothing of ours
        return ""
    return sha256(text.encode()).hexdigest()


def _id_of(content: Mapping[str, Any]) -> str:
    return _hash_of(content)[:8]


def _json_of(path: Path) -> Any:
    check_small(path, SIZE_MAX_BYTES, "paper")
    text = read_text(path)
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise FurcalError(f"{path}: is no paper; name a paper.json that `furcal paper` wrote.") from None


# --- choosing


def is_printable(item: Item) -> bool:
    """Whether an item can be asked on paper: a portal cannot be placed there, nor a wire of a film clicked."""
    return not isinstance(item.answer, Docked) and not (isinstance(item.answer, Pointed) and item.view.film is not None)


def chosen(items: Iterable[Item], count: int, seed: int, blueprint: Blueprint | None = None) -> tuple[Item, ...]:
    """So many of the items, as the blueprint says, spread over objectives, kinds and structures; in order of stations.

    The same items, count and seed give the same choice, in whatever order the items come.
    Raises FurcalError, naming what is short, where it cannot be done.
    """
    whole(count, *ITEMS, "--items")
    pool = sorted(items, key=lambda item: item.id)
    where = blueprint.where if blueprint else "--items"
    if len(pool) < count:
        raise FurcalError(f"{where}: {count} items are asked for, and the bank has {len(pool)} that can be used; ask "
                          "for fewer, or give another bank.")  # fmt: skip
    if blueprint is not None:
        check_met(pool, blueprint, count)
    dice = Random(f"furcal paper {seed}")
    dice.shuffle(pool)
    return _apart(_spread(pool, count, dict(blueprint.counts) if blueprint else {}), dice)


def about(item: Item) -> str:
    """What an item is about, whichever side."""
    return item.structure.removesuffix(f"_{side_of(item.structure)}") if side_of(item.structure) else item.structure


def _spread(pool: Sequence[Item], count: int, needs: dict[Word, int]) -> list[Item]:
    """One after the other whatever is there least so far, as long as the rest can still be met."""
    left, taken = list(pool), list[Item]()
    seen: Counter[tuple[str, str]] = Counter()
    while len(taken) < count:
        known: dict[frozenset[Word], bool] = {}
        for item in sorted(left, key=lambda item: _much(item, seen)):
            sort = _sort(item, needs)
            if sort not in known:
                known[sort] = _can_go(sort, item, left, needs, count - len(taken) - 1)
            if known[sort]:
                break
        needs = {word: n - (word in sort) for word, n in needs.items()}
        left.remove(item)
        taken.append(item)
        seen.update((("objective", item.objective), ("kind", item.kind), ("about", about(item))))
    return taken


def _sort(item: Item, needs: Mapping[Word, int]) -> frozenset[Word]:
    """The words of a blueprint that an item counts for: of items of one sort any is as good as another."""
    return frozenset(word for word in needs if has_word(cell_of(item), word))


def _can_go(sort: frozenset[Word], item: Item, left: Sequence[Item], needs: Mapping[Word, int], count: int) -> bool:
    """Whether the rest, so many items, can still be met once an item of that sort is taken, this one."""
    if not needs:
        return True
    if any(needs[word] == 0 for word in sort):
        return False
    cells = Counter(map(cell_of, left))
    cells[cell_of(item)] -= 1
    return not shortfall(cells, {word: n - (word in sort) for word, n in needs.items()}, count)


def _much(item: Item, seen: Counter[tuple[str, str]]) -> tuple[int, int]:
    return seen["objective", item.objective], seen["kind", item.kind] + seen["about", about(item)]


def _apart(items: Sequence[Item], dice: Random) -> tuple[Item, ...]:
    """The items in an order in which no two about one structure follow each other where it can be helped."""
    left = list(items)
    dice.shuffle(left)
    order: list[Item] = []
    while left:
        last = about(order[-1]) if order else ""
        many = Counter(map(about, left))
        free = [item for item in left if about(item) != last] or left
        # What is left most often goes first: else it would be left over at the end, one beside the other.
        item = max(free, key=lambda item: many[about(item)])
        order.append(item)
        left.remove(item)
    return tuple(order)
