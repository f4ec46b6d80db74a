"""Where the portal stands: level, side, approach, position, radius, depth and tilts."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QCheckBox, QLabel, QToolBar, QWidget

from lessons.view import Placement
from meshes.structures import APPROACHES, LEVELS, SIDES
from meshes.tolerances import PORTAL_DEPTH_MAX_MM, PORTAL_RADIUS_MAX_MM, PORTAL_TILT_MAX_DEG
from viewer.panels.boxes import NumberBox, PlaceSlider, WordBox
from viewer.panels.face import runs_right
from viewer.panels.rows import Rows

#: What the two ends of `at` are, by approach.
ENDS = {
    "lateral": ("back", "front"),
    "oblique": ("back", "front"),
    "anterior": ("left", "right"),
    "posterolateral": ("foramen", "midline"),
}


class PortalForm(QToolBar):
    """Asks for a portal; says so whenever a value is changed by hand.

    placed : a Placement, or None when the portal is taken away
    """

    placed = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Portal", parent)
        self.setMovable(False)
        self.docked = QCheckBox("Portal")
        self.level = WordBox({level: level for level in LEVELS}, "Level")
        self.side = WordBox({side: side for side in SIDES}, "Side")
        self.approach = WordBox({a: a for a in APPROACHES}, "Approach")
        self.at = NumberBox(0.0, 1.0, 0.05, 2, "", "Position on the disc")
        self.slider = PlaceSlider(100, "Position on the disc, in hundredths")
        self.radius_mm = NumberBox(1.0, PORTAL_RADIUS_MAX_MM, 1.0, 1, "mm", "Radius")
        self.depth_mm = NumberBox(0.0, PORTAL_DEPTH_MAX_MM, 1.0, 1, "mm", "Depth past the disc's border")
        tilt = PORTAL_TILT_MAX_DEG
        self.cranial_deg = NumberBox(-tilt, tilt, 1.0, 1, "°", "Tilt of the outer end to the head")
        self.anterior_deg = NumberBox(-tilt, tilt, 1.0, 1, "°", "Tilt of the outer end to the front")
        self._numbers = {
            "at": self.at, "radius_mm": self.radius_mm, "depth_mm": self.depth_mm,
            "cranial_deg": self.cranial_deg, "anterior_deg": self.anterior_deg,
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
        # The slider runs as the disc face does, and the face is seen from outside.
        forwards = runs_right(shown.approach, shown.side)
        self.slider.setInvertedAppearance(not forwards)
        ends = ENDS[shown.approach][:: 1 if forwards else -1]
        for label, end in zip(self._end_labels, ends, strict=True):
            label.setText(end)

    def hold(self, held: bool) -> None:
        """Keep the portal docked at its disc, on its side, by its approach; only how it stands there can be changed."""
        for box in (self.docked, self.level, self.side, self.approach):
            box.setEnabled(not held)

    def _lay_out(self) -> None:
        self._end_labels = QLabel(), QLabel()
        for label in self._end_labels:
            # As wide as the widest, so that nothing moves when the approach changes.
            words = (word for ends in ENDS.values() for word in ends)
            label.setMinimumWidth(max(label.fontMetrics().horizontalAdvance(word) for word in words))
        self._end_labels[0].setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.slider.setFixedWidth(84)
        self.rows = Rows()
        self.rows.add(self.docked)
        for name, *boxes in (
            ("&Level", self.level, self.side, self.approach),
            ("&At", self.at, self._end_labels[0], self.slider, self._end_labels[1]),
            ("&Radius", self.radius_mm),
            ("Past dis&c", self.depth_mm),
            ("T&ilt to head", self.cranial_deg),
            ("to fr&ont", self.anterior_deg),
        ):
            label = QLabel(name)
            label.setBuddy(boxes[0])
            self.rows.add(label, *boxes)
        self.addWidget(self.rows)

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
