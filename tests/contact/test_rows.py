"""A docking by named nerves: nothing is lost, nothing is counted twice, and the words say what the docking says."""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.readout import CLOSE_MM
from lessons.rows import (
    PLURALS,
    SAC,
    Row,
    bars_with_crest,
    farther,
    headline,
    how_near,
    listed,
    piece_texts,
    reach_text,
    row_name,
    row_text,
    rows_of,
)
from meshes.body import Body, load_body
from meshes.branches import nerve_of
from meshes.contact import Contact, Docking, Ready, dock
from meshes.portal import place
from meshes.reference import all_courses
from meshes.specimen import ALDER
from meshes.structures import APPROACHES, LEVELS, SIDES


@cache
def ready() -> Ready:
    return Ready.of(load_body(ALDER))


def docked(level: str, approach: str, at: float = 0.5, side: str = "left", radius_mm: float = 11.0) -> Docking:
    return dock(ready().body, place(ready().body, level, side, approach, at, radius_mm), ready())


def contacts(docking: Docking) -> tuple[Contact, ...]:
    return docking.nerves + docking.vessels + docking.viscera


def moved(row: Row, clearance_mm: float) -> Row:
    """The row of one piece, as near as asked."""
    c = row.worst
    piece = Contact(c.structure, clearance_mm, c.nearest_mm, c.depth_mm, c.inside_mm, c.inside_length_mm)
    return Row(row.id, row.name, row.side, (piece,))


portals = given(
    st.sampled_from(LEVELS), st.sampled_from(APPROACHES), st.floats(0.02, 0.98), st.sampled_from(SIDES),
    st.floats(1.0, 20.0),
)  # fmt: skip


# --- which nerve a piece belongs to


@pytest.mark.parametrize(
    ("piece", "nerve"),
    [
        ("femoral_left", "femoral"),
        ("l3_posterior_division_left", "femoral"),
        ("femoral_anterior_cutaneous_left", "femoral"),
        ("femoral_muscular_left", "femoral"),
        ("l4_anterior_division_left", "obturator"),
        ("obturator_posterior_left", "obturator"),
        ("accessory_obturator_left", "accessory_obturator"),
        ("saphenous_left", "saphenous"),
        ("l3_lateral_femoral_cutaneous_left", "lateral_femoral_cutaneous"),
        ("lateral_femoral_cutaneous_left", "lateral_femoral_cutaneous"),
        ("l1_genitofemoral_left", "genitofemoral"),
        ("genitofemoral_femoral_left", "genitofemoral"),
        ("subcostal_lateral_cutaneous_left", "subcostal"),
        ("iliohypogastric_lateral_cutaneous_left", "iliohypogastric"),
        ("ilioinguinal_left", "ilioinguinal"),
        ("furcal_left", "lumbosacral_trunk"),
        ("l3_root_left", "l3_spinal_nerve"),
        ("l3_ganglion_left", "l3_spinal_nerve"),
        ("l3_ramus_left", "l3_spinal_nerve"),
        ("l5_ramus_left", "l5_spinal_nerve"),
        ("s1_ramus_left", "s1_spinal_nerve"),
        ("t12_share_left", "l1_spinal_nerve"),
        ("sympathetic_trunk_left", "sympathetic_trunk"),
    ],
)
def test_a_piece_belongs_to_its_nerve(piece: str, nerve: str) -> None:
    assert nerve_of(piece) == (nerve, "left")
    assert nerve_of(piece.replace("_left", "_right")) == (nerve, "right")


def test_what_has_no_side_or_no_course_is_itself() -> None:
    assert nerve_of(SAC) == (SAC, "")
    assert nerve_of("no_such_nerve_left") == ("no_such_nerve_left", "left")


def test_every_nerve_that_a_piece_belongs_to_belongs_to_itself() -> None:
    for name, course in all_courses().items():
        if course.structure.kind == "nerve":
            nerve, _ = nerve_of(f"{name}_left" if course.paired else name)
            assert nerve.endswith("_spinal_nerve") or nerve_of(f"{nerve}_left")[0] == nerve or nerve == SAC


