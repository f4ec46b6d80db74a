"""The readout: what the portal touches, worst first, and how close the rest is, with bars in mm."""

from __future__ import annotations

import math
from collections.abc import Callable

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFont,
    QFontMetricsF,
    QPainter,
    QPalette,
    QPen,
    QResizeEvent,
    QStandardItem,
    QStandardItemModel,
)  # fmt: skip
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QListView,
    QPushButton,
    QSizePolicy,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.readout import QUARTER_SCHEME, QUARTERS_RUN, capital, clearing_text
from lessons.rows import (
    Row,
    farther,
    headline,
    how_near,
    listed,
    piece_texts,
    reach_text,
    row_name,
    row_text,
    rows_of,
)  # fmt: skip
from meshes.contact import Docking
from viewer.labels import short_name
from viewer.panels.dress import colour, text_height, theme_of

ROW = Qt.ItemDataRole.UserRole + 1
Index = QModelIndex | QPersistentModelIndex
#: A bar of full length stands for this much, mm; on the left of the middle line inside, on the right clear.
FULL_MM = 10.0
#: Lines that a name may break over before it is shortened, and rows that are seen at the least.
LINES, LEAST_ROWS = 2, 3
#: Heights within a row, in heights of the text: over the name, of one of its lines, and of the bar below.
OVER, LINE, BAR = 0.25, 1.3, 1.35
#: The longest figure; the bars of all rows end before it, so that they can be compared.
LONGEST = "in the way, 00.0 mm within the rim"


