"""From complaint to nerve: what was found and what was spared is ticked, and the nerves that explain it are ranked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.findings import Finding
from viewer.panels.dress import text_height
from viewer.panels.focusframe import FocusFrame

FINDING = Qt.ItemDataRole.UserRole
FOUND, SPARED = 1, 2
#: Ticks that follow each other faster are answered together, ms.
PAUSE_MS = 150
CHOICES = 3
HINT = "Tick what was found, and what was tested and is normal. The nerves that explain most with least come first."


@dataclass(frozen=True)
class Answer:
    """What is said of some findings: the text, and the candidates that can be picked: (words, id)."""

    text: str
    choices: Sequence[tuple[str, str]] = ()


#: Headings, each with its rows: the words, and the finding that they mean.
Groups = Sequence[tuple[str, Sequence[tuple[str, Finding]]]]
#: Found, spared, whether the docked portal went before -> the answer.
Ask = Callable[[Sequence[Finding], Sequence[Finding], bool], Answer]


class Complaint(QDialog):
    """Asks again whenever a tick is set.

    picked : id of a nerve whose button was pressed
    """

    picked = Signal(str)

    def __init__(self, groups: Groups, ask: Ask, portal: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("From complaint to nerve")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._ask = ask
        self.line = QLineEdit()
        self.line.setPlaceholderText("Narrow the list by typing")
        self.line.setAccessibleName("Narrow the list of findings")
        self.line.textChanged.connect(self._narrow)
        self.tree = _tree(groups)
        self.after = QCheckBox(f"After the docked portal: {portal}" if portal else "No portal is docked")
        self.after.setEnabled(bool(portal))
        self.answer = QPlainTextEdit()
        self.answer.setReadOnly(True)
        self.answer.setAccessibleName("Nerves that explain the findings, best first")
        self.buttons = [QPushButton() for _ in range(CHOICES)]
        self._ids = [""] * CHOICES
        for i, button in enumerate(self.buttons):
            button.clicked.connect(lambda _=False, i=i: self.picked.emit(self._ids[i]))
        self._later = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._later.timeout.connect(self.tell)
        self.tree.itemChanged.connect(self._ticked)
        self.after.toggled.connect(lambda _: self._later.start())
        self._lay_out()
        FocusFrame(self)
        self.tell()

    # --- what is ticked

    def ticked(self, column: int) -> list[Finding]:
        """The findings ticked in a column, FOUND or SPARED."""
        ticked = (i.data(0, FINDING) for i in self._items() if i.checkState(column) == Qt.CheckState.Checked)
        return list(dict.fromkeys(ticked))

    def tick(self, finding: Finding, column: int, on: bool = True) -> None:
        """Set a tick as a hand would."""
        item = next(i for i in self._items() if i.data(0, FINDING) == finding)
        item.setCheckState(column, Qt.CheckState.Checked if on else Qt.CheckState.Unchecked)

    def tell(self) -> None:
        """Ask, and show the answer."""
        self._later.stop()
        found = self.ticked(FOUND)
        answer = self._ask(found, self.ticked(SPARED), self.after.isChecked()) if found else Answer(HINT)
        self.answer.setPlainText(answer.text)
        for i, button in enumerate(self.buttons):
            words, self._ids[i] = answer.choices[i] if i < len(answer.choices) else ("", "")
            button.setText(f"Pick {words}")
            button.setVisible(bool(words))

    # --- inside

    def _items(self) -> list[QTreeWidgetItem]:
        return [item for top in self._tops() for item in _children(top)]

    def _tops(self) -> list[QTreeWidgetItem]:
        tops = (self.tree.topLevelItem(i) for i in range(self.tree.topLevelItemCount()))
        return [top for top in tops if top is not None]

    def _ticked(self, item: QTreeWidgetItem, column: int) -> None:
        """Nothing is found and spared at once: the later tick goes first."""
        if column in (FOUND, SPARED) and item.checkState(column) == Qt.CheckState.Checked:
            for same in (i for i in self._items() if i.data(0, FINDING) == item.data(0, FINDING)):
                same.setCheckState(FOUND + SPARED - column, Qt.CheckState.Unchecked)
        self._later.start()

    def _narrow(self, typed: str) -> None:
        words = typed.lower().split()
        for item in self._items():
            item.setHidden(not all(word in item.text(0).lower() for word in words))
        for top in self._tops():
            top.setHidden(all(item.isHidden() for item in _children(top)))

    def _lay_out(self) -> None:
        left, right = QVBoxLayout(), QVBoxLayout()
        for widget in (self.line, self.tree, self.after):
            left.addWidget(widget)
        right.addWidget(self.answer, 1)
        for button in self.buttons:
            right.addWidget(button)
        both = QHBoxLayout(self)
        both.addLayout(left, 1)
        both.addLayout(right, 1)
        text = text_height(self)
        self.resize(round(72 * text), round(42 * text))


def _children(top: QTreeWidgetItem) -> list[QTreeWidgetItem]:
    items = (top.child(k) for k in range(top.childCount()))
    return [item for item in items if item is not None]


def _tree(groups: Groups) -> QTreeWidget:
    tree = QTreeWidget()
    tree.setAccessibleName("Findings")
    tree.setHeaderLabels(["Finding", "found", "normal"])
    for title, findings in groups:
        top = QTreeWidgetItem([title])
        top.setFlags(Qt.ItemFlag.ItemIsEnabled)
        tree.addTopLevelItem(top)
        for words, finding in findings:
            item = QTreeWidgetItem([words])
            item.setData(0, FINDING, finding)
            for column in (FOUND, SPARED):
                item.setCheckState(column, Qt.CheckState.Unchecked)
            top.addChild(item)
        top.setExpanded(True)
    tree.header().setStretchLastSection(False)
    tree.header().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
    for column in (FOUND, SPARED):
        tree.header().setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
    return tree
