"""A line to type in and the list that it narrows: for things to do, and for structures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QPainter, QPen, QStandardItem, QStandardItemModel
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QLabel,
    QLineEdit,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from viewer.panels.dress import colour, text_height, theme_of
from viewer.panels.focusframe import FocusFrame

ROW = Qt.ItemDataRole.UserRole + 1
Index = QModelIndex | QPersistentModelIndex
#: How many rows are offered when nothing is found.
NEAREST = 5
#: Keys of the list, and how many rows further each goes.
STEPS = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_PageUp: -8, Qt.Key.Key_PageDown: 8}


@dataclass(frozen=True)
class Row:
    """One thing that can be found.

    text    : its words
    hint    : quiet words at its right: a key, a Latin name, or why it cannot be taken now
    payload : what is handed over when it is taken
    enabled : whether it can be taken
    lead    : quiet words before its own: where it belongs
    """

    text: str
    hint: str
    payload: object
    enabled: bool = True
    lead: str = ""

    @property
    def said(self) -> str:
        """The row as it is read aloud."""
        return ", ".join(part for part in (self.text, self.lead, self.hint) if part)


#: Typed words -> the rows they find, best first. No words find every row.
Match = Callable[[str], Sequence[Row]]


def at_word_starts(rows: Sequence[Row]) -> Match:
    """Finds the rows in which every typed word starts a word, those first whose own words begin with what is typed."""

    def match(typed: str) -> list[Row]:
        wanted = _words(typed)
        found = [r for r in rows if all(any(w.startswith(t) for w in _words(f"{r.lead} {r.text}")) for t in wanted)]
        return sorted(found, key=lambda row: not row.text.lower().startswith(typed.strip().lower()))

    return match


def nearest(typed: str, rows: Sequence[Row]) -> list[Row]:
    """The rows whose words are most like what is typed, best first."""

    def likeness(row: Row) -> float:
        pairs = [[SequenceMatcher(None, t, w).ratio() for w in _words(row.text)] for t in _words(typed)]
        return sum(max(ratios, default=0.0) for ratios in pairs)

    return sorted(rows, key=likeness, reverse=True)[:NEAREST]


def _words(text: str) -> list[str]:
    return "".join(c if c.isalnum() else " " for c in text.lower()).split()


class Finder(QDialog):
    """Asks for one row by typing.

    taken : the payload of the row that was taken; the dialog is closed by then
    """

    taken = Signal(object)

    def __init__(self, title: str, asks: str, rows: Sequence[Row], match: Match, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._rows, self._match = list(rows), match
        asking = QLabel(asks)
        self.line = TypedLine()
        self.line.setAccessibleName(asks)
        asking.setBuddy(self.line)
        self.note = QLabel()
        self.note.setWordWrap(True)
        self.note.setTextFormat(Qt.TextFormat.PlainText)
        self.list = QListView()
        self.list.setAccessibleName(title.rstrip("."))
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.list.setItemDelegate(FoundRow(self.list))
        self.list.setUniformItemSizes(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.model = QStandardItemModel(self)
        self.list.setModel(self.model)
        layout = QVBoxLayout(self)
        for widget in (asking, self.line, self.list, self.note):
            layout.addWidget(widget)
        self._frame = FocusFrame(self)
        self.line.textChanged.connect(self._narrow)
        self.line.stepped.connect(self._step)
        self.line.returnPressed.connect(self._take_current)
        self.list.doubleClicked.connect(self._take_current)
        self.list.selectionModel().currentChanged.connect(self._say_current)
        self._narrow("")
        self._fit()

    @property
    def shown(self) -> list[Row]:
        """The rows on the list."""
        return [self.model.item(i).data(ROW) for i in range(self.model.rowCount())]

    @property
    def current(self) -> Row | None:
        """The row that Return would take."""
        index = self.list.currentIndex()
        return index.data(ROW) if index.isValid() else None

    def _fit(self) -> None:
        """Wide enough for the longest row, never larger than the screen."""
        room, text = self.screen().availableGeometry(), text_height(self)
        metrics = QFontMetricsF(self.font())
        widest = max((metrics.horizontalAdvance(f"{r.lead}{r.text}{r.hint}") for r in self._rows), default=0.0)
        self.resize(
            min(max(round(widest + 8.0 * text), round(30.0 * text)), round(0.9 * room.width())),
            min(round(36.0 * text), round(0.8 * room.height())),
        )

    def _narrow(self, typed: str) -> None:
        found = list(self._match(typed))
        if found:
            self.note.setText(f"{len(found)} of {len(self._rows)}. Up and down choose, Return takes, Escape closes.")
        else:
            found = nearest(typed, self._rows)
            self.note.setText(f"Nothing is called “{typed.strip()}”; the nearest are listed.")
        self.model.clear()
        for row in found:
            item = QStandardItem(row.text)
            item.setData(row, ROW)
            item.setData(row.said, Qt.ItemDataRole.AccessibleTextRole)
            self.model.appendRow(item)
        self.list.setCurrentIndex(self.model.index(0, 0))
        self._say_current()

    def _step(self, rows: int) -> None:
        last = self.model.rowCount() - 1
        to = min(max(self.list.currentIndex().row() + rows, 0), last)
        self.list.setCurrentIndex(self.model.index(to, 0))

    def _say_current(self) -> None:
        """The line keeps the focus, so it is the line that says which row is chosen."""
        row = self.current
        place = f"{self.list.currentIndex().row() + 1} of {self.model.rowCount()}"
        self.line.setAccessibleDescription(f"{self.note.text()} {place}: {row.said}" if row else self.note.text())

    def _take_current(self) -> None:
        row = self.current
        if row is None:
            return
        if not row.enabled:
            self.note.setText(f"“{row.text}” cannot be taken now{f': {row.hint}' if row.hint else ''}.")
            self._say_current()
            return
        self.accept()
        self.taken.emit(row.payload)


class TypedLine(QLineEdit):
    """A line whose up and down keys are for the list below it.

    stepped : how many rows further
    """

    stepped = Signal(int)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Hand the list's keys over."""
        if Qt.Key(event.key()) in STEPS:
            self.stepped.emit(STEPS[Qt.Key(event.key())])
        else:
            super().keyPressEvent(event)


