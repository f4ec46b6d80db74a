"""Bodies built beside the window: the one that was asked for last comes, once, later than the call, and is kept."""

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QDeadlineTimer, QEventLoop, QObject
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from meshes.body import Body
from meshes.contact import Ready
from meshes.errors import FurcalError
from meshes.specimen import ALDER, Specimen
from tests.viewer.synthetic import synthetic_body
from tests.window.conftest import Told
from viewer.loader import KEPT, Loader
from viewer.part import Meshes

BIRCH, LARCH, ROWAN, YEW = (Specimen(name=name) for name in ("Birch", "Larch", "Rowan", "Yew"))
#: Why Yew cannot be built.
SENTENCE = "bones.toml, [hip]: no such landmark."


def small_body() -> Body:
    """One structure of the made-up body: its meshes are made in no time."""
    body = synthetic_body()
    only = "femoral_left"
    return replace(
        body,
        structures={only: body.structures[only]},
        surfaces={only: body.surfaces[only]},
        centrelines={only: body.centrelines[only]},
    )


@dataclass
class Yard:
    """Where bodies are built; one whose gate is shut is held up half way."""

    body: Body
    asked: list[Specimen] = field(default_factory=list)
    ended: list[Specimen] = field(default_factory=list)
    gate: threading.Event = field(default_factory=threading.Event)

    def load(self, specimen: Specimen, told: Told) -> Body:
        self.asked.append(specimen)
        told(0.2, "bones")
        assert self.gate.wait(60.0)
        told(0.5, "half way")
        self.ended.append(specimen)
        if specimen == YEW:
            raise FurcalError(SENTENCE)
        return replace(self.body, specimen=specimen)


class Heard(QObject):
    """What a loader said, in order: the specimen of a body or a sentence; and where and when it came."""

    def __init__(self, loader: Loader) -> None:
        super().__init__()
        self.loader = loader
        self.said: list[Specimen | str] = []
        self.bodies: list[Body] = []
        self.meshes: list[dict[str, Meshes]] = []
        self.stages: list[tuple[float, str]] = []
        self._inside = False
        loader.built.connect(self._built)
        loader.failed.connect(self._failed)
        loader.progress.connect(self._progress)

    def after(self, work: Callable[[Specimen], None], specimen: Specimen) -> None:
        """Do this: nothing may be said before it has returned."""
        self._inside = True
        work(specimen)
        self._inside = False

    def _built(self, body: Body, meshes: dict[str, Meshes]) -> None:
        self._check()
        assert self.loader.wanted is None
        self.bodies.append(body)
        self.meshes.append(meshes)
        self.said.append(body.specimen)

    def _failed(self, sentence: str) -> None:
        self._check()
        self.said.append(sentence)

    def _progress(self, share: float, stage: str) -> None:
        self._check()
        self.stages.append((share, stage))

    def _check(self) -> None:
        assert not self._inside, "a signal came inside the call"
        assert threading.current_thread() is threading.main_thread()


@pytest.fixture(scope="module")
def small() -> Body:
    return small_body()


@pytest.fixture
def yard(small: Body) -> Yard:
    yard = Yard(small)
    yard.gate.set()
    return yard


@pytest.fixture
def heard(qapp: QApplication, yard: Yard) -> Iterator[Heard]:
    """Stands beside a loader of bodies of the yard."""
    heard = Heard(Loader(yard.load))
    yield heard
    yard.gate.set()
    heard.loader.stop()


def start(qtbot: QtBot, heard: Heard, specimen: Specimen) -> None:
    """Ask for a body, and wait for what is said."""
    count = len(heard.said)
    heard.after(heard.loader.start, specimen)
    qtbot.waitUntil(lambda: len(heard.said) > count, timeout=20_000)


def ahead(qtbot: QtBot, heard: Heard, specimen: Specimen) -> None:
    """Have a body built ahead, and wait for its end."""
    heard.after(heard.loader.build_ahead, specimen)
    qtbot.waitUntil(lambda: not heard.loader.is_building, timeout=20_000)


def settle(qtbot: QtBot, heard: Heard) -> None:
    """Until every thread is through and all that it said has been heard."""
    for thread in heard.loader._threads:
        thread.join(20.0)
        assert not thread.is_alive()
    qtbot.wait(100)  # what is kept is given a moment later


# --- what is asked for


def test_a_body_comes_later_than_the_call_with_its_meshes_and_prepared(
    qtbot: QtBot, heard: Heard, monkeypatch: pytest.MonkeyPatch
) -> None:
    start(qtbot, heard, BIRCH)
    assert heard.said == [BIRCH]
    body, meshes = heard.bodies[0], heard.meshes[0]
    assert set(meshes["femoral_left"].shapes) == {False}, "the first picture is waited for, and has no light copies"
    assert [share for share, _ in heard.stages] == sorted(share for share, _ in heard.stages)
    assert heard.stages[-1] == (1.0, "ready")
    monkeypatch.setattr(Ready, "_of", staticmethod(lambda _: pytest.fail("prepared a second time")))
    assert Ready.of(body).body is body


