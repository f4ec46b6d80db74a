"""The bar over a film: how far its wires are faded in, how thick they are, what else is drawn."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QWidget

from lessons.film import LIMITS, Film
from viewer.panels.boxes import NumberBox, PlaceSlider

#: Steps of the slider from no wires to all of them.
STEPS = 100


class FilmBar(QWidget):
    """Shows a film's settings and asks for others.

    asked : (Film, name of what was changed)
    """

    asked = Signal(object, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.wires = PlaceSlider(STEPS, "Wires, faded out to faded in")
        self.gauge = NumberBox(*LIMITS["gauge_mm"], 0.1, 1, "mm", "Gauge of the wires")
        self.quarters, self.crowd = QCheckBox("&Quarters"), QCheckBox("L4 &to S1")
        self.beside = QCheckBox("Field &beside")
        self.quarters.setToolTip("The quarters of the portal's disc")
        self.crowd.setToolTip("A side film of L4 to S1 alone: which wires crowd there, by name")
        layout = QHBoxLayout(self)
        layout.setContentsMargins(8, 4, 8, 4)
        for words, widget, stretch in (("&Wires", self.wires, 1), ("&Gauge", self.gauge, 0)):
            name = QLabel(words)
            name.setBuddy(widget)
            layout.addWidget(name)
            layout.addWidget(widget, stretch)
        for box in (self.quarters, self.crowd, self.beside):
            layout.addWidget(box)
        self._film = Film()
        self.wires.valueChanged.connect(lambda v: self._ask("wires", v / STEPS))
        self.gauge.valueChanged.connect(lambda v: self._ask("gauge_mm", round(v, 2)))
        self.quarters.toggled.connect(lambda on: self._ask("quarters", on))
        self.crowd.toggled.connect(lambda on: self._ask("crowd", on))
        self.beside.toggled.connect(lambda on: self._ask("beside", on))

    def show_film(self, film: Film) -> None:
        """Follow a film, without asking for it."""
        self._film = film
        widgets = (self.wires, self.gauge, self.quarters, self.crowd, self.beside)
        for widget in widgets:
            widget.blockSignals(True)
        self.wires.setValue(round(film.wires * STEPS))
        self.gauge.setValue(film.gauge_mm)
        self.quarters.setChecked(film.quarters)
        self.crowd.setChecked(film.crowd)
        self.beside.setChecked(film.beside)
        for widget in widgets:
            widget.blockSignals(False)

    def _ask(self, name: str, value: object) -> None:
        self._film = replace(self._film, **{name: value})  # type: ignore[arg-type]
        self.asked.emit(self._film, name)
