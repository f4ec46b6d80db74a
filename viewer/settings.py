"""What the window keeps from one time to the next: its place, the last scene, recent files and its switches."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QSettings
from PySide6.QtWidgets import QMainWindow

from lessons.scenefile import specimen_of, specimen_table
from lessons.view import THEMES, View, as_table, from_table
from meshes.errors import FurcalError
from meshes.specimen import Specimen

FILE = "window.ini"
RECENT_MAX = 8
#: Switch -> how it stands the first time.
SWITCHES = {"animated": True, "turn_steps": False, "snap": False}


def settings_folder() -> Path:
    """The user's folder for settings; FURCAL_SETTINGS names another one."""
    named = os.environ.get("FURCAL_SETTINGS")
    if named:
        return Path(named)
    from platformdirs import user_config_path

    return user_config_path("furcal", appauthor=False)


class Settings:
    """Reads and writes one small file; a broken or unwritable one is done without."""

    def __init__(self, folder: Path) -> None:
        self._kept = QSettings(str(folder / FILE), QSettings.Format.IniFormat)

    @property
    def is_new(self) -> bool:
        """Whether nothing was ever kept."""
        return not self._kept.allKeys()

    # --- the last scene

    def theme(self, otherwise: str) -> str:
        """The theme of the last time."""
        kept = self._kept.value("theme", otherwise)
        return str(kept) if kept in THEMES else otherwise

    def view(self) -> View | None:
        """The last view, or None where there is none that can be used."""
        table = self._words("view")
        try:
            return None if table is None else from_table(table)
        except FurcalError:
            return None

    def specimen(self) -> Specimen | None:
        """The last specimen, or None where there is none that can be used."""
        table = self._words("specimen")
        try:
            return specimen_of(table, FILE) if isinstance(table, dict) else None
        except FurcalError:
            return None

    def keep_scene(self, specimen: Specimen, view: View) -> None:
        """Write down the scene, if it is another than was written last. What is traced is not kept."""
        table = {key: value for key, value in as_table(view).items() if key != "highlighted"}
        for key, value in (("specimen", specimen_table(specimen)), ("view", table)):
            self._keep(key, json.dumps(value))
        self._keep("theme", view.theme)
        self._kept.sync()

    # --- the last lesson

    def lesson(self) -> tuple[Path | None, int]:
        """The lesson of the last time, if its file is still there, and the step, from 0."""
        kept = self._words("lesson")
        if not isinstance(kept, dict) or not isinstance(kept.get("path"), str) or not isinstance(kept.get("step"), int):
            return None, 0
        path = Path(kept["path"])
        return (path, kept["step"]) if path.is_file() else (None, 0)

    def keep_lesson(self, path: Path, step: int) -> None:
        """Write down which lesson is given, and where it stands."""
        self._keep("lesson", json.dumps({"path": str(path.absolute()), "step": step}))
        self._kept.sync()

    # --- the last bank of items

    def banks(self) -> tuple[Path, ...]:
        """The files of the learner's own banks that were used last, if all of them are still there."""
        kept = self._words("banks")
        paths = tuple(Path(text) for text in kept if isinstance(text, str)) if isinstance(kept, list) else ()
        return paths if all(path.is_file() for path in paths) else ()

    def keep_banks(self, paths: Iterable[Path]) -> None:
        """Write down which banks are used."""
        self._keep("banks", json.dumps([str(path.absolute()) for path in paths]))
        self._kept.sync()

    # --- words

    def words_larger(self, usual: float) -> float:
        """How large the words of a lesson are, times the window's text."""
        kept = self._words("words_larger")
        return float(kept) if isinstance(kept, int | float) and 0.5 <= kept <= 5.0 else usual

    def keep_words_larger(self, factor: float) -> None:
        """Write it down."""
        self._keep("words_larger", json.dumps(round(factor, 3)))
        self._kept.sync()

    # --- files, switches, the window's place

    def recent(self) -> list[Path]:
        """Scene, specimen and lesson files that were opened or saved and are still there, the last one first."""
        return [path for path in self._recent() if path.is_file()]

    def add_recent(self, path: Path) -> None:
        """Put a file at the head of the recent ones."""
        first = path.absolute()
        paths = [first, *(p for p in self._recent() if p != first)]
        self._keep("recent", json.dumps([str(p) for p in paths[:RECENT_MAX]]))
        self._kept.sync()

    def switch(self, name: str) -> bool:
        """How one of SWITCHES stands."""
        kept = str(self._kept.value(name, "")).lower()
        return kept == "true" if kept in ("true", "false") else SWITCHES[name]

    def keep_switch(self, name: str, on: bool) -> None:
        """Write down how one of SWITCHES stands."""
        self._keep(name, "true" if on else "false")
        self._kept.sync()

    def place(self, window: QMainWindow) -> bool:
        """Put the window where it was; False when that is not known."""
        kept = self._kept.value("geometry")
        return isinstance(kept, QByteArray) and window.restoreGeometry(kept)

    def keep_place(self, window: QMainWindow) -> None:
        """Write down where the window is."""
        self._kept.setValue("geometry", window.saveGeometry())
        self._kept.sync()

    # --- inside

    def _recent(self) -> list[Path]:
        kept = self._words("recent")
        return [Path(text) for text in kept if isinstance(text, str)] if isinstance(kept, list) else []

    def _words(self, key: str) -> Any:
        """What is kept under a key as JSON, or None."""
        text = self._kept.value(key, "")
        try:
            return json.loads(str(text)) if text else None
        except (ValueError, RecursionError):
            return None

    def _keep(self, key: str, text: str) -> None:
        if self._kept.value(key) != text:  # an equal value would still make Qt write the file anew
            self._kept.setValue(key, text)
