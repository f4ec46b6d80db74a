"""Doings with a lesson that is written: keep what is seen as a step, change its words, order the steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QFileDialog

from lessons.bundled import is_bundled, key_of
from lessons.draft import STRUCTURAL, Draft
from lessons.lessonfile import new_lesson
from lessons.reading import text_of
from lessons.run import Run
from lessons.script import read_lesson
from lessons.view import View
from lessons.wholetext import write_text
from meshes.errors import FurcalError
from viewer.cameras import free_camera
from viewer.doing.files import whole_name
from viewer.doing.lesson import Lessons
from viewer.panels.lessonedit import FIELDS


class Writing(Lessons):
    """The editor of the page *Lesson*."""

    def __init__(self) -> None:
        super().__init__()
        self._draft: Draft | None = None

    def _connect_writing(self) -> None:
        editor = self.places.editor
        editor.chosen.connect(self.guarded(self._choose_step))
        editor.written.connect(self.guarded(self._write))
        editor.came_by.connect(self.guarded(lambda word: self._edit(lambda draft: draft.come_by(word))))
        editor.asked.connect(self.guarded(self._asked_of_editor))

    def open_lesson_file(self) -> None:
        """Ask for a lesson file and begin it."""
        path, _ = QFileDialog.getOpenFileName(self, "Open lesson", "", "Lesson (*.toml)")
        if path:
            self.open_lesson(Path(path))

    def make_lesson(self) -> None:
        """Ask for a name and begin to write a lesson there."""
        chosen, _ = QFileDialog.getSaveFileName(self, "New lesson", "lesson.toml", "Lesson (*.toml)")
        if not chosen:
            return
        path = _own(whole_name(chosen, ".toml"))
        if path.suffix.lower() == ".toml":  # another one is refused below, and stays
            path.unlink(missing_ok=True)  # the dialog has asked whether it may be replaced
        new_lesson(path)
        self.open_lesson(path)
        self.toggle_writing()

    def toggle_writing(self) -> None:
        """Write the open lesson, or give it. One of the course is copied first: it is never changed in place."""
        if self._draft is not None:
            self._write_down()
            self._draft = None
            self._show_writing()
            return
        run = self._needed()
        path = run.lesson.path
        if is_bundled(path):
            copied = self._copied(path)
            if copied is None:
                return
            path = copied
        self._draft = draft = Draft(path, run.index)
        draft.index = min(draft.index, len(draft.lesson.steps) - 1)  # the file may have become shorter
        self.settings.add_recent(path)
        self.settings.keep_lesson(path, draft.index)
        self._take_draft()

    def _copied(self, path: Path) -> Path | None:
        chosen, _ = QFileDialog.getSaveFileName(
            self, "A copy of your own to write in", f"{key_of(path)}.toml", "Lesson (*.toml)"
        )
        if not chosen:
            return None
        copy = _own(whole_name(chosen, ".toml"))
        write_text(copy, text_of(path))
        return copy

    def keep_step(self) -> None:
        """What is seen becomes a new step, behind the one that is open."""
        self._writable()
        self._write_down()
        self._edit(lambda draft: draft.keep_step(self._seen_now(), self.session.specimen))
        self.places.editor.title.setFocus()
        self.places.editor.title.selectAll()

    def keep_scene_in_step(self) -> None:
        """What is seen takes the place of what the open step showed."""
        self._writable()
        self._write_down()
        self._edit(lambda draft: draft.keep_scene(self._seen_now(), self.session.specimen))

    def _seen_now(self) -> View:
        """The view as it is seen: a body that was turned keeps its eye."""
        view = self.session.view
        eye = self.places.field.eye
        return replace(view, camera=free_camera(eye)) if view.camera.name == "free" and eye is not None else view

    def reread_lesson(self) -> None:
        """Take over what another program wrote into the file of the lesson."""
        run = self._needed()
        if self._draft is not None:
            self._draft.reread()
            self._take_draft()
        else:
            lesson = read_lesson(run.lesson.path)
            self._go(Run(lesson, min(run.index, len(lesson.steps) - 1)))

    # --- inside

    def _writable(self) -> None:
        self._needed()
        if self._draft is None:
            self.toggle_writing()
        if self._draft is None:
            raise FurcalError("nothing was kept: choose a file of your own to write the lesson in.")

    def _asked_of_editor(self, word: str) -> None:
        own = {"keep_step": self.keep_step, "keep_scene_in_step": self.keep_scene_in_step}
        if word in own:
            own[word]()
            return
        self._write_down()
        self._edit(STRUCTURAL[word])

    def _write_down(self) -> None:
        """Write what was typed and waits. Raises FurcalError where it cannot be: it is never shown over."""
        for key, text in self.places.editor.typed() if self._draft is not None else ():
            self._write(key, text)

    def _write(self, key: str, text: str) -> None:
        """Write one text of the step. Raises FurcalError, the text still in its box, saying how to go on."""
        try:
            self._edit(lambda draft: draft.write(key, text))
        except FurcalError as error:
            name = FIELDS[key][0] if key in FIELDS else key.capitalize()
            raise FurcalError(f"{name}: not written yet. {error} Correct it, or take it back, to go on.") from None
        if not self.places.editor.typed():
            self.tell("")

    def _choose_step(self, index: int) -> None:
        if self._draft is not None:
            try:
                self._write_down()
            except FurcalError:
                self._show_writing()
                raise
            self._draft.index = index
            self._take_draft()

    def _edit(self, work: Callable[[Draft], object]) -> None:
        """Change the draft, and show what it has become."""
        if self._draft is None:
            return
        work(self._draft)
        self._take_draft()

    def _take_draft(self) -> None:
        draft = self._draft
        if draft is None:
            return
        run, step = self._run, draft.step
        if run is not None and (run.index, run.step.view, run.step.specimen) == (draft.index, step.view, step.specimen):
            self._run = replace(run, lesson=draft.lesson)
            self._note_script()
        else:
            self._take_step(draft)
        self._show_writing()

    def _take_step(self, draft: Draft) -> None:
        """Show the step that is edited; one that the body cannot show can be edited nevertheless."""
        try:
            self._go(Run(draft.lesson, draft.index))
        except FurcalError:
            if self._run is not None:
                at = min(self._run.index, len(draft.lesson.steps) - 1)
                self._run = replace(self._run, lesson=draft.lesson, index=at)
            self._show_writing()
            raise

    def _show_writing(self) -> None:
        draft = self._draft
        self.places.show_editor(draft is not None)
        if draft is not None:
            self.places.editor.show_lesson(draft.lesson, draft.index, draft.can_undo, draft.can_redo)
        self.refresh()

    def _lesson_states(self) -> dict[str, bool]:
        """Which of the actions of a lesson are on."""
        return {**super()._lesson_states(), "toggle_writing": self._draft is not None}

    def _begin(self, run: Run) -> None:
        """Another lesson: what was written is finished first."""
        if self._draft is not None and run.lesson is not self._draft.lesson:
            self.toggle_writing()
        super()._begin(run)

    def _go(self, run: Run) -> None:
        """The step that is shown is the one that is edited."""
        draft = self._draft
        if draft is not None and run.lesson is draft.lesson and run.index != draft.index:
            self._write_down()
            run = replace(run, lesson=draft.lesson)
        super()._go(run)
        if self._draft is not None and run.lesson is self._draft.lesson and run.index != self._draft.index:
            self._draft.index = run.index
            self._show_writing()

    def end_lesson(self) -> None:
        """Close the lesson; what was typed is written down first."""
        if self._draft is not None:
            self.toggle_writing()
        super().end_lesson()


def _own(path: Path) -> Path:
    """A file of one's own. Raises FurcalError for one of the course."""
    if is_bundled(path):
        raise FurcalError(f"{path}: is a lesson of the course, which is never changed; choose a file of your own.")
    return path
