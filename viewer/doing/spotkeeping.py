"""What a spot test remembers and asks for: the learner's record, when to ask again, the items there are, the marking.

Nothing of it is loaded before the first spot test. What the record cannot do is told once, and the test goes on.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from pathlib import Path
from random import randrange
from threading import Thread
from typing import TYPE_CHECKING

from lessons.spot.item import KINDS, Item
from lessons.spot.response import Response
from lessons.spot.verdict import Verdict
from meshes.body import Body
from meshes.errors import FurcalError

if TYPE_CHECKING:
    from lessons.spot.record import Record

SEEDS = 10**6
#: Items that are made from a body are the same ones every time, so that they can be asked again: so many of each kind.
MADE_SEED, MADE_EACH = 1, 5
#: What their ids begin with.
MADE = "made_"
#: A session waits at most so long for items that are still being made, seconds.
MAKING_S = 2.0


class Keeping:
    """Stands between the window and `lessons.spot`.

    told : sentences to be told, which whoever tells them takes out
    seed : shuffles what is offered in the round that was picked last
    banks: files of banks whose items are asked in place of furcal's own; none for those
    """

    def __init__(self) -> None:
        self.told: list[str] = []
        self.seed = 0
        self.banks: tuple[Path, ...] = ()
        self._own: tuple[Item, ...] = ()
        self._kept: Record | None = None
        # Whether the learner knows that answers cannot be written now.
        self._knows = False
        self._maker: _Maker | None = None

    # --- items

    def prepare(self, body: Body | None) -> None:
        """Begin to make items of a body, beside everything else: some take long."""
        if body is not None and (self._maker is None or self._maker.body is not body):
            self._stop_making()
            self._maker = _Maker(body)
            self._maker.start()

    def use(self, banks: tuple[Path, ...]) -> None:
        """Ask items of these banks, and of no other. Raises FurcalError for a broken one; then nothing changes."""
        from lessons.spot.ownbank import own_items

        self._own = own_items(banks)
        self.banks = banks

    def items(self) -> tuple[Item, ...]:
        """Everything that can be asked: the own banks; else furcal's, and what has been made from the body so far."""
        if self.banks:
            return self._own
        from lessons.spot.bank import bundled_items

        return (*bundled_items(), *(self._maker.made if self._maker is not None else ()))

    def due(self) -> int:
        """How many items are due today; of those that are made from a body also such as are not made yet."""
        known, more = {item.id for item in self.items()}, () if self.banks else (MADE,)
        return sum(name in known or name.startswith(more) for name in self.record.schedule().due(_now()))

    def pick(self, count: int) -> tuple[Item, ...]:
        """Those of a session: what is due, then new ones, then what is not due yet; interleaved."""
        if self._maker is not None and not self.banks:
            self._maker.join(MAKING_S)
        self.seed = randrange(SEEDS)
        return self.record.schedule().pick(self.items(), count, _now(), self.seed, ahead=True)

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
        self._take_notice(self._kept)
        return self._kept

    def _take_notice(self, kept: Record) -> None:
        notice = kept.take_notice()
        if notice:
            self.told.append(notice)

    def add(self, item: Item, response: Response, verdict: Verdict, seconds: float) -> None:
        """Write an answer down, at once. Where that fails it is told once, and the answer waits for the next one."""
        kept = self.record
        try:
            kept.add(item, response, verdict, seconds, _now())
            self._knows = False
            self._take_notice(kept)
        except FurcalError as error:
            if not self._knows:
                self.told.append(str(error))
            self._knows = True

    def close(self) -> None:
        """Write what waits, and close. Raises FurcalError where an answer is lost."""
        self._stop_making()
        kept, self._kept = self._kept, None
        if kept is not None:
            kept.close()

    def _stop_making(self) -> None:
        maker, self._maker = self._maker, None
        if maker is not None:
            maker.stopped = True
            maker.join()


class _Maker(Thread):
    """Makes items of a body, a few of each kind; `made` grows."""

    def __init__(self, body: Body) -> None:
        super().__init__(name="items", daemon=True)
        self.body, self.stopped = body, False
        self.made: tuple[Item, ...] = ()

    def run(self) -> None:
        """Kind by kind, so that it can be stopped."""
        from lessons.spot.generate import generated

        for kind in KINDS:
            if self.stopped:
                return
            with suppress(FurcalError):  # then there are only those of the bank
                self.made = (*self.made, *generated(self.body, MADE_SEED, (kind,), MADE_EACH))


def _now() -> datetime:
    return datetime.now().astimezone()
