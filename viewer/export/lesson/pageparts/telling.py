"""The words of a lesson and its steps as the page holds them: plain text, told apart into paragraphs and sources."""

from __future__ import annotations

from typing import Any

from lessons.caution import CAUTION
from lessons.lesson import Lesson, Step
from lessons.prose import Paragraph, prose


def lesson_words(lesson: Lesson) -> dict[str, Any]:
    """What stands on the first screen."""
    return {
        "title": lesson.title,
        "about": lesson.about,
        "level": lesson.level,
        "minutes": lesson.minutes,
        "objectives": list(lesson.objectives),
        "caution": CAUTION,
    }


def step_words(step: Step, lesson: Lesson) -> dict[str, Any]:
    """What is read in a step. `first` says how many of its sources are named before the answer is."""
    told = prose(step.words, step.answer, lesson.sources)
    return {
        "id": step.id,
        "title": step.title,
        "words": [_paragraph(p) for p in told.paragraphs],
        "question": " ".join(step.question.split()),
        "answer": [_paragraph(p) for p in told.answer],
        "sources": list(told.sources),
        "first": max((run.number for p in told.paragraphs for run in p.runs), default=0),
        "transition": step.transition,
    }


def _paragraph(paragraph: Paragraph) -> dict[str, Any]:
    """A run is a text, or the number of a source."""
    return {"item": paragraph.item, "runs": [run.number or run.text for run in paragraph.runs]}
