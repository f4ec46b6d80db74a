"""Doings with a lesson that is given: open it, step through it, leave the script and come back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QKeyEvent

from lessons.bundled import course, course_problems, is_bundled, number_of
from lessons.lesson import Step
from lessons.onbody import check_on, lying
from lessons.run import Run
from lessons.script import read_lesson
from lessons.view import View
from meshes.body import Body
from meshes.errors import FurcalError
from viewer.ahead import Ahead
from viewer.cameras import Array, Eye
from viewer.doing.film import Films
from viewer.flight import STEP_S, Flight, chained, evenly, following, keeping, straight
from viewer.panels.curtain import Blank, Board, Pointer
from viewer.panels.finder import Finder, Row, at_word_starts
from viewer.panels.speaker import SpeakerWindow
from viewer.session import Scene

PAGE = "lesson"
#: Keys that step where nothing else wants them: those of a keyboard, and what clickers send.
FORWARD = (Qt.Key.Key_Right, Qt.Key.Key_Down, Qt.Key.Key_Space)
BACK = (Qt.Key.Key_Left, Qt.Key.Key_Up)
#: Actions that are there only while a lesson is open.
ONLY_IN_LESSON = (
    "step_on", "step_back", "return_to_step", "go_to_step", "toggle_blank", "toggle_speaker", "end_lesson", "hand_out",
    "toggle_writing", "keep_step", "keep_scene_in_step", "reread_lesson",
)  # fmt: skip
#: Actions whose keys a lesson needs while it is open.
NOT_IN_LESSON = ("shift_portal 0.25", "shift_portal -0.25")
LARGER = 1.12


class Lessons(Films):
    """A lesson being given."""

    def __init__(self) -> None:
        super().__init__()
        self._run: Run | None = None
        # Where it stood before a step whose body is still being built, and what was seen then.
        self._trial: tuple[Run | None, Scene] | None = None
        # What the page and the speaker's window tell now; a lesson has no run at first, which is to be told as well.
        self._shown: object = ""
        self._speaker: SpeakerWindow | None = None

    def _connect_lesson(self) -> None:
        places, page = self.places, self.places.lesson
        self._blank, self._board = Blank(places), Board(places.pictures)
        self._pointer = Pointer(places)
        self._pointer.follow(places.field, places.film, self._board)
        page.back_asked.connect(self.guarded(lambda: self._pressed(self.step_back)))
        page.next_asked.connect(self.guarded(lambda: self._pressed(self.step_on)))
        page.return_asked.connect(self.guarded(lambda: self._pressed(self.return_to_step)))
        page.list_asked.connect(self.guarded(self.go_to_step))
        page.larger = self.settings.words_larger(page.larger)
        self._ahead = Ahead(lambda: self.places.field.is_resting and not self.session.needs_body(), self)
        self._show_run()

    def _lesson_states(self) -> dict[str, bool]:
        """Which of the actions of a lesson are on."""
        run = self._run
        return {
            "toggle_blank": run is not None and run.blank,
            "toggle_speaker": self._speaker is not None,
            "toggle_pointer": not self._pointer.isHidden(),
            "toggle_for_room": not self.places.bars_are_shown,
        }

    def why_not(self, name: str) -> str:
        """Why an action cannot be taken now."""
        if name in ONLY_IN_LESSON:
            return "no lesson is open"
        return "not while a lesson is open" if name in NOT_IN_LESSON else super().why_not(name)

    # --- opening and ending

    def open_course(self) -> None:
        """Choose a lesson of the course."""
        rows = [
            Row(
                lesson.title,
                f"{len(lesson.steps)} steps, {lesson.minutes} min",
                lesson.path,
                lead=str(number_of(lesson)),
            )
            for lesson in course()
        ]
        self.tell(next(iter(course_problems()), ""))
        finder = Finder("Open a lesson", "Which lesson", rows, at_word_starts(rows), self)
        finder.taken.connect(self.guarded(self.open_lesson))
        finder.open()

    def open_lesson(self, path: Path, index: int = 0) -> None:
        """Read a lesson and begin it at a step, from 0."""
        lesson = read_lesson(path)
        self._begin(Run(lesson, min(max(index, 0), len(lesson.steps) - 1)))
        if not is_bundled(path):
            self.settings.add_recent(path)

    def resume_lesson(self) -> None:
        """The open lesson again from its beginning; without one the last one, where it was left."""
        if self._run is not None:
            self._begin(self._run.at(0))
            return
        path, index = self.settings.lesson()
        if path is None:
            self.open_course()
        else:
            self.open_lesson(path, index)

    def _begin(self, run: Run) -> None:
        self._go(run)
        self.places.show_page(PAGE)
        self._give_keys()

    def end_lesson(self) -> None:
        """Close the lesson; what is on the screen stays."""
        self._run = None
        self._blank.lie(False)
        self._board.show_picture(None)
        if self._speaker is not None:
            self._speaker.close()
        self._show_run()
        self.refresh()

    # --- stepping

    def step_on(self) -> None:
        """What comes next: the answer that is held back, or the next step."""
        run = self._needed()
        if run.forward() == run:
            self.statusBar().showMessage("The lesson ends here.", 4000)
        self._go(run.forward())

    def step_back(self) -> None:
        """What was before."""
        self._go(self._needed().back())

    def return_to_step(self) -> None:
        """The step again, exactly, after the script was left."""
        self._go(self._needed().returned())

    def go_to_step(self) -> None:
        """Choose a step by its number or its words."""
        run = self._needed()
        rows = [
            Row(step.title, "here" if i == run.index else "", i, lead=str(i + 1))
            for i, step in enumerate(run.lesson.steps)
        ]
        finder = Finder("Go to a step", "Number or words of the step", rows, at_word_starts(rows), self)
        finder.taken.connect(self.guarded(self.jump_to))
        finder.open()

    def jump_to(self, index: int) -> None:
        """Any step, from 0."""
        self._go(self._needed().at(index))

    def _needed(self) -> Run:
        if self._run is None:
            raise FurcalError("no lesson is open; open one of the course with Ctrl+Shift+L.")
        return self._run

    def _go(self, run: Run) -> None:
        """Show where a lesson stands. Raises FurcalError, all unchanged, for a step that the body cannot show."""
        before, self._run = self._run, run
        try:
            moved = before is None or run.step != before.step or before.lesson is not run.lesson
            if moved or (before is not None and before.left and not run.left):
                self._trial, scene = None, self.session.scene
                self._show_step(run)
                self._trial = (before, scene) if self.session.needs_body() else None
                self.places.show_page(PAGE)
        except FurcalError:
            self._run = before
            raise
        self.tell("")
        self._show_run()
        self.settings.keep_lesson(run.lesson.path, run.index)
        self._ahead.plan(self._prepared(run.next_step))

    def _prepared(self, step: Step | None) -> Iterator[object]:
        """Pieces of work that make the next step come at once."""
        scene = self.places.field.scene
        if step is None or scene is None:
            return
        if scene.body.specimen == lying(step):
            yield from scene.prepare(self._seen(step))
        else:
            self.loader.build_ahead(lying(step))

    def _show_step(self, run: Run) -> None:
        step, where = run.step, f"{run.lesson.where(run.index)}, view"
        body = self.session.body
        if body is not None and body.specimen == lying(step):
            check_on(step, body, run.lesson.where(run.index))
        field, film = self.places.field, self.places.film
        had_keys = field.hasFocus() or film.hasFocus()
        field.way_to = _at_once if step.transition == "cut" else self._way_to(step)
        try:
            self.session.open_scene(step.specimen, self._seen(step), where, "lesson")
        finally:
            field.way_to = straight
        if had_keys and not (field.hasFocus() or film.hasFocus()):  # the one that had them is hidden now
            self._give_keys()

    def _pressed(self, step: Callable[[], None]) -> None:
        """A button of the page does not keep the keys: arrows step on."""
        self._give_keys()
        step()

    def _give_keys(self) -> None:
        """To the film, or to the field."""
        (self.places.film if self.session.view.film else self.places.field).setFocus()

    def _seen(self, step: Step) -> View:
        """The view of a step in the reader's own theme and language."""
        now = self.session.view
        return replace(step.view, theme=now.theme, language=now.language)

    def _note_script(self) -> None:
        """See whether the step is on the screen or something else; called after every change."""
        run = self._run
        if run is None:
            return
        if self._trial is not None and not self._is_seen(run.step) and self.session.scene == self._trial[1]:
            run = self._run = self._trial[0]  # the body that was built for the step cannot show it
            self._trial = None
            if run is not None:
                self.settings.keep_lesson(run.lesson.path, run.index)
        elif not self.session.needs_body():
            self._trial = None
        if run is not None and run.left == self._is_seen(run.step):
            self._run = replace(run, left=not run.left)
        self._show_run()

    def _is_seen(self, step: Step) -> bool:
        return self.session.scene == Scene(step.specimen, self._seen(step))

    def judge_step(self, body: Body) -> None:
        """Raises FurcalError, and goes back to the step before, when a body that was built cannot show the step."""
        run = self._run
        if self._trial is None or run is None or run.left or body.specimen != lying(run.step):
            return
        try:
            check_on(run.step, body, run.lesson.where(run.index))
        except FurcalError:
            self.session.give_up_body()
            raise

    def _show_run(self) -> None:
        run = self._run
        if run is self._shown:
            return
        self._shown = run
        self.places.title = run.lesson.title if run is not None else ""
        self.places.entitle()
        self.places.lesson.show_run(run)
        if self._speaker is not None:
            self._speaker.show_run(run)
        if run is not None:
            if run.blank == self._blank.isHidden():
                self._blank.lie(run.blank)
            own = run.step.picture if not run.left else None
            self._board.show_picture(own, run.step.picture_says)
        for name in ONLY_IN_LESSON:
            self.actions_by_name[name].setEnabled(run is not None)
        for name in NOT_IN_LESSON:
            self.actions_by_name[name].setEnabled(run is None)
        self.places.field.hand.arrows_turn = self.places.film.hand.arrows_turn = run is None

    # --- the way of the eye

    def _way_to(self, step: Step) -> Callable[[Eye, Eye], Flight | None]:
        lit = self._lit_points(step)
        field = self.places.field

        def way(start: Eye, end: Eye) -> Flight:
            aspect = field.width() / max(1, field.height())
            if step.transition == "follow" and lit is not None:
                along = following(start, evenly(lit), float(np.linalg.norm(np.diff(lit, axis=0), axis=1).sum()))
                return chained(along, straight(along.end, end, STEP_S))
            flight = straight(start, end, STEP_S)
            return flight if lit is None else keeping(flight, lit, aspect)

        return way

    def _lit_points(self, step: Step) -> Array | None:
        """The line of the nerve that a step lights, the longest one, (n, 3) mm; None where it lights none."""
        body = self.session.body
        lines = [body.centrelines[i] for i in sorted(step.view.highlighted) if body and i in body.centrelines]
        return max(lines, key=lambda line: line.length).points if lines else None

    # --- for the speaker and the room

    def toggle_speaker(self) -> None:
        """The speaker's window, on the other screen where there is one."""
        if self._speaker is not None:
            self._speaker.close()
            return
        self._needed()
        speaker = self._speaker = SpeakerWindow(self.lesson_key, self)
        speaker.asked.connect(self.guarded(self._asked_by_speaker))
        speaker.jumped.connect(self.guarded(self.jump_to))
        speaker.closed.connect(self.guarded(self._speaker_closed))
        for name in ("step_on", "step_back", "return_to_step", "toggle_blank"):
            speaker.addAction(self.actions_by_name[name])
        others = [screen for screen in QGuiApplication.screens() if screen is not self.screen()]
        if others:
            speaker.move(others[0].availableGeometry().topLeft())
        speaker.show_run(self._run)
        speaker.show()
        self.refresh()

    def _speaker_closed(self) -> None:
        if self._speaker is not None:
            self._speaker.deleteLater()
        self._speaker = None
        self.refresh()

    def _asked_by_speaker(self, word: str) -> None:
        work = {
            "next": self.step_on, "back": self.step_back, "blank": self.toggle_blank, "return": self.return_to_step,
        }  # fmt: skip
        work[word]()

    def toggle_blank(self) -> None:
        """Nothing for the room to see, or everything again."""
        run = self._needed()
        self._run = run.with_blank(not run.blank)
        self.refresh()

    def toggle_pointer(self) -> None:
        """A ring that goes with the mouse."""
        self._pointer.lie(self._pointer.isHidden())
        self.refresh()

    def words_larger(self) -> None:
        """The words of a lesson larger."""
        self._enlarge(LARGER)

    def words_smaller(self) -> None:
        """The words of a lesson smaller."""
        self._enlarge(1.0 / LARGER)

    def _enlarge(self, factor: float) -> None:
        page = self.places.lesson
        page.enlarge(factor)
        self.settings.keep_words_larger(page.larger)

    def toggle_for_room(self) -> None:
        """Only the pictures and the readout, or every bar again."""
        self.places.show_bars(not self.places.bars_are_shown)
        self.refresh()

    # --- keys

    def lesson_key(self, event: QKeyEvent) -> bool:
        """Step by a key that nothing else wanted; whether it was one of the lesson's."""
        key, mods = Qt.Key(event.key()), event.modifiers()
        plain = mods in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.KeypadModifier)
        if self._run is None or not plain or key not in (*FORWARD, *BACK):
            return False
        self.guarded(self.step_on if key in FORWARD else self.step_back)()
        return True


def _at_once(_: Eye, __: Eye) -> None:
    """No flight."""
