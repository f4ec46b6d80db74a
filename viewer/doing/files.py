"""Doings with files and the clipboard."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QApplication, QFileDialog

from meshes.specimen import load
from viewer.cameras import free_camera
from viewer.doing.specimens import Specimens


class Files(Specimens):
    """Specimen files, pictures."""

    def open_specimen(self) -> None:
        """Ask for a specimen file and use it."""
        path, _ = QFileDialog.getOpenFileName(self, "Open specimen", "", "Specimen (*.toml)")
        if path:
            self.use_specimen(load(Path(path)))

    def save_picture(self) -> None:
        """Write what is seen as a PNG."""
        path, _ = QFileDialog.getSaveFileName(self, "Save picture", "furcal.png", "Picture (*.png)")
        if path:
            self.write_picture(Path(path if Path(path).suffix else f"{path}.png"))

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
        """The field as it is seen, onto the clipboard."""
        QApplication.clipboard().setPixmap(self.places.field.grab())
        self.statusBar().showMessage("Picture copied.", 4000)
