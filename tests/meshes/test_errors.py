"""The one error a person may see: the word, its place, the nearest legal words, all of them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.errors import FurcalError, UnknownWordError, unknown_word


def test_an_unknown_word_is_told_with_its_place_the_nearest_words_and_all_legal_ones() -> None:
    error = unknown_word("latral", ("lateral", "oblique", "anterior"), "approach", "skills.toml, approach")
    assert str(error) == (
        "skills.toml, approach: unknown approach 'latral'. Nearest: lateral. Legal: lateral, oblique, anterior."
    )


def test_without_a_place_or_a_near_word_only_the_rest_is_said() -> None:
    assert str(unknown_word("zzz", ("left", "right"), "side")) == "unknown side 'zzz'. Legal: left, right."


def test_no_more_than_three_near_words_are_offered() -> None:
    legal = [f"disc_l{n}" for n in range(9)]
    nearest = str(unknown_word("disc_l", legal, "disc")).partition("Nearest: ")[2].partition(".")[0]
    assert len(nearest.split(", ")) == 3
    assert set(nearest.split(", ")) <= set(legal)


@pytest.mark.parametrize(("count", "cut"), [(24, False), (25, True)])
def test_long_lists_of_legal_words_are_cut_after_twenty_four(count: int, cut: bool) -> None:
    legal = [f"w{n:02d}" for n in range(count)]
    shown = str(unknown_word("?", legal, "word")).partition("Legal: ")[2]
    assert shown == ", ".join(legal[:24]) + (", ...." if cut else ".")


@pytest.mark.parametrize(("count", "named"), [(24, True), (25, False)])
def test_of_long_lists_only_the_nearest_words_are_named_where_there_are_any(count: int, named: bool) -> None:
    legal = [f"disc_w{n:02d}" for n in range(count)]
    said = str(unknown_word("disc_w001", legal, "disc"))
    assert " Nearest: disc_w01, " in said
    assert (" Legal: " in said) is named


IDS = ("femoral_artery_left", "femoral_left", "femoral_right", "left", "psoas_major_left", "split_of_left")


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("left_femoral", ["femoral_left", "femoral_artery_left"]),
        ("femoral_nerve_right", ["femoral_right"]),
        ("Psoas_Left", ["psoas_major_left"]),
        ("psoas", ["psoas_major_left"]),
        ("split_left", ["split_of_left"]),
    ],
)
def test_ids_of_the_same_small_words_come_first(word: str, near: list[str]) -> None:
    named = str(unknown_word(word, IDS, "structure")).partition("Nearest: ")[2].partition(".")[0].split(", ")
    assert named[: len(near)] == near


def test_whoever_knows_more_names_nearer_words() -> None:
    error = unknown_word("lfcn", ["left", "lfn", "right"], "side", "here")
    again = UnknownWordError(error.word, error.legal, error.what, error.where, ["right"])
    assert str(again) == str(error).replace("Nearest: ", "Nearest: right, ")


@given(st.one_of(st.text(), st.integers(), st.lists(st.integers()), st.none()), st.lists(st.text(), max_size=30))
def test_any_value_makes_one_line_and_ends_with_a_stop(word: object, legal: list[str]) -> None:
    error = unknown_word(word, (repr(w) for w in legal), "thing", "here")
    assert isinstance(error, FurcalError)
    assert str(error).startswith("here: unknown thing ")
    assert len(str(error).splitlines()) == 1
    assert str(error).endswith(".")
