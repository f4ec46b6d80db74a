"""The average adult against the literature: which figures agree, and which are known not to."""

import inspect

import pytest

from meshes.body import load_body
from meshes.figures import Published, published
from meshes.gauges import gauge
from meshes.measure import Figure, as_json, as_text, lying, measure, measure_one
from meshes.specimen import ALDER, Specimen
from tests.published.known import DISAGREEMENTS

KEYS = ["id", "what", "ours", "unit", "published", "posture", "source", "basis", "use", "agrees"]


@pytest.fixture(scope="module")
def figures() -> list[Figure]:
    return measure(ALDER)


def test_known_disagreements_are_exactly_those_that_are_found(figures: list[Figure]) -> None:
    """A miss that is not listed fails, and so does a listed one that now agrees."""
    missed = {f.published.id: f.ours for f in figures if f.agrees is False}
    assert {k: missed[k] for k in set(missed) - set(DISAGREEMENTS)} == {}, "not listed in known.py"
    assert sorted(set(DISAGREEMENTS) - set(missed)) == [], "listed in known.py, but agrees now"


def test_nine_of_ten_checks_agree(figures: list[Figure]) -> None:
    judged = [f for f in figures if f.published.use == "check" and f.published.judged]
    assert sum(bool(f.agrees) for f in judged) >= 0.9 * len(judged)
    assert len(judged) > 100


def test_every_judged_figure_is_measured(figures: list[Figure]) -> None:
    assert [f.published.id for f in figures if f.published.judged and f.ours is None] == []


def test_figures_from_memory_or_standing_are_shown_only(figures: list[Figure]) -> None:
    for f in figures:
        if f.published.basis == "memory" or f.published.posture == "standing" or f.published.use == "shown":
            assert f.agrees is None


def _right(row: Published) -> dict[str, str]:
    return dict(row.arguments) | {"side": "right"}


@pytest.mark.parametrize(
    "row",
    [
        row
        for row in published()
        if row.measure
        and "side" in inspect.signature(gauge(row.measure)).parameters
        and not row.measure.startswith(("corridor", "trunk_to_aorta", "midline_to_vessel"))
    ],
    ids=lambda row: row.id,
)
def test_the_right_side_measures_as_the_left(row: Published) -> None:
    """Nerves, muscles and bones are symmetric; vessels are not."""
    body = load_body(lying(ALDER, row.posture))
    left = measure_one(row, body).ours
    assert left is not None or row.use == "shown" or row.measure == "flat_width"
    if left is not None:
        assert gauge(row.measure)(body, **_right(row)) == pytest.approx(left, abs=0.1)


def test_the_answer_for_programs(figures: list[Figure]) -> None:
    rows = as_json(figures)
    assert [row["id"] for row in rows] == [row.id for row in published()]
    for row in rows:
        assert list(row) == KEYS
        assert list(row["published"]) == ["mean", "sd", "low", "high", "n"]
        assert row["agrees"] in (True, False, None)


def test_the_answer_for_people_tells_every_disagreement_twice(figures: list[Figure]) -> None:
    text = as_text(figures)
    for f in figures:
        assert f.published.what in text
        if f.agrees is False:
            assert f"  {f.published.id}: ours " in text
    assert text.count("DISAGREES") == sum(f.agrees is False for f in figures)
    assert "For teaching." in text


def test_a_figure_is_measured_in_the_posture_of_its_source() -> None:
    bent = Specimen(table_break_deg=20.0, up="left")
    assert lying(bent, "supine") == Specimen(posture="supine")
    assert lying(bent, "side_lying") == Specimen()
    assert lying(bent, "any") is bent


def test_a_body_without_a_part_measures_the_rest() -> None:
    """A genitofemoral nerve that leaves psoas as two has no single level at which it leaves."""
    split = Specimen(variants=frozenset({"genitofemoral_split_left", "genitofemoral_split_right"}))
    rows = [row for row in published() if row.measure == "leaves_psoas_level"]
    assert rows
    for row in rows:
        assert measure_one(row, load_body(lying(split, row.posture))).agrees is None
