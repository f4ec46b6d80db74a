"""The card of a structure: its names, its roots, its course in prose with sources, and what is near a point of it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.card import Card
from meshes.places import Place, place_at
from viewer.panels.boxes import PlaceSlider
from viewer.panels.waystrip import WayStrip

STEPS = 500
NOTHING = "Nothing picked. Click a structure in the field, or find one by its name with Ctrl+F."
ID = Qt.ItemDataRole.UserRole


class StructureCard(QWidget):
    """Shows one structure; knows nothing of the body.

    follow_asked : carry the eye along its way;   cross_asked : what crosses at the point;   closed : end the trace
    moved        : share of its length at which the point is to stand;   chosen : id of another structure to pick
    """

    follow_asked = Signal()
    cross_asked = Signal()
    closed = Signal()
    moved = Signal(float)
    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.title, self.latin, self.facts, self.course = (_label() for _ in range(4))
        face = self.title.font()
        face.setBold(True)
        face.setPointSizeF(face.pointSizeF() * 1.15)
        self.title.setFont(face)
        italic = self.latin.font()
        italic.setItalic(True)
        self.latin.setFont(italic)
        self.follow, self.cross, self.close_ = (
            QPushButton("Trace"),
            QPushButton("What crosses here?"),
            QPushButton("End"),
        )
        self.follow.setToolTip("Carry the eye along its way, from its root to its end; again stops it (Return)")
        self.cross.setToolTip("List everything within 10 mm of the point, and the next nerves and vessels (C)")
        self.close_.setToolTip("End the trace (Esc)")
        self.place = PlaceSlider(STEPS, "Place of the point along its way")
        self.way, self.place_words = WayStrip(), _label()
        self.near_title, self.near = _label(), QListWidget()
        self.near.setAccessibleName("Round the point, the nearest first")
        self.branches_title, self.branches = _label(), QListWidget()
        self.branches.setAccessibleName("Branches, and what it goes on as")
        self.sources_button = QToolButton()
        self.sources_button.setCheckable(True)
        self.sources_button.setText("Sources")
        self.sources_button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.sources_button.setArrowType(Qt.ArrowType.RightArrow)
        self.sources = _label()
        self._lay_out()
        self._connect()
        self._id = ""
        self.show_card(None)

    # --- what it shows

    def show_card(self, card: Card | None, structure_id: str = "", named: dict[str, str] | None = None) -> None:
        """Another structure, or none. `named`: id -> name of each branch."""
        same, self._id = structure_id == self._id, structure_id
        for widget in self._parts:
            widget.setVisible(card is not None)
        self.title.setText(card.title if card is not None else NOTHING)
        if card is None:
            return
        self.latin.setText(card.latin)
        self.facts.setText("\n".join(card.facts))
        self.course.setText(card.course)
        self.course.setVisible(bool(card.course))
        self.sources.setText("\n\n".join(card.sources))
        self.sources_button.setVisible(bool(card.sources))
        self.sources.setVisible(self.sources_button.isChecked() and bool(card.sources))
        if not same:
            _fill(self.branches, [(named or {}).get(i, i) for i in card.branches], card.branches)
        self.branches.setVisible(bool(card.branches))
        self.branches_title.setVisible(bool(card.branches))

    def show_place(self, share: float | None, length_mm: float, places: tuple[Place, ...] = ()) -> None:
        """Where the point stands along its way; None where it has none. `places`: those of a nerve, in order."""
        has_way = share is not None
        self.place.setVisible(has_way)
        self.place_words.setVisible(has_way)
        self.follow.setVisible(has_way)
        self.way.setVisible(bool(places))
        self.way.show_places(places)
        if share is not None:
            with QSignalBlocker(self.place):
                self.place.setValue(round(share * STEPS))
            words = f"Point at {share * length_mm:.0f} mm of {length_mm:.0f} mm"
            within = place_at(places, share * length_mm).site.within if places else ""
            self.place_words.setText(f"{words}, {within}." if within else f"{words} of its way.")

    def show_near(self, rows: Sequence[str] | None, ids: Sequence[str]) -> None:
        """What lies near the point; None while that has not been asked."""
        asked = rows is not None
        self.near.setVisible(bool(rows))
        self.near_title.setVisible(asked)
        self.near_title.setText("<b>Round the point, the nearest first</b>" if rows else "Nothing else near the point.")
        _fill(self.near, rows or [], ids)

    # --- inside

    def _lay_out(self) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(6)
        buttons = QHBoxLayout()
        for button in (self.follow, self.cross, self.close_):
            buttons.addWidget(button)
        buttons.addStretch(1)
        for label in (self.title, self.latin, self.facts):
            layout.addWidget(label)
        layout.addLayout(buttons)
        layout.addWidget(self.way)
        layout.addWidget(self.place)
        layout.addWidget(self.place_words)
        layout.addWidget(self.near_title)
        layout.addWidget(self.near)
        layout.addWidget(self.course)
        self.branches_title.setText("<b>Branches, and what it goes on as</b>")
        layout.addWidget(self.branches_title)
        layout.addWidget(self.branches)
        layout.addWidget(self.sources_button)
        layout.addWidget(self.sources)
        layout.addStretch(1)
        self._parts = (
            self.latin, self.facts, self.follow, self.cross, self.close_, self.way, self.place, self.place_words,
            self.near_title, self.near, self.course, self.branches_title, self.branches, self.sources_button,
            self.sources,
        )  # fmt: skip
        for words in (self.near, self.branches):
            words.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            words.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def _connect(self) -> None:
        self.follow.clicked.connect(self.follow_asked)
        self.cross.clicked.connect(self.cross_asked)
        self.close_.clicked.connect(self.closed)
        self.way.chosen.connect(lambda share: self.place.setValue(round(share * STEPS)))
        self.place.valueChanged.connect(lambda value: self.moved.emit(value / STEPS))
        self.sources_button.toggled.connect(self._show_sources)
        for words in (self.near, self.branches):
            words.itemActivated.connect(lambda item: self.chosen.emit(item.data(ID)))
            words.itemClicked.connect(lambda item: self.chosen.emit(item.data(ID)))

    def _show_sources(self, shown: bool) -> None:
        self.sources_button.setArrowType(Qt.ArrowType.DownArrow if shown else Qt.ArrowType.RightArrow)
        self.sources.setVisible(shown and bool(self.sources.text()))


def _fill(words: QListWidget, rows: Sequence[str], ids: Sequence[str]) -> None:
    words.clear()
    for row, name in zip(rows, ids, strict=True):
        item = QListWidgetItem(row)
        item.setData(ID, name)
        item.setToolTip(row)
        words.addItem(item)
    words.setFixedHeight(sum(words.sizeHintForRow(i) for i in range(len(rows))) + 6)


def _label() -> QLabel:
    label = QLabel()
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label
