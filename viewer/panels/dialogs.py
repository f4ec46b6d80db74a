"""The sheet of keys, the first steps, and the words about the program."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.caution import CAUTION
from viewer.actions import ACTIONS, MENUS, plain
from viewer.panels.dress import text_height
from viewer.panels.focusframe import FocusFrame

#: A heading, and what is under it: (keys or what the mouse does, what comes of it).
Group = tuple[str, Sequence[tuple[str, str]]]

#: What is no action of a menu, by the place where it works.
PLACES: tuple[Group, ...] = (
    ("In the field", (
        ("Left drag", "turn the body"),
        ("Right or middle drag", "move the body"),
        ("Wheel, + and -", "zoom"),
        ("Click", "pick a structure"),
        ("Right click", "what can be done with a structure"),
        ("Drag the portal's inner end", "move it along the disc"),
        ("Drag the portal's outer end", "lean it"),
        ("Ctrl + wheel", "radius of the portal"),
        ("Shift + wheel", "depth of the portal"),
        ("Arrows", "turn the body"),
        ("Ctrl + arrows", "move the body"),
        ("Alt + left, right", "portal 1 mm along the disc"),
        ("Alt + up, down", "portal 1 mm deeper or less deep"),
        ("Alt + Shift + arrows", "lean the portal by 1°"),
    )),
    ("In a lesson", (
        ("Right, down, space, Page Down", "the answer, or the next step"),
        ("Left, up, Page Up", "the step before"),
        ("Shift + arrows, left drag", "turn the body: the script is left"),
        ("Backspace", "back to the step"),
    )),
    ("In a spot test", (
        ("Return", "mark the answer, or the next item"),
        ("1 to 5", "take an option or a quarter"),
        ("Arrows, space", "carry the cross, mark the place under it"),
        ("Alt + up, down", "carry the chosen word of an order"),
        ("Shift + arrows, left drag", "turn the body"),
        ("Backspace", "back to the item's view"),
    )),
    ("On the disc face", (
        ("Drag the circle", "move the portal along the disc"),
        ("Left, right", "move it by 1 mm"),
        ("Up, down", "1 mm deeper or less deep"),
        ("Shift + arrows", "lean it by 1°"),
        ("Wheel", "radius"),
        ("Shift + wheel", "depth"),
    )),
    ("In the dissection", (
        ("Click a band, drag the handle", "dissect as far as there"),
        ("Left, right", "take the next layer off, put it back"),
        ("Shift + left, right", "choose a band"),
        ("Space, middle click", "make the band glassy, off, on"),
        ("Return, right click", "its single structures"),
    )),
    ("In the depth log", (
        ("Point with the mouse", "mark this depth in the field"),
        ("Left, right", "mark 1 mm less deep, deeper"),
        ("Home, End", "the skin, the end of the portal"),
    )),
    ("Everywhere", (
        ("Tab, Shift + Tab", "the next control, the one before"),
        ("Alt + underlined letter", "a menu, or a box of the portal"),
        ("Esc", "close a dialog"),
    )),
)  # fmt: skip

#: (what is to be done, how)
STEPS = (
    ("Lift the wall off.", "Below the field lies the dissection: a strip of layers from the skin at the left to the "
     "dura at the right. Drag its handle to the right, or press ] for each layer. With [ a layer comes back."),
    ("Find the femoral nerve.", "Press Ctrl+F, type “femoral”, choose the nerve with the down arrow and press Return. "
     "It lights up where it runs through psoas, the rest dims, and the readout tells its roots and its course. G makes "
     "the outermost layer glassy; Esc lights everything again."),
    ("Look round it.", "Drag in the field to turn the body; the wheel zooms. H brings you home, F is the view from "
     "the front, S the one of a surgeon whose patient lies on the side."),
    ("Dock a portal at L4-5.", "Press Ctrl+5. The portal is the working channel of a retractor, with its tip on the "
     "disc. Drag the circle on the disc face to move it, or change its numbers above the field; X takes it to the "
     "other side."),
    ("Read what it touches.", "The readout at the right lists it, worst first: a full mark is touched, an open mark "
     "is close, the figure says by how many mm. The depth log at the bottom shows the layers that the portal passes "
     "from the skin to its end."),
    ("Look down the portal.", "Press P to see what the surgeon would see at its bottom."),
    ("Follow a lesson.", "Ctrl+Shift+L lists the lessons of the course. Page Down, the right arrow or a clicker goes "
     "on; turn the body whenever you like, Backspace brings the step back."),
    ("Test yourself.", "Ctrl+Shift+T asks 10, 20 or 30 items without names; what you missed is asked again when it is "
     "about to be forgotten. It stays on this machine."),
    ("Take it back.", "Ctrl+Z undoes whatever you did, step by step. Nothing here can be broken."),
)  # fmt: skip


def key_groups() -> list[Group]:
    """Everything on the sheet: the menus first, then the places."""
    of_menus: list[Group] = []
    for menu in MENUS:
        rows = [(", ".join(a.keys), a.says.replace("&", "")) for a in ACTIONS if a.menu == menu and a.keys]
        if rows:
            of_menus.append((plain(menu), rows))
    return [*of_menus, *PLACES]


def key_list(parent: QWidget) -> QDialog:
    """All keys, and what the mouse does, on one sheet: two columns where the screen has room for them."""
    room = parent.screen().availableGeometry().width()
    sheet = _in_columns(key_groups(), 2)
    if sheet.sizeHint().width() > 0.85 * room:
        sheet = _in_columns(key_groups(), 1)
    return _dialog(parent, "Keys and mouse", sheet)


def first_steps(parent: QWidget) -> QDialog:
    """What to try first, for someone who has never seen the window."""
    rows = "".join(f"<li style='margin-bottom: 6px'><b>{what}</b> {how}</li>" for what, how in STEPS)
    more = "Ctrl+K finds everything else by typing; F1 lists all keys."
    rich = f"<ol style='margin-left: -14px'>{rows}</ol><p>{more}</p><p><b>{CAUTION}</b></p>"
    return _dialog(parent, "First steps", _words(rich))


def about(parent: QWidget) -> QDialog:
    """What this is, and what it is not for."""
    from viewer.__main__ import ABOUT, version

    return _dialog(parent, "About furcal", _words(f"<h3>furcal {version()}</h3><p>{ABOUT}</p><p><b>{CAUTION}</b></p>"))


def _words(rich: str) -> QLabel:
    words = QLabel(rich)
    words.setTextFormat(Qt.TextFormat.RichText)
    words.setWordWrap(True)
    words.setMinimumWidth(round(33.0 * text_height(words)))
    words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return words


def _in_columns(groups: Sequence[Group], columns: int) -> QWidget:
    """The groups in their order, as evenly high as they go."""
    sheet = QWidget()
    layout = QHBoxLayout(sheet)
    layout.setSpacing(3 * round(text_height(sheet)))
    lines = sum(len(rows) + 2 for _, rows in groups)
    taken, grids = 0, [QGridLayout() for _ in range(columns)]
    for heading, rows in groups:
        _add_group(grids[min(columns * taken // lines, columns - 1)], heading, rows)
        taken += len(rows) + 2
    for grid in grids:
        grid.setHorizontalSpacing(round(1.4 * text_height(sheet)))
        grid.setVerticalSpacing(round(0.35 * text_height(sheet)))
        grid.setColumnStretch(1, 1)
        grid.setRowStretch(grid.rowCount(), 1)
        layout.addLayout(grid)
    return sheet


def _add_group(grid: QGridLayout, heading: str, rows: Sequence[tuple[str, str]]) -> None:
    first = grid.rowCount()
    title = QLabel(heading)
    face = title.font()
    face.setBold(True)
    face.setPointSizeF(1.12 * face.pointSizeF())
    title.setFont(face)
    title.setContentsMargins(0, round(0.6 * text_height(title)) if first > 1 else 0, 0, 0)
    grid.addWidget(title, first, 0, 1, 2)
    for row, (keys, says) in enumerate(rows, start=first + 1):
        name = QLabel(keys)
        face = name.font()
        face.setBold(True)
        name.setFont(face)
        grid.addWidget(name, row, 0)
        grid.addWidget(QLabel(says), row, 1)


def _dialog(parent: QWidget, title: str, content: QWidget) -> QDialog:
    """What scrolls where the screen is small, and a button that closes it; so does Escape."""
    dialog = QDialog(parent)
    dialog.setWindowTitle(title)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setAccessibleName(title)
    scroll.setWidget(content)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    buttons.rejected.connect(dialog.close)
    layout = QVBoxLayout(dialog)
    layout.addWidget(scroll)
    layout.addWidget(buttons)
    FocusFrame(dialog)
    scroll.setFocus()
    room, text = parent.screen().availableGeometry(), text_height(dialog)
    wanted = content.sizeHint()
    width = min(round(wanted.width() + 5.0 * text), round(0.9 * room.width()))
    height = content.heightForWidth(width - round(5.0 * text)) if content.hasHeightForWidth() else wanted.height()
    dialog.resize(width, min(round(height + 6.0 * text), round(0.85 * room.height())))
    return dialog
