"""The rule by which a figure agrees, and the table that it is applied to."""

import csv
import inspect
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes import figures
from meshes.errors import FurcalError
from meshes.figures import COLUMNS, Published, published
from meshes.gauges import GAUGES, gauge
from meshes.tolerances import MEAN_ONLY

ROW = Published(
    id="one", topic="pelvis", what="a width", unit="mm", mean=10.0, sd=2.0, low=None, high=None, n=9, bound="mean",
    posture="any", source="panjabi_1992", basis="published", use="check", measure="endplate_width", arguments={},
    note="",
)  # fmt: skip
NUMBERS = st.floats(-1e3, 1e3)


@given(NUMBERS, NUMBERS, st.floats(0.01, 100.0))
def test_a_mean_agrees_within_two_deviations(ours: float, mean: float, sd: float) -> None:
    row = replace(ROW, mean=mean, sd=sd)
    assert row.agrees(ours) is (mean - 2.0 * sd <= ours <= mean + 2.0 * sd)
    assert row.agrees(mean + 2.0 * sd) is True


@given(NUMBERS, NUMBERS, st.floats(0.0, 100.0))
def test_a_range_and_its_two_one_sided_halves(ours: float, low: float, width: float) -> None:
    high = low + width
    inside = replace(ROW, bound="range", low=low, high=high)
    least = replace(ROW, bound="at_least", low=low)
    most = replace(ROW, bound="at_most", high=high)
    assert inside.agrees(ours) is (least.agrees(ours) and most.agrees(ours))
    assert replace(ROW, bound="above", low=low).agrees(low) is False
    assert least.agrees(low) is True


@pytest.mark.parametrize(("share", "ours", "agrees"), [(73.0, 100.0, True), (73.0, 0.0, False), (14.0, 0.0, True)])
def test_an_average_body_shows_what_most_people_have(share: float, ours: float, agrees: bool) -> None:
    assert replace(ROW, bound="share", mean=share, sd=None).agrees(ours) is agrees


@pytest.mark.parametrize("change", [{"use": "shown"}, {"basis": "memory"}, {"posture": "standing"}])
@given(ours=NUMBERS)
def test_some_figures_neither_pass_nor_fail(change: dict[str, str], ours: float) -> None:
    assert replace(ROW, **change).agrees(ours) is None  # type: ignore[arg-type]  # three of its words


def test_a_mean_without_spread_takes_the_stated_bound() -> None:
    row = replace(ROW, sd=None)
    assert row.limits() == (10.0 - 3.0, 10.0 + 3.0)
    with pytest.raises(FurcalError, match=r"no bound for process_span in tolerances\.py"):
        replace(row, measure="process_span").limits()


def _table(folder: Path, **cells: str) -> Path:
    """A table of one row."""
    row = dict.fromkeys(COLUMNS, "") | {
        "id": "one", "topic": "pelvis", "what": "a width", "unit": "mm", "mean": "10", "spread": "none", "n": "16",
        "bound": "mean", "posture": "any", "source": "panjabi_1992", "basis": "published", "use": "check",
    } | cells  # fmt: skip
    path = folder / "published.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerow(row)
    return path


def _read(path: Path, monkeypatch: pytest.MonkeyPatch) -> Published:
    monkeypatch.setattr(figures, "PUBLISHED", path)
    published.cache_clear()
    try:
        return published()[0]
    finally:
        published.cache_clear()


def test_a_standard_error_is_turned_into_a_deviation(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    row = _read(_table(tmp_path, sd="1.5", spread="sem"), monkeypatch)
    assert row.sd == pytest.approx(1.5 * math.sqrt(16))


def test_a_pooled_error_is_no_spread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert _read(_table(tmp_path, sd="1.5", spread="pooled_se"), monkeypatch).sd is None


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ({"bound": "about"}, "unknown bound 'about'"),
        ({"topic": "weather"}, "unknown topic 'weather'"),
        ({"source": "nobody_1900"}, "unknown source 'nobody_1900'"),
        ({"source": "bonczar_2024"}, "bonczar_2024 is a source to build, not to check"),
        ({"source": "from_memory"}, "from_memory is a source to shown, not to check"),
        ({"mean": "wide"}, "mean: expected a number, found 'wide'"),
        ({"sd": "1", "spread": "sem", "n": ""}, "a standard error needs 'n'"),
        ({"arguments": "level"}, "write them as key=value"),
    ],
)
def test_a_bad_row_is_named(cells: dict[str, str], says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(FurcalError, match="line 2") as error:
        _read(_table(tmp_path, **cells), monkeypatch)
    assert says in str(error.value)


def test_every_judged_row_has_limits_and_a_gauge_that_takes_its_arguments() -> None:
    for row in published():
        if row.measure:
            inspect.signature(gauge(row.measure)).bind(None, **row.arguments)
        if row.use != "shown":
            assert row.measure, row.id
        if row.judged:
            low, high = row.limits()
            assert low < high, row.id


def test_every_gauge_is_asked_and_every_stated_bound_is_needed() -> None:
    rows = published()
    assert {row.measure for row in rows if row.measure} == set(GAUGES)
    needed = {row.measure for row in rows if row.judged and row.bound == "mean" and row.sd is None and row.low is None}
    assert needed == set(MEAN_ONLY)


def test_an_unknown_gauge_is_named() -> None:
    with pytest.raises(FurcalError, match="unknown gauge 'corridors'"):
        gauge("corridors")
