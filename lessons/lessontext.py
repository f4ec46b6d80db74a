"""A lesson as text, and as JSON for programs."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from lessons.caution import CAUTION
from lessons.lesson import Lesson, Step
from lessons.prose import Paragraph, noted, prose
from lessons.scenefile import specimen_table
from lessons.view import as_table

WIDTH = 100


def as_text(lesson: Lesson) -> str:
    """The lesson to read: its head, then step by step what the room reads and what the speaker sees."""
    lines = [lesson.title, f"for a {lesson.level}, {lesson.minutes} minutes, {len(lesson.steps)} steps"]
    lines += _wrapped(lesson.about, indent=0)
    lines += ["", "Afterwards one can:", *(line for o in lesson.objectives for line in _wrapped(o, "- ", 2))]
    for number, step in enumerate(lesson.steps, start=1):
        lines += ["", f"{number}. {step.title}  ({step.id})", *_step_lines(step, lesson)]
    return "\n".join([*lines, "", CAUTION])


def _step_lines(step: Step, lesson: Lesson) -> Iterator[str]:
    told = prose(step.words, step.answer, lesson.sources)
    yield from _told(told.paragraphs)
    if step.question:
        yield from _wrapped(step.question, "Question: ")
    if told.answer:
        yield "   Answer:"
        yield from _told(told.answer)
    for number, source in enumerate(told.sources, start=1):
        yield from _wrapped(source, f"[{number}] ", 6)
    for number, line in enumerate(noted(step.notes, lesson.sources, len(told.sources))):
        cited = line.startswith("[")
        yield from _wrapped(line, "" if number or cited else "Speaker: ", 6 if cited else 3)
    yield from _wrapped(seen_line(step), "Seen: ")


def seen_line(step: Step) -> str:
    """What a step shows, in short."""
    view, camera = step.view, step.view.camera
    who = f"{step.specimen.name}, {step.specimen.posture.replace('_', '-')}"
    if step.picture is not None:
        return f"the picture {step.picture.name}."
    film = f"film {view.film.words}{' beside the field' if view.film.beside else ''}" if view.film else ""
    parts = [
        who,
        film,
        "" if view.film and not view.film.beside else f"view {camera.name}",
        f"on {', '.join(sorted(camera.on))}" if camera.on else "",
        f"dissected to {view.dissection}",
        f"portal {view.portal.level} {view.portal.side}, {view.portal.approach}" if view.portal else "",
        f"lit {', '.join(sorted(view.highlighted))}" if view.highlighted else "",
        f"body map of {step.body_map}" if step.body_map else "",
    ]
    return f"{'; '.join(part for part in parts if part)}."


def _told(paragraphs: tuple[Paragraph, ...]) -> Iterator[str]:
    for paragraph in paragraphs:
        yield from _wrapped(paragraph.plain, "- " if paragraph.item else "")


def _wrapped(text: str, first: str = "", indent: int = 3) -> list[str]:
    before = " " * indent
    plain = " ".join(text.split())
    after = before + " " * (2 if first else 0)
    return textwrap.wrap(f"{first}{plain}", WIDTH, initial_indent=before, subsequent_indent=after)


def as_json(lesson: Lesson) -> dict[str, Any]:
    """The lesson for programs: every step whole, with the view and the specimen that it shows."""
    return {
        "schema": 1,
        "name": lesson.key,
        "title": lesson.title,
        "about": lesson.about,
        "level": lesson.level,
        "minutes": lesson.minutes,
        "objectives": list(lesson.objectives),
        "steps": [_step_json(step, lesson) for step in lesson.steps],
    }


def _step_json(step: Step, lesson: Lesson) -> dict[str, Any]:
    told = prose(step.words, step.answer, lesson.sources)
    return {
        "id": step.id,
        "title": step.title,
        "words": [paragraph.plain for paragraph in told.paragraphs],
        "question": step.question,
        "answer": [paragraph.plain for paragraph in told.answer],
        "notes": list(noted(step.notes, lesson.sources)),
        "sources": list(told.sources),
        "transition": step.transition,
        "body_map": step.body_map,
        "picture": step.picture.name if step.picture else "",
        "specimen": specimen_table(step.specimen),
        "view": as_table(step.view),
    }
