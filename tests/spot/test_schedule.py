"""When an item is asked again: as the scheduler itself says, due ones first, never one structure twice in a row."""

from __future__ import annotations

import json
from collections import Counter
from datetime import datetime, timedelta, timezone
from itertools import pairwise, permutations

import pytest
from fsrs import Card as Memory
from fsrs import Rating, Scheduler
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot.item import Item, Named
from lessons.spot.schedule import (
    DAY_TURNS_AT,
    SLOW,
    TIMES_KEPT,
    TIMES_NEEDED,
    Card,
    Schedule,
    about,
    card_of,
    card_row,
    end_of_day,
    interleaved,
    next_card,
    rating,
)
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError
from tests.spot.anyitem import item as plain
from tests.spot.records import MORNING, RIGHT, WRONG

PARTLY = Verdict(True, 0.6, "In part.")
#: A verdict and the days after the answer before.
histories = st.lists(
    st.tuples(st.sampled_from((RIGHT, PARTLY, WRONG)), st.floats(0, 400), st.floats(0.1, 500)), min_size=1, max_size=12
)


def item(name: str, structure: str = "femoral_left") -> Item:
    return plain(name, structure=structure, answer=Named(structure))


def bank(structures: list[str]) -> list[Item]:
    return [item(f"item_{number:03}", structure) for number, structure in enumerate(structures)]


def neighbours(items: tuple[Item, ...] | list[Item]) -> int:
    return sum(about(one) == about(other) for one, other in pairwise(items))


# --- one card


@given(histories)
def test_the_due_dates_are_those_of_the_scheduler_when_it_is_given_the_same_reviews(
    history: list[tuple[Verdict, float, float]],
) -> None:
    # fsrs's README: Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False), the rest as it comes.
    reference, memory = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False), Memory(due=MORNING)
    card, now = None, MORNING
    times: list[float] = []
    for verdict, days, seconds in history:
        now += timedelta(days=days)
        given_ = Rating(rating(verdict, seconds, times[-TIMES_KEPT:]))
        times += [round(seconds, 3)] if verdict.right else []
        memory, log = reference.review_card(memory, given_, now)
        card = next_card(card, "one", verdict, seconds, now)
        assert (card.due, card.stability, card.difficulty) == (memory.due, memory.stability, memory.difficulty)
        assert (card.state, card.step, card.last_review) == (memory.state, memory.step, log.review_datetime)


def test_the_first_intervals_are_the_scheduler_s_initial_stabilities_in_whole_days() -> None:
    # Its default parameters 0 to 2 are 0.212, 1.2931 and 2.3065 days; an interval is at least one day.
    days = {v: (next_card(None, "one", v, 5.0, MORNING).due - MORNING).days for v in (WRONG, PARTLY, RIGHT)}
    assert days == {WRONG: 1, PARTLY: 1, RIGHT: 2}


def test_what_is_right_each_time_it_is_due_comes_back_later_each_time_and_what_is_missed_sooner() -> None:
    card = next_card(None, "one", RIGHT, 5.0, MORNING)
    gaps = []
    for _ in range(6):
        now = card.due
        card = next_card(card, "one", RIGHT, 5.0, now)
        gaps.append(card.due - now)
    assert all(earlier < later for earlier, later in pairwise(gaps))
    missed = next_card(card, "one", WRONG, 5.0, card.due)
    assert missed.due - card.due < gaps[-1] / 4


def test_the_same_answers_give_the_same_card_each_time() -> None:
    def played() -> Card:
        card, now = None, MORNING
        for days in (0, 2, 9, 40, 120):
            now += timedelta(days=days)
            card = next_card(card, "one", RIGHT, 5.0, now)
        assert card is not None
        return card

    assert len({played() for _ in range(20)}) == 1


def test_ratings() -> None:
    usual = [10.0] * TIMES_NEEDED
    assert rating(WRONG, 1.0, usual) == Rating.Again
    assert rating(PARTLY, 1.0, usual) == Rating.Hard
    assert rating(RIGHT, 10.0 * SLOW, usual) == Rating.Good
    assert rating(RIGHT, 10.0 * SLOW + 0.1, usual) == Rating.Hard
    assert rating(RIGHT, 10.0 * SLOW + 0.1, usual[1:]) == Rating.Good  # too few to know what is usual
    assert rating(WRONG, 10.0 * SLOW + 0.1, usual) == Rating.Again


