"""The single structures of a layer: each shown, glassy or hidden."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QDialog,
    QGridLayout,
    QLabel,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from lessons.readout import named
from lessons.view import STATES, View
from meshes.structures import Structure
from viewer.panels.focusframe import FocusFrame

STATE_WORDS = {"on": "shown", "glassy": "glassy", "off": "hidden"}


class PartsDialog(QDialog):
    """A row a structure, three choices a row.

    state_asked : (id, state)
    """

    state_asked = Signal(str, str)

    def __init__(self, title: str, structures: Sequence[Structure], view: View, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        inner = QWidget()
        grid = QGridLayout(inner)
        grid.setVerticalSpacing(2)
        self._groups: dict[str, QButtonGroup] = {}
        for row, structure in enumerate(structures):
            self._add_row(grid, row, structure, view)
        if not structures:
            grid.addWidget(QLabel("This layer has no single structures: it is the space between its neighbours."), 0, 0)
        grid.setRowStretch(len(structures), 1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(inner)
        layout = QVBoxLayout(self)
        layout.addWidget(scroll)
        FocusFrame(self)
        wide = inner.sizeHint()
        self.resize(min(wide.width() + 60, 640), min(wide.height() + 50, 460))

    def button(self, structure_id: str, state: str) -> QRadioButton:
        """The button of one choice."""
        button = self._groups[structure_id].button(STATES.index(state))
        assert isinstance(button, QRadioButton)
        return button

    def show_view(self, view: View, structures: Sequence[Structure]) -> None:
        """Follow a view."""
        for structure in structures:
            if structure.id in self._groups:
                self.button(structure.id, view.own_state(structure)).setChecked(True)

    def _add_row(self, grid: QGridLayout, row: int, structure: Structure, view: View) -> None:
        grid.addWidget(QLabel(named(structure)), row, 0)
        group = QButtonGroup(self)
        for column, state in enumerate(STATES):
            button = QRadioButton(STATE_WORDS[state])
            button.setAccessibleName(f"{named(structure)}: {STATE_WORDS[state]}")
            button.setChecked(state == view.own_state(structure))
            button.clicked.connect(lambda _=False, i=structure.id, s=state: self.state_asked.emit(i, s))
            group.addButton(button, column)
            grid.addWidget(button, row, column + 1)
        self._groups[structure.id] = group
