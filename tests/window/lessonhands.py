"""A small lesson for tests of the window, and hands and eyes for it."""

from pathlib import Path

from PySide6 import QtGui
from PySide6.QtCore import Qt
from PySide6.QtGui import QTextDocument
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from lessons.run import Run
from tests.window.conftest import MainWindow
from viewer.panels.finder import Finder

HEAD = """\
# A comment of the teacher's.
furcal_lesson = 1
title = "Bone & nerve: where's <b>it</b>?"
level = "resident"
minutes = 5
objectives = ["Say where the femoral nerve lies at the L4-5 disc."]

[sources]
ward_sheet = "Sheet of the ward, winter skills week, 2026"
"""
STEPS = """
[[steps]]
id = "front"
title = "Where's it & why <i>there</i>?"
view.camera = "front"
view.dissection = "psoas"
words = \"\"\"
The nerve lies <b>inside</b> psoas & <script>alert("1")</script> stays there. [common_practice]

- an item <img src='x.png'>
\"\"\"
notes = "Point at <u>the groove</u> & wait."

[[steps]]
id = "question"
title = "A question"
view.camera = { name = "left", on = ["disc_l4_5"], half_height_mm = 60 }
view.highlighted = ["femoral_left"]
words = "Look from the side."
question = "Which nerve is <b>this</b>?"
answer = "The femoral nerve, says the ward. [ward_sheet]"

[[steps]]
id = "portal"
title = "A portal"
view.portal = { level = "L4-5", at = 0.5 }
transition = "cut"

[[steps]]
id = "film"
title = "The film"
view.film = { view = "left" }

[[steps]]
id = "after"
title = "Without it"
view.film = false
"""
LARCH = """
[[steps]]
id = "larch"
title = "Larch"
specimen = { name = "Larch", variants = { accessory_obturator_left = true, accessory_obturator_right = true } }
view.highlighted = ["accessory_obturator_left"]
"""


def written(path: Path, text: str = HEAD + STEPS) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def run_of(window: MainWindow) -> Run:
    """Where the lesson stands."""
    assert window._run is not None
    return window._run


def ready(qtbot: QtBot, window: MainWindow) -> None:
    """Until the body that is wanted is there."""
    qtbot.waitUntil(lambda: not window.session.needs_body() and window.loader.wanted is None, timeout=60_000)


def told(window: MainWindow) -> str:
    """What the message over the field says."""
    return read(window.places.message.words) if window.places.message.isVisible() else ""


def read(label: QLabel) -> str:
    """What an eye reads off a label: marks of its text are not read, words are."""
    text = label.text()
    rich = label.textFormat() == Qt.TextFormat.RichText
    if label.textFormat() == Qt.TextFormat.AutoText:
        rich = QtGui.Qt.mightBeRichText(text)  # not of QtCore's Qt: that one has it only after some other imports
    if not rich:
        return text
    document = QTextDocument()
    document.setHtml(text)
    return document.toPlainText().replace("\xa0", " ")


def finder(window: MainWindow) -> Finder:
    """The finder that is open now."""
    return next(d for d in window.findChildren(Finder) if d.isVisible())


def on_step(window: MainWindow, index: int) -> bool:
    """Whether a step, and nothing else, is on the screen and on the page."""
    run = run_of(window)
    step = run.lesson.steps[index]
    scene = (window.session.specimen, window.session.view)
    return run.index == index and not run.left and scene == (step.specimen, window._seen(step))
