"""Doings with the start page of a spot test: how long, and of which bank."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QFileDialog

from viewer.doing.spotkeeping import Keeping
from viewer.doing.spotkeys import SpotKeys
from viewer.panels.finder import Finder, Row, at_word_starts
from viewer.settings import Settings

#: Lengths of a session, items.
LENGTHS: tuple[int, ...] = (10, 20, 30)
TITLE = "Spot test"
#: While the first body is built it is asked for this often, milliseconds.
WAIT_MS = 100
#: The words of furcal's own bank, and what stands for the question for a file.
FURCALS, OPEN = "furcal's own bank", "open"
Banks = tuple[Path, ...]


class SpotStart(SpotKeys):
    """Knows from which bank items come (`keeping`)."""

    settings: Settings

    def __init__(self) -> None:
        super().__init__()
        self.keeping = Keeping()

    def begin_spot(self, count: int) -> None:
        """Ask so many items."""
        raise NotImplementedError

    def _tell_kept(self) -> None:
        """What the record has to say."""
        raise NotImplementedError

    def spot_test(self) -> None:
        """Ask how long and of which bank, and say how many are due today."""
        self.keeping.prepare(self.session.body)
        due = self.keeping.due()
        self._tell_kept()
        rows = [*self._lengths(due), *self._banks()]
        asks = f"How long; due today: {due}" if due else "How long; nothing is due today"
        if self.keeping.banks:
            asks += f". Items of {named(self.keeping.banks)}"
        finder = Finder(TITLE, asks, rows, at_word_starts(rows), self)
        finder.taken.connect(self.guarded(self._taken_at_start))
        finder.open()

    def _lengths(self, due: int) -> list[Row]:
        """How many items may be asked: of a bank that is smaller, all of it."""
        lengths = LENGTHS
        whole = len(self.keeping.items())
        if self.keeping.banks:
            lengths = tuple(count for count in LENGTHS if count < whole)
        rows = [Row(f"{count} items", "", count) for count in lengths]
        if self.keeping.banks:
            rows.append(Row("All items of the bank", counted(whole), whole))
        return [*rows, Row("All that is due today", counted(due), due)] if due else rows

    def _banks(self) -> list[Row]:
        """Which other bank may be taken: furcal's own, the last one, or one that is opened."""
        rows, last = [], self.settings.banks()
        if self.keeping.banks:
            rows.append(Row(f"Items of {FURCALS}", "", ()))
        if last and last != self.keeping.banks:
            rows.append(Row(f"Items of {named(last)}", str(last[0].parent), last))
        return [*rows, Row("Open a bank file...", "items of your own", OPEN)]

    def _taken_at_start(self, taken: object) -> None:
        if isinstance(taken, int):
            self.begin_spot(taken)
            return
        if taken == OPEN:
            self.open_bank()
        elif isinstance(taken, tuple):
            self.use_banks(taken)
            self.spot_test()

    def open_bank(self) -> None:
        """Ask for one bank or several, and come back to the start page with them."""
        chosen, _ = QFileDialog.getOpenFileNames(self, "Open bank", "", "Bank of items (*.toml)")
        if chosen:
            self.use_banks([Path(name) for name in chosen])
        self.spot_test()

    def use_banks(self, paths: Sequence[Path]) -> None:
        """Ask items of these banks from now on; of none, those of furcal's own.

        Raises FurcalError for a bank that is broken; what was asked before is asked on.
        """
        banks = tuple(path.absolute() for path in paths)
        self.keeping.use(banks)
        if banks:
            self.settings.keep_banks(banks)

    def spot_when_ready(self, count: int, banks: Sequence[Path] = ()) -> None:
        """Begin a spot test of so many items once there is a body to make items of; 0 asks how long."""
        if banks:
            self.use_banks(banks)
        if self.session.body is None:
            QTimer.singleShot(WAIT_MS, self, self.guarded(lambda: self.spot_when_ready(count)))
        elif count:
            self.begin_spot(count)
        else:
            self.spot_test()


def named(banks: Sequence[Path]) -> str:
    """Some banks in words."""
    return banks[0].name if len(banks) == 1 else f"{banks[0].name} and {len(banks) - 1} more"


def counted(items: int) -> str:
    """How many items, in words."""
    return "1 item" if items == 1 else f"{items} items"
