"""Doings with files and the clipboard."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication, QFileDialog

from lessons.scenefile import SceneFile, read_either, read_scene, write_scene
from lessons.script import is_lesson
from meshes.errors import FurcalError
from meshes.specimen import Specimen, load
from meshes.structures import level_key
from viewer.cameras import free_camera
from viewer.doing.specimens import Specimens


class Files(Specimens):
    """Scene and specimen files, pictures."""

    def open_specimen(self) -> None:
        """Ask for a specimen file and use it."""
        path, _ = QFileDialog.getOpenFileName(self, "Open specimen", "", "Specimen (*.toml)")
        if path:
            self._show_file(Path(path), load(Path(path)))

    def open_scene(self) -> None:
        """Ask for a scene file and show it."""
        path, _ = QFileDialog.getOpenFileName(self, "Open scene", "", "Scene (*.toml)")
        if path:
            self._show_file(Path(path), read_scene(Path(path)))

    def open_recent(self, path: Path) -> None:
        """A scene, a specimen or a lesson, told apart by what is in it."""
        if is_lesson(path):
            self.open_lesson(path)
        else:
            self._show_file(path, read_either(path))

    def open_lesson(self, path: Path, index: int = 0) -> None:
        """Read a lesson and begin it at a step, from 0."""
        raise NotImplementedError

    def save_scene(self) -> None:
        """Write who lies on the table and what is seen as a small file."""
        view = self.session.view
        words = [self.session.specimen.name, *([level_key(view.portal.level)] if view.portal else [])]
        name = re.sub(r"[^\w]+", "-", " ".join(words).replace("_", "-").lower()).strip("-") or "scene"
        chosen, _ = QFileDialog.getSaveFileName(self, "Save scene", f"{name}.toml", "Scene (*.toml)")
        if not chosen:
            return
        path = whole_name(chosen, ".toml")
        write_scene(path, self.session.specimen, view)
        self.settings.add_recent(path)
        self.statusBar().showMessage(f"{path}: written.", 8000)

    def _show_file(self, path: Path, found: SceneFile | Specimen) -> None:
        if isinstance(found, SceneFile):
            self.session.open_scene(found.specimen, found.view, f"{path}, [view]")
            self.tell("")
        else:
            self.use_specimen(found)
        self.settings.add_recent(path)

    def save_picture(self) -> None:
        """Write what is seen as a PNG."""
        chosen, _ = QFileDialog.getSaveFileName(self, "Save picture", "furcal.png", "Picture (*.png)")
        if chosen:
            self.write_picture(whole_name(chosen, ".png"))

    def write_picture(self, path: Path) -> None:
        """Write what is seen as a PNG, 1920 x 1080."""
        from viewer.picture import save_picture

        body = self._body()
        view = self.session.view
        if self.places.field.eye is not None and view.camera.name == "free":
            view = replace(view, camera=free_camera(self.places.field.eye))
        save_picture(body, view, path, docking=self.session.docking)
        self.statusBar().showMessage(f"{path}: written.", 8000)

    def copy_picture(self) -> None:
        """The field or the film as it is seen, onto the clipboard."""
        QApplication.clipboard().setPixmap(self.places.pictures.grab())
        self.statusBar().showMessage("Picture copied.", 4000)


def whole_name(chosen: str, suffix: str) -> Path:
    """The file chosen, with its ending. Raises FurcalError for one that is there and was not asked about."""
    path = Path(chosen if Path(chosen).suffix else f"{chosen}{suffix}")
    if str(path) != chosen and path.exists():  # the dialog asked about another name
        raise FurcalError(f"{path}: is there already; choose it by its whole name to replace it.")
    return path


def dropped(event: QDropEvent) -> Path | None:
    """The TOML file that an event carries, if it is one."""
    paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
    return paths[0] if len(paths) == 1 and paths[0].suffix.lower() == ".toml" else None
