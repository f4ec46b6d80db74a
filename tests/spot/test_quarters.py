"""Quarters are tried on the body: `furcal items check` says where a key disagrees with what `furcal dock` finds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomlkit

from lessons.spot.bank import bundled_items, looked_over
from lessons.spot.item import CLEAR_OF, QUARTERS, Item, Quartered
from lessons.spot.itemjson import item_from_json, item_json
from lessons.spot.itemtext import answer_lines
from lessons.spot.onbody import lying, problems
from lessons.spot.quarters import disagreements
from lessons.view import View
from meshes.body import Body, load_body
from meshes.contact import Ready, dock
from meshes.portal import place
from tests.spot.anyitem import item
from viewer.__main__ import main

ROW: dict[str, Any] = {
    "id": "one", "kind": "quarter", "objective": "approach", "structure": "L3-4", "disc": "L3-4",
    "ask": "Seen from the left. In which quarter may its middle stand?", "explain": "So it is. [common_practice]",
}  # fmt: skip
ITEMS = [one for one in bundled_items() if one.kind == "quarter"]


def read(**more: Any) -> tuple[tuple[Item, ...], list[str]]:
    text = tomlkit.dumps({"furcal_items": 1, "items": [{**ROW, "right": ["II"], **more}]})
    return looked_over(text, Path("harbour.toml"))


def free_quarters(body: Body, asked: Quartered, places: int = 97) -> set[str]:
    """Quarters with a free place, by docking alone."""
    ready, free = Ready.of(body), set()
    for at in np.linspace(0.0, 1.0, places):
        portal = place(body, asked.disc, asked.side, asked.approach, float(at), asked.radius_mm)
        docking = dock(body, portal, ready)
        near = [contact for word in asked.clear_of for contact in getattr(docking, word)]
        room = min(contact.clearance_mm for contact in near)
        if room > 0.0 and room >= asked.clear_mm and docking.access.reaches_disc:
            free.add(docking.portal.quarter)
    return free


# --- on the body


@pytest.mark.parametrize("radius", [3.0, 5.0, 8.0])
def test_the_key_that_docking_finds_is_the_only_one_that_agrees(radius: float, alder: Body) -> None:
    free = free_quarters(alder, Quartered("L3-4", "left", ("I",), radius))
    for bits in range(1, 2 ** len(QUARTERS) - 1):
        key = tuple(quarter for k, quarter in enumerate(QUARTERS) if bits >> k & 1)
        told = list(disagreements(Quartered("L3-4", "left", key, radius), alder))
        # One sentence for each quarter that is wrong, and each begins with its quarter.
        assert {said.split()[0] for said in told} == set(key) ^ free
        assert len(told) == len(set(key) ^ free)
        for said in told:
            assert ("is free on this body too" in said) == (said.split()[0] in free)
            assert f"lateral portal of {radius:g} mm radius" in said


def test_what_is_told_is_what_dock_finds_there(alder: Body) -> None:
    (said,) = disagreements(Quartered("L3-4", "left", ("II", "III", "IV"), 5.0), alder)
    at = float(said.split("(at ")[1].split(")")[0])
    near = dock(alder, place(alder, "L3-4", "left", "lateral", at, 5.0)).nerves[0]
    assert f"touches {near.id} by {-near.clearance_mm:.1f} mm" in said
    assert said.startswith("IV is not free on this body")


def test_room_and_what_is_to_be_clear_count(alder: Body) -> None:
    free = Quartered("L2-3", "left", ("I", "II", "III"), 5.0)
    assert list(disagreements(free, alder)) == []
    assert free_quarters(alder, replace(free, clear_of=CLEAR_OF)) == {"II", "III"}
    (said,) = disagreements(replace(free, clear_of=CLEAR_OF), alder)
    assert said.startswith("I is not free")
    told = list(disagreements(replace(free, clear_mm=2.0), alder))
    assert {said.split()[0] for said in told} == {"II", "III"}
    assert all("and 2 are asked for" in said for said in told)


def test_bone_that_bars_a_quarter_is_named() -> None:
    """At L1-2 rib 11 lies before II, where no nerve is touched."""
    broken = load_body(next(one for one in map(lying, ITEMS) if one.name == "Alder" and one.table_break_deg))
    docking = dock(broken, place(broken, "L1-2", "left", "lateral", 0.5, 8.0))
    assert not docking.nerves[0].touched
    assert docking.access.barred_by == ("rib_11_left",)
    (said,) = disagreements(Quartered("L1-2", "left", ("II", "III"), 8.0), broken)
    assert said.startswith("II is not free on this body")
    assert "is barred by rib_11_left before it reaches the disc" in said


def test_a_portal_that_misses_the_skin_everywhere_has_no_place(alder: Body) -> None:
    told = list(disagreements(Quartered("L3-4", "left", ("II",), 5.0, cranial_deg=60.0), alder))
    assert len(told) == 1
    assert told[0].startswith("II has no place") or told[0].startswith("II is not free")


@pytest.mark.parametrize("one", ITEMS, ids=lambda one: one.id)
def test_every_quarter_of_the_bank_agrees_with_its_body_and_says_its_portal(one: Item) -> None:
    assert isinstance(one.answer, Quartered)
    body = load_body(lying(one))
    assert free_quarters(body, one.answer, 81) == set(one.answer.right)
    assert problems(one, body) == []
    across = f"{2 * one.answer.radius_mm:g} mm across"
    assert across in one.vignette, "the width that is tried is the one that is told"


# --- in the bank


def test_a_bank_without_a_portal_is_read_as_before_and_means_a_dilator(alder: Body) -> None:
    ((one,), problems_) = read()
    assert problems_ == []
    assert one.answer == Quartered("L3-4", "left", ("II",), 5.0, "lateral", 0.0, 0.0, ("nerves",))
    (said,) = problems(one, alder)
    assert said.startswith("harbour.toml, item 1 (one), right: III is free on this body too")


def test_a_portal_is_read(alder: Body) -> None:
    given = {
        "radius_mm": 3,
        "approach": "oblique",
        "cranial_deg": -5.0,
        "clear_mm": 1,
        "clear_of": ["viscera", "nerves"],
    }
    ((one,), problems_) = read(**given)
    assert problems_ == []
    assert one.answer == Quartered("L3-4", "left", ("II",), 3.0, "oblique", -5.0, 1.0, ("nerves", "viscera"))
    (line,) = answer_lines(one.answer)
    assert line.endswith(
        "for an oblique portal of 3 mm radius, leaned -5 degrees to the head, clear of nerves and viscera by 1 mm"
    )


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"radius_mm": 0}, "radius_mm: expected a number from 0.5 to 40"),
        ({"radius_mm": "5"}, "radius_mm: expected a number"),
        ({"approach": "anterior"}, "unknown approach 'anterior'"),
        ({"cranial_deg": 70}, "cranial_deg: expected a number from -60 to 60"),
        ({"clear_mm": -1}, "clear_mm: expected a number from 0 to 20"),
        ({"clear_of": ["bones"]}, "unknown word 'bones'"),
        ({"clear_of": []}, "clear_of: expected a list of texts, at least one"),
        ({"portal": {}}, "unknown key of a quarter item 'portal'"),
    ],
)
def test_a_portal_that_is_none_is_told_with_its_place(more: dict[str, Any], said: str) -> None:
    items, told = read(**more)
    assert items == ()
    assert any(said in one and one.startswith("harbour.toml, item 1 (one)") for one in told), told


def test_check_says_it_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bank = tmp_path / "own.toml"
    bank.write_text(tomlkit.dumps({"furcal_items": 1, "items": [{**ROW, "right": ["II", "III"]}]}))
    assert main(["items", "check", str(bank)]) == 0
    assert "nothing wrong" in capsys.readouterr().out
    bank.write_text(tomlkit.dumps({"furcal_items": 1, "items": [{**ROW, "right": ["II", "III"], "radius_mm": 11}]}))
    assert main(["items", "check", str(bank)]) == 2
    told = capsys.readouterr().out.splitlines()
    assert any(f"{bank}, item 1 (one), right: II is not free on this body" in line for line in told)


# --- in a paper


def test_papers_that_were_frozen_before_are_read_as_they_were() -> None:
    plain = item("one", "quarter", answer=Quartered("L4-5", "left", ("II", "III")), view=View())
    table = item_json(plain)
    assert table["answer"] == {"sort": "quartered", "disc": "L4-5", "side": "left", "right": ["II", "III"]}
    assert item_from_json(table, "paper") == plain
    other = replace(plain, answer=Quartered("L4-5", "left", ("II",), 8.0, clear_of=("nerves", "vessels")))
    table = item_json(other)
    assert table["answer"]["radius_mm"] == 8.0
    assert item_from_json(table, "paper") == other
