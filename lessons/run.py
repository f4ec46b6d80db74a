"""A lesson being given: which step, whether its answer is shown, whether the script has been left. No clock, no window.

Stepping forward shows what is held back first: a question waits for one more step, then its answer is there. Whoever
has left the script comes back to the step by the first step in any direction.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from lessons.lesson import Lesson, Step


@dataclass(frozen=True)
class Run:
    """Where a lesson stands.

    index    : of the step, from 0
    revealed : the answer of its question is shown
    left     : something else than the step is on the screen
    blank    : nothing is shown to the room
    """

    lesson: Lesson
    index: int = 0
    revealed: bool = False
    left: bool = False
    blank: bool = False

    @property
    def step(self) -> Step:
        """The step that is given."""
        return self.lesson.steps[self.index]

    @property
    def next_step(self) -> Step | None:
        """The one after it, or None at the end."""
        steps = self.lesson.steps
        return steps[self.index + 1] if self.index + 1 < len(steps) else None

    @property
    def waits(self) -> bool:
        """Whether an answer is held back."""
        return bool(self.step.answer) and not self.revealed

    def forward(self) -> Run:
        """What comes next: the room sees again, the script goes on where it was left, the answer, the next step."""
        if self.blank:
            return replace(self, blank=False)
        if self.left:
            return replace(self, left=False)
        if self.waits:
            return replace(self, revealed=True)
        return self.at(self.index + 1) if self.next_step else self

    def back(self) -> Run:
        """What was before: the script where it was left, or the step before, its answer shown."""
        if self.blank:
            return replace(self, blank=False)
        if self.left:
            return replace(self, left=False)
        if self.index == 0:
            return self
        return replace(self.at(self.index - 1), revealed=True)

    def at(self, index: int) -> Run:
        """Any step, its answer held back; not beyond the ends."""
        return Run(self.lesson, min(max(index, 0), len(self.lesson.steps) - 1))

    def returned(self) -> Run:
        """The step again, exactly."""
        return replace(self, left=False)

    def left_script(self) -> Run:
        """Something else is looked at."""
        return replace(self, left=True)

    def with_blank(self, blank: bool) -> Run:
        """Nothing is shown to the room, or everything again."""
        return replace(self, blank=blank)