def test_a_body_has_as_many_nerves_as_the_books_count() -> None:
    """Six spinal nerves and S1, the eight of the plexus with the saphenous, and what lies beside: from memory."""
    rows = [row for row in rows_of(docked("L3-4", "lateral")) if row.kind == "nerve" and row.side == "left"]
    assert {row.id.removesuffix("_left") for row in rows} == {
        *(f"{level}_spinal_nerve" for level in ("t12", "l1", "l2", "l3", "l4", "l5", "s1")),
        "subcostal", "iliohypogastric", "ilioinguinal", "genitofemoral", "lateral_femoral_cutaneous", "femoral",
        "saphenous", "obturator", "lumbosacral_trunk", "sacral_plexus", "sympathetic_trunk",
    }  # fmt: skip


# --- rows


@settings(max_examples=40, deadline=None)
@portals
def test_every_piece_is_in_exactly_one_row_and_the_headline_counts_the_rows(
    level: str, approach: str, at: float, side: str, radius_mm: float
) -> None:
    docking = docked(level, approach, at, side, radius_mm)
    rows = rows_of(docking)
    pieces = [c.id for row in rows for c in row.pieces]
    assert sorted(pieces) == sorted(c.id for c in contacts(docking))
    assert len({row.id for row in rows}) == len(rows)
    assert [row.clearance_mm for row in rows] == sorted(row.clearance_mm for row in rows)
    for row in rows:
        assert row.clearance_mm == min(c.clearance_mm for c in row.pieces)
        assert {c.structure.side for c in row.pieces} == {row.side}
    touched = [row for row in rows if row.touched]
    assert {c.id for row in touched for c in row.pieces} >= {c.id for c in contacts(docking) if c.touched}
    assert named_in(headline(docking, rows)) == len(touched)
    assert reach_text(docking).startswith("Reaches") == docking.access.reaches_disc
    near = [row for row in rows if row.kind == "nerve" and row.clearance_mm <= CLOSE_MM]
    assert farther(docking, rows).startswith("No other nerve" if near else "No nerve")
    for row in listed(rows):
        assert ("in the way" in row_text(row) or "grazed" in row_text(row)) == row.touched
        assert ("clear" in row_text(row)) != row.touched


def named_in(says: str) -> int:
    """How many things a headline tells of: those by name, and those that are counted."""
    if says == "Touches no nerve, vessel or viscus.":
        return 0
    return len(re.findall(r"\bthe ", says)) + sum(int(n) for n in re.findall(r"\b(\d+) more", says))


def test_a_nerve_and_its_pieces_are_one() -> None:
    rows = rows_of(docked("L4-5", "lateral"))
    found = {row.id: [c.id for c in row.pieces] for row in rows}
    femoral, lfcn = found["femoral_left"], found["lateral_femoral_cutaneous_left"]
    assert set(femoral) == {
        "femoral_left", "femoral_anterior_cutaneous_left", "femoral_muscular_left",
        *(f"l{n}_posterior_division_left" for n in (2, 3, 4)),
    }  # fmt: skip
    assert set(lfcn) == {"lateral_femoral_cutaneous_left", "l3_lateral_femoral_cutaneous_left"}


# --- words


@pytest.mark.parametrize(
    ("piece", "says"),
    [
        ("iliohypogastric_lateral_cutaneous_left", "Iliohypogastric nerve, left, by its lateral cutaneous branch"),
        ("l4_ramus_left", "L4 spinal nerve, left, by its ventral ramus"),
        ("l3_lateral_femoral_cutaneous_left", "Lateral femoral cutaneous nerve, left, by its L3 contribution"),
        ("l3_posterior_division_left", "Femoral nerve, left, by the posterior division of L3"),
        ("furcal_left", "Lumbosacral trunk, left, by the furcal branch of L4"),
        ("femoral_left", "Femoral nerve, left"),
        ("common_iliac_artery_left", "Common iliac artery, left"),
    ],
)
def test_the_piece_that_is_nearest_is_told(piece: str, says: str) -> None:
    row = next(row for row in rows_of(docked("L4-5", "lateral")) if piece in [c.id for c in row.pieces])
    worst = next(c for c in row.pieces if c.id == piece)
    alone = Row(row.id, row.name, row.side, (worst,))
    assert row_name(moved(alone, -1.0)) == says
    assert row_name(moved(alone, 1.0)) == says.replace(", by ", ", at ")


def test_all_near_pieces_of_a_row_can_be_read() -> None:
    row = next(row for row in rows_of(docked("L4-5", "lateral")) if row.id == "femoral_left")
    said = piece_texts(row)
    assert len(said) == sum(c.clearance_mm <= CLOSE_MM for c in row.pieces) > 1
    assert [text.rpartition(": ")[2] for text in said] == [how_near(c.clearance_mm) for c in row.pieces[: len(said)]]
    assert piece_texts(moved(row, 1.0)) == []


