"""A draft of an item: all that is right and all that may stand beside it as wrong, before the dice choose."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from hashlib import sha256
from random import Random
from typing import TYPE_CHECKING

from lessons.readout import plain, small
from lessons.spot.item import Answer, Chosen, Item
from lessons.spot.rules import broken_rules, hints_of
from lessons.view import View
from meshes.specimen import ALDER, Specimen

if TYPE_CHECKING:
    from lessons.spot.made.lost import Hurt
    from meshes.body import Body
    from meshes.contact import Ready
    from meshes.structures import Structure

#: Options beside the right one, and how often the dice are thrown for options that break no rule of writing.
WRONG = (2, 3)
THROWS = 60
#: Longest id.
ID_LETTERS = 60


@dataclass(frozen=True)
class Draft:
    """What an item is made of.

    key    : what tells it from every other draft of its kind, in letters of an id
    answer : what is right; None where it is one of several options
    right, pool : the right option, and every wrong one that may stand beside it
    """

    kind: str
    key: str
    objective: str
    structure: str
    ask: str
    explain: str
    view: View
    specimen: Specimen
    answer: Answer | None = None
    right: str = ""
    pool: tuple[str, ...] = ()
    vignette: str = ""
    depth: str = "recall"
    lit: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """The item's id: the same for the same question of the same body, whatever the seed."""
        return made_id(self.kind, self.key, self.specimen)

    def item(self, seed: int) -> Item | None:
        """The item; None where no choice of options keeps the rules of writing."""
        made = Item(
            self.id, self.kind, self.objective, self.structure, self.ask, self.answer or Chosen("", ()), self.explain,
            self.specimen, self.view, self.vignette, self.depth, self.lit, where=self.id, made=True,
        )  # fmt: skip
        if self.answer is not None:
            return made if _is_well_written(made) else None
        dice = Random(int.from_bytes(sha256(f"{seed} {self.id}".encode()).digest()[:8], "big"))
        for throw in range(THROWS):
            count = WRONG[1] if throw < THROWS // 2 else WRONG[0]
            if len(self.pool) < count:
                continue
            tried = replace(made, answer=Chosen(self.right, tuple(dice.sample(self.pool, count))))
            if _is_well_written(tried):
                return tried
        return None


def _is_well_written(item: Item) -> bool:
    return not broken_rules(item) and not hints_of(item)


def made_id(kind: str, key: str, specimen: Specimen) -> str:
    """An id that begins with `made_`; of a body that is not Alder's it ends in a mark of that body."""
    own = "" if specimen == ALDER else f"_{_mark(repr(sorted(_words(specimen).items())))}"
    whole = f"made_{kind}_{key}".replace("-", "_").lower()
    most = ID_LETTERS - len(own)
    return (whole if len(whole) <= most else f"{whole[: most - 7]}_{_mark(whole)}") + own


def _mark(text: str) -> str:
    return sha256(text.encode()).hexdigest()[:6]


def _words(specimen: Specimen) -> dict[str, object]:
    from lessons.scenefile import specimen_table

    return {key: value for key, value in specimen_table(specimen).items() if key != "name"}


@dataclass(frozen=True, eq=False)
class Asked:
    """The body that is asked about, and what has been found out of it.

    seen  : id -> a view in which the structure lies open, None where there is none
    hurts : every nerve cut at every place, once it was asked for
    """

    body: Body
    ready: Ready
    seen: dict[str, View | None] = field(default_factory=dict)
    hurts: list[Hurt] = field(default_factory=list)

    @staticmethod
    def of(body: Body) -> Asked:
        """A body prepared for asking; the last few are kept."""
        from meshes.contact import Ready

        for asked in tuple(_ASKED):
            if asked.body is body:
                return asked
        _ASKED.append(Asked(body, Ready.of(body)))
        return _ASKED[-1]


#: The bodies asked about last.
_ASKED: deque[Asked] = deque(maxlen=4)


#: Key of a draft, and what makes it; None where the body gives no clear answer.
Making = tuple[str, Callable[[], Draft | None]]
Maker = Callable[[Asked], Iterator[Making]]


def in_text(structure: Structure) -> str:
    """A structure within a sentence, with its side: the left femoral nerve."""
    side = f"{structure.side} " if structure.side else ""
    return f"the {side}{small(plain(structure))}"


def option(words: str) -> str:
    """Words as an option: a capital, no full stop."""
    bare = words.strip().rstrip(".")
    return bare[:1].upper() + bare[1:]
