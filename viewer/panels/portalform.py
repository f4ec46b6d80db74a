"""Where the portal stands: level, side, approach, position, radius, depth and tilts."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QCheckBox, QFormLayout, QHBoxLayout, QLabel, QSlider, QWidget

from lessons.view import Placement
from meshes.structures import APPROACHES, LEVELS, SIDES
from meshes.tolerances import PORTAL_DEPTH_MAX_MM, PORTAL_RADIUS_MAX_MM, PORTAL_TILT_MAX_DEG
from viewer.panels.boxes import NumberBox, WordBox

APPROACH_WORDS = {
    "lateral": "lateral, through psoas",
    "oblique": "oblique, in front of psoas",
    "anterior": "anterior, from the front",
    "posterolateral": "posterolateral, to the foramen",
}
#: What the two ends of `at` are, by approach.
AT_WORDS = {
    "lateral": "0 back, 1 front",
    "oblique": "0 back, 1 front",
    "anterior": "0 left, 1 right",
    "posterolateral": "0 foramen, 1 midline",
}


class PortalForm(QWidget):
    """Asks for a portal; says so whenever a value is changed by hand.

    placed : a Placement, or None when the portal is taken away
    """

    placed = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.docked = QCheckBox("Portal docked")
        self.level = WordBox({level: level for level in LEVELS}, "Level")
        self.side = WordBox({side: side for side in SIDES}, "Side")
        self.approach = WordBox({a: APPROACH_WORDS[a] for a in APPROACHES}, "Approach")
        self.at = NumberBox(0.0, 1.0, 0.05, 2, "", "Position on the disc")
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(0, 100)
        self.slider.setAccessibleName("Position on the disc, in hundredths")
        self.radius_mm = NumberBox(1.0, PORTAL_RADIUS_MAX_MM, 1.0, 1, "mm", "Radius")
        self.depth_mm = NumberBox(0.0, PORTAL_DEPTH_MAX_MM, 1.0, 1, "mm", "Depth past the disc's border")
        tilt = PORTAL_TILT_MAX_DEG
        self.cranial = NumberBox(-tilt, tilt, 1.0, 1, "°", "Tilt of the outer end to the head")
        self.anterior = NumberBox(-tilt, tilt, 1.0, 1, "°", "Tilt of the outer end to the front")
        self._numbers = {
            "at": self.at, "radius_mm": self.radius_mm, "depth_mm": self.depth_mm,
            "cranial_deg": self.cranial, "anterior_deg": self.anterior,
        }  # fmt: skip
        self._lay_out()
        self.show_placement(None)
        self._connect()

    @property
    def placement(self) -> Placement:
        """What the boxes say."""
        numbers = {name: box.value() for name, box in self._numbers.items()}
        return Placement(self.level.word, self.side.word, self.approach.word, **numbers)

    def show_placement(self, where: Placement | None) -> None:
        """Follow a portal; without one the boxes keep what they say and rest."""
        with QSignalBlocker(self.docked):
            self.docked.setChecked(where is not None)
        shown = where or (self.placement if hasattr(self, "_shown") else Placement())
        self._shown = shown
        self.level.choose(shown.level)
        self.side.choose(shown.side)
        self.approach.choose(shown.approach)
        for name, box in self._numbers.items():
            with QSignalBlocker(box):
                if abs(box.value() - getattr(shown, name)) > 0.5 * 10.0 ** -box.decimals():
                    box.setValue(getattr(shown, name))
        with QSignalBlocker(self.slider):
            self.slider.setValue(round(100 * shown.at))
        self._at_label.setText(f"At ({AT_WORDS[shown.approach]})")

    def _lay_out(self) -> None:
        form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        form.setVerticalSpacing(4)
        form.setLabelAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        where = _row(self.level, self.side)
        form.addRow(self.docked)
        form.addRow("&Level, side", where)
        form.addRow("A&pproach", self.approach)
        self._at_label = QLabel()
        self._at_label.setBuddy(self.at)
        form.addRow(self._at_label, _row(self.slider, self.at))
        form.addRow("&Radius, depth", _row(self.radius_mm, self.depth_mm))
        form.addRow("&Tilt: head, front", _row(self.cranial, self.anterior))

    def _connect(self) -> None:
        self.docked.toggled.connect(self._ask)
        for box in (self.level, self.side, self.approach):
            box.currentIndexChanged.connect(self._ask_docked)
        for number in self._numbers.values():
            number.valueChanged.connect(self._ask_docked)
        self.slider.valueChanged.connect(lambda value: self.at.setValue(value / 100.0))

    def _ask_docked(self) -> None:
        with QSignalBlocker(self.docked):
            self.docked.setChecked(True)
        self._ask()

    def _ask(self) -> None:
        self.placed.emit(self.placement if self.docked.isChecked() else None)


def _row(*widgets: QWidget) -> QWidget:
    """Widgets side by side."""
    row = QWidget()
    layout = QHBoxLayout(row)
    layout.setContentsMargins(0, 0, 0, 0)
    for widget in widgets:
        layout.addWidget(widget, 1)
    return row
