"""Steps on other bodies, and steps and files that cannot be shown: told in one sentence, the last good state stays."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import ALDER, Specimen
from tests.window.conftest import MainWindow, Make, Told
from tests.window.hands import Key, at_rest, press
from tests.window.lessonhands import HEAD, LARCH, STEPS, on_step, ready, run_of, told, written
from viewer.cameras import Eye


@pytest.fixture
def lesson(window: MainWindow, tmp_path: Path) -> Path:
    """The small lesson, open at its first step."""
    path = written(tmp_path / "femoral.toml")
    window.open_lesson(path)
    return path


def eye_now(window: MainWindow) -> Eye:
    assert window.field.eye is not None
    return window.field.eye


def bodies(alder: Body, larch: Body) -> Callable[[Specimen, Told], Body]:
    def load(specimen: Specimen, told_: Told) -> Body:
        if specimen.name == "Yew":
            raise FurcalError("bones.toml, [hip]: no such landmark.")
        return larch if specimen.variants == larch.specimen.variants else replace(alder, specimen=specimen)

    return load


@pytest.mark.parametrize("animated", [False, True])
def test_a_step_on_another_specimen_arrives_and_is_not_taken_for_left(
    qtbot: QtBot, make: Make, alder: Body, larch: Body, tmp_path: Path, animated: bool
) -> None:
    window = make(load=bodies(alder, larch))
    ready(qtbot, window)
    window.field.animated = animated
    window.open_lesson(
        written(tmp_path / "larch.toml", HEAD + STEPS.partition('\n[[steps]]\nid = "portal"')[0] + LARCH)
    )
    window.jump_to(2)
    assert not run_of(window).left, "also while its body is being built"
    ready(qtbot, window)
    assert on_step(window, 2)
    assert window.session.body is larch
    assert told(window) == ""
    at_rest(qtbot, window)
    there = eye_now(window)
    window.field.stand_still()
    window.field.refit()
    assert eye_now(window).is_close(there), "it ends where the step looks from, on its own body"
    press(qtbot, window, Key.Key_PageUp)
    ready(qtbot, window)
    assert on_step(window, 1)
    assert window.session.specimen == ALDER


BAD = {
    "no such nerve": ('view.highlighted = ["accessory_obturator_left"]', "has no such structure"),
    "no such portal": ('view.portal = { level = "T12-L1", cranial_deg = 60 }', "cranial_deg = 60"),
    "lit but not shown": ('view.dissection = "skin"\nview.highlighted = ["femoral_left"]', "is lit but not shown"),
}


@pytest.mark.parametrize("built_first", [False, True])
@pytest.mark.parametrize("bad", BAD)
def test_a_step_that_the_body_cannot_show_is_told_and_the_last_good_one_stays(
    qtbot: QtBot, window: MainWindow, tmp_path: Path, bad: str, built_first: bool
) -> None:
    keys, said = BAD[bad]
    who = 'specimen = { name = "Birch", psoas_scale = 1.2 }\n' if built_first else ""
    step = f'\n[[steps]]\nid = "bad"\ntitle = "A bad one"\n{who}{keys}\n'
    path = written(tmp_path / "bad.toml", HEAD + STEPS + step)
    window.open_lesson(path, 1)
    before, eye = window.session.scene, eye_now(window)
    window.guarded(window.jump_to)(5)
    qtbot.waitUntil(lambda: said in told(window), timeout=60_000)
    ready(qtbot, window)
    assert "step 6 (bad), " in told(window)
    assert str(path)[1:] in told(window)
    assert told(window).count(". ") <= 1
    assert on_step(window, 1)
    assert (window.session.scene, eye_now(window).is_close(eye)) == (before, True)
    assert window.settings.lesson() == (path, 1)
    press(qtbot, window, Key.Key_PageDown)
    assert run_of(window).revealed
    assert told(window) == ""


def test_a_specimen_that_cannot_be_built_leaves_the_step_before(
    qtbot: QtBot, make: Make, alder: Body, larch: Body, tmp_path: Path
) -> None:
    window = make(load=bodies(alder, larch))
    ready(qtbot, window)
    step = '\n[[steps]]\nid = "yew"\ntitle = "Yew"\nspecimen = { name = "Yew" }\n'
    window.open_lesson(written(tmp_path / "yew.toml", HEAD + STEPS + step), 4)
    press(qtbot, window, Key.Key_PageDown)
    qtbot.waitUntil(lambda: "no such landmark" in told(window), timeout=60_000)
    assert on_step(window, 4)


def test_a_broken_file_is_told_in_one_sentence_and_all_stays(window: MainWindow, lesson: Path, tmp_path: Path) -> None:
    window.jump_to(1)
    before, lessons = window.session.scene, run_of(window).lesson
    broken = written(tmp_path / "broken.toml", HEAD + STEPS + "<b>words</b> = 3\n")
    window.guarded(window.open_lesson)(broken)
    assert "broken.toml" in told(window)
    assert told(window).count(". ") <= 1
    assert window.session.scene == before
    assert run_of(window).lesson is lessons
    assert on_step(window, 1)
    written(broken, HEAD + STEPS + "'<b>words</b>' = 3\n")
    window.guarded(window.open_lesson)(broken)
    assert "<b>words</b>" in told(window), "also in a message words are text"
    assert on_step(window, 1)
