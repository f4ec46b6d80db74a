"""Reads a lesson file: TOML of schema 1, checked word by word. Lesson files run nothing and name nothing outside.

`lessons/WRITING.md` is the format in words. What can be known without a body is checked here; `lessons.onbody` checks
the rest.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from lessons.filehead import check_schema
from lessons.lesson import LEVEL_WORDS, MINUTES, STEPS_MAX, TRANSITIONS, Lesson, Step
from lessons.prose import checked_text
from lessons.reading import Reading, nearer, text_of
from lessons.stepmap import skin_of
from lessons.stepview import KEYS, READERS_OWN, laid_over
from lessons.tomlhint import hinted
from lessons.view import View
from meshes.errors import FurcalError, shown, unknown_word
from meshes.specimen import ALDER, Specimen
from meshes.tables import parsed_toml

T = TypeVar("T")
SCHEMA = 1
MARK_KEY = "furcal_lesson"
LESSON_KEYS = (MARK_KEY, "title", "about", "level", "minutes", "objectives", "sources", "steps")
STEP_KEYS = (
    "id", "title", "fresh", "specimen", "view", "words", "notes", "question", "answer", "transition", "body_map",
    "picture", "picture_says",
)  # fmt: skip
ID = re.compile(r"[a-z][a-z0-9_]{0,39}")
TITLE_MAX = 120
PICTURES = (".png", ".jpg", ".jpeg")
PICTURE_MAX_BYTES = 20_000_000
#: How the files of PICTURES begin.
_PICTURE_STARTS = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")


def read_lesson(path: Path) -> Lesson:
    """A lesson from its file. Raises FurcalError, the first thing that is wrong, naming file, step and remedy."""
    return lesson_from_text(text_of(path), path)


def lesson_from_text(text: str, path: Path) -> Lesson:
    """The same from the text of a file; `path` names it, and its folder holds the pictures."""
    lesson, problems = looked_over(text, path)
    if problems or lesson is None:
        raise FurcalError(problems[0])
    return lesson


def looked_over(text: str, path: Path) -> tuple[Lesson | None, list[str]]:
    """A lesson and everything that is wrong with its text; without a lesson where its steps cannot be told."""
    try:
        table = parsed_toml(text, str(path))
    except FurcalError as error:
        return None, [hinted(str(error), text)]
    try:
        check_schema(table, str(path), MARK_KEY, SCHEMA, "lesson")
    except FurcalError as error:
        return None, [str(error)]
    reader = _Reader(path)
    return reader.lesson(table), reader.problems


def is_lesson(path: Path) -> bool:
    """Whether a file says that it is a lesson, whatever else is wrong with it."""
    try:
        return re.search(rf"^\s*{MARK_KEY}\s*=", text_of(path), re.MULTILINE) is not None
    except FurcalError:
        return False


class _Reader(Reading):
    """Reads one file to the end, whatever is wrong in it."""

    def lesson(self, table: Mapping[str, Any]) -> Lesson | None:
        """The lesson of a file's table; None where it has no steps."""
        where = str(self.path)
        for key in table:
            if key not in LESSON_KEYS:
                self.told(unknown_word(key, LESSON_KEYS, "key", where))
        self.own = self.sources(table.get("sources", {}), f"{where}, [sources]")
        title = self.text(table, "title", where, needed=True, most=TITLE_MAX)
        about = self.text(table, "about", where)
        level = self.word(table, "level", LEVEL_WORDS, where)
        minutes = self._minutes(table, where)
        objectives = self._objectives(table, where)
        steps = self._steps(table.get("steps"), where)
        return Lesson(self.path, title, level, minutes, objectives, steps, about, self.own) if steps else None

    # --- the head

    def _minutes(self, table: Mapping[str, Any], where: str) -> int:
        value = table.get("minutes")
        whole = isinstance(value, int) and not isinstance(value, bool)
        if not whole or not MINUTES[0] <= int(value or 0) <= MINUTES[1]:
            found = "it is missing" if value is None else f"found {shown(value)}"
            self.told(f"{where}, minutes: expected a whole number from {MINUTES[0]} to {MINUTES[1]}, {found}.")
            return MINUTES[0]
        return int(value or 0)

    def _objectives(self, table: Mapping[str, Any], where: str) -> tuple[str, ...]:
        value = table.get("objectives")
        good = isinstance(value, list) and bool(value) and all(isinstance(v, str) and v.strip() for v in value)
        if not good or not isinstance(value, list):
            self.told(f"{where}, objectives: expected a list of texts, at least one.")
            return ()
        for text in value:
            self.check_signs(text, f"{where}, objectives")
        return tuple(v.strip() for v in value)

    # --- steps

    def _steps(self, value: Any, where: str) -> tuple[Step, ...]:
        if isinstance(value, Mapping) and value:
            self.told(f"{where}, steps: a step begins with two brackets at either side, [[steps]]; write it so.")
            return ()
        if not isinstance(value, list) or not value or not all(isinstance(v, Mapping) for v in value):
            self.told(f"{where}, steps: a lesson has at least one step, which begins with the line [[steps]].")
            return ()
        if len(value) > STEPS_MAX:
            self.told(
                f"{where}, step {STEPS_MAX + 1}: {STEPS_MAX} steps are the most, and there are {len(value)}; divide it."
            )
            return ()
        steps: list[Step] = []
        before: tuple[Specimen, View] = (ALDER, View())
        for number, table in enumerate(value, start=1):
            step = self._step(table, number, before)
            steps.append(step)
            before = step.specimen, step.view
        self._check_unique(value)
        return tuple(steps)

    def _step(self, table: Mapping[str, Any], number: int, before: tuple[Specimen, View]) -> Step:
        name = table.get("id")
        good = isinstance(name, str) and bool(ID.fullmatch(name))
        where = f"{self.path}, step {number}" + (f" ({name})" if good else "")
        if not good:
            found = "it is missing" if name is None else f"found {shown(name)}"
            self.told(f"{where}, id: expected small letters, digits and _, a letter first, at most 40; {found}.")
        for key in table:
            if key in READERS_OWN:
                self.told(f"{where}, {key}: is the reader's choice, not the lesson's; take it out.")
            elif key in KEYS:
                self.told(f"{where}, {key}: belongs to the view; write view.{key}.")
            elif key not in STEP_KEYS:
                self.told(unknown_word(key, STEP_KEYS, "key", where))
        fresh = table.get("fresh", False)
        if not isinstance(fresh, bool):
            self.told(f"{where}, fresh: expected true or false, found {shown(fresh)}.")
        specimen, view = (ALDER, View()) if fresh is True else before
        specimen = self.specimen(table, specimen, where)
        view = laid_over(view, table.get("view", {}), f"{where}, view", self.told)
        said = {key: self.text(table, key, where) for key in ("words", "notes", "question", "answer", "picture_says")}
        for key in ("words", "notes", "answer"):
            self.attempt(lambda key=key: checked_text(said[key], f"{where}, {key}", self.own))  # type: ignore[misc]
        return Step(
            id=str(name) if good else f"step_{number}",
            title=self.text(table, "title", where, needed=True, most=TITLE_MAX),
            specimen=specimen,
            view=view,
            transition=self.word(table, "transition", TRANSITIONS, where, TRANSITIONS[0]),
            picture=self._picture(table, where),
            body_map=self._nerve(table, specimen, where),
            **said,
        )

    def _nerve(self, table: Mapping[str, Any], specimen: Specimen, where: str) -> str:
        name = self.text(table, "body_map", where)
        if name:
            try:
                skin_of(name, specimen)
            except FurcalError as error:
                self.told(f"{where}, body_map: {nearer(error)}")
                return ""
        return name

    def _picture(self, table: Mapping[str, Any], where: str) -> Path | None:
        name = self.text(table, "picture", where)
        if not name:
            return None
        picture = self.attempt(lambda: picture_beside(self.path, name, f"{where}, picture"))
        if picture is not None and not str(table.get("picture_says", "")).strip():
            self.told(f"{where}, picture_says: say in words what is seen on {shown(name)}, for whoever cannot see it.")
        return picture

    def _check_unique(self, steps: list[Mapping[str, Any]]) -> None:
        first: dict[str, int] = {}
        for number, name in enumerate((step.get("id") for step in steps), start=1):
            if not isinstance(name, str) or not ID.fullmatch(name):
                continue  # which has been told
            if name in first:
                self.told(
                    f"{self.path}, step {number}, id: {name} is the id of step {first[name]} too; "
                    "give each step its own."
                )
            first.setdefault(name, number)


