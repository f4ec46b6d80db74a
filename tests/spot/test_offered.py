"""The order in which words are offered: the same for the same seed, and never one that gives the answer away."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot.item import Item, Ordered
from lessons.spot.sitting import offered
from tests.spot.anyitem import item, items

WORDS = ("Skin", "Fat", "External oblique", "Internal oblique", "Transversus", "Fascia", "Psoas")


@given(items("order"), st.integers(0, 10**9))
def test_words_are_offered_neither_in_their_order_nor_in_its_reverse(one: Item, seed: int) -> None:
    assert isinstance(one.answer, Ordered)
    right = one.answer.right
    words = offered(one, seed)
    assert sorted(words) == sorted(right)
    assert words not in (right, right[::-1])
    assert offered(one, seed) == words


@pytest.mark.parametrize("count", [3, 4])
def test_every_other_order_is_offered_by_some_seed(count: int) -> None:
    right = WORDS[:count]
    one = item("layers", "order", answer=Ordered(right))
    seen = {offered(one, seed) for seed in range(400)}
    assert seen == set(permutations(right)) - {right, right[::-1]}


def test_two_words_of_a_paper_are_turned_about_and_do_not_stop_it() -> None:
    assert offered(item("two", "order", answer=Ordered(("Skin", "Fat"))), 1) == ("Fat", "Skin")
    for words in ((), ("Skin",), ("Skin", "Skin")):
        assert offered(item("alike", "order", answer=Ordered(words)), 1) == words
