"""The items of a paper: chosen by a seed, spread over what there is, and as a blueprint says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.film import Film
from lessons.spot.blueprint import Blueprint, read_blueprint, shortfall
from lessons.spot.item import DEPTHS, KINDS, OBJECTIVES, Item
from lessons.spot.paper import (
    about,
    chosen,
    is_printable,
)
from lessons.view import View
from meshes.errors import FurcalError
from tests.spot.anyitem import bank, item

# --- choosing


def counts(some: Sequence[Item], key: Callable[[Item], str]) -> Counter[str]:
    return Counter(map(key, some))


@settings(max_examples=40)
@given(st.integers(1, 60), st.integers(0, 10**9), st.randoms(use_true_random=False))
def test_a_choice_is_seeded_spread_and_of_the_bank(count: int, seed: int, dice: Random) -> None:
    whole = bank()
    found = chosen(whole, count, seed)
    assert len(found) == count == len({one.id for one in found})
    assert all(one in whole for one in found)
    shuffled = list(whole)
    dice.shuffle(shuffled)
    assert chosen(shuffled, count, seed) == found
    by_objective = counts(found, lambda one: one.objective)
    assert max(by_objective.values()) - min([by_objective[o] for o in OBJECTIVES]) <= 1
    by_kind, by_structure = counts(found, lambda one: one.kind), counts(found, about)
    assert max(by_kind.values()) - min([by_kind[k] for k in KINDS]) <= 2
    assert max(by_structure.values()) - min([by_structure[s] for s in map(about, whole)]) <= 2
    if count > 3:
        assert all(about(a) != about(b) for a, b in pairwise(found))


def test_other_seeds_choose_others() -> None:
    whole = bank()
    assert len({frozenset(one.id for one in chosen(whole, 10, seed)) for seed in range(20)}) == 20


def test_where_an_objective_is_used_up_the_others_fill_the_paper() -> None:
    whole = [item(f"c{k}", objective="course") for k in range(20)] + [item("f", objective="film")]
    found = chosen(whole, 15, 1)
    assert counts(found, lambda one: one.objective) == {"course": 14, "film": 1}


def test_both_sides_are_one_structure() -> None:
    some = [item(f"i{k}", structure=f"femoral_{side}") for k, side in enumerate(("left", "right") * 2)]
    some += [item(f"o{k}", structure=f"obturator_{side}") for k, side in enumerate(("left", "right") * 2)]
    assert all(about(a) != about(b) for seed in range(10) for a, b in pairwise(chosen(some, 8, seed)))


def test_too_few_items_are_told() -> None:
    with pytest.raises(FurcalError) as told:
        chosen([item("a")], 3, 1)
    assert str(told.value) == (
        "--items: 3 items are asked for, and the bank has 1 that can be used; ask for fewer, or give another bank."
    )


def test_a_portal_cannot_be_placed_on_paper_nor_a_wire_clicked() -> None:
    film = item("f", "point", view=View(film=Film()))
    assert [kind for kind in KINDS if not is_printable(item("i", kind))] == ["dock"]
    assert not is_printable(film)


# --- blueprints


def blueprint(folder: Path, text: str) -> Blueprint:
    path = folder / "plan.toml"
    path.write_text(text)
    return read_blueprint(path)


def test_a_blueprint_is_kept_to_exactly(tmp_path: Path) -> None:
    plan = blueprint(
        tmp_path,
        "furcal_blueprint = 1\nseconds = 120\n[objectives]\ncourse = 6\nfilm = 0\n[kinds]\nname = 10\ndock = 0\n"
        "[depths]\napply = 9\n",
    )
    assert plan.seconds == 120
    for seed in range(5):
        found = chosen(bank(), 30, seed, plan)
        objectives, kinds = counts(found, lambda one: one.objective), counts(found, lambda one: one.kind)
        assert len(found) == 30
        assert (objectives["course"], objectives["film"]) == (6, 0)
        assert (kinds["name"], kinds["dock"]) == (10, 0)
        assert counts(found, lambda one: one.depth)["apply"] == 9
        rest = [objectives[o] for o in OBJECTIVES if o not in ("course", "film")]
        assert max(rest) - min(rest) <= 1


cells = st.tuples(st.sampled_from(OBJECTIVES[:3]), st.sampled_from(KINDS[:3]), st.sampled_from(DEPTHS))


@settings(max_examples=80)
@given(
    st.lists(cells, min_size=1, max_size=9),
    st.dictionaries(
        st.sampled_from([*(("objectives", o) for o in OBJECTIVES[:3]), *(("kinds", k) for k in KINDS[:3]),
                         *(("depths", d) for d in DEPTHS)]), st.integers(0, 3), max_size=5),
    st.integers(1, 6),
)  # fmt: skip
def test_a_choice_is_refused_only_where_there_is_none(
    have: list[tuple[str, str, str]], wanted: dict[tuple[str, str], int], count: int
) -> None:
    """Against trying every choice there is."""
    from itertools import combinations

    some = [item(f"i{k}", kind, objective=o, depth=depth) for k, (o, kind, depth) in enumerate(have)]

    def meets(choice: Sequence[Item]) -> bool:
        words = [("objectives", one.objective) for one in choice] + [("kinds", one.kind) for one in choice]
        words += [("depths", one.depth) for one in choice]
        return all(words.count(word) == n for word, n in wanted.items())

    possible = any(meets(choice) for choice in combinations(some, count))
    try:
        found = chosen(some, count, 3, Blueprint(wanted))
    except FurcalError:
        found = ()
    assert bool(found) == possible
    assert not found or (meets(found) and len(found) == count)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x = 1", "is no blueprint; a blueprint begins with the line furcal_blueprint = 1."),
        ("furcal_blueprint = 2", "written by a newer furcal (schema 2)"),
        ("furcal_blueprint = 1\nitems = 3", "unknown key 'items'."),
        ("furcal_blueprint = 1\nobjectives = 3", "[objectives]: must be a table"),
        ("furcal_blueprint = 1\n[objectives]\ncourses = 3", "[objectives]: unknown objective 'courses'. Nearest: "),
        ("furcal_blueprint = 1\n[kinds]\nname = -1", "[kinds], name: expected a whole number from 0 to 500, found -1."),
        ("furcal_blueprint = 1\n[kinds]\nname = true", "[kinds], name: expected a whole number from 0 to 500, found T"),
        ("furcal_blueprint = 1\nseconds = 5", "seconds: expected a whole number from 10 to 3600, found 5."),
        ("furcal_blueprint = ", "is not valid TOML"),
    ],
)  # fmt: skip
def test_a_broken_blueprint_is_told(text: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(FurcalError) as told:
        blueprint(tmp_path, text)
    assert str(told.value).startswith(f"{tmp_path / 'plan.toml'}")
    assert says in str(told.value)


@pytest.mark.parametrize(
    ("tables", "says"),
    [
        ("[objectives]\ncourse = 20\nfilm = 11", "[objectives]: adds up to 31 items, and the paper has 30; "),
        ("[kinds]\nname = 28", "[kinds], name: 28 items are asked for, and the bank has 27; "),
        ("[kinds]\n" + "\n".join(f"{k} = 2" for k in KINDS),
         "[kinds]: adds up to 22 items, and of every other kind the bank has 0, which is short of the 30 "),
    ],
)  # fmt: skip
def test_a_blueprint_that_cannot_be_met_names_what_is_short(tables: str, says: str, tmp_path: Path) -> None:
    plan = blueprint(tmp_path, f"furcal_blueprint = 1\n{tables}\n")
    with pytest.raises(FurcalError) as told:
        chosen(bank(), 30, 1, plan)
    assert str(told.value).startswith(f"{plan.where}, {says}")


def test_tables_that_cannot_be_met_together_name_what_is_short() -> None:
    some = [item("a", "name", objective="course"), item("b", "wire", objective="film"), item("c", objective="film")]
    plan = Blueprint({("objectives", "course"): 1, ("kinds", "wire"): 1, ("depths", "recall"): 2}, where="plan.toml")
    assert len(chosen(some, 2, 1, plan)) == 2
    plan = Blueprint({("objectives", "course"): 1, ("kinds", "wire"): 0}, where="plan.toml")
    assert [one.id for one in chosen(some[:1], 1, 1, plan)] == ["a"]
    clash = Blueprint({("objectives", "film"): 1, ("kinds", "name"): 0}, where="plan.toml")
    with pytest.raises(FurcalError) as told:
        chosen([some[0], some[2], item("d", "wire", objective="course")], 1, 1, clash)
    assert str(told.value) == (
        "plan.toml: its tables cannot be met together; at best the paper is short of 1 of film; change one of the "
        "tables, or give another bank."
    )


def test_nothing_to_choose_from_lacks_all() -> None:
    assert shortfall({}, {("kinds", "name"): 2}, 2) == {("kinds", "name"): 2, ("", "items"): 2}
    assert shortfall({}, {}, 2) == {("", "items"): 2}
