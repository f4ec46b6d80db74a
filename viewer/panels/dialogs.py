"""The sheet of keys and the words about the program."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.caution import CAUTION
from viewer.actions import ACTIONS

FIELD_KEYS = (
    ("Arrow keys in the field", "Turn the body"),
    ("Ctrl with arrow keys in the field", "Move the body"),
    ("+ and - in the field, or the wheel", "Zoom"),
    ("Left drag / right drag in the field", "Turn / move the body"),
    ("Left and right in the dissection", "Take the next layer off, put it back"),
    ("Shift with left and right, then Space", "Choose a band; make it glassy, off, on"),
    ("Return or right click on a band", "Its single structures: shown, glassy, hidden"),
    ("Alt with an underlined letter", "Go to a box of the portal"),
)


def key_list(parent: QWidget) -> QDialog:
    """All keys on one sheet."""
    sheet = QWidget()
    grid = QGridLayout(sheet)
    grid.setHorizontalSpacing(24)
    rows = [(", ".join(a.keys), a.says.replace("&", "").rstrip(".")) for a in ACTIONS if a.keys]
    for row, (keys, says) in enumerate([*rows, *FIELD_KEYS]):
        name = QLabel(keys)
        face = name.font()
        face.setBold(True)
        name.setFont(face)
        grid.addWidget(name, row, 0)
        grid.addWidget(QLabel(says), row, 1)
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setWidget(sheet)
    dialog = _dialog(parent, "Keys", scroll)
    dialog.resize(sheet.sizeHint().width() + 70, 560)
    return dialog


def about(parent: QWidget) -> QDialog:
    """What this is, and what it is not for."""
    from viewer.__main__ import ABOUT, version

    words = QLabel(f"<h3>furcal {version()}</h3><p>{ABOUT}</p><p><b>{CAUTION}</b></p>")
    words.setTextFormat(Qt.TextFormat.RichText)
    words.setWordWrap(True)
    words.setMinimumWidth(420)
    words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return _dialog(parent, "About furcal", words)


def _dialog(parent: QWidget, title: str, content: QWidget) -> QDialog:
    dialog = QDialog(parent)
    dialog.setWindowTitle(title)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    buttons.rejected.connect(dialog.close)
    layout = QVBoxLayout(dialog)
    layout.addWidget(content)
    layout.addWidget(buttons)
    return dialog