@pytest.mark.parametrize("clearance_mm", [-10.52, -0.06, -0.04, 0.0, 0.04, 0.06, 3.21])
def test_no_distance_is_told_as_nothing(clearance_mm: float) -> None:
    says = how_near(clearance_mm)
    assert not re.search(r"\b0\.0\b", says)
    assert says.endswith("clear") == (clearance_mm > 0.0)


def test_near_is_told_in_the_trades_words() -> None:
    assert [how_near(mm) for mm in (-10.52, -0.04, 3.21)] == ["in the way, 10.5 mm within the rim", "grazed",
                                                              "3.2 mm clear"]  # fmt: skip


def test_the_headline_names_few_and_counts_many() -> None:
    assert headline(docked("L5-S1", "anterior"), []) == "Touches no nerve, vessel or viscus."
    docking = docked("L3-4", "lateral")
    rows = {row.id: row for row in rows_of(docking)}

    def said(*ids: str) -> str:
        return headline(docking, [moved(rows[i], -1.0) for i in ids])

    assert said("femoral_left") == "Touches the femoral nerve."
    assert said("femoral_right") == "Touches the right femoral nerve."
    assert said("femoral_left", "l3_spinal_nerve_left") == "Touches the femoral nerve and the L3 spinal nerve."
    assert said("femoral_left", "obturator_left", "saphenous_left", "subcostal_left") == (
        "Touches the femoral nerve and 3 more nerves."
    )
    assert said("ureter_left") == "Touches the left ureter."
    assert said("femoral_left", SAC) == "Touches the femoral nerve and the dural sac."
    assert said("femoral_left", "aorta", "ureter_left") == ("Touches the femoral nerve, the aorta and the left ureter.")
    assert said("aorta", "inferior_vena_cava", "common_iliac_vein_left", "ureter_left") == (
        "Touches the aorta and 2 more vessels, and the left ureter."
    )


def test_the_dural_sac_is_no_nerve() -> None:
    row = next(row for row in rows_of(docked("L3-4", "lateral")) if row.id == SAC)
    assert row.kind not in PLURALS


def test_what_is_farther_is_only_the_next() -> None:
    docking = docked("L3-4", "lateral")
    row = next(row for row in rows_of(docking) if row.id == "obturator_left")
    near, far = moved(row, 2.0), moved(row, 12.2)
    assert farther(docking, [near, far]) == "No other nerve within 10 mm; the next, the obturator nerve, at 12 mm."
    assert farther(docking, [far]) == "No nerve within 10 mm; the next, the obturator nerve, at 12 mm."
    assert farther(docking, [moved(row, 10.02)]).endswith("at just over 10 mm.")
    assert farther(docking, [near]) == ""


# --- what bars


@pytest.mark.parametrize("side", SIDES)
def test_the_first_line_tells_what_bars(side: str) -> None:
    reached, crest, wing = (docked(level, "lateral", side=side) for level in ("L3-4", "L4-5", "L5-S1"))
    assert reach_text(reached) == "Reaches the L3-4 disc in quarter II."
    assert reach_text(crest) == (f"Does not reach the L4-5 disc: the {side} hip bone (iliac crest) is in the way.")
    assert reach_text(wing) == f"Does not reach the L5-S1 disc: the {side} hip bone and the sacrum are in the way."


def test_it_is_the_crest_where_the_highest_part_of_the_hip_bone_over_the_portal_is_in_the_way(alder: Body) -> None:
    """Another way to say crest: no bone of the hip stands higher there than what the portal meets."""
    for level, is_crest in (("L4-5", True), ("L5-S1", False)):
        portal = docked(level, "lateral").portal
        hip = alder.surfaces["hip_left"].vertices
        middle = portal.entry_mm[1]
        over = hip[np.abs(hip[:, 1] - middle) < portal.radius_mm]
        height = portal.border_mm[2] + portal.radius_mm
        assert (over[:, 2].max() - height < 2.0 * portal.radius_mm) == is_crest
        assert bars_with_crest(alder.structures["hip_left"], alder, portal) == is_crest
    assert not bars_with_crest(alder.structures["sacrum"], alder, portal)
