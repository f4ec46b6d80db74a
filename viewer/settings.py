"""What the window keeps from one time to the next: its place, its theme and the last view."""

from __future__ import annotations

import json
import os
from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings
from PySide6.QtWidgets import QMainWindow

from lessons.view import THEMES, View, as_table, from_table
from meshes.errors import FurcalError

FILE = "window.ini"


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

    def theme(self, otherwise: str) -> str:
        """The theme of the last time."""
        kept = self._kept.value("theme", otherwise)
        return str(kept) if kept in THEMES else otherwise

    def view(self) -> View | None:
        """The last view, or None where there is none that can be used."""
        text = self._kept.value("view", "")
        try:
            return from_table(json.loads(str(text))) if text else None
        except (FurcalError, ValueError, TypeError):
            return None

    def animated(self) -> bool:
        """Whether changes of view are animated."""
        return str(self._kept.value("animated", "true")).lower() == "true"

    def place(self, window: QMainWindow) -> bool:
        """Put the window where it was; False when that is not known."""
        kept = self._kept.value("geometry")
        return isinstance(kept, QByteArray) and window.restoreGeometry(kept)

    def keep(self, window: QMainWindow, view: View, animated: bool) -> None:
        """Write down what to restore."""
        self._kept.setValue("geometry", window.saveGeometry())
        self._kept.setValue("theme", view.theme)
        self._kept.setValue("view", json.dumps(as_table(view)))
        self._kept.setValue("animated", "true" if animated else "false")
        self._kept.sync()