@given(st.builds(Verdict, st.booleans(), st.floats(0, 1), st.just("")), st.floats(0, 1e4), st.lists(st.floats(0, 1e4)))
def test_easy_is_never_given_and_again_is_for_what_is_wrong_alone(
    verdict: Verdict, seconds: float, earlier: list[float]
) -> None:
    made = rating(verdict, seconds, earlier)
    assert made in (Rating.Again, Rating.Hard, Rating.Good)
    assert (made == Rating.Again) is not verdict.right


def test_the_usual_time_is_of_right_answers_and_of_the_last_ones() -> None:
    card = None
    for number in range(TIMES_KEPT + 3):
        card = next_card(card, "one", RIGHT if number % 4 else WRONG, float(number), MORNING + timedelta(days=number))
    assert card is not None
    assert card.seconds == tuple(float(n) for n in range(TIMES_KEPT + 3) if n % 4)[-TIMES_KEPT:]


def test_a_time_of_any_zone_is_taken_and_one_without_is_not() -> None:
    there = MORNING.astimezone(timezone(timedelta(hours=5, minutes=30)))
    assert next_card(None, "one", RIGHT, 5.0, there) == next_card(None, "one", RIGHT, 5.0, MORNING)
    with pytest.raises(ValueError, match="zone"):
        next_card(None, "one", RIGHT, 5.0, MORNING.replace(tzinfo=None))
    with pytest.raises(ValueError, match="zone"):
        Schedule().due(MORNING.replace(tzinfo=None))


def test_a_clock_that_was_set_back_is_no_reason_to_fail() -> None:
    card = next_card(None, "one", RIGHT, 5.0, MORNING)
    back = next_card(card, "one", RIGHT, 5.0, MORNING - timedelta(days=400))
    assert back.due > back.last_review


# --- rows


@given(histories)
def test_a_card_comes_back_from_its_row(history: list[tuple[Verdict, float, float]]) -> None:
    card, now = None, MORNING
    for verdict, days, seconds in history:
        now += timedelta(days=days)
        card = next_card(card, "one", verdict, seconds, now)
    assert card is not None
    assert card_of(json.loads(json.dumps(card_row(card), allow_nan=False)), "here") == card


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("item", 3), ("state", 4), ("state", True), ("step", -1), ("stability", 0), ("stability", float("nan")),
        ("difficulty", 11), ("due", "tomorrow"), ("due", "2026-01-12T09:30:00"), ("last_review", None),
        ("seconds", [1, "2"]), ("seconds", 4), ("colour", "red"),
    ],
)  # fmt: skip
def test_a_row_that_is_no_card_is_told_with_its_place(key: str, value: object) -> None:
    row = card_row(next_card(None, "one", RIGHT, 5.0, MORNING))
    with pytest.raises(FurcalError, match=r"^record, card 3"):
        card_of({**row, key: value}, "record, card 3")


@pytest.mark.parametrize("row", [None, [], "card", {}])
def test_what_is_no_row_is_told(row: object) -> None:
    with pytest.raises(FurcalError, match=r"^here: expected a card"):
        card_of(row, "here")


# --- due


def test_due_is_what_falls_due_before_the_day_ends_the_most_overdue_first() -> None:
    schedule = Schedule()
    for name, verdict, days in (("b", RIGHT, 0), ("a", WRONG, 0), ("c", RIGHT, 3), ("d", WRONG, 1)):
        schedule.answered(name, verdict, 5.0, MORNING + timedelta(days=days))
    dues = {name: (card.due - MORNING).days for name, card in schedule.cards.items()}
    assert dues == {"a": 1, "b": 2, "c": 5, "d": 2}
    early = MORNING.replace(hour=DAY_TURNS_AT, minute=0)
    assert schedule.due(MORNING) == ()
    assert schedule.due(early + timedelta(days=1, minutes=-1)) == ()
    assert schedule.due(early + timedelta(days=1)) == ("a",)  # before its hour, on its day
    assert schedule.due(MORNING + timedelta(days=2)) == ("a", "b", "d")
    assert schedule.due(MORNING + timedelta(days=9)) == ("a", "b", "d", "c")
    assert schedule.due(MORNING + timedelta(days=9), [item("c"), item("never"), item("a")]) == ("a", "c")


