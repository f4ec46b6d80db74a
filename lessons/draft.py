"""A lesson that is being written: its text, the lesson in it, and the texts before, so that every edit can be undone.

An edit of one step never changes what another one shows: where a step took over what has changed, it gets what it
showed before in so many words.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from lessons import lessonfile as edits
from lessons.lesson import Lesson, Step
from lessons.reading import text_of
from lessons.script import lesson_from_text
from lessons.view import View
from lessons.wholetext import write_text
from meshes.errors import FurcalError
from meshes.specimen import Specimen

#: Edits that can be undone.
EDITS_MAX = 200


@dataclass(frozen=True)
class _State:
    """A text, the lesson in it, and the step that was looked at."""

    text: str
    lesson: Lesson
    index: int


@dataclass
class Draft:
    """One file and its lesson. Every edit is written at once; what cannot be written or read leaves all as it was.

    path  : the file
    index : the step that edits are about, from 0
    """

    path: Path
    index: int = 0
    _now: _State = field(init=False)
    _past: list[_State] = field(init=False, default_factory=list)
    _future: list[_State] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        self._now = self._state(text_of(self.path), self.index)

    @property
    def text(self) -> str:
        """The text of the file."""
        return self._now.text

    @property
    def lesson(self) -> Lesson:
        """The lesson in it."""
        return self._now.lesson

    @property
    def step(self) -> Step:
        """The step that edits are about."""
        return self.lesson.steps[self.index]

    @property
    def can_undo(self) -> bool:
        """Whether there is an edit to take back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether an edit was taken back."""
        return bool(self._future)

    # --- edits; each raises FurcalError, all unchanged, when its text cannot be written

    def keep_step(self, view: View, specimen: Specimen, title: str = "") -> None:
        """A new step behind this one that shows what is given."""
        order = _order(self.lesson)
        at = self.index + 1
        self._edit(edits.with_step(self.text, at, view, specimen, title), [*order[:at], None, *order[at:]], at)

    def keep_scene(self, view: View, specimen: Specimen) -> None:
        """This step shows what is given."""
        order = [None if i == self.index else i for i in _order(self.lesson)]
        self._edit(edits.with_scene(self.text, self.index, view, specimen), order, self.index)

    def write(self, key: str, value: str) -> None:
        """Another title, words, notes, question or answer; the same one is no edit."""
        if value.strip() == getattr(self.step, key):
            return
        self._edit(edits.with_text(self.text, self.index, key, value), _order(self.lesson), self.index)

    def come_by(self, transition: str) -> None:
        """Another way to this step."""
        if transition != self.step.transition:
            self._edit(edits.with_transition(self.text, self.index, transition), _order(self.lesson), self.index)

    def copy_step(self) -> None:
        """This step once more, behind it."""
        order = _order(self.lesson)
        at = self.index + 1
        self._edit(edits.with_copy(self.text, self.index), [*order[:at], self.index, *order[at:]], at)

    def drop_step(self) -> None:
        """This step taken out."""
        order = [i for i in _order(self.lesson) if i != self.index]
        self._edit(edits.without_step(self.text, self.index), order, min(self.index, len(order) - 1))

    def move_step(self, by: int) -> None:
        """This step that many places on, or back; not beyond the ends."""
        to = min(max(self.index + by, 0), len(self.lesson.steps) - 1)
        if to == self.index:
            return
        order = _order(self.lesson)
        order.insert(to, order.pop(self.index))
        self._edit(edits.moved_step(self.text, self.index, to), order, to)

    def undo(self) -> bool:
        """Take the last edit back; False when there is none."""
        return self._travel(self._past, self._future)

    def redo(self) -> bool:
        """Make it again."""
        return self._travel(self._future, self._past)

    def reread(self) -> bool:
        """Take over what another program wrote into the file; False when nothing did. Edits before it are kept."""
        text = text_of(self.path)
        if text == self.text:
            return False
        state = self._state(text, self.index)
        self._past.append(self._now)
        del self._past[:-EDITS_MAX]
        self._future.clear()
        self._go(state)
        return True

    # --- inside

    def _edit(self, text: str, order: Sequence[int | None], index: int) -> None:
        """Write a text whose steps are those of before in an order; None is a step of which nothing is to be kept."""
        self._check_ours()
        state = self._state(self._settled(text, order), index)
        write_text(self.path, state.text)
        self._past.append(self._now)
        del self._past[:-EDITS_MAX]
        self._future.clear()
        self._go(state)

    def _check_ours(self) -> None:
        if self.path.exists() and text_of(self.path) != self.text:
            raise FurcalError(
                f"{self.path}: another program has changed it; read it again (Lesson, Read the file again) first."
            )

    def _settled(self, text: str, order: Sequence[int | None]) -> str:
        """The text in which every step shows what it showed before."""
        for at, old in enumerate(order):
            if old is None:
                continue
            before, now = self.lesson.steps[old], lesson_from_text(text, self.path).steps[at]
            if (before.view, before.specimen) != (now.view, now.specimen):
                text = edits.with_scene(text, at, before.view, before.specimen)
        return text

    def _travel(self, source: list[_State], target: list[_State]) -> bool:
        if not source:
            return False
        self._check_ours()
        state = source[-1]
        write_text(self.path, state.text)
        target.append(replace(self._now, index=self.index))
        source.pop()
        self._go(state)
        return True

    def _go(self, state: _State) -> None:
        self._now = state
        self.index = min(state.index, len(state.lesson.steps) - 1)

    def _state(self, text: str, index: int) -> _State:
        return _State(text, lesson_from_text(text, self.path), index)


def _order(lesson: Lesson) -> list[int | None]:
    return list(range(len(lesson.steps)))


#: Edits of a draft by the word of their action.
STRUCTURAL: dict[str, Callable[[Draft], object]] = {
    "copy_step": Draft.copy_step,
    "drop_step": Draft.drop_step,
    "move_step_up": lambda draft: draft.move_step(-1),
    "move_step_down": lambda draft: draft.move_step(1),
    "undo_edit": Draft.undo,
    "redo_edit": Draft.redo,
}
