"""A lesson written in the window: what the editor shows is what the file says, and nothing typed is lost."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QPlainTextEdit
from pytestqt.qtbot import QtBot

from lessons.bundled import course_files
from lessons.lesson import TRANSITIONS
from lessons.script import read_lesson
from lessons.view import Placement
from lessons.wholetext import write_text
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, press
from tests.window.lessonhands import HEAD, STEPS, finder, on_step, ready, run_of, told, written
from viewer.panels.lessonedit import LessonEditor

SHIFT = Mod.ControlModifier | Mod.ShiftModifier
TEXTS = ("words", "notes", "question", "answer")


@pytest.fixture
def editor(window: MainWindow, tmp_path: Path) -> LessonEditor:
    """The editor, open on the first step of the small lesson."""
    window.open_lesson(written(tmp_path / "femoral.toml"))
    window.toggle_writing()
    agrees(window)
    return window.places.editor


@pytest.fixture
def chosen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """What the file dialog answers."""
    names = [str(tmp_path / "mine.toml")]
    monkeypatch.setattr(QFileDialog, "getSaveFileName", staticmethod(lambda *_: (names[0], "")))
    return names


def agrees(window: MainWindow) -> None:
    """The file on disk is what the editor, the page and the screen show."""
    editor, run = window.places.editor, run_of(window)
    lesson = read_lesson(run.lesson.path)
    assert lesson == run.lesson
    assert [editor.list.item(i).text() for i in range(editor.list.count())] == [
        f"{n}.  {step.title}" for n, step in enumerate(lesson.steps, start=1)
    ]
    step = lesson.steps[editor.list.currentRow()]
    assert run.step == step
    assert editor.title.text() == step.title
    assert {key: editor.texts[key].text.strip() for key in TEXTS} == {key: getattr(step, key) for key in TEXTS}
    assert editor.transition.currentIndex() == TRANSITIONS.index(step.transition)


def typed(qtbot: QtBot, box: QPlainTextEdit, words: str) -> None:
    box.setFocus()
    box.selectAll()
    qtbot.keyClicks(box, words)


# --- words


def test_words_are_written_after_a_pause_and_when_one_goes_away(
    qtbot: QtBot, window: MainWindow, editor: LessonEditor
) -> None:
    path = run_of(window).lesson.path
    typed(qtbot, editor.texts["words"], "From in front. [ward_sheet]")
    qtbot.waitUntil(lambda: read_lesson(path).steps[0].words == "From in front. [ward_sheet]", timeout=20_000)
    agrees(window)
    typed(qtbot, editor.texts["notes"], "Wait & see <b>.")
    editor.texts["question"].setFocus()
    assert read_lesson(path).steps[0].notes == "Wait & see <b>."
    editor.title.selectAll()
    qtbot.keyClicks(editor.title, "A new title")
    qtbot.keyClick(editor.title, Key.Key_Return)
    assert read_lesson(path).steps[0].title == "A new title"
    agrees(window)
    assert path.read_text().startswith("# A comment of the teacher's.\n"), "comments stay"


def test_looking_changes_nothing(qtbot: QtBot, window: MainWindow, tmp_path: Path) -> None:
    text = HEAD + STEPS.replace("Look from the side.", "Look\xa0from 4\xa0mm beside. ")
    path = written(tmp_path / "spaces.toml", text)
    window.open_lesson(path)
    window.toggle_writing()
    editor = window.places.editor
    assert window.actions_by_name["toggle_writing"].isChecked()
    for row in (1, 2, 0, 1):
        editor.list.setCurrentRow(row)
        for box in (*editor.texts.values(), editor.title):
            box.setFocus()
    window.toggle_writing()
    assert not window.actions_by_name["toggle_writing"].isChecked()
    assert path.read_text(encoding="utf-8") == text
    assert window.places.lesson.isVisible()
    assert editor.isHidden()


def test_what_is_typed_goes_to_its_own_step_whatever_comes_next(
    qtbot: QtBot, window: MainWindow, editor: LessonEditor
) -> None:
    path = run_of(window).lesson.path
    goes = {
        "by the list": lambda: editor.list.setCurrentRow(1),
        "by a step": window.step_on,
        "by keeping": window.keep_step,
        "by the end": window.end_lesson,
    }
    for says, go in goes.items():
        editor.list.setCurrentRow(0)
        others = read_lesson(path).steps[1:]
        typed(qtbot, editor.texts["words"], says)
        go()
        assert read_lesson(path).steps[0].words == says
        assert read_lesson(path).steps[-len(others) :] == others
        if window._run is not None:
            agrees(window)
    assert window.places.editor.isHidden()


# --- steps


def test_steps_are_kept_ordered_copied_deleted_and_every_edit_undone(
    qtbot: QtBot, window: MainWindow, editor: LessonEditor
) -> None:
    path = run_of(window).lesson.path
    texts = [path.read_text()]

    def did() -> None:
        agrees(window)
        assert not told(window)
        texts.append(path.read_text())
        assert texts[-1] != texts[-2]

    def titles() -> list[str]:
        return [step.id for step in read_lesson(path).steps]

    before = titles()
    editor.list.setCurrentRow(1)
    scenes = {step.id: (step.view, step.specimen) for step in read_lesson(path).steps}
    for word, after in (
        ("copy_step", [*before[:2], "question_2", *before[2:]]),
        ("move_step_down", [*before[:3], "question_2", *before[3:]]),
        ("move_step_up", [*before[:2], "question_2", *before[2:]]),
        ("drop_step", before),
    ):
        qtbot.mouseClick(editor.buttons[word], Left)
        assert titles() == after
        did()
        for step in read_lesson(path).steps:
            assert (step.view, step.specimen) == scenes[step.id.removesuffix("_2")], "no edit changes another step"
    editor.transition.activated.emit(TRANSITIONS.index("follow"))
    did()
    for text in reversed(texts[:-1]):
        qtbot.mouseClick(editor.buttons["undo_edit"], Left)
        assert path.read_text() == text
        agrees(window)
    assert not editor.buttons["undo_edit"].isEnabled()
    for text in texts[1:]:
        qtbot.mouseClick(editor.buttons["redo_edit"], Left)
        assert path.read_text() == text
        agrees(window)
    assert not editor.buttons["redo_edit"].isEnabled()


def test_a_lesson_authored_in_the_window_shows_the_same_again(
    qtbot: QtBot, window: MainWindow, chosen: list[str]
) -> None:
    window.make_lesson()
    path = run_of(window).lesson.path
    assert path == Path(chosen[0])
    kept = []

    def keep(modifier: Qt.KeyboardModifier = Mod.ControlModifier) -> None:
        press(qtbot, window, Key.Key_Return, modifier)
        agrees(window)
        assert on_step(window, run_of(window).index)
        kept.append((window.session.view, window.session.specimen))

    press(qtbot, window, Key.Key_Left, Mod.ShiftModifier)
    keep()
    window.place_portal(Placement(level="L2-3", side="right", at=0.3, cranial_deg=4.0))
    keep()
    window.toggle_film()
    keep()
    window.toggle_film()
    window.pick("obturator_right")
    window.use_specimen(Specimen(name="Birch", psoas_scale=1.25))
    ready(qtbot, window)
    keep()
    press(qtbot, window, Key.Key_Minus)
    press(qtbot, window, Key.Key_BracketRight)
    kept.pop()
    keep(SHIFT)
    steps = read_lesson(path).steps
    assert len(steps) == 6
    assert [(window._seen(step), step.specimen) for step in steps[1:5]] == kept
    window.end_lesson()
    window.open_lesson(path)
    for index, (view, specimen) in enumerate(kept, start=1):
        window.jump_to(index)
        ready(qtbot, window)
        assert (window.session.view, window.session.specimen) == (view, specimen)
        assert on_step(window, index)


# --- whose file


def test_a_lesson_of_the_course_is_copied_and_never_changed(
    qtbot: QtBot, window: MainWindow, chosen: list[str]
) -> None:
    bundled = course_files()[0]
    text = bundled.read_bytes()
    window.open_lesson(bundled)
    mine, chosen[0] = chosen[0], ""
    window.guarded(window.keep_step)()
    assert "choose a file of your own" in told(window)
    chosen[0] = str(bundled)
    window.guarded(window.toggle_writing)()
    assert "is a lesson of the course" in told(window)
    assert window.places.editor.isHidden()
    window.guarded(window.make_lesson)()
    assert "is a lesson of the course" in told(window)
    assert bundled.read_bytes() == text
    chosen[0] = mine
    window.toggle_writing()
    assert Path(mine).read_bytes() == text
    agrees(window)
    window.keep_step()
    assert len(read_lesson(Path(mine)).steps) == len(read_lesson(bundled).steps) + 1
    assert bundled.read_bytes() == text
    assert window.settings.lesson()[0] == Path(mine)


def test_a_new_lesson_replaces_only_what_can_become_one(window: MainWindow, chosen: list[str], tmp_path: Path) -> None:
    notes = written(tmp_path / "notes.txt", "mine")
    chosen[0] = str(notes)
    with pytest.raises(FurcalError, match=r"ends in \.toml"):
        window.make_lesson()
    assert notes.read_text() == "mine"


def test_another_lesson_ends_the_writing_of_this_one(
    qtbot: QtBot, window: MainWindow, editor: LessonEditor, tmp_path: Path
) -> None:
    path = run_of(window).lesson.path
    typed(qtbot, editor.texts["notes"], "typed last")
    other = written(tmp_path / "other.toml")
    window.open_lesson(other, 1)
    assert read_lesson(path).steps[0].notes == "typed last"
    assert editor.isHidden()
    assert on_step(window, 1)
    assert run_of(window).lesson.path == other


def test_a_file_changed_by_another_program_is_told_and_read_again(
    qtbot: QtBot, window: MainWindow, editor: LessonEditor
) -> None:
    path = run_of(window).lesson.path
    theirs = path.read_text().replace("Point at <u>the groove</u> & wait.", "Theirs.")
    write_text(path, theirs)
    typed(qtbot, editor.texts["words"], "Mine.")
    editor.title.setFocus()
    assert "another program has changed it" in told(window)
    assert path.read_text() == theirs
    assert editor.texts["words"].text == "Mine.", "nothing typed is lost"
    window.guarded(editor.list.setCurrentRow)(1)
    assert editor.list.currentRow() == 0, "nor shown over"
    window.guarded(window.reread_lesson)()
    assert editor.texts["notes"].text == "Theirs."
    assert editor.texts["words"].text == "Mine."
    editor.finish()
    agrees(window)
    assert (read_lesson(path).steps[0].words, read_lesson(path).steps[0].notes) == ("Mine.", "Theirs.")
    write_text(path, HEAD + STEPS.partition('\n[[steps]]\nid = "portal"')[0])
    editor.list.setCurrentRow(1)
    window.toggle_writing()
    write_text(path, HEAD + STEPS.partition('\n[[steps]]\nid = "question"')[0])
    window.toggle_writing()
    agrees(window)
    assert on_step(window, 0), "of a file that has become shorter, the last step"


def test_where_nothing_can_be_written_it_is_told_and_nothing_is_lost(
    qtbot: QtBot, window: MainWindow, editor: LessonEditor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As root every folder can be written: so the system's answer is given here."""
    path = run_of(window).lesson.path
    text = path.read_text()

    def refused(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as locked:
        locked.setattr(Path, "replace", refused)
        typed(qtbot, editor.texts["words"], "Mine.")
        editor.title.setFocus()
        assert "cannot be written (Permission denied)" in told(window)
        typed(qtbot, editor.texts["notes"], "Also mine.")
        window.guarded(window.step_on)()
        assert run_of(window).index == 0
        window.guarded(window.keep_step)()
    assert path.read_text() == text
    assert [p.name for p in path.parent.iterdir() if p.suffix == ".part"] == []
    assert (editor.texts["words"].text, editor.texts["notes"].text) == ("Mine.", "Also mine.")
    editor.texts["notes"].finish()
    assert editor.texts["words"].text == "Mine."
    editor.finish()
    agrees(window)
    assert (read_lesson(path).steps[0].words, read_lesson(path).steps[0].notes) == ("Mine.", "Also mine.")


def test_what_makes_no_lesson_is_told_and_the_file_stays(
    qtbot: QtBot, window: MainWindow, editor: LessonEditor
) -> None:
    path = run_of(window).lesson.path
    text = path.read_text()
    typed(qtbot, editor.texts["words"], "Said by [nobody_known].")
    editor.title.setFocus()
    assert "nobody_known" in told(window)
    assert "step 1 (front), words" in told(window)
    assert path.read_text() == text
    write_text(path, "furcal_lesson = 1\n[[")
    window.guarded(window.reread_lesson)()
    assert "is not valid TOML" in told(window)
    assert on_step(window, 0)
    write_text(path, text)


def test_a_step_that_the_body_cannot_show_can_be_edited(qtbot: QtBot, window: MainWindow, tmp_path: Path) -> None:
    bad = '\n[[steps]]\nid = "bad"\ntitle = "A bad one"\nview.highlighted = ["accessory_obturator_left"]\n'
    path = written(tmp_path / "bad.toml", HEAD + STEPS + bad)
    window.open_lesson(path)
    window.toggle_writing()
    editor = window.places.editor
    editor.list.setCurrentRow(5)
    assert "step 6 (bad), view" in told(window)
    assert editor.title.text() == "A bad one"
    assert on_step(window, 0)
    typed(qtbot, editor.texts["words"], "To be mended.")
    editor.texts["words"].finish()
    steps = read_lesson(path).steps
    assert (steps[5].words, steps[0].words) == ("To be mended.", run_of(window).lesson.steps[0].words)
    window.keep_scene_in_step()
    assert told(window) == ""
    agrees(window)
    assert on_step(window, 5)
    window.go_to_step()
    assert [row.hint for row in finder(window).shown].index("here") == 5
    finder(window).reject()
