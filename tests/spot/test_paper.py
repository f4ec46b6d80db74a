"""A paper: frozen whole, read back exactly, an edit noticed."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.spot.bank import bundled_items
from lessons.spot.item import KINDS, Item, Pointed
from lessons.spot.itemjson import item_from_json, item_json
from lessons.spot.paper import (
    CONFIDENTIAL,
    Paper,
    made_paper,
    paper_text,
    read_paper,
)
from lessons.spot.response import Clicked
from lessons.spot.sitting import offered
from lessons.view import View
from meshes.errors import FurcalError
from tests.spot.anyitem import item, items

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