class FoundRow(QStyledItemDelegate):
    """Paints a row: its words, the quiet ones before and behind, a frame when it is the chosen one."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """One line high, with air."""
        return QSize(200, round(2.0 * text_height(self._view)))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """The hint is never cut; the words give way."""
        row: Row = index.data(ROW)
        theme, text = theme_of(self._view), text_height(self._view)
        rect = QRectF(option.rect)
        painter.save()
        if option.state & QStyle.StateFlag.State_Selected:
            painter.setPen(QPen(colour(theme.accent), 2.0))
            painter.drawRect(rect.adjusted(1.0, 1.0, -1.0, -1.0))
        inner = rect.adjusted(0.7 * text, 0.0, -0.7 * text, 0.0)
        metrics = QFontMetricsF(painter.font())
        middle = Qt.AlignmentFlag.AlignVCenter
        hint = metrics.elidedText(row.hint, Qt.TextElideMode.ElideRight, 0.6 * inner.width())
        painter.setPen(colour(theme.quiet))
        painter.drawText(inner, middle | Qt.AlignmentFlag.AlignRight, hint)
        room = inner.adjusted(0.0, 0.0, -metrics.horizontalAdvance(hint) - text, 0.0)
        lead = f"{row.lead}  " if row.lead else ""
        painter.drawText(room, middle | Qt.AlignmentFlag.AlignLeft, lead)
        room.adjust(metrics.horizontalAdvance(lead), 0.0, 0.0, 0.0)
        painter.setPen(colour(theme.text if row.enabled else theme.quiet))
        words = metrics.elidedText(row.text, Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, middle | Qt.AlignmentFlag.AlignLeft, words)
        painter.restore()

    @property
    def _view(self) -> QWidget:
        parent = self.parent()
        assert isinstance(parent, QWidget)
        return parent
