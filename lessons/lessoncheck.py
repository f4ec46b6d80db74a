"""Everything that is wrong with a lesson file, and hints on what could be better."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from lessons.lesson import Lesson
from lessons.onbody import problems_on_bodies
from lessons.prose import MARK, no_sources, unsourced
from lessons.reading import text_of
from lessons.script import lesson_from_text, looked_over
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
        problems = problems_on_bodies(lesson, _Bodies(), progress)
    return Checked(path, len(lesson.steps), tuple(problems), tuple(hints_of(lesson)))


def hints_of(lesson: Lesson) -> list[str]:
    """What may be meant so and mostly is not, the head first and then by step."""
    found = [*_of_the_head(lesson)]
    for number, step in enumerate(lesson.steps):
        where = lesson.where(number)
        for text in (step.words, step.answer):
            found += [f"{where}: a figure without a source: {sentence}" for sentence in unsourced(text)]
        for key in _CITING:
            found += [
                f"{where}, {key}: {words} is shown as text; a source key is of small letters, digits and _."
                for words in no_sources(getattr(step, key))
            ]
        if step.answer and not step.question:
            found.append(f"{where}, answer: there is no question to it; it is held back all the same.")
    return found


#: Texts of a step that may cite.
_CITING = ("words", "notes", "answer")


def _of_the_head(lesson: Lesson) -> Iterator[str]:
    cited = {key for step in lesson.steps for name in _CITING for key in MARK.findall(getattr(step, name))}
    for text in lesson.objectives:
        if text in _first_objectives():
            yield f"{lesson.path}, objectives: {text!r} is still that of a new lesson; write your own."
    for key in lesson.sources:
        if key not in cited:
            yield f"{lesson.path}, [sources], {key}: no step cites it; write [{key}] behind what it stands for."


def _first_objectives() -> tuple[str, ...]:
    from lessons.lessonfile import first_text

    return lesson_from_text(first_text("A lesson"), Path("first.toml")).objectives


class _Bodies:
    """Builds bodies, and keeps the last one: steps of one specimen mostly follow each other."""

    def __init__(self) -> None:
        self._last: Body | None = None

    def __call__(self, specimen: Specimen) -> Body:
        if self._last is None or self._last.specimen != specimen:
            self._last = load_body(specimen)
        return self._last
