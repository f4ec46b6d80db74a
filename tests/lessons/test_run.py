"""A lesson being given: forward and back, a question that waits, the script left and found again, the dark screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from lessons.lesson import Lesson
from lessons.run import Run
from tests.lessons.lessonfiles import lesson

ASKS: dict[str, Any] = {"question": "Which nerve?", "answer": "The femoral nerve."}
#: A question that is only to be talked about holds nothing back.
OPEN: dict[str, Any] = {"question": "What would you do?"}
LESSON = lesson({}, ASKS, OPEN, ASKS, {})

lessons = st.lists(st.sampled_from([{}, ASKS, OPEN]), min_size=1, max_size=6).map(lambda steps: lesson(*steps))


def holds_back(one: Lesson, index: int) -> bool:
    return bool(one.steps[index].answer)


def seen(run: Run) -> tuple[int, bool, bool, bool]:
    """What is on the screen; whether an answer that there is not is shown makes no difference."""
    return run.index, run.waits, run.left, run.blank


# --- straight through


@given(lessons)
def test_forward_shows_every_step_and_every_answer_once_and_stops(one: Lesson) -> None:
    run = Run(one)
    way = [seen(run)]
    for _ in range(2 * len(one.steps) + 1):
        run = run.forward()
        if seen(run) != way[-1]:
            way.append(seen(run))
    wanted = []
    for index in range(len(one.steps)):
        wanted += [(index, waits, False, False) for waits in ((True, False) if holds_back(one, index) else (False,))]
    assert way == wanted
    assert run.forward() == run


@given(lessons)
def test_back_shows_every_step_once_with_its_answer_and_stops(one: Lesson) -> None:
    run = Run(one, len(one.steps) - 1)
    for index in reversed(range(len(one.steps) - 1)):
        run = run.back()
        assert seen(run) == (index, False, False, False)
    assert run.back() == run


@given(lessons, st.integers(0, 12))
def test_forward_then_back_is_the_same_step_with_its_answer_shown(one: Lesson, taken: int) -> None:
    run = Run(one)
    for _ in range(taken):
        run = run.forward()
    on = run.forward()
    if on.index > run.index:
        assert seen(on.back()) == seen(run)
        assert seen(on.back().forward()) == seen(on)


def test_a_question_waits_for_its_answer() -> None:
    asked = Run(LESSON).forward()
    assert (asked.step.id, asked.waits, asked.revealed) == ("s2", True, False)
    answered = asked.forward()
    assert (answered.step.id, answered.waits, answered.revealed) == ("s2", False, True)
    assert answered.forward().step.id == "s3"
    assert not answered.forward().waits
    assert asked.back().step.id == "s1"
    assert asked.at(asked.index) == asked == answered.at(answered.index)


def test_what_comes_next_is_the_next_step_or_nothing() -> None:
    for index, step in enumerate(LESSON.steps):
        run = Run(LESSON, index)
        assert run.step is step
        assert run.next_step is (LESSON.steps[index + 1] if index + 1 < len(LESSON.steps) else None)


@given(lessons, st.integers(-9, 9))
def test_any_step_is_reached_and_no_step_beyond_the_ends(one: Lesson, index: int) -> None:
    run = Run(one, revealed=True, left=True, blank=True).at(index)
    assert run == Run(one, min(max(index, 0), len(one.steps) - 1))


# --- the script left, the screen dark


def everywhere() -> list[Run]:
    return [Run(LESSON, i, shown) for i in range(len(LESSON.steps)) for shown in (False, True)]


def test_whoever_left_the_script_comes_back_to_the_step_exactly() -> None:
    ways: tuple[Callable[[Run], Run], ...] = (Run.forward, Run.back, Run.returned)
    for run in everywhere():
        for way in ways:
            assert way(run.left_script()) == run
        assert run.left_script().left_script() == run.left_script()


def test_a_dark_screen_hides_the_step_and_the_first_step_shows_it_again() -> None:
    for run in everywhere():
        for where in (run, run.left_script()):
            dark = where.with_blank(True)
            assert (dark.blank, dark.index, dark.revealed) == (True, run.index, run.revealed)
            for light in (dark.forward(), dark.back(), dark.with_blank(False)):
                assert light == where


# --- the lesson edited meanwhile


# --- anything in any order


class Giving(RuleBasedStateMachine):
    """Whatever the speaker presses."""

    @initialize(one=lessons)
    def begin(self, one: Lesson) -> None:
        self.lesson = one
        self.run = Run(one)

    @rule()
    def forward(self) -> None:
        before, self.run = self.run, self.run.forward()
        if before.blank or before.left:
            assert (self.run.index, self.run.waits) == (before.index, before.waits)
        elif before.waits:
            assert (self.run.index, self.run.waits) == (before.index, False)
        else:
            assert self.run.index == min(before.index + 1, len(self.lesson.steps) - 1)
            assert self.run.waits == (self.run.index > before.index and holds_back(self.lesson, self.run.index))

    @rule()
    def back(self) -> None:
        before, self.run = self.run, self.run.back()
        if before.blank or before.left:
            assert (self.run.index, self.run.waits) == (before.index, before.waits)
        else:
            assert self.run.index == max(before.index - 1, 0)
            assert self.run == before or not self.run.waits

    @rule(index=st.integers(-2, 8))
    def at(self, index: int) -> None:
        self.run = self.run.at(index)

    @rule()
    def leave(self) -> None:
        before, self.run = self.run, self.run.left_script()
        assert self.run.left
        assert (self.run.index, self.run.waits) == (before.index, before.waits)

    @rule(blank=st.booleans())
    def darken(self, blank: bool) -> None:
        before, self.run = self.run, self.run.with_blank(blank)
        assert replace(self.run, blank=before.blank) == before
        assert self.run.blank == blank

    @invariant()
    def it_stands_at_a_step_of_its_lesson(self) -> None:
        if hasattr(self, "run"):
            assert self.run.lesson is self.lesson
            assert self.run.step is self.lesson.steps[self.run.index]
            assert self.run.waits == (holds_back(self.lesson, self.run.index) and not self.run.revealed)

    @invariant()
    def a_few_steps_forward_always_reach_the_end(self) -> None:
        if hasattr(self, "run"):
            run = self.run
            for _ in range(2 * len(self.lesson.steps) + 2):
                run = run.forward()
            assert seen(run) == (len(self.lesson.steps) - 1, False, False, False)


Giving.TestCase.settings = settings(max_examples=60)
TestGiving = Giving.TestCase
