"""A lesson given in the window: stepping, questions, words, leaving the script and coming back."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QApplication, QFileDialog, QWidget
from pytestqt.qtbot import QtBot

from lessons.script import read_lesson
from lessons.view import Placement
from tests.window.conftest import MainWindow, Make
from tests.window.hands import Key, Left, Mod, at_rest, press
from tests.window.lessonhands import HEAD, STEPS, finder, on_step, read, ready, run_of, written
from viewer.cameras import Eye
from viewer.doing.lesson import NOT_IN_LESSON, ONLY_IN_LESSON


@pytest.fixture
def lesson(window: MainWindow, tmp_path: Path) -> Path:
    """The small lesson, open at its first step."""
    path = written(tmp_path / "femoral.toml")
    window.open_lesson(path)
    return path


def focused() -> QWidget:
    widget = QApplication.focusWidget()
    assert widget is not None
    return widget


def eye_now(window: MainWindow) -> Eye:
    assert window.field.eye is not None
    return window.field.eye


# --- opening, stepping


def test_a_lesson_opens_at_its_first_step_on_its_page(window: MainWindow, lesson: Path) -> None:
    assert on_step(window, 0)
    assert window.places.page == "lesson"
    assert window.places.lesson.isVisible()
    assert window.settings.recent() == [lesson]
    assert window.field.hasFocus()


def test_a_lesson_file_is_asked_for_opened_from_the_recent_ones_and_dropped(
    window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(tmp_path / "femoral.toml")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", staticmethod(lambda *_: (str(path), "")))
    window.open_lesson_file()
    assert on_step(window, 0)
    window.end_lesson()
    window.open_recent(path)
    assert on_step(window, 0)


def test_keys_and_buttons_step(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    page = window.places.lesson
    window.jump_to(2)
    for key, to in (
        (Key.Key_PageDown, 3), (Key.Key_PageUp, 2), (Key.Key_Right, 3), (Key.Key_Left, 2), (Key.Key_Down, 3),
        (Key.Key_Up, 2), (Key.Key_Space, 3), (Key.Key_PageDown, 4), (Key.Key_PageUp, 3), (Key.Key_PageUp, 2),
    ):  # fmt: skip
        qtbot.keyClick(focused(), key)
        assert on_step(window, to), (key, to)
    qtbot.mouseClick(page.bar.next, Left)
    assert on_step(window, 3)
    qtbot.mouseClick(page.bar.back, Left)
    assert on_step(window, 2)
    qtbot.keyClick(focused(), Key.Key_Right)
    assert on_step(window, 3), "a button that was clicked does not take the arrow keys"


def test_the_ends_hold(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    press(qtbot, window, Key.Key_PageUp)
    assert on_step(window, 0)
    assert not window.places.lesson.bar.back.isEnabled()
    window.jump_to(4)
    assert not window.places.lesson.bar.next.isEnabled()
    press(qtbot, window, Key.Key_PageDown)
    assert on_step(window, 4)
    assert "ends here" in window.statusBar().currentMessage()


def test_a_step_is_found_by_its_number_and_by_its_words(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    press(qtbot, window, Key.Key_G, Mod.ControlModifier)
    qtbot.keyClicks(finder(window).line, "3")
    qtbot.keyClick(finder(window).line, Key.Key_Return)
    assert on_step(window, 2)
    qtbot.mouseClick(window.places.lesson.bar.list, Left)
    asked = finder(window)
    assert [row.hint for row in asked.shown] == ["", "", "here", "", ""]
    qtbot.keyClicks(asked.line, "question")
    qtbot.keyClick(asked.line, Key.Key_Return)
    assert on_step(window, 1)


def test_undo_after_steps_leads_before_the_lesson_and_redo_to_the_step(
    qtbot: QtBot, window: MainWindow, tmp_path: Path
) -> None:
    before = window.session.scene
    window.open_lesson(written(tmp_path / "femoral.toml"))
    window.jump_to(2)
    assert on_step(window, 2)
    window.undo()
    assert window.session.scene == before
    assert run_of(window).left
    window.redo()
    assert on_step(window, 2)
    window.undo()
    press(qtbot, window, Key.Key_PageDown)
    assert on_step(window, 2), "a step leads back first"


# --- questions and words


def test_a_question_waits_and_its_answer_and_sources_come_together(
    qtbot: QtBot, window: MainWindow, lesson: Path
) -> None:
    page = window.places.lesson
    window.jump_to(1)
    assert read(page.question).strip() == "Which nerve is <b>this</b>?"
    assert page.reveal.isVisible()
    assert not page.answer.isVisible()
    assert not page.sources.isVisible(), "what the answer cites would give it away"
    press(qtbot, window, Key.Key_PageDown)
    assert on_step(window, 1)
    assert page.answer.isVisible()
    assert not page.reveal.isVisible()
    assert read(page.answer).strip() == "The femoral nerve, says the ward. [1]"
    assert read(page.sources.words) == "[1] Sheet of the ward, winter skills week, 2026"
    press(qtbot, window, Key.Key_PageDown)
    assert on_step(window, 2)
    press(qtbot, window, Key.Key_PageUp)
    assert on_step(window, 1)
    assert page.answer.isVisible(), "who comes back has seen it"
    window.jump_to(1)
    assert not page.answer.isVisible()
    qtbot.mouseClick(page.reveal, Left)
    assert page.answer.isVisible()


def test_words_of_a_file_are_shown_as_they_stand_there(window: MainWindow, lesson: Path) -> None:
    page = window.places.lesson
    assert read(page.head) == "Bone & nerve: where's <b>it</b>?, step 1 of 5"
    assert read(page.title) == "Where's it & why <i>there</i>?"
    words = read(page.words)
    assert 'lies <b>inside</b> psoas & <script>alert("1")</script> stays there. [1]' in words
    assert "• an item <img src='x.png'>" in words
    assert "common practice" in read(page.sources.words)


def test_words_grow_and_shrink_within_bounds_and_stay_so(qtbot: QtBot, make: Make, tmp_path: Path) -> None:
    window = make()
    path = written(tmp_path / "femoral.toml")
    window.open_lesson(path)
    page = window.places.lesson
    usual = page.larger
    low = page.words.sizeHint().height()
    for _ in range(4):
        press(qtbot, window, Key.Key_Plus, Mod.ControlModifier)
    assert page.larger == pytest.approx(usual * 1.12**4)
    assert page.words.sizeHint().height() > low
    press(qtbot, window, Key.Key_Minus, Mod.ControlModifier)
    kept = page.larger
    assert kept == pytest.approx(usual * 1.12**3)
    window.close()
    again = make()
    assert again.places.lesson.larger == pytest.approx(kept, abs=1e-3)
    for _ in range(40):
        again.words_larger()
    assert again.places.lesson.larger == 3.0
    for _ in range(40):
        again.words_smaller()
    assert again.places.lesson.larger == 1.0


# --- leaving the script

Leave = Callable[[QtBot, MainWindow], None]


def leave_by_mouse(qtbot: QtBot, window: MainWindow) -> None:
    field = window.field
    qtbot.mousePress(field, Left, pos=QPoint(300, 300))
    for x in range(310, 400, 10):
        qtbot.mouseMove(field, QPoint(x, 320))
    qtbot.mouseRelease(field, Left, pos=QPoint(400, 320))


def leave_by_keys(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_Left, Mod.ShiftModifier)
    press(qtbot, window, Key.Key_Minus)


def leave_by_words(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_BracketRight)
    window.pick("obturator_left")
    window.place_portal(Placement(level="L2-3"))


@pytest.mark.parametrize("leave", [leave_by_mouse, leave_by_keys, leave_by_words])
def test_every_step_leads_back_to_exactly_the_same(
    qtbot: QtBot, window: MainWindow, lesson: Path, leave: Leave
) -> None:
    page = window.places.lesson
    window.jump_to(1)
    view, specimen, eye = window.session.view, window.session.specimen, eye_now(window)
    press(qtbot, window, Key.Key_PageDown)  # the answer is shown
    backs: list[Callable[[], None]] = [
        lambda: press(qtbot, window, Key.Key_Backspace),
        lambda: press(qtbot, window, Key.Key_PageDown),
        lambda: press(qtbot, window, Key.Key_PageUp),
        lambda: press(qtbot, window, Key.Key_Space),
        page.left.button.click,
    ]
    for back in backs:
        leave(qtbot, window)
        assert run_of(window).left
        assert window.session.view != view
        window.places.show_page("lesson")
        assert page.left.isVisible()
        back()
        assert on_step(window, 1)
        assert run_of(window).revealed
        assert not page.left.isVisible()
        assert (window.session.view, window.session.specimen) == (view, specimen)
        assert eye_now(window).is_close(eye)


def test_one_who_flies_back_lands_on_the_same_eye(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    window.jump_to(1)
    eye = eye_now(window)
    window.field.animated = True
    leave_by_keys(qtbot, window)
    press(qtbot, window, Key.Key_Backspace)
    assert not eye_now(window).is_close(eye), "it flies"
    at_rest(qtbot, window)
    assert on_step(window, 1)
    assert eye_now(window).is_close(eye)
    leave_by_keys(qtbot, window)
    window.jump_to(2)  # a cut
    assert on_step(window, 2)
    assert eye_now(window).is_close(eye), "the same camera, at once"


def test_theme_and_latin_are_the_readers_and_stay(qtbot: QtBot, window: MainWindow, lesson: Path) -> None:
    theme = window.session.view.theme
    press(qtbot, window, Key.Key_D, Mod.ControlModifier)
    press(qtbot, window, Key.Key_N)
    assert on_step(window, 0), "neither leaves the script"
    for index in (1, 2, 3):
        window.jump_to(index)
        assert on_step(window, index)
        assert window.session.view.theme != theme
        assert window.session.view.language == "latin"


def test_without_a_lesson_arrows_turn_the_body_and_the_point_moves_the_portal(
    qtbot: QtBot, window: MainWindow, tmp_path: Path
) -> None:
    def at() -> float:
        assert window.session.view.portal is not None
        return window.session.view.portal.at

    eye = eye_now(window)
    press(qtbot, window, Key.Key_Left)
    assert not eye_now(window).is_close(eye)
    press(qtbot, window, Key.Key_Period)
    assert at() == 0.75
    window.open_lesson(written(tmp_path / "femoral.toml"))
    window.jump_to(2)
    press(qtbot, window, Key.Key_Period)
    assert at() == 0.5
    assert run_of(window).blank
    window.end_lesson()
    press(qtbot, window, Key.Key_Period)
    assert at() == 0.75
    press(qtbot, window, Key.Key_Comma)
    assert at() == 0.5
    eye = eye_now(window)
    press(qtbot, window, Key.Key_Left)
    assert not eye_now(window).is_close(eye)


def test_actions_can_be_taken_where_they_can_work(qtbot: QtBot, window: MainWindow, tmp_path: Path) -> None:
    actions = window.actions_by_name

    def able(names: tuple[str, ...]) -> set[bool]:
        return {actions[name].isEnabled() for name in names}

    always = ("open_course", "open_lesson_file", "resume_lesson", "make_lesson", "words_larger", "toggle_pointer")
    assert (able(ONLY_IN_LESSON), able(NOT_IN_LESSON), able(always)) == ({False}, {True}, {True})
    window.open_lesson(written(tmp_path / "femoral.toml"))
    assert (able(ONLY_IN_LESSON), able(NOT_IN_LESSON), able(always)) == ({True}, {False}, {True})
    window.end_lesson()
    assert (able(ONLY_IN_LESSON), able(NOT_IN_LESSON), able(always)) == ({False}, {True}, {True})
    window.show_commands()
    hints = {row.payload: row.hint for row in finder(window).shown}
    assert hints["step_on"] == "no lesson is open", "a row that cannot be taken says why"
    finder(window).reject()


def test_the_end_takes_the_words_away_and_leaves_the_picture(window: MainWindow, lesson: Path) -> None:
    window.jump_to(2)
    scene = window.session.scene
    window.end_lesson()
    page = window.places.lesson
    assert window.session.scene == scene
    assert read(page.head).startswith("No lesson is open.")
    assert not page.title.isVisible()
    assert not page.bar.isVisible()


# --- another day


def test_f5_resumes_where_it_was_left_with_the_next_start(qtbot: QtBot, make: Make, tmp_path: Path) -> None:
    first = make()
    path = written(tmp_path / "femoral.toml")
    first.open_lesson(path)
    first.jump_to(2)
    first.close()
    second = make()
    ready(qtbot, second)
    assert second._run is None
    press(qtbot, second, Key.Key_F5)
    assert on_step(second, 2)
    press(qtbot, second, Key.Key_F5)
    assert on_step(second, 0), "begun again"
    second.close()
    written(path, HEAD + STEPS.partition('\n[[steps]]\nid = "question"')[0])
    third = make()
    third.settings.keep_lesson(path, 4)
    press(qtbot, third, Key.Key_F5)
    ready(qtbot, third)
    assert on_step(third, 0), "of a file that has become shorter, the last step"
    third.close()
    path.unlink()
    fourth = make()
    press(qtbot, fourth, Key.Key_F5)
    assert finder(fourth).windowTitle() == "Open a lesson", "without the file, the course is offered"
    finder(fourth).reject()


def test_a_lesson_of_the_course_is_chosen_from_a_list(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_L, Mod.ControlModifier | Mod.ShiftModifier)
    asked = finder(window)
    assert [row.lead for row in asked.shown][:2] == ["1", "2"]
    qtbot.keyClick(asked.line, Key.Key_Return)
    assert run_of(window).index == 0
    assert window.settings.recent() == []
    assert read_lesson(run_of(window).lesson.path) == run_of(window).lesson
    QApplication.processEvents()
