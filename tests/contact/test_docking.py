"""The whole answer, for programs and for people."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.caution import CAUTION
from lessons.readout import CLOSE_MM, dock_text, named
from meshes.contact import Contact, Docking, Ready, as_json, dock
from meshes.cylinder import Cylinder
from meshes.portal import place
from meshes.structures import APPROACHES, LEVELS, other_side
from tests.contact.bodies import made_up_body
from tests.contact.test_clearance import by_hand, sampled

BODY = made_up_body()
READY = Ready.of(BODY)
MIRROR = np.array([-1.0, 1.0, 1.0])
#: What is the same on both sides of the made-up body.
UNPAIRED = {"aorta", "inferior_vena_cava"}


def docked(**options: Any) -> Docking:
    words: dict[str, Any] = {"level": "L3-4", "side": "left", "approach": "lateral", "at": 0.5, "radius_mm": 11.0}
    return dock(BODY, place(BODY, **(words | options)), READY)


def contacts(docking: Docking) -> tuple[Contact, ...]:
    return docking.nerves + docking.vessels + docking.viscera


def test_every_nerve_vessel_and_viscus_is_answered_once_the_closest_first() -> None:
    docking = docked()
    for kind, found in (("nerve", docking.nerves), ("vessel", docking.vessels), ("viscus", docking.viscera)):
        assert sorted(c.id for c in found) == sorted(BODY.ids(kind))
        assert [c.clearance_mm for c in found] == sorted(c.clearance_mm for c in found)


def test_touched_is_clearance_at_or_below_zero() -> None:
    assert {c.touched for c in contacts(docked())} == {True, False}
    assert all(c.touched == (c.clearance_mm <= 0.0) for c in contacts(docked()))
    at_zero = Contact(BODY.structures["aorta"], 0.0, np.zeros(3), 0.0, None, 0.0)
    assert at_zero.touched


def test_what_is_no_tube_has_a_clearance_but_no_stretch() -> None:
    kidney = next(c for c in docked(level="L1-2").viscera if c.id == "kidney_left")
    assert kidney.touched
    assert kidney.inside_mm is None
    assert kidney.inside_length_mm is None


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(LEVELS), st.sampled_from(APPROACHES), st.floats(0.02, 0.98), st.floats(1.0, 20.0),
    st.floats(0.0, 20.0), st.floats(-12.0, 12.0), st.floats(-12.0, 12.0),
)  # fmt: skip
def test_right_is_left_in_the_mirror(
    level: str, approach: str, at: float, radius: float, depth: float, cranial: float, anterior: float
) -> None:
    options: dict[str, Any] = {
        "level": level, "approach": approach, "radius_mm": radius, "depth_mm": depth,
        "cranial_deg": cranial, "anterior_deg": anterior,
    }  # fmt: skip
    there = 1.0 - at if approach == "anterior" else at
    left, right = docked(side="left", at=at, **options), docked(side="right", at=there, **options)
    mirrored = {c.id: c for c in contacts(right)}
    for c in contacts(left):
        if c.id in UNPAIRED:
            continue
        other = mirrored[other_side(c.id)]
        assert other.clearance_mm == pytest.approx(c.clearance_mm, abs=1e-5 if c.id in BODY.centrelines else 2e-3)
    assert {other_side(b) for b in right.access.barred_by} == set(left.access.barred_by)
    assert right.access.clears_at == left.access.clears_at
    assert axis_layers(right) == pytest.approx(axis_layers(left), abs=1e-5)


def axis_layers(docking: Docking) -> dict[str, float]:
    """Muscles the axis meets, by id as on the left: depth where they are first met. (Tubes are not meshed mirrored.)"""
    out: dict[str, float] = {}
    for layer in docking.layers:
        if layer.id in BODY.ids("muscle") and layer.by == "axis" and layer.to_mm - layer.from_mm > 1e-6:
            name = layer.id if docking.portal.side == "left" else other_side(layer.id)
            out.setdefault(name, layer.from_mm)
    return out


def test_json_has_exactly_the_contracts_keys() -> None:
    answer = as_json(docked(level="L4-5"))
    assert list(answer) == [
        "schema", "furcal_version", "specimen", "portal", "reaches_disc", "barred_by", "clears_at", "layers",
        "nerves", "vessels", "viscera",
    ]  # fmt: skip
    assert answer["schema"] == 1
    assert list(answer["portal"]) == [
        "level", "side", "approach", "at", "quarter", "radius_mm", "depth_mm", "entry_mm", "end_mm", "direction",
    ]  # fmt: skip
    assert list(answer["clears_at"]) == ["cranial_deg", "table_break_deg"]
    assert all(list(x) == ["id", "name", "from_mm", "to_mm", "by"] for x in answer["layers"])
    row = [
        "id", "name", "latin", "roots", "side", "touched", "clearance_mm", "nearest_mm", "depth_mm", "inside_mm",
        "inside_length_mm",
    ]  # fmt: skip
    assert all(list(x) == row for kind in ("nerves", "vessels", "viscera") for x in answer[kind])
    assert answer["specimen"]["name"] == "Alder"
    assert as_json(docked())["clears_at"] is None


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(LEVELS), st.sampled_from(APPROACHES), st.floats(0.0, 1.0), st.sampled_from(["left", "right"]))
def test_json_is_plain_and_can_be_checked_from_itself(level: str, approach: str, at: float, side: str) -> None:
    answer = json.loads(json.dumps(as_json(docked(level=level, approach=approach, at=at, side=side)), allow_nan=False))
    entry, end, direction = (np.array(answer["portal"][k]) for k in ("entry_mm", "end_mm", "direction"))
    assert end - entry == pytest.approx(np.linalg.norm(end - entry) * direction, abs=1e-3)
    cylinder = Cylinder(entry, direction, float(np.linalg.norm(end - entry)), answer["portal"]["radius_mm"])
    for row in answer["nerves"]:
        points, radius, arc = sampled(BODY.centrelines[row["id"]], 30)
        f = by_hand(cylinder, points) - radius
        assert row["clearance_mm"] == pytest.approx(f.min(), abs=0.1)
        assert row["touched"] == (row["clearance_mm"] <= 0.0)
        assert (row["inside_mm"] is None) == (row["inside_length_mm"] == 0.0)
        assert row["depth_mm"] == pytest.approx((np.array(row["nearest_mm"]) - entry) @ direction, abs=1e-2)
        if row["inside_mm"] is not None:
            first, last = row["inside_mm"]
            assert 0.0 <= first <= last <= arc[-1] + 1e-3
            assert row["inside_length_mm"] <= last - first + 1e-3


def test_a_barred_portal_still_tells_what_lies_on_the_way() -> None:
    answer = as_json(docked(level="L5-S1"))
    assert answer["reaches_disc"] is False
    assert answer["barred_by"][0] == "hip_left"
    assert [row["id"] for row in answer["nerves"] if row["touched"]] == ["femoral_left"]


def test_a_body_is_prepared_once_and_each_for_itself() -> None:
    Ready.of(BODY)
    Ready.of(replace(BODY))  # BODY is no longer the newest: that it is asked for again is what keeps it
    others = [replace(BODY) for _ in range(3)]
    prepared = [Ready.of(body) for body in (BODY, *others)]
    assert [ready.body for ready in prepared] == [BODY, *others]
    assert len({id(ready) for ready in prepared}) == 4
    assert [Ready.of(body) for body in (BODY, *others)] == prepared, "compared by identity"
    for body in [replace(BODY) for _ in range(20)]:  # however many came since: never that of another body
        assert Ready.of(body).body is body
    assert Ready.of(BODY).body is BODY


def test_a_body_prepared_for_another_is_not_used() -> None:
    other = made_up_body.__wrapped__()
    portal = place(other, "L3-4", "left", "lateral", 0.5, 11.0)
    assert as_json(dock(other, portal, READY)) == as_json(dock(other, portal))


# --- for people -------------------------------------------------------------------------------------------------------


def section(text: str, begins: str) -> list[str]:
    """Lines below the one that begins so, up to the next empty line."""
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith(begins))
    rest = lines[start + 1 :]
    return rest[: rest.index("")]


def depths(rows: list[str]) -> list[float]:
    return [float(row.split()[0]) for row in rows]


@pytest.mark.parametrize("approach", APPROACHES)
@pytest.mark.parametrize("level", LEVELS)
def test_text_is_worst_first_and_says_what_the_docking_says(level: str, approach: str) -> None:
    docking = docked(level=level, approach=approach, at=0.3)
    text = dock_text(docking)
    every = contacts(docking)
    touched = sorted(c.clearance_mm for c in every if c.touched)
    close = sorted(c.clearance_mm for c in every if 0.0 < c.clearance_mm <= CLOSE_MM)
    for begins, expected in (("Touched", touched), ("Close", close)):
        rows = section(text, begins)
        if expected:
            assert depths(rows) == [round(d, 1) for d in expected]
            assert all(" mm   " in row and " mm deep   " in row for row in rows)
        else:
            assert rows == ["  nothing"]
    assert max(map(len, text.splitlines())) <= 100
    assert " ".join(text.splitlines()[-2:]) == CAUTION
    assert f"quarter   {docking.portal.quarter} (quarters of the disc, I anterior to IV posterior)" in text
    layers = [line for line in text.splitlines() if line.endswith(("disc " + level.lower().replace("-", " "),))]
    assert len(layers) == 1
    assert "  [" not in text


def test_text_counts_what_is_farther() -> None:
    docking = docked()
    far = [c for c in docking.nerves if c.clearance_mm > CLOSE_MM]
    (row,) = [r for r in section(dock_text(docking), "Farther") if "nerve" in r]
    assert row.startswith(f"  {len(far)} nerves, the nearest dural sac at {far[0].clearance_mm:.1f} mm")


def test_text_of_a_barred_portal_names_bone_and_remedy() -> None:
    text = dock_text(docked(level="L4-5")).replace("\n", " ")
    assert "Barred: the way to the L4-5 disc meets hip, left." in text
    clears_at = docked(level="L4-5").access.clears_at
    assert clears_at is not None
    assert f"a tilt of {clears_at.cranial_deg} degrees towards the head (--cranial {clears_at.cranial_deg})" in text
    assert "No bone bars the way to the L3-4 disc." in dock_text(docked())


def test_text_tells_a_side_once() -> None:
    aorta = BODY.structures["aorta"]
    assert named(aorta) == "aorta"
    assert named(replace(aorta, side="left")) == "aorta, left"
    assert named(replace(aorta, side="left", name="left iliac artery")) == "iliac artery, left"


def test_text_names_the_side_of_what_lies_on_the_other_one() -> None:
    text = dock_text(docked(approach="anterior", level="L4-5"))
    layers = "\n".join(section(text, "Layers"))
    assert "common iliac artery, left  (rim)" in layers
    assert "common iliac artery, right  (rim)" in layers
