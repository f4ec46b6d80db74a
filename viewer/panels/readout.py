"""The readout: what the portal touches, worst first, and how close the rest is, with bars in mm."""

from __future__ import annotations

import re

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QPainter, QPen, QStandardItem, QStandardItemModel
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

from lessons.readout import CLOSE_MM, QUARTER_SCHEME, access_text, barred_text, named
from meshes.contact import Contact, Docking
from viewer.panels.dress import colour, text_height, theme_of

CONTACT = Qt.ItemDataRole.UserRole + 1
Index = QModelIndex | QPersistentModelIndex
#: A bar of full length stands for this much, mm; on the left of the middle line inside, on the right clear.
FULL_MM = 10.0
#: Height of a row, in heights of the text.
ROW = 2.9


class Readout(QWidget):
    """Follows the docking.

    chosen      : id of a structure whose row was chosen
    tilt_asked  : degrees to the head that would clear a barred way
    break_asked : degrees of table break that would
    """

    chosen = Signal(str)
    tilt_asked = Signal(float)
    break_asked = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.head = _label("", bold=True)
        self.where = _label("")
        self.barred = _label("")
        self.tilt, self.opened = QPushButton(), QPushButton()
        self.tilt.clicked.connect(lambda: self.tilt_asked.emit(self._clearing[0]))
        self.opened.clicked.connect(lambda: self.break_asked.emit(self._clearing[1]))
        self._clearing: tuple[float, float] = (0.0, 0.0)
        self.rest = _label("")
        self.list = QListView()
        self.list.setAccessibleName("Touched and close structures, worst first")
        self.list.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.list.setItemDelegate(ContactRow(self.list))
        self.list.setUniformItemSizes(True)
        # It takes the room that is left: by its own hint it would push the disc face out of the window.
        self.list.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.list.setMinimumHeight(round(2 * ROW * text_height(self)))
        self.model = QStandardItemModel(self)
        self.list.setModel(self.model)
        self.list.activated.connect(self._choose)
        self.list.clicked.connect(self._choose)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        for widget in (self.head, self.where, self.barred):
            layout.addWidget(widget)
        ways = QHBoxLayout()
        ways.addWidget(self.tilt)
        ways.addWidget(self.opened)
        ways.addStretch(1)
        layout.addLayout(ways)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.rest)
        self._shown: Docking | None = None
        self._was_at_rest = False
        self.show_docking(None)

    def show_docking(self, docking: Docking | None, at_rest: bool = True) -> None:
        """Follow a docking; None when no portal stands.

        at_rest : what would clear a barred way takes a search: it is told when the portal rests, not on the way
        """
        if docking is not None and docking is self._shown:
            if at_rest and not self._was_at_rest:
                self._show_access(docking, at_rest)
            return
        self._shown = docking
        contacts = [] if docking is None else listed(docking)
        self.head.setText(headline(docking))
        self.where.setText("" if docking is None else f"Ends in quarter {docking.portal.quarter} ({QUARTER_SCHEME}).")
        self._show_access(docking, at_rest)
        self.where.setVisible(docking is not None)
        self.rest.setText("" if docking is None else farther(docking))
        self.model.setRowCount(len(contacts))
        for row, contact in enumerate(contacts):
            item = QStandardItem(row_text(contact))
            item.setData(contact, CONTACT)
            item.setToolTip(f"{contact.structure.latin}. Click to trace it.")
            self.model.setItem(row, item)

    def _show_access(self, docking: Docking | None, at_rest: bool) -> None:
        """A barred way in words, and at rest a button for each way to clear it."""
        self._was_at_rest = at_rest
        barred = docking is not None and not docking.access.reaches_disc
        words = ""
        if docking is not None and barred:
            words = access_text(docking) if at_rest else barred_text(docking)
        self.barred.setText(re.sub(r" \(--\w+ -?\d+\)", "", words))
        self.barred.setVisible(barred)
        clearing = docking.access.clears_at if docking is not None and at_rest else None
        tilt = None if clearing is None else clearing.cranial_deg
        opened = None if clearing is None else clearing.table_break_deg
        self._clearing = (float(tilt or 0), float(opened or 0))
        self.tilt.setText(f"Tilt {abs(tilt or 0)}° to the {'head' if (tilt or 0) >= 0 else 'feet'}")
        self.opened.setText(f"Break table {opened or 0}°")
        self.tilt.setVisible(tilt is not None)
        self.opened.setVisible(opened is not None)

    def texts(self) -> list[str]:
        """The rows as a screen reader gets them."""
        return [self.model.item(i).text() for i in range(self.model.rowCount())]

    def _choose(self, index: QModelIndex) -> None:
        contact = index.data(CONTACT)
        if contact is not None:
            self.chosen.emit(contact.id)


