"""Reads a lesson file: TOML of schema 1, checked word by word. Lesson files run nothing and name nothing outside.

`lessons/WRITING.md` is the format in words. What can be known without a body is checked here; `lessons.onbody` checks
the rest.
"""

from __future__ import annotations

import re
import stat
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from lessons.find import short_names
from lessons.lesson import LEVEL_WORDS, MINUTES, STEPS_MAX, TRANSITIONS, Lesson, Step
from lessons.prose import MARK, checked_text
from lessons.scenefile import SIZE_MAX_BYTES, specimen_of
from lessons.stepmap import skin_of
from lessons.stepview import KEYS, READERS_OWN, laid_over
from lessons.tomlhint import hinted
from lessons.view import View
from meshes.errors import FurcalError, UnknownWordError, shown, unknown_word
from meshes.specimen import ALDER, Specimen
from meshes.tables import parsed_toml, read_text

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
#: What no page and no slide can hold, and what a terminal takes for a command; tabs and ends of lines are none of it.
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


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
        _check_schema(table, str(path))
    except FurcalError as error:
        return None, [str(error)]
    reader = _Reader(path)
    return reader.lesson(table), reader.problems


def text_of(path: Path) -> str:
    """The text of a lesson file. Raises FurcalError for one that cannot be read, and for one too large to be one."""
    try:
        known = path.stat()
        if not stat.S_ISDIR(known.st_mode) and not stat.S_ISREG(known.st_mode):
            raise FurcalError(f"{path}: is not a plain file; name one.")
        if known.st_size > SIZE_MAX_BYTES:
            most = SIZE_MAX_BYTES // 10**6
            raise FurcalError(f"{path}: is larger than {most} MB, which no lesson is; check the path.")
        return path.read_bytes().decode("utf-8")  # ends of lines as they are: an edit keeps them
    except (OSError, UnicodeDecodeError):
        return read_text(path)  # which says why it cannot be read


def is_lesson(path: Path) -> bool:
    """Whether a file says that it is a lesson, whatever else is wrong with it."""
    try:
        return re.search(rf"^\s*{MARK_KEY}\s*=", text_of(path), re.MULTILINE) is not None
    except FurcalError:
        return False


def _check_schema(table: Mapping[str, Any], where: str) -> None:
    if MARK_KEY not in table:
        raise FurcalError(f"{where}: is no lesson; a lesson begins with the line {MARK_KEY} = {SCHEMA}.")
    schema = table[MARK_KEY]
    if isinstance(schema, bool) or not isinstance(schema, int) or schema < 1:
        raise FurcalError(f"{where}, {MARK_KEY}: expected the whole number {SCHEMA}, found {shown(schema)}.")
    if schema > SCHEMA:
        raise FurcalError(
            f"{where}: written by a newer furcal (schema {shown(schema)}); this one reads {SCHEMA}: update furcal."
        )


