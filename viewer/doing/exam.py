"""Doings with a paper: stations with a clock, nothing said about an answer, no way back, signed results at the end."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QFileDialog, QMessageBox

from lessons.readout import capital
from lessons.spot.response import Response, Skipped
from lessons.spot.round import Round
from lessons.spot.verdict import Verdict
from lessons.view import View
from meshes.errors import FurcalError
from meshes.structures import DISSECTION
from viewer.doing.spot import SpotTests, at_once
from viewer.flight import straight
from viewer.panels.examstart import ExamStart
from viewer.panels.layout import Hush
from viewer.session import History
from viewer.spotmode import AT_DESK

if TYPE_CHECKING:
    from lessons.spot.paper import Paper
    from lessons.spot.sat import Sitting

#: The clock is looked at this often, milliseconds.
TICK_MS = 200
#: How much of a station is spent is written down this often, seconds: a crash gives no more than that back.
KEEP_S = 3.0
TITLE = "Examination"
#: What the page of the readout says behind the start page.
NOT_BEGUN = "The paper has not begun."
NOT_BUILT = "the body is still being built; wait until it is shown."
NO_PAPER = "no paper was opened; furcal --paper FILE --key FILE opens one"
NO_ANSWER = "Nothing is answered yet; F7 leaves it open, else the station ends by itself."
STANDS = "The answer stands as it is; Page Down goes on to the next station."


class Exams(SpotTests):
    """A paper that is sat: `_sat` is the candidate at it."""

    def __init__(self) -> None:
        super().__init__()
        self._sat: Sitting | None = None
        # Where candidates sit down: the paper, the folder of the results, the key.
        self._desk: tuple[Paper, Path, bytes] | None = None
        self._at_desk = False
        # What was typed there when it was closed.
        self._number = ""
        #: The clock of the stations, seconds; tests give their own.
        self.clock: Callable[[], float] = time.monotonic
        # When the station ends by that clock, 0 while its body is not seen yet; when its time was written down.
        self._ends_at = self._kept_at = 0.0
        self._failed_to_keep = False
        self._tick = QTimer(self, interval=TICK_MS)
        self._tick.timeout.connect(self.guarded(self._look_at_clock))

    @property
    def timed(self) -> bool:
        """Whether it is a paper."""
        return self._sat is not None

    @property
    def _is_quiet(self) -> bool:
        return self._at_desk or super()._is_quiet

    @property
    def _title(self) -> str:
        return TITLE if self.timed else super()._title

    # --- the start page

    def open_desk(self, paper: Paper, folder: Path, key: bytes, candidate: str = "") -> None:
        """Show the start page of a paper; behind it the body tells nothing."""
        from lessons.spot.sat import sitting  # a window mostly starts without a paper

        self._desk = paper, folder, key
        self._hush_desk()
        stations = f"Paper {paper.id}: {len(paper.items)} stations of {paper.seconds} s, {paper.minutes:.0f} min."
        goes_on = "Each station goes on by itself; Page Down goes on sooner, F7 leaves a station open."
        about = f"{stations} {goes_on} There is no way back."
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
        start.rejected.connect(self.guarded(lambda: self._leave_desk(start.line.text())))
        start.open()

    def _hush_desk(self) -> None:
        """A body in its skin, no names and no figures: nobody studies it before the clock runs."""
        self._put_aside()
        assert self._before is not None
        self._at_desk, self._round = True, None
        self._clear_marks()
        self.places.spot.forget(NOT_BEGUN)
        self.places.show_spot(Hush(asking=True, layers=False, portal=False))
        now = self.session.view
        bare = View(dissection=DISSECTION[0], labels=False, theme=now.theme, language=now.language)
        self.places.field.way_to = at_once
        self.session.open_scene(self._before.scene.specimen, bare, TITLE)
        self.places.field.way_to = straight
        self.session.history = History()
        self._free_actions()
        self.setAcceptDrops(False)

    def sit_paper(self) -> None:
        """The start page of the paper once more, after it was closed."""
        if self._desk is None:
            raise FurcalError(f"{NO_PAPER}.")
        self.open_desk(*self._desk, self._number)

    def _leave_desk(self, typed: str) -> None:
        """The start page is gone without a paper: the window is as it was."""
        told = self.places.message.words.text()
        self._at_desk, self._number = False, typed
        super().spot_leave()
        self.tell(told)

    def bar_actions(self) -> None:
        """Behind the start page, hardly anything."""
        super().bar_actions()
        if self._desk is None:
            self.actions_by_name["sit_paper"].setEnabled(False)
        if self._at_desk:
            for name, action in self.actions_by_name.items():
                action.setEnabled(action.isEnabled() and name in AT_DESK)

    def why_not(self, name: str) -> str:
        """Why an action cannot be taken now."""
        if name == "sit_paper" and self._desk is None:
            return NO_PAPER
        return "not before the paper begins" if self._at_desk and name not in AT_DESK else super().why_not(name)

    def _sit_down(self, sat: Sitting) -> None:
        self._at_desk, self._sat, self._failed_to_keep = False, sat, False
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
        now = self.clock()
        if not self._ends_at and not self.session.needs_body():
            self._ends_at, self._kept_at = now + self._sat.paper.seconds - self._sat.spent, now
        left = self._sat.paper.seconds - self._spent
        self.places.spot.show_clock(clock_words(left))
        if left <= 0.0:
            self._next_station()
        elif self._ends_at and now - self._kept_at >= KEEP_S:
            self._kept_at = now
            self._keep(lambda sat: sat.keep_time(self._spent))

    @property
    def _spent(self) -> float:
        """How many seconds of the station are over, those before it was taken up with them."""
        if self._sat is None:
            return 0.0
        whole = float(self._sat.paper.seconds)
        left = self._ends_at - self.clock() if self._ends_at else whole - self._sat.spent
        return min(max(whole - left, 0.0), whole)

    def _keep(self, write: Callable[[Sitting], None]) -> None:
        """Write something of the sitting down. Where that fails it is told once, and the paper goes on."""
        assert self._sat is not None
        try:
            write(self._sat)
            self._failed_to_keep = False
        except FurcalError as error:
            if not self._failed_to_keep:
                self.tell(f"{error} The paper goes on.")
            self._failed_to_keep = True

    # --- stations

    def spot_on(self) -> None:
        """The next station, once the answer stands; without one the clock goes on."""
        if not self.timed or not self._is_asking:
            super().spot_on()
        elif isinstance(self._standing, Skipped):
            self.statusBar().showMessage(NO_ANSWER, 6000)
        elif not self.session.needs_body():
            self._next_station()

    def _return_pressed(self) -> None:
        if self.timed and self._is_asking:
            self.statusBar().showMessage(NO_ANSWER if isinstance(self._standing, Skipped) else STANDS, 6000)
        elif not self.timed:
            super()._return_pressed()

    def spot_skip(self) -> None:
        """Say that one does not know; in a paper the station is left open, whatever stands there."""
        if not self.timed:
            super().spot_skip()
        elif self._is_asking:
            if self.session.needs_body():
                raise FurcalError(NOT_BUILT)
            self._next_station(Skipped())

    @property
    def _standing(self) -> Response:
        """The answer as it stands."""
        control = self.places.spot.control
        return control.response if control is not None else Skipped()

    def _next_station(self, response: Response | None = None) -> None:
        """Take the answer as it stands, or another one, write it down, and go on."""
        self._take_down(self._standing if response is None else response)
        self.statusBar().clearMessage()
        self.places.spot.show_clock("")
        if self._needed_round().phase == "ended":
            self._finish()
        self._put_up()

    def _take_down(self, response: Response) -> None:
        sat, round_ = self._sat, self._needed_round()
        if sat is None or round_.item is None:
            return
        seconds = self._spent
        verdict = self._silently_marked(response)
        self._sat = sat.answered(response, verdict, seconds)
        self._round = round_.answered(response, None, seconds).forward()
        self._keep(lambda sat: sat.keep(_now()))

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
            was_sat, self._sat = self._sat is not None, None
            if was_sat and self._desk is not None:
                self.open_desk(*self._desk)  # for the next candidate, who has seen nothing yet
            else:
                super().spot_leave()

    def may_close(self) -> bool:
        """Whether a paper may be left: ended before its time, what is there is written; asked once."""
        sat = self._sat
        if sat is None:
            return super().may_close()
        if self._is_asking:
            if not self._asked_whether_to_end(sat):
                return False
            # The clock goes on while it is asked.
            if not isinstance(self._standing, Skipped):
                self._take_down(self._standing)
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
