"""Reads a text file of ours to the end, whatever is wrong in it: what lessons and items have in common."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from lessons.filehead import check_small
from lessons.find import short_names
from lessons.prose import MARK
from lessons.scenefile import SIZE_MAX_BYTES, specimen_of
from meshes.errors import FurcalError, UnknownWordError, shown, unknown_word
from meshes.specimen import Specimen
from meshes.tables import read_text

T = TypeVar("T")
#: What no page and no slide can hold, and what a terminal takes for a command; tabs and ends of lines are none of it.
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


class Reading:
    """One file being read.

    problems : what is wrong so far, a sentence each
    own      : the file's own sources, key -> what is to be printed
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.problems: list[str] = []
        self.own: dict[str, str] = {}

    def told(self, error: FurcalError | str) -> None:
        """Note what is wrong."""
        self.problems.append(str(nearer(error)))

    def sources(self, table: Any, where: str) -> dict[str, str]:
        """The file's own sources: key -> what is to be printed."""
        if not isinstance(table, Mapping):
            self.told(f"{where}: must be a table of keys and what is to be printed.")
            return {}
        own = {}
        for key, value in table.items():
            if not MARK.fullmatch(f"[{key}]"):
                self.told(f"{where}, {shown(key)}: a key is of small letters, digits and _, a letter first.")
            elif not isinstance(value, str) or not value.strip():
                self.told(f"{where}, {key}: expected a text, found {shown(value)}.")
            else:
                self.check_signs(value, f"{where}, {key}")
                own[key] = value.strip()
        return own

    def specimen(self, table: Mapping[str, Any], before: Specimen, where: str) -> Specimen:
        """The specimen that a table gives, or the one before."""
        if "specimen" not in table:
            return before
        given = table["specimen"]
        if not isinstance(given, Mapping):
            self.told(f"{where}, specimen: must be a table with the keys of a specimen file.")
            return before
        specimen = self.attempt(lambda: specimen_of(given, f"{where}, specimen")) or before
        self.check_signs(specimen.name, f"{where}, specimen, name")
        return specimen

    def text(
        self, table: Mapping[str, Any], key: str, where: str, needed: bool = False, most: int = SIZE_MAX_BYTES
    ) -> str:
        """A text of a table, without white space at its ends; empty where there is none."""
        value = table.get(key)
        if value is None:
            if needed:
                self.told(f"{where}, {key}: is missing; write a text.")
            return ""
        if not isinstance(value, str):
            self.told(f"{where}, {key}: expected a text, found {shown(value)}.")
            return ""
        if needed and not value.strip():
            self.told(f"{where}, {key}: is empty; write a text.")
        if len(value) > most:
            self.told(f"{where}, {key}: has {len(value)} letters; {most} are the most.")
        self.check_signs(value, f"{where}, {key}")
        return value.strip()

    def check_signs(self, text: str, where: str) -> None:
        """Note a control character."""
        found = CONTROL.search(text)
        if found:
            self.told(f"{where}: holds the control character {shown(found[0])}; take it out.")

    def word(self, table: Mapping[str, Any], key: str, legal: tuple[str, ...], where: str, usual: str = "") -> str:
        """A word of a table that must be one of a few."""
        value = table.get(key, usual)
        if key not in table and not usual:
            self.told(f"{where}, {key}: is missing; write one of {', '.join(legal)}.")
        elif value not in legal:
            self.told(unknown_word(value, legal, key, f"{where}, {key}"))
            return usual or legal[0]
        return str(value)

    def attempt(self, work: Callable[[], T]) -> T | None:
        """The result of some work, or None where it raised an error, which is noted."""
        try:
            return work()
        except FurcalError as error:
            self.told(error)
            return None


def text_of(path: Path) -> str:
    """The text of such a file. Raises FurcalError for one that cannot be read, and for one too large to be one."""
    check_small(path, SIZE_MAX_BYTES, "lesson and no bank")
    try:
        return path.read_bytes().decode("utf-8")  # ends of lines as they are: an edit keeps them
    except (OSError, UnicodeDecodeError):
        return read_text(path)  # which says why it cannot be read


def nearer(error: FurcalError | str) -> FurcalError | str:
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
