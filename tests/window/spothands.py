"""A small bank for tests of the spot test in the window, and hands and eyes for it."""

from pathlib import Path

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QMenu,
    QMenuBar,
    QTabBar,
    QWidget,
)
from pytestqt.qtbot import QtBot

from lessons.spot.bank import read_banks
from lessons.spot.item import Item
from lessons.spot.record import open_record
from lessons.spot.round import Round
from meshes.structures import Structure
from tests.window.conftest import MainWindow
from tests.window.hands import Key, at_rest
from tests.window.lessonhands import read
from viewer.cameras import Eye, projected
from viewer.panels.spotcontrol import AnswerControl

BANK = """\
furcal_items = 1
about = "Bank of a test"

[[items]]
id = "name_femoral"
kind = "name"
objective = "course"
structure = "femoral_left"
ask = "Seen from in front. Name the marked nerve."
mark = "femoral_left"
explain = "It lies in the groove between psoas & iliacus. [common_practice]"
view = { camera = "front", dissection = "iliacus_quadratus" }

[[items]]
id = "point_lfcn"
kind = "point"
objective = "course"
structure = "lateral_femoral_cutaneous_left"
ask = "Seen from in front. Point to the left lateral femoral cutaneous nerve."
target = "lateral_femoral_cutaneous_left"
explain = "It crosses iliacus. [common_practice]"
view = { camera = "front", dissection = "iliacus_quadratus" }

[[items]]
id = "trace_obturator"
kind = "trace"
objective = "formation"
structure = "obturator_left"
ask = "Seen from in front. Tick the segments of the left obturator nerve."
roots = ["L2", "L3", "L4"]
explain = "Its anterior divisions come from three. [common_practice]"
view = { camera = "front", dissection = "iliacus_quadratus" }

[[items]]
id = "order_wall"
kind = "order"
objective = "approach"
structure = "L4-5"
ask = "Put the muscles of the flank in order, from the skin inwards."
right = ["external oblique", "internal oblique", "transversus abdominis"]
explain = "Three flat muscles lie over one another. [common_practice]"
view = { camera = "left", dissection = "skin" }

[[items]]
id = "predict_femoral"
kind = "predict"
objective = "loss"
structure = "femoral_left"
vignette = "After a lateral approach a patient of 60 cannot straighten the knee."
ask = "Which skin is numb, by the territory of the nerve?"
right = "Front of the thigh and inner side of the leg"
wrong = ["Outer side of the thigh and of the hip", "Back of the thigh and outer side of the leg"]
explain = "So runs its skin. [common_practice]"
view = { camera = "front", dissection = "iliacus_quadratus" }

[[items]]
id = "quarter_l4_5"
kind = "quarter"
objective = "approach"
structure = "L4-5"
ask = "Seen from the left. In which quarter of the L4-5 disc does the nerve leave most room?"
disc = "L4-5"
side = "left"
right = ["II"]
explain = "The femoral nerve lies behind it. [common_practice]"
view = { camera = "left", dissection = "iliacus_quadratus" }

[[items]]
id = "dock_l3_4"
kind = "dock"
objective = "approach"
structure = "L3-4"
ask = "Place the portal on the L3-4 disc so that it touches no nerve."
portal = { level = "L3-4", side = "left", approach = "lateral", at = 0.1, radius_mm = 11 }
explain = "In front there is room. [common_practice]"
view = { camera = "left", dissection = "psoas" }

[[items]]
id = "wire_femoral"
kind = "wire"
objective = "film"
structure = "femoral_left"
ask = "An AP film. Name the marked wire."
mark = "femoral_left"
explain = "It runs along psoas. [common_practice]"
view = { camera = "front", film = { view = "front" } }
"""


def bank(folder: Path) -> dict[str, Item]:
    """The small bank, by id."""
    path = folder / "bank.toml"
    path.write_text(BANK, encoding="utf-8")
    return {item.id: item for item in read_banks([path])}


def asked(qtbot: QtBot, window: MainWindow, items: list[Item]) -> None:
    """Begin a spot test with these items, in this order."""
    window._begin_round(Round(tuple(items), seed=3))
    settled(qtbot, window)


def settled(qtbot: QtBot, window: MainWindow) -> None:
    """Until the item is there and nothing moves."""
    qtbot.waitUntil(lambda: not window.session.needs_body() and window.loader.wanted is None, timeout=60_000)
    at_rest(qtbot, window)


def focused() -> QWidget:
    """What has the keyboard."""
    widget = QApplication.focusWidget()
    assert widget is not None
    return widget


def on(qtbot: QtBot, window: MainWindow, key: Qt.Key = Key.Key_Return) -> None:
    """Mark, or go on."""
    qtbot.keyClick(focused(), key)
    settled(qtbot, window)


def kept(path: Path) -> list[tuple[str, bool]]:
    """Items that were answered, and whether they were known, as they lie on the disk."""
    with open_record(path) as record:
        return [(answer.item, answer.right) for answer in record.answers()]


def round_of(window: MainWindow) -> Round:
    """Where the spot test stands."""
    assert window._round is not None
    return window._round


def control(window: MainWindow) -> AnswerControl:
    """What takes the answer."""
    found = window.places.spot.control
    assert found is not None
    return found


def eye_now(window: MainWindow) -> Eye:
    """Where the body is seen from."""
    assert window.field.eye is not None
    return window.field.eye


def field_spot(window: MainWindow, structure_id: str, share: float = 0.5) -> QPoint:
    """The pixel of the field under which a share of a nerve's way lies."""
    body, field = window.session.body, window.field
    assert body is not None
    assert field.eye is not None
    line = body.centrelines[structure_id]
    x, y = projected(line.at(share * line.length)[None], field.eye, (field.width(), field.height()))[0]
    return QPoint(round(x), round(y))


def visible_words(window: MainWindow) -> list[str]:
    """Every word that an eye, a mouse that rests, or a screen reader finds now."""
    found = [window.windowTitle(), window.statusBar().currentMessage()]
    for widget in (window, *window.findChildren(QWidget)):
        if not widget.isVisible() or isinstance(widget, (QMenuBar, QMenu)):
            continue
        found += [widget.toolTip(), widget.statusTip(), widget.whatsThis()]
        found += [widget.accessibleName(), widget.accessibleDescription()]
        if isinstance(widget, QLabel):
            found.append(read(widget))
        elif isinstance(widget, (QAbstractButton, QLineEdit)):
            found.append(widget.text())
        elif isinstance(widget, QComboBox):
            found.append(widget.currentText())
        elif isinstance(widget, QTabBar):
            found += [widget.tabText(i) for i in range(widget.count()) if widget.isTabVisible(i)]
    found += [shape.text for shape in window.field._overlay._shapes if hasattr(shape, "text")]
    if window.places.film.isVisible():
        found += [shape.text for shape in window.places.film._shapes if hasattr(shape, "text")]
    return [words for words in found if words]


def giving_away(words: list[str], structure: Structure) -> list[str]:
    """Those of some words that hold a structure's name, in English or Latin, or a telling word of its id."""
    telling = {structure.name.lower(), structure.latin.lower()}
    telling |= {word for word in structure.id.split("_") if word not in ("left", "right", "nerve")}
    return [said for said in words if any(word in said.lower() for word in telling)]