def listed(docking: Docking) -> list[Contact]:
    """What is touched or close, worst first."""
    every = (*docking.nerves, *docking.vessels, *docking.viscera)
    return sorted((c for c in every if c.clearance_mm <= CLOSE_MM), key=lambda c: c.clearance_mm)


def headline(docking: Docking | None) -> str:
    """The answer in one line."""
    if docking is None:
        return "No portal docked."
    touched = [c for c in listed(docking) if c.touched]
    if not touched:
        return "Touches no nerve, vessel or viscus."
    kinds = [("nerve", "nerves"), ("vessel", "vessels"), ("viscus", "viscera")]
    counts = [(sum(c.structure.kind == kind for c in touched), kind, plural) for kind, plural in kinds]
    return "Touches " + ", ".join(f"{n} {kind if n == 1 else plural}" for n, kind, plural in counts if n) + "."


def row_text(contact: Contact) -> str:
    """One row in words."""
    name = named(contact.structure)
    name = name[:1].upper() + name[1:]
    if contact.touched:
        return f"{name}: touched, {-contact.clearance_mm:.1f} mm inside"
    return f"{name}: {contact.clearance_mm:.1f} mm clear"


def farther(docking: Docking) -> str:
    """What is not listed."""
    far = [c for c in docking.nerves if c.clearance_mm > CLOSE_MM]
    if not far:
        return ""
    nearest = min(far, key=lambda c: c.clearance_mm)
    return f"{len(far)} nerves are farther than {CLOSE_MM:g} mm, the nearest at {nearest.clearance_mm:.1f} mm."


class ContactRow(QStyledItemDelegate):
    """Paints a row: a mark, the name, the bar and the figure."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Two lines high."""
        return QSize(200, round(ROW * text_height(self._view)))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """A filled mark and a bar to the left for what is touched, an open mark and a bar to the right for the rest."""
        contact: Contact = index.data(CONTACT)
        theme, text = theme_of(self._view), text_height(self._view)
        rect = QRectF(option.rect)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.setPen(QPen(colour(theme.accent), 1.6))
            painter.drawRect(rect.adjusted(1, 1, -1, -1))
        ink = colour(theme.accent if contact.touched else theme.text)
        painter.setPen(QPen(ink, 1.8))
        painter.setBrush(ink if contact.touched else Qt.BrushStyle.NoBrush)
        painter.drawEllipse(QRectF(rect.left() + 6.0, rect.top() + 0.55 * text, 0.6 * text, 0.6 * text))
        face = painter.font()
        face.setBold(contact.touched)
        painter.setFont(face)
        painter.setPen(colour(theme.text))
        words = rect.adjusted(10.0 + text, 0.25 * text, -4.0, 0.0)
        name, figure = row_text(contact).split(": ", 1)
        name = QFontMetricsF(face).elidedText(name, Qt.TextElideMode.ElideRight, words.width())
        painter.drawText(words, Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft, name)
        self._paint_bar(painter, words.adjusted(0.0, 1.35 * text, 0.0, 0.0), contact, figure)
        painter.restore()

    def _paint_bar(self, painter: QPainter, rect: QRectF, contact: Contact, figure: str) -> None:
        theme, text = theme_of(self._view), text_height(self._view)
        face = painter.font()
        face.setBold(False)
        painter.setFont(face)
        # The same in every row, so that bars can be compared.
        room = rect.width() - QFontMetricsF(face).horizontalAdvance("touched, 00.0 mm inside") - 8.0
        width = min(0.5 * rect.width(), 9.0 * text, max(3.0 * text, room))
        middle, top = rect.left() + 0.5 * width, rect.top() + 0.15 * text
        share = min(1.0, abs(contact.clearance_mm) / FULL_MM) * 0.5 * width
        painter.setPen(QPen(colour(theme.line), 1.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(rect.left(), top, width, 0.6 * text))
        bar = QRectF(middle - share if contact.touched else middle, top, share, 0.6 * text)
        painter.fillRect(bar, colour(theme.accent if contact.touched else theme.quiet))
        painter.drawLine(round(middle), round(top - 2), round(middle), round(top + 0.6 * text + 2))
        painter.setPen(colour(theme.text))
        painter.drawText(rect.adjusted(width + 8.0, -0.2 * text, 0.0, 0.0), Qt.AlignmentFlag.AlignLeft, figure)

    @property
    def _view(self) -> QWidget:
        parent = self.parent()
        assert isinstance(parent, QWidget)
        return parent


def _label(text: str, bold: bool = False) -> QLabel:
    label = QLabel(text)
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    if bold:
        face = label.font()
        face.setBold(True)
        face.setPointSizeF(face.pointSizeF() * 1.15)
        label.setFont(face)
    return label
