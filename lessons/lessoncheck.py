"""Everything that is wrong with a lesson file, and hints on what could be better."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lessons.lesson import Lesson
from lessons.onbody import step_problems
from lessons.prose import unsourced
from lessons.script import looked_over, text_of
from meshes.body import Body, load_body
from meshes.errors import FurcalError
from meshes.specimen import Specimen


@dataclass(frozen=True)
class Checked:
    """problems: what is wrong, a sentence each; hints: what may be meant so; steps: how many there are."""

    path: Path
    steps: int
    problems: tuple[str, ...]
    hints: tuple[str, ...]


def checked(path: Path, progress: Callable[[float, str], None] = lambda *_: None) -> Checked:
    """Look over a file: its words, and where those hold, every step on its body."""
    try:
        lesson, problems = looked_over(text_of(path), path)
    except FurcalError as error:
        return Checked(path, 0, (str(error),), ())
    if lesson is None:
        return Checked(path, 0, tuple(problems), ())
    if not problems:
        bodies = _Bodies()
        for number, step in enumerate(lesson.steps):
            progress(number / len(lesson.steps), step.title)
            problems += step_problems(step, lesson.where(number), bodies)
    return Checked(path, len(lesson.steps), tuple(problems), tuple(hints_of(lesson)))


def hints_of(lesson: Lesson) -> list[str]:
    """Figures without a source, by step."""
    found = []
    for number, step in enumerate(lesson.steps):
        for text in (step.words, step.answer):
            found += [f"{lesson.where(number)}: a figure without a source: {sentence}" for sentence in unsourced(text)]
    return found


class _Bodies:
    """Builds bodies, and keeps the last one: steps of one specimen mostly follow each other."""

    def __init__(self) -> None:
        self._last: Body | None = None

    def __call__(self, specimen: Specimen) -> Body:
        if self._last is None or self._last.specimen != specimen:
            self._last = load_body(specimen)
        return self._last
