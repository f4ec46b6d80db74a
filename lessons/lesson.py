"""A lesson as values: what is shown and said, step by step. Read from a file by `lessons.script`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from lessons.view import View
from meshes.specimen import ALDER, Specimen

LEVEL_WORDS = ("student", "resident", "fellow")
#: How one comes to a step: the shortest way, at once, or along the highlighted nerve.
TRANSITIONS = ("fly", "cut", "follow")
STEPS_MAX = 400
MINUTES = (1, 600)


@dataclass(frozen=True)
class Step:
    """One step, whole: what it took over from the step before is in it.

    id           : a word, once in the lesson
    words        : what the room reads; `lessons.prose` tells its paragraphs and sources
    notes        : what only the speaker sees
    question     : a question to the room, or nothing; `answer` is held back until it is asked for
    transition   : one of TRANSITIONS
    picture      : a picture file that stands in place of the body, or None; `picture_says` tells it in words
    body_map     : id of the nerve whose map of the skin is shown under the words, or nothing
    """

    id: str
    title: str
    specimen: Specimen = ALDER
    view: View = field(default_factory=View)
    words: str = ""
    notes: str = ""
    question: str = ""
    answer: str = ""
    transition: str = "fly"
    picture: Path | None = None
    picture_says: str = ""
    body_map: str = ""


@dataclass(frozen=True)
class Lesson:
    """A lesson.

    path    : its file
    about   : one sentence for lists, or nothing
    sources : keys of its own -> what is to be printed
    """

    path: Path
    title: str
    level: str
    minutes: int
    objectives: tuple[str, ...]
    steps: tuple[Step, ...]
    about: str = ""
    sources: Mapping[str, str] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """Its name on the command line: that of the file, without the number that orders the course."""
        number, _, rest = self.path.stem.partition("_")
        return rest if number.isdigit() and rest else self.path.stem

    def where(self, index: int) -> str:
        """How errors name a step: by its number, from 1, and its id."""
        return f"{self.path}, step {index + 1} ({self.steps[index].id})"
