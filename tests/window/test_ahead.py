"""Work done ahead: a piece at a time, only while there is nothing else to do, and the next step of a lesson by it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QDeadlineTimer, QEventLoop, QObject
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from tests.window.conftest import MainWindow, Make, Told
from tests.window.hands import Key, at_rest, press
from tests.window.lessonhands import HEAD, LARCH, STEPS, on_step, ready, run_of, told, written
from tests.window.test_lesson_bodies import bodies
from viewer.ahead import BUSY_MS, Ahead
from viewer.part import Meshes


class Bench:
    """Something that works ahead, idle or not, and what it has done."""

    def __init__(self) -> None:
        self.idle = True
        self.done: list[str] = []
        self._parent = QObject()  # kept, for it owns what works
        self.ahead = Ahead(lambda: self.idle, self._parent)

    def work(self, name: str, pieces: int, fails_at: int = -1) -> Iterator[None]:
        for k in range(pieces):
            assert self.idle, "work while there is something else to do"
            if k == fails_at:
                raise FurcalError("no such structure.")
            self.done.append(f"{name}{k}")
            yield


@pytest.fixture
def bench(qapp: QApplication) -> Bench:
    return Bench()


def finish(qapp: QApplication, bench: Bench) -> None:
    clock = QDeadlineTimer(20_000)
    while not bench.ahead.is_done:
        assert not clock.hasExpired()
        qapp.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents, 20)


def test_a_plan_is_done_piece_by_piece_and_not_within_the_call(qtbot: QtBot, bench: Bench) -> None:
    before = bench.ahead.is_done
    bench.ahead.plan(bench.work("a", 3))
    assert bench.done == []
    assert (before, bench.ahead.is_done) == (True, False)
    qtbot.waitUntil(lambda: bench.ahead.is_done, timeout=20_000)
    assert bench.done == ["a0", "a1", "a2"]


def test_nothing_is_done_while_there_is_something_else_to_do(qtbot: QtBot, bench: Bench) -> None:
    bench.idle = False
    bench.ahead.plan(bench.work("a", 3))
    qtbot.wait(3 * BUSY_MS)
    assert bench.done == []
    assert not bench.ahead.is_done
    bench.idle = True
    qtbot.waitUntil(lambda: bool(bench.done), timeout=20_000)
    bench.idle = False
    count = len(bench.done)
    qtbot.wait(2 * BUSY_MS)
    assert len(bench.done) == count, "it lets go in the middle"
    bench.idle = True
    qtbot.waitUntil(lambda: bench.ahead.is_done, timeout=20_000)
    assert bench.done == ["a0", "a1", "a2"]


def test_between_two_pieces_the_window_gets_its_turn(qtbot: QtBot, bench: Bench) -> None:
    turns: list[int] = []

    def work() -> Iterator[None]:
        from PySide6.QtCore import QTimer

        for _ in range(5):
            QTimer.singleShot(0, lambda: turns.append(len(bench.done)))
            bench.done.append("piece")
            yield

    bench.ahead.plan(work())
    qtbot.waitUntil(lambda: len(turns) == 5, timeout=20_000)
    assert turns == [1, 2, 3, 4, 5]


def test_to_stop_leaves_the_rest_undone(qtbot: QtBot, bench: Bench) -> None:
    bench.ahead.plan(bench.work("a", 3))
    bench.ahead.stop()
    assert bench.ahead.is_done
    qtbot.wait(2 * BUSY_MS)
    assert bench.done == []


plans = st.tuples(st.integers(0, 4), st.integers(-1, 4), st.integers(0, 3))


@settings(max_examples=15)
@given(st.lists(plans, min_size=1, max_size=3))
def test_a_new_plan_replaces_the_old_one_and_an_error_ends_one_quietly(
    qapp: QApplication, work: list[tuple[int, int, int]]
) -> None:
    """The last plan is done to its end, or to its error; those before no further than when they were replaced."""
    bench = Bench()
    for name, (pieces, fails_at, turns) in zip("abc", work, strict=False):
        before = list(bench.done)
        bench.ahead.plan(bench.work(name, pieces, fails_at))
        assert bench.done == before
        for _ in range(turns):
            qapp.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents, 2 * BUSY_MS)
        done = [piece for piece in bench.done if piece not in before]
        assert bench.done == [*before, *done]
        assert done == [f"{name}{k}" for k in range(len(done))]
    finish(qapp, bench)
    name, (pieces, fails_at, _) = "abc"[len(work) - 1], work[-1]
    end = fails_at if 0 <= fails_at < pieces else pieces
    assert [piece for piece in bench.done if piece[0] == name] == [f"{name}{k}" for k in range(end)]


# --- the next step of a lesson


#: A nerve that the portal of the first scene does not touch: its rim is first asked for by a step.
NERVE = "ilioinguinal_right"


def lesson_of_nerve(tmp_path: Path) -> Path:
    """The small lesson, whose second step lights that nerve."""
    return written(tmp_path / "nerve.toml", HEAD + STEPS.replace("femoral_left", NERVE))


def meshes_of_nerve(window: MainWindow) -> Meshes:
    assert window.field.scene is not None
    return window.field.scene._meshes[NERVE]


def prepared(qtbot: QtBot, window: MainWindow) -> None:
    """Until the next step is prepared."""
    at_rest(qtbot, window)
    qtbot.waitUntil(lambda: window._ahead.is_done and not window.loader.is_building, timeout=60_000)


def test_the_meshes_of_the_next_step_are_there_before_it_is_asked_for(
    qtbot: QtBot, window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_rest(qtbot, window)
    assert meshes_of_nerve(window).hulls == {}, "no rim has been asked for"
    window.open_lesson(lesson_of_nerve(tmp_path))
    prepared(qtbot, window)
    scene, step = window.field.scene, run_of(window).next_step
    assert scene is not None
    assert step is not None
    assert on_step(window, 0)
    assert not scene.looks[NERVE].ringed
    wanted = scene._wanted(window._seen(step), frozenset())
    assert wanted[NERVE].ringed
    for name, look in wanted.items():
        meshes = scene._meshes_for(name, look.opened)
        assert set(meshes.made) == {False, True}
        assert not look.ringed or {light for light, mm in meshes.hulls if mm == look.rim_mm} == {False, True}
    for make in ("_full", "_light"):
        monkeypatch.setattr(Meshes, make, lambda meshes: pytest.fail(f"made {meshes.structure.id} only now"))
    monkeypatch.setattr("viewer.part._hull", lambda *_: pytest.fail("made a rim only now"))
    press(qtbot, window, Key.Key_PageDown)
    at_rest(qtbot, window)
    assert on_step(window, 1)
    assert scene.looks[NERVE].ringed


def test_while_the_field_moves_nothing_is_prepared(qtbot: QtBot, window: MainWindow, tmp_path: Path) -> None:
    at_rest(qtbot, window)
    window.open_lesson(lesson_of_nerve(tmp_path))
    clock = QDeadlineTimer(4 * BUSY_MS)
    while not clock.hasExpired():
        window.field._move()
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents, 10)
    assert meshes_of_nerve(window).hulls == {}
    assert not window._ahead.is_done
    prepared(qtbot, window)
    assert meshes_of_nerve(window).hulls


def test_the_body_of_the_next_step_is_built_before_it_is_asked_for(
    qtbot: QtBot, make: Make, alder: Body, larch: Body, tmp_path: Path
) -> None:
    asked: list[str] = []
    build = bodies(alder, larch)

    def load(specimen: Specimen, said: Told) -> Body:
        asked.append(specimen.name)
        return build(specimen, said)

    window = make(load=load)
    ready(qtbot, window)
    yew = '\n[[steps]]\nid = "yew"\ntitle = "Yew"\nspecimen = { name = "Yew" }\n'
    window.open_lesson(
        written(tmp_path / "larch.toml", HEAD + STEPS.partition('\n[[steps]]\nid = "question"')[0] + LARCH + yew)
    )
    prepared(qtbot, window)
    assert asked == ["Alder", "Larch"]
    assert on_step(window, 0)
    press(qtbot, window, Key.Key_PageDown)
    ready(qtbot, window)
    assert on_step(window, 1)
    assert window.session.body is larch
    prepared(qtbot, window)
    assert asked == ["Alder", "Larch", "Yew"], "Larch once"
    assert told(window) == "", "what cannot be built ahead is told when it is asked for"
    press(qtbot, window, Key.Key_PageDown)
    qtbot.waitUntil(lambda: "no such landmark" in told(window), timeout=60_000)
    assert on_step(window, 1)
    press(qtbot, window, Key.Key_PageUp)
    ready(qtbot, window)
    assert on_step(window, 0)
    assert asked == ["Alder", "Larch", "Yew", "Yew"], "Alder is kept"
