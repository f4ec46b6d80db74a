"""How often harm was reported: every range is that of its series, every per cent that of its counts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from meshes.figures import published
from meshes.incidence import INCIDENCE, SURVEYED, Incidence, read_incidence, reported
from meshes.structures import APPROACHES, LEVELS
from meshes.tables import RESERVED_SOURCES, read_toml
from meshes.told import publications
from tests.meshes.refusals import refused

ROWS = reported().rows


def named(row: Incidence) -> str:
    return f"{row.approach} {row.level} {row.deficit} {row.when}"


@pytest.mark.parametrize("row", ROWS, ids=named)
def test_a_range_holds_its_own_series_and_no_more(row: Incidence) -> None:
    assert row.low == min(one.low for one in row.series)
    assert row.high == max(one.high for one in row.series)
    for one in row.series:
        if one.n is not None and one.of is not None:
            # Printed to one decimal: the last digit of either end is not to be leant on.
            assert row.low - 0.051 <= 100.0 * one.n / one.of <= row.high + 0.051


@pytest.mark.parametrize("row", ROWS, ids=named)
def test_a_per_cent_is_that_of_its_counts(row: Incidence) -> None:
    for one in row.series:
        if one.n is not None and one.of is not None:
            assert one.low == one.high == pytest.approx(100.0 * one.n / one.of, abs=0.051)


@pytest.mark.parametrize("row", ROWS, ids=named)
def test_every_series_has_a_source_that_checks_nothing(row: Incidence) -> None:
    checking = {key for figure in published() if figure.use == "check" for key in figure.source.split("+")}
    for one in row.series:
        assert one.told.sources
        assert not set(one.told.sources) & (checking | set(RESERVED_SOURCES))
        assert {publications()[key]["use"] for key in one.told.sources} == {"build"}


def test_every_approach_has_ranges_and_a_level_only_its_own() -> None:
    for approach in APPROACHES:
        everywhere = {row for row in ROWS if row.approach == approach and not row.level}
        assert everywhere
        for level in LEVELS:
            rows = set(reported().after(approach, level))
            assert rows == everywhere | {r for r in ROWS if r.approach == approach and r.level == level}
    assert {row.level for row in ROWS if row.approach == "lateral"} == {"", "L4-5"}


def test_surveys_are_not_counted_with_those_who_were_examined() -> None:
    for row in ROWS:
        assert {one.kind == "survey" for one in row.series} == {row.when == SURVEYED}


def test_minutes_carry_their_caution() -> None:
    told = [one.told for row in ROWS for one in row.series if "minute" in one.told.says]
    assert told
    assert {one.caution for one in told} == {"minutes: custom, not a limit"}


@pytest.mark.parametrize(
    ("pattern", "put", "said"),
    [
        (r'approach = "lateral"', 'approach = "latral"', ("row 1", "unknown approach 'latral'", "Nearest: lateral")),
        (r'level = "L4-5"', 'level = "L4-6"', ("row", "unknown level 'L4-6'", "Nearest: L4-5")),
        (r'when = "early"', 'when = "soon"', ("row 1", "unknown when 'soon'", "early")),
        (r'kind = "examined"', 'kind = "asked"', ("row 1, series 1", "unknown kind 'asked'", "examined")),
        (r'"femoral"', '"femural"', ("row 1", "unknown nerves 'femural'", "Nearest: femoral")),
        (r'source = "cummock_2011"', 'source = "hearsay"', ("row 1, series 1", "unknown source 'hearsay'")),
        (r'source = "cummock_2011"', 'source = "moro_2003"', ("row 1, series 1", "moro_2003 is a source to check")),
        (r'source = "cummock_2011"', 'source = "from_memory"', ("row 1, series 1", "no publication")),
        (r'basis = "published"', 'basis = "heard"', ("row 1, series 1", "unknown basis 'heard'", "from_memory")),
        (r"high = 62\.7", "high = 63.0", ("row 1", "39.5 and 63", "39.5 and 62.7")),
        (r"n = 32, of = 81", "n = 33, of = 81", ("row 1, series 2", "33 of 81 is 40.74 %", "printed")),
        (r"n = 32, of = 81", "n = 32", ("row 1, series 2", "needs 'of'")),
        (r"n = 32, of = 81", "n = 32, of = 8.1", ("row 1, series 2, of", "whole number")),
        (r"per_cent = 62\.7", "per_cent = 162.7", ("row 1, series 1, per_cent", "0 to 100")),
        (r"per_cent = 62\.7", 'per_cent = "most"', ("row 1, series 1, per_cent", "'most'")),
        (r'kind = "examined"', 'kind = "survey"', ("row 1", "a row of its own")),
        (r'deficit = "any', 'defect = "any', ("row 1", "unknown key 'defect'", "Nearest: deficit")),
        (r'deficit = "[^"]+"', "deficit = 3", ("row 1, deficit", "words")),
        (r'when = "at one year"', 'when = "early"', ("row 2", "twice")),
        (r"\[\[row\]\]", "[[rwo]]", ("unknown key 'rwo'", "Nearest: row")),
    ],
)
def test_a_mistake_is_told_with_its_place(tmp_path: Path, pattern: str, put: str, said: tuple[str, ...]) -> None:
    text, count = re.subn(pattern, put, INCIDENCE.read_text(encoding="utf-8"), count=1)
    assert count == 1
    path = tmp_path / "incidence.toml"
    path.write_text(text, encoding="utf-8")
    sentence = refused(read_incidence, path)
    assert sentence.startswith(str(path))
    for word in said:
        assert word in sentence


def test_every_key_of_the_table_is_read() -> None:
    """What a row writes is what the reader holds: nothing is skipped in silence."""
    rows = read_toml(INCIDENCE)["row"]
    assert [(r["approach"], r["deficit"], r["when"], r["low"], r["high"]) for r in rows] == [
        (r.approach, r.deficit, r.when, r.low, r.high) for r in ROWS
    ]
    assert [len(r["series"]) for r in rows] == [len(r.series) for r in ROWS]