def test_a_later_body_comes_with_what_it_moves_with(qtbot: QtBot, heard: Heard) -> None:
    for specimen in (BIRCH, LARCH):
        start(qtbot, heard, specimen)
    assert set(heard.meshes[1]["femoral_left"].shapes) == {False, True}, "so that the window has none to make"


def test_a_body_built_before_is_given_again_and_not_built(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    for specimen in (ALDER, BIRCH, ALDER, BIRCH, ALDER):
        start(qtbot, heard, specimen)
    assert heard.said == [ALDER, BIRCH, ALDER, BIRCH, ALDER]
    assert yard.asked == [ALDER, BIRCH]
    assert all(body is heard.bodies[k % 2] for k, body in enumerate(heard.bodies))
    assert all(meshes is heard.meshes[k % 2] for k, meshes in enumerate(heard.meshes))


def test_the_last_few_that_were_given_are_kept(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    assert KEPT == 3
    for specimen in (ALDER, BIRCH, LARCH, ALDER, ROWAN):  # Birch is the one that was not seen for longest
        start(qtbot, heard, specimen)
        assert len(heard.loader._kept) <= KEPT
    assert yard.asked == [ALDER, BIRCH, LARCH, ROWAN]
    for specimen in (ALDER, LARCH, ROWAN):
        start(qtbot, heard, specimen)
    assert yard.asked == [ALDER, BIRCH, LARCH, ROWAN]
    start(qtbot, heard, BIRCH)
    assert yard.asked == [ALDER, BIRCH, LARCH, ROWAN, BIRCH]
    assert set(heard.loader._kept) == {LARCH, ROWAN, BIRCH}


def test_asking_twice_builds_once(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    yard.gate.clear()
    heard.after(heard.loader.start, BIRCH)
    assert heard.loader.wanted == BIRCH
    heard.after(heard.loader.start, BIRCH)
    yard.gate.set()
    settle(qtbot, heard)
    assert (yard.asked, heard.said) == ([BIRCH], [BIRCH])


def test_a_newer_request_stops_the_older_one(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    yard.gate.clear()
    heard.after(heard.loader.start, BIRCH)
    heard.after(heard.loader.start, LARCH)
    yard.gate.set()
    settle(qtbot, heard)
    assert heard.said == [LARCH]
    assert yard.ended == [LARCH], "the other one stopped at its next stage"


@pytest.mark.parametrize("was_built", [False, True])
def test_what_is_dropped_never_comes(qtbot: QtBot, heard: Heard, yard: Yard, was_built: bool) -> None:
    if was_built:
        start(qtbot, heard, BIRCH)
        start(qtbot, heard, LARCH)
    before = list(heard.said)
    yard.gate.clear()
    heard.after(heard.loader.start, BIRCH)
    heard.loader.drop()
    assert heard.loader.wanted is None
    assert not heard.loader.is_building
    yard.gate.set()
    settle(qtbot, heard)
    assert heard.said == before
    start(qtbot, heard, BIRCH)
    assert heard.said == [*before, BIRCH], "and can be asked for again"


def test_a_body_that_cannot_be_built_says_its_sentence(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    for _ in range(2):
        start(qtbot, heard, YEW)
    assert heard.said == [SENTENCE, SENTENCE]
    assert yard.asked == [YEW, YEW]
    assert not heard.loader.is_building


def test_a_fault_of_ours_is_said_in_one_sentence(qtbot: QtBot, qapp: QApplication) -> None:
    def load(*_: object) -> Body:
        raise ZeroDivisionError("no thickness")

    heard = Heard(Loader(load))
    start(qtbot, heard, ALDER)
    assert heard.said == ["the body could not be built (ZeroDivisionError: no thickness)."]
    heard.loader.stop()


# --- what is built ahead


def test_ahead_a_body_is_built_and_nothing_is_said_until_it_is_asked_for(
    qtbot: QtBot, heard: Heard, yard: Yard
) -> None:
    ahead(qtbot, heard, BIRCH)
    settle(qtbot, heard)
    assert (heard.said, heard.loader.wanted, yard.asked) == ([], None, [BIRCH])
    start(qtbot, heard, BIRCH)
    assert (heard.said, yard.asked) == ([BIRCH], [BIRCH])


def test_asked_for_while_it_is_built_ahead_it_is_built_once(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    yard.gate.clear()
    heard.after(heard.loader.build_ahead, BIRCH)
    heard.after(heard.loader.build_ahead, BIRCH)
    assert (heard.loader.is_building, heard.loader.wanted) == (True, None)
    heard.after(heard.loader.start, BIRCH)
    assert (heard.loader.is_building, heard.loader.wanted) == (True, BIRCH)
    yard.gate.set()
    settle(qtbot, heard)
    assert (heard.said, yard.asked) == ([BIRCH], [BIRCH])


def test_what_is_wanted_now_is_not_stopped_for_what_may_come(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    yard.gate.clear()
    heard.after(heard.loader.start, BIRCH)
    heard.after(heard.loader.build_ahead, LARCH)
    yard.gate.set()
    settle(qtbot, heard)
    assert (heard.said, yard.asked) == ([BIRCH], [BIRCH])


@pytest.mark.parametrize("was_built", [False, True])
def test_asked_for_another_body_the_one_ahead_stops_and_can_be_asked_for_later(
    qtbot: QtBot, heard: Heard, yard: Yard, was_built: bool
) -> None:
    if was_built:
        start(qtbot, heard, LARCH)
        start(qtbot, heard, ALDER)
    before = list(heard.said)
    yard.gate.clear()
    heard.after(heard.loader.build_ahead, BIRCH)
    heard.after(heard.loader.start, LARCH)
    yard.gate.set()
    settle(qtbot, heard)
    assert heard.said == [*before, LARCH]
    assert BIRCH not in yard.ended
    assert not heard.loader.is_building
    start(qtbot, heard, BIRCH)
    assert heard.said == [*before, LARCH, BIRCH]


def test_a_newer_one_ahead_stops_the_older_one(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    yard.gate.clear()
    heard.after(heard.loader.build_ahead, BIRCH)
    heard.after(heard.loader.build_ahead, LARCH)
    yard.gate.set()
    settle(qtbot, heard)
    assert yard.ended == [LARCH]
    assert set(heard.loader._kept) == {LARCH}


def test_a_failure_ahead_says_nothing_and_its_sentence_when_it_is_asked_for(
    qtbot: QtBot, heard: Heard, yard: Yard
) -> None:
    ahead(qtbot, heard, YEW)
    settle(qtbot, heard)
    assert heard.said == []
    start(qtbot, heard, YEW)
    assert heard.said == [SENTENCE]
    assert not heard.loader.is_building


def test_a_failure_of_what_was_asked_for_meanwhile_says_its_sentence(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    yard.gate.clear()
    heard.after(heard.loader.build_ahead, YEW)
    heard.after(heard.loader.start, YEW)
    yard.gate.set()
    settle(qtbot, heard)
    assert (heard.said, yard.asked) == ([SENTENCE], [YEW])


def test_to_drop_stops_what_is_built_ahead(qtbot: QtBot, heard: Heard, yard: Yard) -> None:
    yard.gate.clear()
    heard.after(heard.loader.build_ahead, BIRCH)
    heard.loader.drop()
    assert not heard.loader.is_building
    yard.gate.set()
    settle(qtbot, heard)
    assert (heard.said, yard.ended, heard.loader._kept) == ([], [], {})


def test_to_stop_waits_for_every_thread(heard: Heard, yard: Yard) -> None:
    yard.gate.clear()
    for specimen in (BIRCH, LARCH):
        heard.after(heard.loader.build_ahead, specimen)
    threads = list(heard.loader._threads)
    assert len(threads) == 2
    yard.gate.set()
    heard.loader.stop()
    assert not any(thread.is_alive() for thread in threads)
    assert yard.ended == []


# --- whatever is asked, in whatever order


asked_for = st.tuples(st.sampled_from(["start", "start", "build_ahead"]), st.sampled_from([ALDER, BIRCH, LARCH, YEW]))
others = st.tuples(st.just("drop"), st.just(ALDER))
#: What is done, and what then: nothing, one turn of the window, or time enough for all that was asked for.
works = st.tuples(asked_for | asked_for | others, st.sampled_from(["", "turn", "rest", "rest"]))


@settings(max_examples=60)
@given(st.lists(works, min_size=4, max_size=14))
@example([(("start", ALDER), "rest"), (("start", BIRCH), "rest"), (("build_ahead", LARCH), ""), (("start", ALDER), "")])
def test_the_last_one_asked_for_comes_and_none_that_was_not(
    qapp: QApplication, small: Body, work: list[tuple[tuple[str, Specimen], str]]
) -> None:
    yard = Yard(small)
    heard = Heard(Loader(yard.load))
    wanted: Specimen | None = None  # asked for, and neither dropped nor answered
    for (name, specimen), then in work:
        if name == "drop":
            heard.loader.drop()
            wanted = None
        else:
            heard.after(getattr(heard.loader, name), specimen)
            wanted = specimen if name == "start" else wanted
        count = len(heard.said)
        if then == "turn":
            qapp.processEvents()
        elif then == "rest":
            yard.gate.set()
            until_idle(qapp, heard.loader)
            yard.gate.clear()
        if heard.said[count:]:
            assert heard.said[count:] == [SENTENCE if wanted == YEW else wanted]
            wanted = None
        assert heard.loader.wanted == wanted
        assert len(heard.loader._kept) <= KEPT
    count = len(heard.said)
    yard.gate.set()
    until_idle(qapp, heard.loader)
    assert heard.said[count:] == ([] if wanted is None else [SENTENCE if wanted == YEW else wanted])
    heard.loader.stop()


def until_idle(qapp: QApplication, loader: Loader) -> None:
    """Until nothing is being built: a loader that waits for what does not come is found here."""
    clock = QDeadlineTimer(10_000)
    while loader.is_building:
        assert not clock.hasExpired(), "it waits for what never comes"
        qapp.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents, 20)
