"""A spot test as a value: one way forward, nothing lost, what was missed is met again."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot.item import OBJECTIVES, Chosen, Item
from lessons.spot.response import Said, Skipped
from lessons.spot.round import Round
from lessons.spot.sitting import offered
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError
from tests.spot.anyitem import item as plain


def item(number: int, objective: str = "course") -> Item:
    return plain(f"item_{number}", objective=objective)


def played(outcomes: list[bool], objectives: list[str] | None = None) -> Round:
    """A round answered to its end."""
    named = objectives or ["course"] * len(outcomes)
    now = Round(tuple(item(i, named[i]) for i in range(len(outcomes))))
    for right in outcomes:
        now = now.answered(Said("x"), Verdict(right, float(right), "Said."), 2.0).forward()
    return now


def test_an_item_is_asked_then_explained_then_comes_the_next_one() -> None:
    start = Round((item(0), item(1)))
    assert (start.phase, start.item, start.last) == ("asked", start.items[0], None)
    assert start.next_item == start.items[1]
    assert start.forward() == start, "it stays until it is answered"
    told = start.answered(Said("femoral"), Verdict(True, 1.0, "Right."), 3.5)
    assert (told.phase, told.item) == ("explained", start.items[0])
    assert told.last == told.done[0]
    assert (told.done[0].response, told.done[0].seconds) == (Said("femoral"), 3.5)
    second = told.forward()
    assert (second.phase, second.item, second.next_item) == ("asked", start.items[1], None)
    end = second.answered(Skipped(), Verdict(False, 0.0, "No."), 1.0).forward()
    assert (end.phase, end.item, end.last) == ("ended", None, None)
    assert end.forward() == end


def test_nothing_that_was_answered_is_answered_again() -> None:
    told = Round((item(0),)).answered(Said("a"), Verdict(False, 0.0, "No."), 1.0)
    for state in (told, told.forward()):
        with pytest.raises(FurcalError, match="no item is asked"):
            state.answered(Said("b"), Verdict(True, 1.0, "Right."), 1.0)


@given(st.lists(st.booleans(), min_size=1, max_size=30))
def test_what_was_missed_is_exactly_what_was_not_known_and_is_gone_through_once(outcomes: list[bool]) -> None:
    end = played(outcomes)
    assert [a.item.id for a in end.missed] == [f"item_{i}" for i, right in enumerate(outcomes) if not right]
    assert len(end.done) == len(outcomes)
    if not end.missed:
        with pytest.raises(FurcalError, match="0 missed"):
            end.seen_again(0)
        return
    seen, now = [], end.seen_again(0)
    while now.phase == "again":
        assert now.last is not None
        assert now.item == now.last.item
        seen.append(now.last)
        now = now.forward()
    assert tuple(seen) == end.missed
    assert now == end
    assert end.seen_again(len(end.missed) - 1).at_end() == end
    for number in (-1, len(end.missed)):
        with pytest.raises(FurcalError):
            end.seen_again(number)


@given(st.lists(st.tuples(st.sampled_from(OBJECTIVES), st.booleans()), min_size=1, max_size=30))
def test_objectives_are_counted_in_their_order(rows: list[tuple[str, bool]]) -> None:
    told = played([right for _, right in rows], [objective for objective, _ in rows]).by_objective()
    assert [name for name, _, _ in told] == [o for o in OBJECTIVES if o in {name for name, _ in rows}]
    for name, known, asked in told:
        assert asked == sum(o == name for o, _ in rows)
        assert known == sum(right for o, right in rows if o == name)


def test_a_station_without_a_verdict_is_not_missed() -> None:
    end = Round((item(0),)).answered(Said("a"), None, 60.0).forward()
    assert end.phase == "ended"
    assert end.missed == ()


def test_an_item_that_cannot_be_shown_is_dropped_and_the_rest_stays() -> None:
    first = played([True, False])
    now = replace(first, items=(*first.items, item(7), item(8)))
    assert now.phase == "asked"
    without = now.dropped()
    assert without.item == item(8)
    assert without.done == now.done
    last = without.dropped()
    assert last.phase == "ended"
    assert last.dropped() == last


def test_what_is_offered_is_what_the_paper_says_else_shuffled_by_the_seed() -> None:
    asked = replace(item(0), kind="predict", answer=Chosen("a", ("b", "c")))
    assert Round((asked,), seed=5).offered == offered(asked, 5)
    assert Round((asked,), seed=5, frozen={"item_0": ("c", "a", "b")}).offered == ("c", "a", "b")
    assert played([True]).offered == ()
