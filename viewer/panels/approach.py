"""The approach, layer by layer: what the portal crosses, what is near there, and what the books say of it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PySide6.QtCore import QItemSelectionModel, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from lessons.leaves import Leaf, Leaves
from lessons.walktext import Line
from viewer.panels.folded import Folded, label

NOTHING = "No portal is docked. Dock one (D): then each layer that it crosses, from the skin inwards."
HINT = "Up and Down go layer by layer; the field opens to it, and what is near there is lit. Esc lights everything."
#: Rows of the list that are seen at the most before it is scrolled.
MOST_ROWS = 11
#: What stands before a layer: something in it is touched, something is near, nothing is.
MARKS = {"touched": "\N{BLACK CIRCLE}", "near": "\N{WHITE CIRCLE}", "": "\N{MIDDLE DOT}"}


class LayerList(QListWidget):
    """The layers; keys that mean nothing here reach the window, letters among them."""

    @property
    def chosen(self) -> int:
        """The row that is chosen, or -1. Qt's current row is the first as soon as the list has the focus."""
        return next((index.row() for index in self.selectedIndexes()), -1)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Begin at the first layer; do not look for a row by its letter: letters are keys of the window."""
        if event.text().isalnum():
            event.ignore()
            return
        if self.chosen < 0 and event.key() == Qt.Key.Key_Down:
            self.setCurrentRow(0, QItemSelectionModel.SelectionFlag.ClearAndSelect)
            return
        super().keyPressEvent(event)


class ApproachPage(QWidget):
    """Shows a walk; knows nothing of the body.

    opened : number of the layer that was chosen, from the skin
    """

    opened = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.head, self.hint, self.words = label(1.15), label(), label()
        self.list = LayerList()
        self.list.setAccessibleName("Layers from the skin inwards")
        self.list.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemSelectionChanged.connect(self._chosen)
        self.hint.setText(HINT)
        self.more = [Folded("This path"), Folded("More by the books"), Folded("Sources")]
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        for widget in (self.head, self.list, self.hint, self.words, *self.more):
            layout.addWidget(widget)
        layout.addStretch(1)
        self._leaves: Leaves | None = None
        self.show_leaves(None)

    def show_leaves(self, leaves: Leaves | None) -> None:
        """A walk, or none; the layer that was open stays open if the walk has it."""
        before = self.leaf
        self._leaves = leaves
        self.head.setText(escape(leaves.head[0]) if leaves else NOTHING)
        self.list.blockSignals(True)
        self.list.clear()
        for leaf in leaves.leaves if leaves else ():
            self.list.addItem(_item(leaf))
        rows = [i for i, leaf in enumerate(leaves.leaves if leaves else ()) if before and leaf.id == before.id]
        if rows:
            self.list.setCurrentRow(rows[0])
        self.list.blockSignals(False)
        shown = min(MOST_ROWS, self.list.count())
        self.list.setFixedHeight(shown * max(1, self.list.sizeHintForRow(0)) + 2 * self.list.frameWidth())
        for widget in (self.list, self.hint, self.words, *self.more):
            widget.setVisible(leaves is not None)
        if leaves is not None:
            self.more[0].show_html("".join(_paragraph(("", line)) for line in leaves.head[1:]))
            self.more[1].show_html("".join(_block(title, lines) for title, lines in leaves.rest))
            self.more[2].show_html("<br><br>".join(escape(line) for line in leaves.sources))
        self._tell()

    @property
    def leaf(self) -> Leaf | None:
        """The layer that is open."""
        row = self.list.chosen
        return self._leaves.leaves[row] if self._leaves is not None and 0 <= row < len(self._leaves.leaves) else None

    def _chosen(self) -> None:
        self._tell()
        if self.list.chosen >= 0:
            self.opened.emit(self.list.chosen)

    def _tell(self) -> None:
        leaf = self.leaf
        if leaf is None:
            self.words.setText("")
            return
        rim = ", met by the rim of the portal only" if leaf.by_rim else ""
        near = "".join(map(_paragraph, leaf.near)) or _paragraph(("", "Nothing within reach of the portal here."))
        books = _block("By the books", leaf.books) if leaf.books else ""
        title = f"<h3>{escape(leaf.name)}</h3>" + _paragraph(("", f"{leaf.depth} from the skin{rim}"))
        self.words.setText(f"{title}<p style='margin:6px 0 0 0'><b>Near</b></p>{near}{books}")


def _item(leaf: Leaf) -> QListWidgetItem:
    mark = "touched" if leaf.touched else "near" if leaf.at_risk else ""
    start, end = f"{leaf.from_mm:.0f}", f"{leaf.to_mm:.0f}"
    depth = start if start == end else f"{start} to {end}"
    item = QListWidgetItem(f"{MARKS[mark]}  {depth} mm   {leaf.name}{'  (rim)' if leaf.by_rim else ''}")
    said = {"touched": "something is touched there", "near": "something is near there", "": "nothing is near there"}
    item.setToolTip(said[mark])
    item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{leaf.name}, {depth} mm: {said[mark]}")
    if leaf.touched:
        face = item.font()
        face.setBold(True)
        item.setFont(face)
    return item


def _block(title: str, lines: Sequence[Line]) -> str:
    return f"<p style='margin:8px 0 0 0'><b>{escape(title)}</b></p>" + "".join(map(_paragraph, lines))


def _paragraph(line: Line) -> str:
    """One line; what goes on from the one before is set in, and so is what begins with spaces."""
    words = line[1].lstrip()
    depth = 8 if line[0] else 8 + 3 * (len(line[1]) - len(words))
    return f"<p style='margin:3px 0 0 {depth}px'>{escape(words)}</p>"