class _Reader:
    """Reads one file to the end, whatever is wrong in it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.problems: list[str] = []
        self._own: dict[str, str] = {}

    def _told(self, error: FurcalError | str) -> None:
        self.problems.append(str(_nearer(error)))

    def lesson(self, table: Mapping[str, Any]) -> Lesson | None:
        """The lesson of a file's table; None where it has no steps."""
        where = str(self.path)
        for key in table:
            if key not in LESSON_KEYS:
                self._told(unknown_word(key, LESSON_KEYS, "key", where))
        self._own = self._sources(table.get("sources", {}), f"{where}, [sources]")
        title = self._text(table, "title", where, needed=True, most=TITLE_MAX)
        about = self._text(table, "about", where)
        level = self._word(table, "level", LEVEL_WORDS, where)
        minutes = self._minutes(table, where)
        objectives = self._objectives(table, where)
        steps = self._steps(table.get("steps"), where)
        return Lesson(self.path, title, level, minutes, objectives, steps, about, self._own) if steps else None

    # --- the head

    def _sources(self, table: Any, where: str) -> dict[str, str]:
        if not isinstance(table, Mapping):
            self._told(f"{where}: must be a table of keys and what is to be printed.")
            return {}
        own = {}
        for key, value in table.items():
            if not MARK.fullmatch(f"[{key}]"):
                self._told(f"{where}, {shown(key)}: a key is of small letters, digits and _, a letter first.")
            elif not isinstance(value, str) or not value.strip():
                self._told(f"{where}, {key}: expected a text, found {shown(value)}.")
            else:
                self._check_signs(value, f"{where}, {key}")
                own[key] = value.strip()
        return own

    def _minutes(self, table: Mapping[str, Any], where: str) -> int:
        value = table.get("minutes")
        whole = isinstance(value, int) and not isinstance(value, bool)
        if not whole or not MINUTES[0] <= int(value or 0) <= MINUTES[1]:
            found = "it is missing" if value is None else f"found {shown(value)}"
            self._told(f"{where}, minutes: expected a whole number from {MINUTES[0]} to {MINUTES[1]}, {found}.")
            return MINUTES[0]
        return int(value or 0)

    def _objectives(self, table: Mapping[str, Any], where: str) -> tuple[str, ...]:
        value = table.get("objectives")
        good = isinstance(value, list) and bool(value) and all(isinstance(v, str) and v.strip() for v in value)
        if not good or not isinstance(value, list):
            self._told(f"{where}, objectives: expected a list of texts, at least one.")
            return ()
        for text in value:
            self._check_signs(text, f"{where}, objectives")
        return tuple(v.strip() for v in value)

    # --- steps

    def _steps(self, value: Any, where: str) -> tuple[Step, ...]:
        if isinstance(value, Mapping) and value:
            self._told(f"{where}, steps: a step begins with two brackets at either side, [[steps]]; write it so.")
            return ()
        if not isinstance(value, list) or not value or not all(isinstance(v, Mapping) for v in value):
            self._told(f"{where}, steps: a lesson has at least one step, which begins with the line [[steps]].")
            return ()
        if len(value) > STEPS_MAX:
            self._told(
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
            self._told(f"{where}, id: expected small letters, digits and _, a letter first, at most 40; {found}.")
        for key in table:
            if key in READERS_OWN:
                self._told(f"{where}, {key}: is the reader's choice, not the lesson's; take it out.")
            elif key in KEYS:
                self._told(f"{where}, {key}: belongs to the view; write view.{key}.")
            elif key not in STEP_KEYS:
                self._told(unknown_word(key, STEP_KEYS, "key", where))
        fresh = table.get("fresh", False)
        if not isinstance(fresh, bool):
            self._told(f"{where}, fresh: expected true or false, found {shown(fresh)}.")
        specimen, view = (ALDER, View()) if fresh is True else before
        specimen = self._specimen(table, specimen, where)
        view = laid_over(view, table.get("view", {}), f"{where}, view", self._told)
        said = {key: self._text(table, key, where) for key in ("words", "notes", "question", "answer", "picture_says")}
        for key in ("words", "notes", "answer"):
            self._try(lambda key=key: checked_text(said[key], f"{where}, {key}", self._own))  # type: ignore[misc]
        return Step(
            id=str(name) if good else f"step_{number}",
            title=self._text(table, "title", where, needed=True, most=TITLE_MAX),
            specimen=specimen,
            view=view,
            transition=self._word(table, "transition", TRANSITIONS, where, TRANSITIONS[0]),
            picture=self._picture(table, where),
            body_map=self._nerve(table, specimen, where),
            **said,
        )

    def _specimen(self, table: Mapping[str, Any], before: Specimen, where: str) -> Specimen:
        if "specimen" not in table:
            return before
        given = table["specimen"]
        if not isinstance(given, Mapping):
            self._told(f"{where}, specimen: must be a table with the keys of a specimen file.")
            return before
        specimen = self._try(lambda: specimen_of(given, f"{where}, specimen")) or before
        self._check_signs(specimen.name, f"{where}, specimen, name")
        return specimen

    def _nerve(self, table: Mapping[str, Any], specimen: Specimen, where: str) -> str:
        name = self._text(table, "body_map", where)
        if name:
            try:
                skin_of(name, specimen)
            except FurcalError as error:
                self._told(f"{where}, body_map: {_nearer(error)}")
                return ""
        return name

    def _picture(self, table: Mapping[str, Any], where: str) -> Path | None:
        name = self._text(table, "picture", where)
        if not name:
            return None
        picture = self._try(lambda: picture_beside(self.path, name, f"{where}, picture"))
        if picture is not None and not str(table.get("picture_says", "")).strip():
            self._told(f"{where}, picture_says: say in words what is seen on {shown(name)}, for whoever cannot see it.")
        return picture

    def _check_unique(self, steps: list[Mapping[str, Any]]) -> None:
        first: dict[str, int] = {}
        for number, name in enumerate((step.get("id") for step in steps), start=1):
            if not isinstance(name, str) or not ID.fullmatch(name):
                continue  # which has been told
            if name in first:
                self._told(
                    f"{self.path}, step {number}, id: {name} is the id of step {first[name]} too; "
                    "give each step its own."
                )
            first.setdefault(name, number)

    # --- values

    def _text(
        self, table: Mapping[str, Any], key: str, where: str, needed: bool = False, most: int = SIZE_MAX_BYTES
    ) -> str:
        value = table.get(key)
        if value is None:
            if needed:
                self._told(f"{where}, {key}: is missing; write a text.")
            return ""
        if not isinstance(value, str):
            self._told(f"{where}, {key}: expected a text, found {shown(value)}.")
            return ""
        if needed and not value.strip():
            self._told(f"{where}, {key}: is empty; write a text.")
        if len(value) > most:
            self._told(f"{where}, {key}: has {len(value)} letters; {most} are the most.")
        self._check_signs(value, f"{where}, {key}")
        return value.strip()

    def _check_signs(self, text: str, where: str) -> None:
        found = CONTROL.search(text)
        if found:
            self._told(f"{where}: holds the control character {shown(found[0])}; take it out.")

    def _word(self, table: Mapping[str, Any], key: str, legal: tuple[str, ...], where: str, usual: str = "") -> str:
        value = table.get(key, usual)
        if key not in table and not usual:
            self._told(f"{where}, {key}: is missing; write one of {', '.join(legal)}.")
        elif value not in legal:
            self._told(unknown_word(value, legal, key, f"{where}, {key}"))
            return usual or legal[0]
        return str(value)

    def _try(self, work: Callable[[], T]) -> T | None:
        try:
            return work()
        except FurcalError as error:
            self._told(error)
            return None


def _nearer(error: FurcalError | str) -> FurcalError | str:
    """An unknown word that is a short form of the trade's, told with the ids that it stands for."""
    if not isinstance(error, UnknownWordError) or not isinstance(error.word, str):
        return error
    near: list[str] = []
    parts = error.word.casefold().split("_")
    for form, ids in short_names().items():
        if form.casefold() in parts:
            rest = {part for part in parts if part != form.casefold()}
            near += (name for name in error.legal if any(rest | set(i.split("_")) <= set(name.split("_")) for i in ids))
    return UnknownWordError(error.word, error.legal, error.what, error.where, sorted(near, key=len)) if near else error


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
