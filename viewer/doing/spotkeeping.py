"""What a spot test remembers and asks for: the learner's record, when to ask again, the items there are, the marking.

Nothing of it is loaded before the first spot test. What the record cannot do is told once, and the test goes on.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from random import randrange
from typing import TYPE_CHECKING

from lessons.spot.item import Item
from lessons.spot.response import Response
from lessons.spot.verdict import Verdict
from meshes.body import Body
from meshes.errors import FurcalError

if TYPE_CHECKING:
    from lessons.spot.record import Record

SEEDS = 10**6
#: Items that are made from a body are the same ones every time, so that they can be asked again.
MADE_SEED = 1


class Keeping:
    """Stands between the window and `lessons.spot`.

    told : sentences to be told, which whoever tells them takes out
    seed : shuffles what is offered in the round that was picked last
    """

    def __init__(self) -> None:
        self.told: list[str] = []
        self.seed = 0
        self._kept: Record | None = None
        # Whether the learner knows that answers cannot be written now.
        self._knows = False

    # --- items

    def items(self, body: Body | None) -> tuple[Item, ...]:
        """Everything that can be asked: the bank, and what is made from the body."""
        from lessons.spot.bank import bundled_items
        from lessons.spot.generate import generated

        return (*bundled_items(), *(generated(body, MADE_SEED) if body is not None else ()))

    def due(self, items: Sequence[Item]) -> int:
        """How many of them are due today."""
        return len(self.record.schedule().due(_now(), items))

    def pick(self, items: Sequence[Item], count: int) -> tuple[Item, ...]:
        """Those of a session: what is due, then new ones, then what is not due yet; interleaved."""
        self.seed = randrange(SEEDS)
        return self.record.schedule().pick(items, count, _now(), self.seed, ahead=True)

    def marked(self, item: Item, response: Response, body: Body) -> Verdict:
        """The verdict on a response."""
        from lessons.spot.mark import marked

        return marked(item, response, body)

    # --- the record

    @property
    def record(self) -> Record:
        """The learner's record; where it cannot be opened, one in memory, so that the test goes on."""
        if self._kept is None:
            from lessons.spot.record import open_record, spare_record

            try:
                self._kept = open_record()
            except FurcalError as error:
                self._kept = spare_record(f"{error} The answers of this spot test are not written down.")
        notice = self._kept.take_notice()
        if notice:
            self.told.append(notice)
        return self._kept

    def add(self, item: Item, response: Response, verdict: Verdict, seconds: float) -> None:
        """Write an answer down, at once. Where that fails it is told once, and the answer waits for the next one."""
        try:
            self.record.add(item, response, verdict, seconds, _now())
            self._knows = False
        except FurcalError as error:
            if not self._knows:
                self.told.append(str(error))
            self._knows = True

    def close(self) -> None:
        """Write what waits, and close. Raises FurcalError where an answer is lost."""
        kept, self._kept = self._kept, None
        if kept is not None:
            kept.close()


def _now() -> datetime:
    return datetime.now().astimezone()
