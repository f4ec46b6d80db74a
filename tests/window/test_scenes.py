"""Scenes in the window: saved, opened, dropped, listed; a broken file leaves everything as it was."""

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QFileDialog, QMenu
from pytestqt.qtbot import QtBot

from lessons.scenefile import read_scene, text_of, write_scene
from lessons.view import Placement, View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import ALDER, Specimen
from tests.window.conftest import MainWindow, Make, Told
from tests.window.hands import Key, Mod, answer, press
from viewer.session import Scene

BIRCH = Specimen(name="Birch", psoas_scale=1.3)
SHIFT = Mod.ControlModifier | Mod.ShiftModifier


@pytest.fixture
def chosen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Path]:
    """What the file dialogs answer."""
    paths = [tmp_path / "a.toml"]
    for dialog in ("getSaveFileName", "getOpenFileName"):
        monkeypatch.setattr(QFileDialog, dialog, staticmethod(lambda *_: (str(paths[0]), "")))
    return paths


def ready(qtbot: QtBot, window: MainWindow) -> None:
    """Until the body that is wanted is there."""
    qtbot.waitUntil(lambda: not window.session.needs_body() and window.loader.wanted is None, timeout=30_000)


def words(window: MainWindow) -> str:
    return window.places.message.words.text() if window.places.message.isVisible() else ""


def test_what_is_saved_comes_back_and_can_be_undone(qtbot: QtBot, window: MainWindow, chosen: list[Path]) -> None:
    window.use_specimen(BIRCH)
    ready(qtbot, window)
    for key in (Key.Key_L, Key.Key_BracketRight, Key.Key_X, Key.Key_T):
        press(qtbot, window, key)
    window.pick("femoral_right")
    saved = window.session.scene
    press(qtbot, window, Key.Key_S, SHIFT)
    scene = read_scene(chosen[0])
    assert Scene(scene.specimen, scene.view) == saved
    window.use_alder()
    ready(qtbot, window)
    press(qtbot, window, Key.Key_F)
    window.place_portal(None)
    changed = window.session.scene
    press(qtbot, window, Key.Key_O, SHIFT)
    assert window.session.scene == saved
    ready(qtbot, window)
    assert window.session.scene == saved
    assert window.session.docking is not None
    assert words(window) == ""
    window.undo()
    ready(qtbot, window)
    assert window.session.scene == changed
    assert window.session.body is not None
    assert window.session.body.specimen == ALDER


def test_a_specimen_and_its_posture_are_steps_to_undo(qtbot: QtBot, window: MainWindow) -> None:
    first = window.session.scene
    steps = partial(window.use_specimen, BIRCH), partial(window.lie, "prone")
    for step in steps:
        step()
        ready(qtbot, window)
    for specimen in (BIRCH, ALDER):
        window.undo()
        ready(qtbot, window)
        assert window.session.specimen == specimen
        assert window.session.body is not None
        assert window.session.body.specimen == specimen
    assert window.session.scene == first
    window.redo()
    ready(qtbot, window)
    assert "Birch" in window.windowTitle()


def test_undone_before_it_is_built_the_body_stays(qtbot: QtBot, window: MainWindow) -> None:
    body = window.session.body
    window.use_specimen(BIRCH)
    window.undo()
    assert window.loader.wanted is None
    qtbot.wait(300)
    assert window.session.body is body
    assert not window.places.progress.isVisible()


def test_the_name_that_is_offered(
    qtbot: QtBot, window: MainWindow, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    offered: list[str] = []

    def ask(_: object, __: str, name: str, ___: str) -> tuple[str, str]:
        offered.append(name)
        return str(tmp_path / Path(name).stem), ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", staticmethod(ask))
    window.save_scene()
    window.place_portal(None)
    window.session.use_specimen(Specimen(name="../Birch, Nº 2"))
    window.save_scene()
    assert offered == ["alder-l4-5.toml", "birch-nº-2.toml"]
    assert sorted(path.name for path in tmp_path.glob("*.toml")) == sorted(offered)
    with pytest.raises(FurcalError, match="is there already"):
        window.save_scene()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("furcal_scene 1", "is not valid TOML"),
        ("furcal_scene = 2", "written by a newer furcal (schema 2)"),
        ("name = 'Birch'", "is no scene file"),
        ("furcal_scene = 1\n[view]\nglassy = ['femur_lef']", "unknown structure 'femur_lef'. Nearest"),
        ("furcal_scene = 1\n[view.portal]\nat = 2", "at = 2: must be a number from 0 to 1"),
        ("furcal_scene = 1\n[view]\nshown = ['accessory_obturator_left']", "this specimen has no such structure"),
        (
            "furcal_scene = 1\n[specimen]\nname = 'Birch'\n[view]\nshown = ['accessory_obturator_left']",
            "this specimen has no such structure",
        ),
        (
            "furcal_scene = 1\n[view.portal]\nlevel = 'T12-L1'\ncranial_deg = 60\n[specimen]\nname = 'Birch'",
            "[view], portal: cranial_deg = 60",
        ),
    ],
)
def test_a_scene_that_cannot_be_shown_leaves_everything(
    qtbot: QtBot, window: MainWindow, chosen: list[Path], text: str, said: str
) -> None:
    press(qtbot, window, Key.Key_BracketRight)
    before, body, docking = window.session.scene, window.session.body, window.session.docking
    past = list(window.session.history.past)
    chosen[0].write_text(text)
    press(qtbot, window, Key.Key_O, SHIFT)
    qtbot.waitUntil(lambda: said in words(window), timeout=30_000)
    assert words(window).count(". ") <= 2
    assert str(chosen[0])[1:] in words(window)
    ready(qtbot, window)
    assert window.session.scene == before
    assert window.session.body is body
    assert window.session.docking is not None
    assert docking is not None
    assert answer(window.session.docking) == answer(docking)
    assert window.session.history.past == past


