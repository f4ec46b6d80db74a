"""Undo, what is restored, pictures and specimen files; and the form of the whole window."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import FunctionType

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QToolButton, QWidget
from pytestqt.qtbot import QtBot

from lessons.view import Camera, Placement, View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from tests.window.conftest import MainWindow, Make, Told
from tests.window.hands import Key, Mod, press
from viewer.actions import ACTIONS
from viewer.doing.lesson import NOT_IN_LESSON, ONLY_IN_LESSON
from viewer.palette import THEMES
from viewer.spotmode import ONLY_IN_SPOT

# --- undo, settings, pictures


def test_everything_done_can_be_undone_step_by_step(qtbot: QtBot, window: MainWindow) -> None:
    done = [window.session.view]
    for key, modifier in (
        (Key.Key_F, Mod.NoModifier), (Key.Key_BracketLeft, Mod.NoModifier), (Key.Key_G, Mod.NoModifier),
        (Key.Key_X, Mod.NoModifier), (Key.Key_Period, Mod.NoModifier), (Key.Key_T, Mod.NoModifier),
        (Key.Key_O, Mod.NoModifier), (Key.Key_D, Mod.NoModifier), (Key.Key_D, Mod.ControlModifier),
        (Key.Key_2, Mod.ControlModifier),
    ):  # fmt: skip
        press(qtbot, window, key, modifier)
        if window.session.view != done[-1]:
            done.append(window.session.view)
    assert len(done) >= 10
    for view in reversed(done[:-1]):
        window.undo()
        assert window.session.view == view
    assert not window.session.history.past


def test_what_was_seen_is_restored(qtbot: QtBot, make: Make, tmp_path: Path) -> None:
    first = make()
    qtbot.waitUntil(lambda: first.session.docking is not None, timeout=30_000)
    first.resize(1010, 700)
    for key in (Key.Key_L, Key.Key_BracketRight, Key.Key_X):
        press(qtbot, first, key)
    press(qtbot, first, Key.Key_D, Mod.ControlModifier)
    kept = first.session.view
    first.close()
    second = make()
    assert second.session.view == kept
    assert (second.width(), second.height()) == (1010, 700)


@pytest.mark.parametrize("text", ["{", "[]", '{"dissection": "fascia"}', '{"portal": {"at": "x"}}', '"word"'])
def test_broken_settings_are_done_without(qtbot: QtBot, make: Make, tmp_path: Path, text: str) -> None:
    (tmp_path / "window.ini").write_text(f"[General]\nview={json.dumps(text)}\ntheme=purple\ngeometry=3\n")
    window = make()
    assert window.session.view.portal == Placement()
    assert window.session.view.theme in THEMES


def test_a_picture_is_saved_and_a_bad_place_is_told(
    qtbot: QtBot, window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from PIL import Image
    from PySide6.QtWidgets import QFileDialog

    place_ = [tmp_path / "shot"]
    monkeypatch.setattr(QFileDialog, "getSaveFileName", staticmethod(lambda *_: (str(place_[0]), "")))
    press(qtbot, window, Key.Key_S, Mod.ControlModifier)
    picture = np.asarray(Image.open(tmp_path / "shot.png").convert("RGB"))
    assert picture.shape == (1080, 1920, 3)
    assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 500
    place_[0] = tmp_path / "none" / "shot.png"
    press(qtbot, window, Key.Key_S, Mod.ControlModifier)
    assert "no such folder" in window.places.message.words.text()
    window.copy_picture()
    assert not QApplication.clipboard().pixmap().isNull()


def test_a_specimen_that_cannot_be_built_leaves_the_last_body(qtbot: QtBot, make: Make, alder: Body) -> None:
    def load(specimen: Specimen, told: Told) -> Body:
        if specimen.name == "Birch":
            raise FurcalError("bones.toml, [hip]: no such landmark.")
        return replace(alder, specimen=specimen)

    window = make(load=load)
    qtbot.waitUntil(lambda: window.session.docking is not None, timeout=30_000)
    window.use_specimen(Specimen(name="Birch"))
    qtbot.waitUntil(window.places.message.isVisible, timeout=10_000)
    assert "Bones.toml, [hip]" in window.places.message.words.text()
    assert window.session.specimen.name == "Alder"
    assert not window.session.needs_body()


def test_a_specimen_file_is_opened(
    qtbot: QtBot, window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from PySide6.QtWidgets import QFileDialog

    file = tmp_path / "birch.toml"
    monkeypatch.setattr(QFileDialog, "getOpenFileName", staticmethod(lambda *_: (str(file), "")))
    press(qtbot, window, Key.Key_O, Mod.ControlModifier)
    assert "birch.toml" in window.places.message.words.text()
    file.write_text('name = "Birch"\npsoas_scale = 1.3\n')
    press(qtbot, window, Key.Key_O, Mod.ControlModifier)
    qtbot.waitUntil(
        lambda: window.session.body is not None and window.session.body.specimen.name == "Birch", timeout=30_000
    )
    assert "Birch" in window.windowTitle()


# --- form


def test_every_key_is_used_once_and_every_action_has_a_method(window: MainWindow) -> None:
    # Of these only those are there at a time that go with a lesson, with a spot test, or with neither.
    lesson, spot, neither = set(ONLY_IN_LESSON), set(ONLY_IN_SPOT), set(NOT_IN_LESSON)
    for others in (neither | spot, lesson, lesson | spot):
        keys = [key for action in ACTIONS if action.name not in others for key in action.keys]
        assert len(set(keys)) == len(keys)
    assert not set(ONLY_IN_LESSON) & set(NOT_IN_LESSON)
    assert len({action.name for action in ACTIONS}) == len(ACTIONS)
    assert all(callable(getattr(window, action.calls)) for action in ACTIONS)


def test_what_one_group_of_doings_asks_for_another_one_does(window: MainWindow) -> None:
    works = [getattr(type(window), name) for name in dir(type(window)) if not name.startswith("__")]
    codes = [work.__code__ for work in works if isinstance(work, FunctionType)]
    assert len(codes) > 100
    assert not [code.co_qualname for code in codes if "NotImplementedError" in code.co_names]


def test_what_can_be_reached_by_tab_has_a_name(window: MainWindow) -> None:
    reached: list[QWidget] = []
    widget = window.field.nextInFocusChain()
    while widget is not None and widget is not window.field:
        if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            reached.append(widget)
        widget = widget.nextInFocusChain()
    nameless = [w for w in reached if not (w.accessibleName() or getattr(w, "text", str)() or _inside(w))]
    assert len(reached) > 15
    assert not nameless


def _inside(widget: QWidget) -> bool:
    """A part of a box that has a name itself."""
    parent = widget.parentWidget()
    return parent is not None and bool(parent.accessibleName())


def test_tool_buttons_tell_their_keys(window: MainWindow) -> None:
    tips = [b.toolTip() for b in window.findChildren(QToolButton) if b.defaultAction() is not None]
    assert any(tip.endswith("(F)") for tip in tips)


def test_keys_and_about_open(qtbot: QtBot, window: MainWindow) -> None:
    from PySide6.QtWidgets import QDialog, QLabel

    def words(open_it: Callable[[], None]) -> str:
        open_it()
        dialog = [d for d in window.findChildren(QDialog) if d.isVisible()][-1]
        text = " ".join(label.text() for label in dialog.findChildren(QLabel))
        dialog.close()
        return text

    assert "Ctrl+Z" in words(window.show_keys)
    assert "not for planning or guiding an operation" in words(window.show_about)


def test_muscle_pixels_are_there_in_the_window(qtbot: QtBot, window: MainWindow) -> None:
    """Glassy meshes once vanished without a word: so they are counted on the real screen too."""

    def shot(view: View) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
        window.session.change(view)
        window.field.stand_still()
        image = window.field.grabFramebuffer().convertToFormat(QImage.Format.Format_RGB888)
        bits = np.frombuffer(image.bits(), dtype=np.uint8).reshape(image.height(), image.bytesPerLine())
        return bits[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(np.int64)

    view = replace(window.session.view, camera=Camera("front"), labels=False, portal=None)
    psoas = ["psoas_major_left", "psoas_major_right"]
    without = shot(view.with_state(psoas, "off"))
    solid = (np.abs(shot(view.with_state(psoas, "on")) - without) > 12).any(axis=2).mean()
    glassy = (np.abs(shot(view.with_state(psoas, "glassy")) - without) > 6).any(axis=2).mean()
    assert solid > 0.01
    assert glassy > 0.85 * solid


def test_a_picture_never_replaces_what_was_not_asked_about(
    qtbot: QtBot, window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from PySide6.QtWidgets import QFileDialog

    (tmp_path / "shot.png").write_text("mine")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", staticmethod(lambda *_: (str(tmp_path / "shot"), "")))
    press(qtbot, window, Key.Key_S, Mod.ControlModifier)
    assert "is there already" in window.places.message.words.text()
    assert (tmp_path / "shot.png").read_text() == "mine"