@given(st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)), st.integers(-23, 23))
def test_the_day_ends_within_a_day_at_its_hour(when: datetime, hours: int) -> None:
    now = when.replace(tzinfo=timezone(timedelta(hours=hours)))
    end = end_of_day(now)
    assert timedelta() < end - now <= timedelta(days=1)
    assert (end.hour, end.minute, end.second, end.tzinfo) == (DAY_TURNS_AT, 0, 0, now.tzinfo)


# --- a session


@given(st.lists(st.sampled_from("abcd"), max_size=7))
def test_neighbours_of_one_structure_are_as_few_as_any_order_has(structures: list[str]) -> None:
    items = bank(structures)
    made = interleaved(items)
    assert sorted(one.id for one in made) == [one.id for one in items]
    assert neighbours(made) == min(neighbours(order) for order in permutations(items))


@given(st.lists(st.sampled_from("abcdefg"), min_size=1, max_size=120))
def test_no_two_neighbours_share_a_structure_whenever_that_can_be(structures: list[str]) -> None:
    # It can be where the most frequent one is not more than half of all, and one more.
    most = max(Counter(structures).values())
    assert neighbours(interleaved(bank(structures))) == max(0, 2 * most - len(structures) - 1)


@given(st.permutations("aabbccddee"))
def test_an_order_that_needs_no_change_is_left_alone(structures: list[str]) -> None:
    items = bank(structures)
    if neighbours(items) == 0:
        assert list(interleaved(items)) == items
    again = interleaved(items)
    assert interleaved(again) == again


def test_left_and_right_are_one_structure() -> None:
    made = interleaved(bank(["femoral_left", "femoral_right", "psoas_left"]))
    assert [about(one) for one in made] == ["femoral", "psoas", "femoral"]


@given(
    st.lists(st.sampled_from("abcde"), min_size=1, max_size=40),
    st.lists(st.integers(0, 30), max_size=40),
    st.integers(0, 30),
    st.integers(0, 3),
)
def test_a_session_is_of_what_is_due_then_of_what_is_new(
    structures: list[str], answered_days: list[int], count: int, seed: int
) -> None:
    items, schedule = bank(structures), Schedule()
    for one, days in zip(items, answered_days, strict=False):
        schedule.answered(one.id, WRONG if days % 2 else RIGHT, 5.0, MORNING - timedelta(days=days))
    due, made = schedule.due(MORNING, items), schedule.pick(items, count, MORNING, seed)
    new = [one for one in items if one.id not in schedule.cards]
    assert len(made) == len({one.id for one in made}) == min(count, len(due) + len(new))
    names = {one.id for one in made}
    assert names & set(due) == set(due[:count])
    assert names <= {*due, *(one.id for one in new)}
    most = max(Counter(about(one) for one in made).values(), default=0)
    assert neighbours(made) == max(0, 2 * most - len(made) - 1)
    assert made == schedule.pick(list(reversed(items)), count, MORNING, seed)
    longer = schedule.pick(items, count, MORNING, seed, ahead=True)
    assert len(longer) == min(count, len(items))
    assert names <= {one.id for one in longer}


@given(st.lists(st.sampled_from("abc"), min_size=8, max_size=14), st.integers(1, 7), st.integers(0, 9))
def test_new_ones_are_chosen_so_that_the_fewest_neighbours_must_share_a_structure(
    structures: list[str], count: int, seed: int
) -> None:
    from itertools import combinations

    items = bank(structures)
    made = Schedule().pick(items, count, MORNING, seed)
    best = min(
        max(0, 2 * max(Counter(about(one) for one in some).values()) - count - 1) for some in combinations(items, count)
    )
    assert neighbours(made) == best


def test_another_seed_picks_others() -> None:
    items = bank(["a", "b", "c"] * 20)
    picked = {tuple(one.id for one in Schedule().pick(items, 10, MORNING, seed)) for seed in range(8)}
    assert len(picked) == 8


def test_the_whole_bank_is_put_in_order_in_one_go() -> None:
    items = bank([f"structure_{number % 97}" for number in range(2000)])
    assert neighbours(Schedule().pick(items, 2000, MORNING)) == 0


def test_the_rows_of_a_schedule_make_the_same_schedule() -> None:
    schedule = Schedule()
    for number in range(9):
        schedule.answered(f"item_{number % 4}", (RIGHT, WRONG)[number % 2], 5.0, MORNING + timedelta(days=number))
    rows = json.loads(json.dumps(schedule.rows()))
    assert Schedule(card_of(row, "here") for row in rows).cards == schedule.cards