def test_recent_files_are_listed_and_opened(qtbot: QtBot, window: MainWindow, tmp_path: Path) -> None:
    scene, specimen, gone = tmp_path / "a & b.toml", tmp_path / "birch.toml", tmp_path / "gone.toml"
    write_scene(scene, ALDER, View(labels=False))
    specimen.write_text("psoas_scale = 1.2")
    gone.write_text("furcal_scene = 1")
    for path in (scene, gone, specimen):
        window.open_recent(path)
    gone.unlink()
    menu = recent_menu(window)
    menu.aboutToShow.emit()
    assert [action.text().split("  ")[:2] for action in menu.actions()] == [
        ["&1", "birch.toml"],
        ["&2", "a && b.toml"],
    ]
    menu.actions()[1].trigger()
    assert window.session.scene == Scene(ALDER, View(labels=False))
    menu.aboutToShow.emit()
    assert "a && b.toml" in menu.actions()[0].text()


def test_no_recent_file_is_told(window: MainWindow) -> None:
    menu = recent_menu(window)
    menu.aboutToShow.emit()
    assert [action.isEnabled() for action in menu.actions()] == [False]


def recent_menu(window: MainWindow) -> QMenu:
    return next(menu for menu in window.findChildren(QMenu) if menu.title() == "&Recent")


def drop(window: MainWindow, *paths: Path) -> bool:
    """Drop files on the middle of the field; whether they were taken."""
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    at = window.field.mapTo(window, QPoint(window.field.width() // 2, window.field.height() // 2))
    assert not window.field.acceptDrops()
    action, left, none = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(at, action, mime, left, none)
    enter.ignore()
    QApplication.sendEvent(window, enter)
    if not enter.isAccepted():
        return False
    QApplication.sendEvent(window, QDropEvent(QPointF(at), action, mime, left, none))
    return True


def test_a_file_is_dropped_on_the_window(qtbot: QtBot, window: MainWindow, tmp_path: Path) -> None:
    scene, specimen, picture = tmp_path / "scene.toml", tmp_path / "birch.toml", tmp_path / "a.png"
    view = View(portal=Placement(level="L2-3"))
    scene.write_text(text_of(ALDER, view))
    specimen.write_text("psoas_scale = 1.2")
    picture.touch()
    assert drop(window, scene)
    assert window.session.view == view
    assert drop(window, specimen)
    assert window.session.specimen == Specimen(name="birch", psoas_scale=1.2)
    ready(qtbot, window)
    before = window.session.scene
    assert not drop(window, picture)
    assert not drop(window, scene, specimen)
    scene.write_text("furcal_scene = 9")
    assert drop(window, scene)
    assert "newer furcal" in words(window)
    assert window.session.scene == before


def test_the_last_scene_is_restored_whole(qtbot: QtBot, make: Make) -> None:
    first = make()
    ready(qtbot, first)
    first.use_specimen(BIRCH)
    ready(qtbot, first)
    press(qtbot, first, Key.Key_BracketRight)
    kept = first.session.scene
    first.close()
    assert make().session.scene == kept
    assert make(specimen=ALDER).session.specimen == ALDER


def test_switches_are_restored(qtbot: QtBot, make: Make) -> None:
    first = make()
    first.toggle_steps()
    first.toggle_snaps()
    first.close()
    second = make()
    assert (second.field.turn_step_deg, second.snaps) == (first.field.turn_step_deg, True)
    assert second.field.turn_step_deg > 0.0
    assert second.actions_by_name["toggle_steps"].isChecked()
    second.toggle_steps()
    second.toggle_snaps()
    second.close()
    third = make()
    assert (third.field.turn_step_deg, third.snaps) == (0.0, False)


def test_what_is_seen_is_kept_while_the_window_is_open(qtbot: QtBot, window: MainWindow, tmp_path: Path) -> None:
    from viewer.settings import Settings

    press(qtbot, window, Key.Key_BracketRight)
    qtbot.waitUntil(lambda: Settings(tmp_path).view() == window.session.view, timeout=10_000)


def test_a_kept_specimen_that_cannot_be_built_any_more_is_followed_by_alder(
    qtbot: QtBot, make: Make, alder: Body, tmp_path: Path
) -> None:
    from viewer.settings import Settings

    def load(specimen: Specimen, told: Told) -> Body:
        if specimen == BIRCH:
            raise FurcalError("bones.toml, [hip]: no such landmark.")
        return replace(alder, specimen=specimen)

    Settings(tmp_path).keep_scene(BIRCH, View())
    window = make(load=load)
    qtbot.waitUntil(lambda: window.session.body is not None, timeout=30_000)
    assert window.session.specimen == ALDER
