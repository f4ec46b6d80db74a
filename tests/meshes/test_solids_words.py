"""Words of a table of solids: numbers in words are read, and what cannot be read or drawn is refused by its number."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.solids import (
    level_reader,
    read_parts,
)
from tests.meshes.madeup import Row, at, drum, made_up, part
from tests.meshes.refusals import refused


@pytest.mark.parametrize(
    ("value", "number"),
    [
        (3, 3.0),
        ("3.5", 3.5),
        ("0.5 width_mm", 20.0),
        ("0.5 width_mm + 2", 22.0),
        ("0.5 width_mm - 2", 18.0),
        ("2 - 0.25 depth_mm", -5.5),
        ("-0.5 width_mm", -20.0),
        ("0.5 width_mm + 0.1 depth_mm - 1 + -3", 19.0),
        (" 1 depth_mm ", 30.0),
    ],
)
def test_numbers_in_words_are_factors_times_quantities(value: object, number: float) -> None:
    read = level_reader({("l3", "width_mm"): 40.0, ("l3", "depth_mm"): 30.0, ("l4", "height_mm"): 28.0}, "l3")
    assert read(value, "here") == pytest.approx(number)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("0.5 wdth_mm", "here: unknown quantity 'wdth_mm'. Nearest: width_mm, depth_mm. Legal: depth_mm, width_mm."),
        ("0.5 height_mm", "here: unknown quantity 'height_mm'. "),
        ("wide", "here: expected a number, found 'wide'."),
        ("wide width_mm", "here: expected a number, found 'wide'."),
        ("", "here: expected a number, found ''."),
        ("0.5 width_mm +", "here: unknown quantity "),
        ("nan width_mm", "here: expected a finite number, found 'nan'."),
        (float("inf"), "here: expected a finite number, found inf."),
        (True, "here: expected a number, found True."),
        ([1], "here: expected a number, found [1]."),
    ],
)
def test_words_that_are_no_number_are_refused(value: object, said: str) -> None:
    read = level_reader({("l3", "width_mm"): 40.0, ("l3", "depth_mm"): 30.0, ("l4", "height_mm"): 28.0}, "l3")
    assert refused(read, value, "here").startswith(said)


@given(st.text(max_size=20))
def test_any_words_give_a_finite_number_or_are_refused(text: str) -> None:
    from meshes.errors import FurcalError

    read = level_reader({("l3", "width_mm"): 40.0}, "l3")
    found = 0.0
    try:
        found = read(text, "here")
    except FurcalError as error:
        found = float(len(str(error).splitlines()) - 1)
    assert np.isfinite(found)


BALL = part("ball", points=[at(radius=5.0)])


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"shape": "ball", "points": []}, "'source' is missing."),
        ({"source": "judgement"}, "'shape' is missing."),
        ({**BALL, "source": "hearsay"}, "unknown source 'hearsay'."),
        (part("bal", points=[]), "unknown shape 'bal'. Nearest: ball. Legal: ball, sweep, sheet, loft, plate."),
        ({**BALL, "hole": True}, "unknown key 'hole'."),
        (part("ball"), "'points' is missing."),
        (part("ball", points=[]), "name one or more points."),
        (part("sweep"), "'points' is missing."),
        (part("sheet"), "'rows' is missing."),
        (part("plate"), "'rows' is missing."),
        (
            part("plate", rows=[[at(radius=1.0)], [at(radius=1.0)]]),
            "a net needs two or more rows of two or more points",
        ),
        (
            part("sheet", rows=[[at(radius=1.0), at(1.0, radius=1.0)], [at(radius=1.0)]]),
            "a net needs two or more rows of two or more points, all of one length.",
        ),
        (part("loft"), "'sections' is missing."),
        (part("loft", sections=[]), "a loft needs two or more sections."),
        (part("loft", sections=[at(half_width=1.0, half_depth=1.0)]), "a loft needs two or more sections."),
        (part("loft", sections=[at(half_depth=1.0)]), "section 1: 'half_width' is missing."),
        (part("loft", sections=[at(half_width=1.0, half_depth=0.0)]), "section 1, half_depth: 0 is not more than 0."),
        (part("loft", sections=[{"outline": "drm"}]), "section 1: unknown landmark 'drm_inner'. Nearest: drum_inner, "),
        (drum(5.0, 5.0, 9.0, plane="pth"), "unknown plane 'pth'. Nearest: path. Legal: frame, path."),
        (drum(5.0, 5.0, 9.0, sink="deep"), "sink: expected a number, found 'deep'."),
        ({**BALL, "blend": "soft"}, "blend: expected a number, found 'soft'."),
        (part("ball", points=[at()]), "point 1: 'radius' is missing."),
        (part("ball", points=[at(radius=0.0)]), "point 1, radius: 0 is not more than 0."),
        (part("ball", points=[at(radius=-2.0)]), "point 1, radius: -2 is not more than 0."),
        (part("sweep", points=[at(radius=1.0), {"at": "hb", "radius": 1}]), "point 2: unknown landmark 'hb'."),
        (part("sweep", points=[at(radius=1.0), {"radius": 1}]), "point 2: name a landmark with 'at' or two with"),
    ],
)
def test_a_part_that_cannot_be_drawn_is_told_by_its_number(row: Row, said: str) -> None:
    told = refused(read_parts, [BALL, row], made_up(), "bones.toml, [l3]")
    assert told.startswith("bones.toml, [l3], part 2")
    assert said in told
