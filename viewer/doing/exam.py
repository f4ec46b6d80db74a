"""Doings with a paper: stations with a clock, nothing said about an answer, no way back, signed results at the end."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QFileDialog, QMessageBox

from lessons.readout import capital
from lessons.spot.paper import Paper
from lessons.spot.response import Response, Skipped
from lessons.spot.round import Round
from lessons.spot.sat import Sitting, sitting
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError
from viewer.doing.spot import SpotTests
from viewer.panels.examstart import ExamStart

#: The clock is looked at this often, milliseconds.
TICK_MS = 200
TITLE = "Examination"


class Exams(SpotTests):
    """A paper that is sat: `_sat` is the candidate at it."""

    def __init__(self) -> None:
        super().__init__()
        self._sat: Sitting | None = None
        # Where candidates sit down: the paper, the folder of the results, the key.
        self._desk: tuple[Paper, Path, bytes] | None = None
        # When the station ends, by the monotonic clock; 0 while its body is not seen yet.
        self._ends_at = 0.0
        self._failed_to_keep = False
        self._tick = QTimer(self, interval=TICK_MS)
        self._tick.timeout.connect(self.guarded(self._look_at_clock))

    @property
    def timed(self) -> bool:
        """Whether it is a paper."""
        return self._sat is not None

    @property
    def _title(self) -> str:
        return TITLE if self.timed else super()._title

    # --- the start page

    def open_desk(self, paper: Paper, folder: Path, key: bytes, candidate: str = "") -> None:
        """Show the start page of a paper."""
        self._desk = paper, folder, key
        stations = f"Paper {paper.id}: {len(paper.items)} stations of {paper.seconds} s, {paper.minutes:.0f} min."
        about = f"{stations} Each station goes on by itself; there is no way back."
        start = ExamStart(about, candidate, self)

        def begin(number: str) -> None:
            try:
                sat = sitting(paper, number, folder, key)
            except FurcalError as error:
                start.tell(capital(str(error)))
                return
            start.accept()
            self.guarded(self._sit_down)(sat)

        start.begun.connect(begin)
        start.open()

    def _sit_down(self, sat: Sitting) -> None:
        self._sat, self._failed_to_keep = sat, False
        self._begin_round(Round(sat.left, sat.paper.seed, frozen=sat.orders))
        if not sat.left:
            self._finish()

    def _where(self) -> str:
        if self._sat is None:
            return super()._where()
        count, candidate = len(self._sat.paper.items), f"candidate {self._sat.candidate}"
        if self._needed_round().phase == "ended":
            return f"Paper {self._sat.paper.id}, {candidate}"
        return f"Station {len(self._sat.given) + 1} of {count}, {candidate}"

    # --- the clock

    def _put_up(self) -> None:
        super()._put_up()
        self._ends_at = 0.0
        if self.timed and self._is_asking:
            self._tick.start()
            self._look_at_clock()
        else:
            self._tick.stop()
            self.places.spot.show_clock("")

    def _look_at_clock(self) -> None:
        if self._sat is None or not self._is_asking:
            self._tick.stop()
            return
        now = time.monotonic()
        if not self._ends_at and not self.session.needs_body():
            self._ends_at = now + self._sat.paper.seconds
        left = self._ends_at - now if self._ends_at else float(self._sat.paper.seconds)
        self.places.spot.show_clock(clock_words(left))
        if left <= 0.0:
            self._next_station()

    # --- stations

    def spot_on(self) -> None:
        """The next station, once the answer stands; without one the clock goes on."""
        control = self.places.spot.control
        if not self.timed or not self._is_asking:
            super().spot_on()
        elif control is None or isinstance(control.response, Skipped):
            self.statusBar().showMessage("Nothing is answered yet; the station ends by itself.", 6000)
        elif not self.session.needs_body():
            self._next_station()

    def _return_pressed(self) -> None:
        if self.timed:
            self.statusBar().showMessage("The answer stands as it is; Page Down goes on to the next station.", 6000)
        else:
            super()._return_pressed()

    def spot_skip(self) -> None:
        """Not in a paper: the station ends by itself."""
        if not self.timed:
            super().spot_skip()

    def _next_station(self) -> None:
        """Take the answer as it stands, write it down, and go on."""
        self._take_standing()
        self.places.spot.show_clock("")
        if self._needed_round().phase == "ended":
            self._finish()
        self._put_up()

    def _take_standing(self) -> None:
        sat, control, round_ = self._sat, self.places.spot.control, self._needed_round()
        if sat is None or round_.item is None:
            return
        response = control.response if control is not None else Skipped()
        seconds = min(time.monotonic() - self._asked_at, float(sat.paper.seconds))
        verdict = self._silently_marked(response)
        self._sat = sat = sat.answered(response, verdict, max(0.0, seconds))
        self._round = round_.answered(response, None, seconds).forward()
        try:
            sat.keep(_now())
            self._failed_to_keep = False
        except FurcalError as error:
            if not self._failed_to_keep:
                self.tell(f"{error} The paper goes on.")
            self._failed_to_keep = True

    def _silently_marked(self, response: Response) -> Verdict:
        """The verdict, which nobody is told; the answer is kept whatever happens to its marking."""
        item = self._needed_round().item
        assert item is not None
        try:
            return self.keeping.marked(item, response, self._body())
        except FurcalError as error:
            self.tell(str(error))
            return Verdict(False, 0.0, "")

    def _drop(self, sentence: str, item: object = None) -> None:
        """A station that cannot be shown is not answered; the paper goes on."""
        if self._sat is None:
            super()._drop(sentence, item)  # type: ignore[arg-type]
            return
        round_ = self._round
        if round_ is not None and round_.phase == "asked" and (item is None or round_.item is item):
            self._next_station()
            self.tell(f"{sentence} This station cannot be shown and counts as not answered.".strip())

    # --- the end

    def _finish(self) -> None:
        """Write the results, and say where they lie."""
        if self._sat is None:
            return
        try:
            path = self._sat.finish(_now())
        except FurcalError as error:
            self.tell(f"{error} Leaving the paper tries once more.")
            return
        self.tell(f"{path}: the results of candidate {self._sat.candidate}.")

    def spot_leave(self) -> None:
        """Leave; a paper that is not over is ended only after it was asked once."""
        if self._sat is None or self.may_close():
            again = self._sat is not None
            told = self.places.message.words.text() if again else ""
            self._sat = None
            super().spot_leave()
            if again and self._desk is not None:
                self.tell(told)
                self.open_desk(*self._desk)

    def may_close(self) -> bool:
        """Whether a paper may be left: ended before its time, what is there is written; asked once."""
        sat = self._sat
        if sat is None:
            return super().may_close()
        if self._is_asking:
            if not self._asked_whether_to_end(sat):
                return False
            control = self.places.spot.control
            # The clock goes on while it is asked.
            if control is not None and not isinstance(control.response, Skipped):
                self._take_standing()
        return self._results_lie() and super().may_close()

    def _asked_whether_to_end(self, sat: Sitting) -> bool:
        words = (
            f"{len(sat.given)} of {len(sat.paper.items)} stations are over. End the paper? What is answered is written."
        )
        yes = QMessageBox.StandardButton.Yes
        return QMessageBox.question(self, "End the paper", words) == yes

    def _results_lie(self) -> bool:
        """Whether the results lie on the disk, or there are none; else another folder is asked for."""
        sat = self._sat
        if sat is None or not sat.given or sat.path.exists():
            return True
        try:
            sat.finish(_now())
            return True
        except FurcalError as error:
            self.tell(str(error))
        chosen = QFileDialog.getExistingDirectory(self, "The results cannot be written there; choose another folder")
        if not chosen:
            return False
        self._sat = replace(sat, folder=Path(chosen))
        return self._results_lie()


def clock_words(seconds: float) -> str:
    """What is left of a station: 1:05 left."""
    whole = max(0, int(seconds + 0.999))
    return f"{whole // 60}:{whole % 60:02d} left"


def _now() -> datetime:
    return datetime.now().astimezone()
