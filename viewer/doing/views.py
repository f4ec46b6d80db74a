"""Doings with what is seen and from where."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog

from viewer.actions import ACTIONS, plain
from viewer.cameras import Eye, free_camera
from viewer.doing.base import Base
from viewer.panels.dialogs import about, first_steps, key_list
from viewer.panels.finder import Finder, Row, at_word_starts

#: Free turning makes some learners lose their way; steps keep them near the views they know.
TURN_STEP_DEG = 15.0
#: Why an action cannot be taken now, by its name.
WHY_NOT = {
    "undo": "nothing to undo",
    "redo": "nothing to redo",
    "see_from portal": "no portal docked",
    "end_trace": "nothing is traced",
    "follow": "nothing is picked",
    "cross": "nothing is picked",
    "measure": "nothing is picked",
    "end_measure": "nothing is measured",
}


class Views(Base):
    """Named views, labels, colours, theme, undo and help."""

    def see_from(self, name: str) -> None:
        """A named view."""
        self.session.change(self.session.view.seen_from(name))

    def _eye_moved(self, eye: Eye, key: str) -> None:
        key = key if key.startswith("drag") else self._gesture(key)
        self.session.change(replace(self.session.view, camera=free_camera(eye)), key)

    def toggle_labels(self) -> None:
        """Labels on or off; put on, all that there is room for."""
        view = self.session.view
        self.session.change(replace(view, labels=not view.labels, named=frozenset()))

    def toggle_perspective(self) -> None:
        """Perspective or parallel."""
        camera = self.session.view.camera
        self.session.change(replace(self.session.view, camera=replace(camera, parallel=not camera.parallel)))

    def toggle_latin(self) -> None:
        """Names in Latin or in English."""
        language = "english" if self.session.view.language == "latin" else "latin"
        self.session.change(replace(self.session.view, language=language))

    def toggle_steps(self) -> None:
        """Turn in steps, or freely."""
        field = self.places.field
        field.turn_step_deg = 0.0 if field.turn_step_deg else TURN_STEP_DEG
        self.refresh()

    def colour_nerves(self, colouring: str) -> None:
        """How nerves are coloured."""
        self.session.change(replace(self.session.view, colouring=colouring))

    def toggle_dark(self) -> None:
        """Dark or light."""
        theme = "light" if self.session.view.theme == "dark" else "dark"
        self.session.change(replace(self.session.view, theme=theme))

    def toggle_animated(self) -> None:
        """Fly to a new view, or be there at once."""
        self.places.field.animated = not self.places.field.animated
        self.refresh()

    def toggle_whole_screen(self) -> None:
        """The whole screen, or a window."""
        self.setWindowState(self.windowState() ^ Qt.WindowState.WindowFullScreen)

    def undo(self) -> None:
        """Back one step."""
        self.statusBar().clearMessage()
        self.session.undo()

    def redo(self) -> None:
        """Forth one step."""
        self.session.redo()

    def show_commands(self) -> None:
        """Everything that can be done, found by typing."""
        rows = [self._command_row(name) for name in self.actions_by_name if name != "show_commands"]
        finder = Finder("Do...", "What is to be done", rows, at_word_starts(rows), self)
        finder.taken.connect(lambda name: self.actions_by_name[name].trigger())
        finder.open()

    def _command_row(self, name: str) -> Row:
        row = next(action for action in ACTIONS if action.name == name)
        action = self.actions_by_name[name]
        keys = ", ".join(row.keys[:1])
        if action.isChecked():
            keys = f"on, {keys}" if keys else "on"
        hint = keys if action.isEnabled() else self.why_not(name)
        says = plain(row.says)
        short = f"{row.bar}: " if row.bar.lower() not in says.lower() else ""
        return Row(f"{short}{says}", hint, name, action.isEnabled(), plain(row.menu))

    def why_not(self, name: str) -> str:
        """Why an action cannot be taken now."""
        return WHY_NOT.get(name, "")

    def show_keys(self) -> None:
        """All keys on one sheet."""
        _to_the_front(key_list(self))

    def show_first_steps(self) -> None:
        """What to try first."""
        _to_the_front(first_steps(self))

    def show_about(self) -> None:
        """What this is, and what it is not for."""
        _to_the_front(about(self))


def _to_the_front(dialog: QDialog) -> None:
    """Show a sheet beside the window, with the keyboard in it so that it can be scrolled and closed at once."""
    dialog.show()
    dialog.activateWindow()