class Readout(QWidget):
    """Follows the docking: whether it reaches the disc, what would clear it, what it touches.

    chosen      : id of a structure whose row was chosen
    tilt_asked  : degrees to the head that would clear a barred way
    break_asked : degrees of table break that would
    """

    chosen = Signal(str)
    tilt_asked = Signal(float)
    break_asked = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.head, self.where = _label("", 1.15), _label("")
        self.barred, self.touches = _label(""), _label("", 1.0)
        self.tilt, self.opened = QPushButton(), QPushButton()
        self.tilt.clicked.connect(lambda: self.tilt_asked.emit(self._clearing[0]))
        self.opened.clicked.connect(lambda: self.break_asked.emit(self._clearing[1]))
        self._clearing: tuple[float, float] = (0.0, 0.0)
        self.rest = _label("")
        self.list, self.model = QListView(), QStandardItemModel(self)
        self._set_up_list()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        for widget in (self.head, self.where, self.barred):
            layout.addWidget(widget)
        ways = QHBoxLayout()
        ways.addWidget(self.tilt)
        ways.addWidget(self.opened)
        ways.addStretch(1)
        layout.addLayout(ways)
        layout.addWidget(self.touches)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.rest)
        self._shown: Docking | None = None
        self._was_at_rest = False
        self.show_docking(None)

    def _set_up_list(self) -> None:
        view = self.list
        view.setAccessibleName("Touched and close structures, worst first")
        view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        view.setItemDelegate(NamedRow(view))
        view.setResizeMode(QListView.ResizeMode.Adjust)  # rows are as high as their names need
        view.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        view.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        # It takes the room that is left: by its own hint it would push the disc face out of the window.
        view.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        view.setModel(self.model)
        view.activated.connect(self._choose)
        view.clicked.connect(self._choose)

    def show_docking(self, docking: Docking | None, at_rest: bool = True) -> None:
        """Follow a docking; None when no portal stands.

        at_rest : what would clear a barred way takes a search: it is told when the portal rests, not on the way
        """
        if docking is not None and docking is self._shown:
            if at_rest and not self._was_at_rest:
                self._show_access(docking, at_rest)
                self._keep_room()
            return
        self._shown = docking
        rows = [] if docking is None else rows_of(docking)
        self._show_access(docking, at_rest)
        for label, words in (
            (self.touches, "" if docking is None else headline(docking, rows)),
            (self.rest, "" if docking is None else farther(docking, rows)),
        ):
            label.setText(words)
            label.setVisible(bool(words))
        self._fill(listed(rows))
        self._keep_room()

    def _fill(self, rows: list[Row]) -> None:
        """The worst is on top, and in sight: what was chosen or scrolled to before belongs to another portal."""
        self.list.setCurrentIndex(QModelIndex())
        self.model.setRowCount(len(rows))
        for place, row in enumerate(rows):
            item = QStandardItem(row_text(row))
            item.setData(row, ROW)
            item.setToolTip("\n".join([row.worst.structure.latin, *piece_texts(row), "Click to trace it."]))
            self.model.setItem(place, item)
        self.list.scrollToTop()

    def _show_access(self, docking: Docking | None, at_rest: bool) -> None:
        """Whether the disc is reached, and at rest a button for each way to clear what bars it."""
        self._was_at_rest = at_rest
        barred = docking is not None and not docking.access.reaches_disc
        self.head.setText("No portal docked." if docking is None else reach_text(docking))
        self.head.setForegroundRole(QPalette.ColorRole.Link if barred else QPalette.ColorRole.WindowText)
        self.where.setText("" if docking is None else _quarter(docking))
        self.where.setVisible(docking is not None)
        clearing = docking.access.clears_at if docking is not None and at_rest else None
        tilt = None if clearing is None else clearing.cranial_deg
        opened = None if clearing is None else clearing.table_break_deg
        self.barred.setText(_clearing(docking, at_rest, tilt is None and opened is None) if barred and docking else "")
        self.barred.setVisible(barred)
        self._clearing = (float(tilt or 0), float(opened or 0))
        self.tilt.setText(f"Tilt {abs(tilt or 0)}° to the {'head' if (tilt or 0) >= 0 else 'feet'}")
        self.opened.setText(f"Break table {opened or 0}°")
        self.tilt.setVisible(tilt is not None)
        self.opened.setVisible(opened is not None)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Broken lines need more height in a narrower place."""
        super().resizeEvent(event)
        self._keep_room()

    def _keep_room(self) -> None:
        """Claim the height that the words need at this width: a page that is too low scrolls, nothing is squeezed."""
        rows = min(LEAST_ROWS, self.model.rowCount())
        self.list.setMinimumHeight(
            sum(self.list.sizeHintForIndex(self.model.index(i, 0)).height() for i in range(rows))
        )
        layout = self.layout()
        assert layout is not None
        layout.invalidate()
        self.setMinimumHeight(layout.minimumHeightForWidth(self.width()))

    def texts(self) -> list[str]:
        """The rows as a screen reader gets them."""
        return [self.model.item(i).text() for i in range(self.model.rowCount())]

    def _choose(self, index: QModelIndex) -> None:
        row = index.data(ROW)
        if row is not None:
            self.chosen.emit(row.worst.id)


def _quarter(docking: Docking) -> str:
    """Where the portal is aimed, and how quarters are counted."""
    if docking.access.reaches_disc:
        return f"{capital(QUARTER_SCHEME)}."
    return f"Aimed at quarter {docking.portal.quarter} ({QUARTERS_RUN})."


def _clearing(docking: Docking, at_rest: bool, in_vain: bool) -> str:
    """What stands before the buttons that clear the way, or that there are none."""
    if not at_rest:
        return "What would clear the way is told once the portal rests."
    return clearing_text(docking) if in_vain else "What clears the way, at the least:"


class NamedRow(QStyledItemDelegate):
    """Paints a row: a mark, the name over as many lines as it needs, the bar and the figure."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """As high as the name needs."""
        row, text = index.data(ROW), text_height(self._view)
        lines = len(self._lines(row)) if row is not None else 1
        return QSize(10, math.ceil((OVER + lines * LINE + BAR) * text))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """A filled mark and a bar to the left for what is touched, an open mark and a bar to the right for the rest."""
        row: Row = index.data(ROW)
        theme, text = theme_of(self._view), text_height(self._view)
        rect = QRectF(option.rect)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.setPen(QPen(colour(theme.accent), 1.6))
            painter.drawRect(rect.adjusted(1, 1, -1, -1))
        ink = colour(theme.accent if row.touched else theme.text)
        painter.setPen(QPen(ink, 1.8))
        painter.setBrush(ink if row.touched else Qt.BrushStyle.NoBrush)
        painter.drawEllipse(QRectF(rect.left() + 6.0, rect.top() + 0.55 * text, 0.6 * text, 0.6 * text))
        painter.setFont(self._face(row))
        painter.setPen(colour(theme.text))
        words = rect.adjusted(10.0 + text, OVER * text, -4.0, 0.0)
        lines = self._lines(row)
        for i, line in enumerate(lines):
            place = QRectF(words.left(), words.top() + i * LINE * text, words.width(), LINE * text)
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextDontClip, line)
        self._paint_bar(painter, words.adjusted(0.0, len(lines) * LINE * text, 0.0, 0.0), row)
        painter.restore()

    def _lines(self, row: Row) -> list[str]:
        """The name broken where the room ends; shortened as the trade does when it would take too many lines."""
        metrics = QFontMetricsF(self._face(row))
        room = self._room() - (14.0 + text_height(self._view))
        full = broken(row_name(row), room, metrics.horizontalAdvance)
        return full if len(full) <= LINES else broken(short_name(row_name(row)), room, metrics.horizontalAdvance)

    def _room(self) -> float:
        view = self._view
        assert isinstance(view, QListView)
        return float(view.viewport().width())

    def _face(self, row: Row) -> QFont:
        face = QFont(self._view.font())
        face.setBold(row.touched)
        return face

    def _paint_bar(self, painter: QPainter, rect: QRectF, row: Row) -> None:
        theme, text = theme_of(self._view), text_height(self._view)
        face = painter.font()
        face.setBold(False)
        painter.setFont(face)
        # The same in every row, so that bars can be compared.
        room = rect.width() - QFontMetricsF(face).horizontalAdvance(LONGEST) - 8.0
        width = min(0.5 * rect.width(), 9.0 * text, max(2.0 * text, room))
        middle, top = rect.left() + 0.5 * width, rect.top() + 0.3 * text
        share = min(1.0, abs(row.clearance_mm) / FULL_MM) * 0.5 * width
        painter.setPen(QPen(colour(theme.line), 1.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(rect.left(), top, width, 0.6 * text))
        bar = QRectF(middle - share if row.touched else middle, top, share, 0.6 * text)
        painter.fillRect(bar, colour(theme.accent if row.touched else theme.quiet))
        painter.drawLine(round(middle), round(top - 2), round(middle), round(top + 0.6 * text + 2))
        painter.setPen(colour(theme.text))
        figure = QRectF(rect.left() + width + 8.0, rect.top(), rect.width() - width - 8.0, 1.2 * text)
        painter.drawText(figure, Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextDontClip, how_near(row.clearance_mm))

    @property
    def _view(self) -> QWidget:
        parent = self.parent()
        assert isinstance(parent, QWidget)
        return parent


def broken(words: str, room: float, width_of: Callable[[str], float]) -> list[str]:
    """Words over lines no wider than the room; a word wider than that has a line of its own."""
    lines: list[str] = []
    for word in words.split(" "):
        if lines and width_of(f"{lines[-1]} {word}") <= room:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines


def _label(text: str, heavy: float = 0.0) -> QLabel:
    """Words that break over lines; heavy, and so many times as large, where asked."""
    label = QLabel(text)
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    if heavy:
        face = label.font()
        face.setBold(True)
        face.setPointSizeF(face.pointSizeF() * heavy)
        label.setFont(face)
    return label
