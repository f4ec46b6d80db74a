"""A paper: chosen by a seed as a blueprint says, frozen whole, read back exactly, an edit noticed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.film import Film
from lessons.spot.bank import bundled_items
from lessons.spot.blueprint import Blueprint, read_blueprint, shortfall
from lessons.spot.item import DEPTHS, KINDS, OBJECTIVES, Item, Pointed
from lessons.spot.itemjson import item_from_json, item_json
from lessons.spot.paper import (
    CONFIDENTIAL,
    Paper,
    about,
    chosen,
    is_printable,
    made_paper,
    paper_text,
    read_paper,
)
from lessons.spot.response import Clicked
from lessons.spot.sitting import offered
from lessons.view import View
from meshes.errors import FurcalError
from tests.spot.anyitem import bank, item, items

SPOTS = {"pt": (Clicked("femoral_left", (1.0, 2.5, -3.25)), Clicked("obturator_left", (4.0, 5.0, 6.0)))}


def one_of_every_kind() -> list[Item]:
    return [item(f"it_{kind}", kind) for kind in KINDS] + [item("pt", "point")]


def written(paper: Paper, folder: Path) -> Path:
    path = folder / "paper.json"
    path.write_text(paper_text(paper), encoding="utf-8")
    return path


# --- frozen whole


@given(items())
def test_any_item_comes_back_exactly(one: Item) -> None:
    table = json.loads(json.dumps(item_json(one), ensure_ascii=False))
    back = item_from_json(table, "paper.json, item 1")
    assert back == one
    assert type(back.answer) is type(one.answer)
    assert (back.view, back.specimen, back.answer, dict(back.own)) == (one.view, one.specimen, one.answer, one.own)


@settings(max_examples=30)
@given(st.lists(items(), min_size=1, max_size=4, unique_by=lambda one: one.id), st.integers(0, 10**18 - 1))
def test_any_paper_comes_back_exactly(tmp_path_factory: pytest.TempPathFactory, some: list[Item], seed: int) -> None:
    paper = made_paper(some, seed, 75)
    assert [replace(one, where="") for one in paper.items] == [replace(one, where="") for one in some]
    path = written(paper, tmp_path_factory.mktemp("p"))
    back = read_paper(path)
    assert back == paper
    assert paper_text(back) == path.read_text(encoding="utf-8")
    assert back.sha256 == json.loads(path.read_text(encoding="utf-8"))["sha256"]


def test_every_bundled_item_comes_back_exactly() -> None:
    for one in bundled_items():
        assert item_from_json(json.loads(json.dumps(item_json(one))), one.id) == one


def test_whole_numbers_and_others_make_one_paper(tmp_path: Path) -> None:
    whole = item("it", "point", answer=Pointed("femoral_left", 6), view=View(measured=((0, 0, 1), (1, 2, 3))))
    paper = made_paper([whole], 1)
    assert read_paper(written(paper, tmp_path)) == paper
    assert paper.items == (whole,)


def test_a_paper_tells_no_folder_and_is_the_same_whoever_makes_it() -> None:
    made = [
        made_paper([item("it", where=f"{folder}point.toml, item 3 (it)")], 7)
        for folder in ("/home/harbour, item 7/", "bank/", "")
    ]
    assert len({paper.id for paper in made}) == 1
    assert made[0].items[0].where == "point.toml, item 3 (it)"
    assert "harbour" not in paper_text(made[0])
    assert made_paper([item("it", where="")], 7).items[0].where == ""


def test_the_order_of_options_is_frozen_and_that_of_the_sitting(tmp_path: Path) -> None:
    paper = read_paper(written(made_paper(one_of_every_kind(), 7, spots=SPOTS), tmp_path))
    assert paper.offered == tuple(offered(one, 7) for one in paper.items)
    assert sum(map(bool, paper.offered)) == 5  # four kinds of choice, and words to be put in order
    assert paper.spots == SPOTS
    assert [paper.number_of(one.id) for one in paper.items] == list(range(1, len(KINDS) + 2))
    assert paper.number_of("other") == 0
    assert (paper.seconds, paper.minutes) == (90, 18.0)


def test_the_id_follows_from_everything_in_it() -> None:
    some = one_of_every_kind()
    papers = [
        made_paper(some, 7), made_paper(some, 8), made_paper(some, 7, 91), made_paper(some[::-1], 7),
        made_paper([replace(some[0], explain="Else."), *some[1:]], 7), made_paper(some, 7, spots=SPOTS),
    ]  # fmt: skip
    assert len({paper.id for paper in papers}) == len(papers)
    assert len({paper.sha256 for paper in papers}) == len(papers)
    assert made_paper(some, 7).id == papers[0].id
    assert all(paper.id == paper.sha256[:8] for paper in papers)


def test_the_file_says_first_that_it_holds_the_answers() -> None:
    text = paper_text(made_paper(one_of_every_kind(), 7))
    assert text.splitlines()[1] == f' "confidential": "{CONFIDENTIAL}",'
    assert "answers" in CONFIDENTIAL


def test_what_cannot_be_a_paper_is_refused() -> None:
    for some, seed, seconds, says in (
        ([item("a"), item("a")], 1, 90, "a: is in the paper twice; give every item an id of its own."),
        ([], 1, 90, "items of a paper: expected a whole number from 1 to 500, found 0."),
        ([item("a")], -1, 90, "seed: expected a whole number"),
        ([item("a")], 1, 9, "seconds of a station: expected a whole number from 10 to 3600, found 9."),
    ):
        with pytest.raises(FurcalError) as told:
            made_paper(some, seed, seconds)
        assert str(told.value).startswith(says)


# --- an edit is noticed

EDITED = "was edited or damaged since it was written; take the paper as `furcal paper` wrote it."


def leaves(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The way to every value that holds no others."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = [way for key, inner in pairs for way in leaves(inner, (*at, key))]
    return found or [at]


def changed(value: Any) -> Any:
    if isinstance(value, bool) or value is None:
        return not value
    if isinstance(value, (dict, list)):
        return "else"
    return value + 1 if isinstance(value, (int, float)) else f"{value}x"


def test_an_edit_of_any_value_is_one_sentence(tmp_path: Path) -> None:
    paper = made_paper([item("it", "predict"), item("pt", "point")], 7, spots=SPOTS)
    path = written(paper, tmp_path)
    table = json.loads(path.read_text())
    ways = [way for way in leaves(table) if way[0] != "furcal_paper"]
    assert len(ways) > 40
    for way in ways:
        edited = json.loads(path.read_text())
        inner = edited
        for key in way[:-1]:
            inner = inner[key]
        inner[way[-1]] = changed(inner[way[-1]])
        other = tmp_path / "edited.json"
        other.write_text(json.dumps(edited))
        with pytest.raises(FurcalError) as told:
            read_paper(other)
        assert str(told.value) == f"{other}: {EDITED}"


def sealed(table: dict[str, Any]) -> dict[str, Any]:
    """An edited paper with a hash that was made anew."""
    from lessons.spot.paper import _hash_of

    content = {key: table[key] for key in ("seed", "seconds", "items")}
    found = _hash_of(content)
    return {**table, "sha256": found, "id": found[:8]}


@pytest.mark.parametrize(
    "edit",
    [
        lambda t: t["items"][0].update(offered=["Right it"]),
        lambda t: t["items"][0].update(offered=None),
        lambda t: t["items"][0].update(more=1),
        lambda t: t["items"][0].update(spots=[{"structure": "x"}]),
        lambda t: t["items"][0].update(spots=None),
        lambda t: t["items"][0]["item"].update(kind="nothing"),
        lambda t: t["items"][0]["item"].update(kind="name", answer={"sort": "rooted", "roots": ["L2"]}),
        lambda t: t["items"][0]["item"].update(answer={"sort": "chosen", "right": 1, "wrong": "ab"}),
        lambda t: t["items"][0]["item"].update(answer=[]),
        lambda t: t["items"][0]["item"].update(view={"camera": {"name": "nowhere"}}),
        lambda t: t["items"][0]["item"].update(specimen={}),
        lambda t: t["items"][0]["item"].update(own=[]),
        lambda t: t["items"][0]["item"].update(made="yes"),
        lambda t: t["items"][0]["item"].pop("ask"),
        lambda t: t["items"][0].update(item=3),
        lambda t: t.update(items={}),
        lambda t: t.update(items=[]),
        lambda t: t.update(items=[1]),
        lambda t: t.update(seed="7"),
        lambda t: t.update(seconds=1.5),
    ],
)
def test_what_furcal_did_not_write_is_one_sentence_even_with_a_hash_of_its_own(
    edit: Callable[[dict[str, Any]], None], tmp_path: Path
) -> None:
    table = json.loads(paper_text(made_paper([item("it", "predict")], 7)))
    edit(table)
    path = tmp_path / "paper.json"
    path.write_text(json.dumps(sealed(table)))
    with pytest.raises(FurcalError) as told:
        read_paper(path)
    assert str(told.value).startswith(f"{path}, ")
    assert "\n" not in str(told.value)


REST = f'"confidential": "{CONFIDENTIAL}", "id": "", "sha256": "", "seconds": 90'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is no paper; name a paper.json that `furcal paper` wrote."),
        ("[" * 100_000, "is no paper; name a paper.json that `furcal paper` wrote."),
        ("[]", "is no paper; name a paper.json that `furcal paper` wrote."),
        ('{"furcal_result": 1}', "is no paper; name a paper.json that `furcal paper` wrote."),
        ('{"furcal_paper": 2}', "written by a newer furcal (schema 2); this one reads 1: update furcal."),
        ('{"furcal_paper": 1}', EDITED),
        (f'{{"furcal_paper": 1, {REST}, "seed": NaN, "items": []}}', EDITED),
    ],
)  # fmt: skip
def test_other_files_are_told(text: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "other.json"
    path.write_text(text)
    with pytest.raises(FurcalError) as told:
        read_paper(path)
    assert str(told.value) == f"{path}: {says}"


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