def picture_beside(lesson: Path, name: str, where: str) -> Path:
    """A picture file in the folder of a lesson. Raises FurcalError for one outside, missing, or of another kind."""
    try:
        return _picture_in(lesson.parent.resolve(), name, where)
    except (OSError, RuntimeError, ValueError):  # a name too long, links in a circle, a zero byte
        raise FurcalError(f"{where}: {shown(name)}: cannot be read; name a file in the folder of the lesson.") from None


def _picture_in(folder: Path, name: str, where: str) -> Path:
    if Path(name).is_absolute() or not (folder / name).resolve().is_relative_to(folder):
        raise FurcalError(f"{where}: {shown(name)} leads out of the folder of the lesson; put the file beside it.")
    path = (folder / name).resolve()
    if path.suffix.lower() not in PICTURES:
        raise FurcalError(f"{where}: {shown(name)}: a picture's name ends in {', '.join(PICTURES)}.")
    if not path.is_file():
        raise FurcalError(f"{where}: {shown(name)}: no such file in the folder of the lesson.")
    if path.stat().st_size > PICTURE_MAX_BYTES:
        raise FurcalError(f"{where}: {shown(name)}: is larger than {PICTURE_MAX_BYTES // 10**6} MB; make it smaller.")
    with path.open("rb") as file:
        if not file.read(8).startswith(_PICTURE_STARTS):
            raise FurcalError(f"{where}: {shown(name)}: is no PNG or JPEG picture inside; save it as one.")
    return path
