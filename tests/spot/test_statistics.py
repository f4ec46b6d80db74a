"""The figures of a class agree with a published example and with general libraries, and find the items planted bad."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd  # type: ignore[import-untyped]
import pingouin  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import pointbiserialr, spearmanr

from lessons.spot.classtext import report_json
from lessons.spot.item import OBJECTIVES, Item, Named, Quartered
from lessons.spot.response import Clicked, Picked, Quarter, Response, Said, Skipped
from lessons.spot.results import Given, Result
from lessons.spot.statistics import ALPHA, FLAGGED_FROM, KR20, Report, class_report
from meshes.errors import FurcalError
from tests.spot.simulated import PLANTED, RIGHT, WRONG, result_of, simulated, written

#: Ten students, ten items, with shares, their products and the variance of the totals as printed: K. L. Wuensch,
#: "The Kuder-Richardson 20", statistics help of East Carolina University (StatHelp/KR20.txt), read 2026.
WUENSCH = """
1 1 1 1 1 1 0 1 1 0
1 0 1 1 0 1 1 1 0 1
1 1 1 1 0 1 1 0 0 1
0 0 1 0 0 0 1 0 0 0
0 0 0 0 0 1 0 0 1 0
1 1 1 0 1 1 1 1 1 1
1 1 0 1 1 1 0 1 1 1
1 1 1 1 1 1 1 1 0 1
0 1 0 1 1 1 1 1 0 1
1 1 0 1 1 0 1 1 1 0
"""
WUENSCH_TOTALS = (8, 7, 7, 2, 2, 9, 8, 9, 7, 7)
WUENSCH_P = (0.7, 0.7, 0.6, 0.7, 0.6, 0.8, 0.7, 0.7, 0.5, 0.6)
WUENSCH_PQ = (0.21, 0.21, 0.24, 0.21, 0.24, 0.16, 0.21, 0.21, 0.25, 0.24)
WUENSCH_VARIANCE = 5.84
#: How many of 1000 gave each pattern of five items, 00000 to 11111, counted up: section 6 of the Law School Admission
#: Test, Bock and Lieberman, Psychometrika 1970;35:179-197, as the examples of BUGS print it.
LSAT6 = (3, 9, 11, 22, 23, 24, 27, 31, 32, 40, 40, 56, 56, 59, 61, 76, 86, 115, 129, 210, 213, 241, 256, 336, 352, 408,
         429, 602, 613, 674, 702, 1000)  # fmt: skip
#: Alpha of those five items as handbooks of item response theory print it; from memory.
LSAT6_ALPHA = 0.295

Matrix = NDArray[np.float64]


def class_of(scores: Matrix | Sequence[Sequence[float]]) -> Report:
    """The report of a class whose scores are given: rows are candidates; an item is right where it has all points."""
    results = [
        Result("p", "ab" * 32, str(n + 1), "2026-01-20T10:15:00+00:00", tuple(
            Given(f"i{j}", "name", OBJECTIVES[j % 3], Said("x"), score == 1, float(score), 10.0)
            for j, score in enumerate(row)
        ))
        for n, row in enumerate(scores)
    ]  # fmt: skip
    return class_report(results)


def matrix_of(text: str) -> Matrix:
    return np.array([[float(cell) for cell in row.split()] for row in text.strip().splitlines()])


def lsat6() -> Matrix:
    counts = np.diff((0, *LSAT6))
    return np.repeat([[float(bit) for bit in f"{n:05b}"] for n in range(32)], counts, axis=0)


# --- against what is published


def test_kr20_of_the_published_example() -> None:
    report = class_of(matrix_of(WUENSCH))
    assert tuple(report.scores.values()) == WUENSCH_TOTALS
    assert tuple(item.difficulty for item in report.items) == WUENSCH_P
    assert [p * (1 - p) for p in WUENSCH_P] == pytest.approx(WUENSCH_PQ)
    assert report.reliability.name == KR20
    assert report.reliability.value == pytest.approx(10 / 9 * (1 - sum(WUENSCH_PQ) / WUENSCH_VARIANCE), abs=1e-12)


def test_alpha_of_a_published_table_of_a_thousand() -> None:
    report = class_of(lsat6())
    assert report.candidates == 1000
    assert report.reliability.value == pytest.approx(LSAT6_ALPHA, abs=5e-4)
    assert [item.difficulty for item in report.items] == [0.924, 0.709, 0.553, 0.763, 0.87]


# --- against general libraries


def naive(scores: Matrix) -> tuple[list[float | None], list[float | None], float | None]:
    """Discrimination without and with the item, and reliability, as libraries tell them; None where they cannot."""
    right = (scores == 1).astype(float)
    total = scores.sum(axis=1)

    def against(column: Matrix, score: Matrix) -> float | None:
        if np.ptp(column) < 1e-9 or np.ptp(score) < 1e-9:
            return None
        return float(pointbiserialr(column, score).statistic)

    items = range(scores.shape[1])
    rest = [against(right[:, j], np.delete(scores, j, axis=1).sum(axis=1)) for j in items]
    own = [against(right[:, j], total) for j in items]
    value = None if np.ptp(total) < 1e-9 else float(pingouin.cronbach_alpha(pd.DataFrame(scores))[0])
    return rest, own, value


def same(ours: Sequence[float | None], theirs: Sequence[float | None]) -> bool:
    return all(
        (a is None) == (b is None) and (a is None or b is None or math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-9))
        for a, b in zip(ours, theirs, strict=True)
    )


@pytest.mark.parametrize("scores", [matrix_of(WUENSCH), lsat6()], ids=["wuensch", "lsat6"])
def test_published_tables_as_general_libraries_tell_them(scores: Matrix) -> None:
    check_against_libraries(scores)


def check_against_libraries(scores: Matrix) -> None:
    report = class_of(scores)
    rest, own, value = naive(scores)
    assert same([item.discrimination for item in report.items], rest)
    assert same([item.with_itself for item in report.items], own)
    assert same([report.reliability.value], [value])


tables = st.tuples(st.integers(2, 9), st.integers(2, 7)).flatmap(
    lambda shape: st.lists(
        st.lists(st.sampled_from((0.0, 0.0, 0.1, 0.2, 0.3, 0.5, 1.0, 1.0)), min_size=shape[1], max_size=shape[1]),
        min_size=shape[0],
        max_size=shape[0],
    )
)


@given(tables)
def test_any_table_as_general_libraries_tell_it(rows: list[list[float]]) -> None:
    check_against_libraries(np.array(rows))


@given(tables)
def test_figures_keep_to_their_ranges_and_the_json_holds_no_nan(rows: list[list[float]]) -> None:
    report = class_of(rows)
    for item in report.items:
        assert 0 <= item.difficulty <= 1
        for value in (item.discrimination, item.with_itself):
            assert value is None or -1 <= value <= 1
        assert (item.discrimination is None) == bool(item.says)
    assert (report.reliability.value is None) == bool(report.reliability.says)
    assert_finite(report_json(report))


def assert_finite(value: Any) -> None:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for part in value:
            assert_finite(part)
    assert not isinstance(value, float) or math.isfinite(value)


@given(tables, st.randoms(use_true_random=False))
def test_the_order_of_candidates_is_of_no_account(rows: list[list[float]], dice: Any) -> None:
    shuffled = dice.sample(rows, len(rows))
    assert report_json(class_of(rows)) == report_json(class_of(shuffled))


def test_the_name_tells_which_reliability_it_is() -> None:
    assert class_of([[1, 0, 1], [0, 0, 1], [1, 1, 1]]).reliability.name == KR20
    assert class_of([[1, 0, 1], [0, 0.5, 1], [1, 1, 1]]).reliability.name == ALPHA


# --- what cannot be computed


def test_one_candidate_has_difficulties_and_nothing_else() -> None:
    report = class_of([[1, 0, 1]])
    assert [item.difficulty for item in report.items] == [1, 0, 1]
    assert {item.discrimination for item in report.items} == {None}
    assert {item.says for item in report.items} == {"one candidate alone cannot be compared"}
    assert report.reliability.value is None
    assert "one candidate" in report.reliability.says


def test_one_item_is_compared_with_nothing() -> None:
    report = class_of([[1], [0], [1]])
    assert report.items[0].discrimination is None
    assert "no other item" in report.items[0].says
    assert report.reliability.value is None
    assert "one item" in report.reliability.says


def test_no_spread_is_told() -> None:
    same_score = "all candidates have the same score"
    assert [item.says for item in class_of([[1, 0, 1], [1, 0, 0]]).items] == [
        "everybody knows it", "nobody knows it", same_score,
    ]  # fmt: skip
    reliable = class_of([[1, 0], [0, 1]]).reliability
    assert reliable.value is None
    assert "same score" in reliable.says


def test_sums_that_differ_by_rounding_alone_are_no_spread() -> None:
    # 0.1 + 0.2 is not 0.3 + 0.0 in binary numbers
    report = class_of([[1, 0.1, 0.2], [0, 0.3, 0.0]])
    assert report.items[0].discrimination is None
    assert report.items[0].says == "all candidates have the same score"


# --- a class of known ability


@pytest.mark.parametrize("seed", range(8))
def test_of_a_class_of_200_the_planted_items_are_flagged_and_no_other(seed: int) -> None:
    made = simulated(seed)
    report = class_report(made.results, made.items)
    flagged = {item.id: item.flags for item in report.items if item.flags}
    assert set(flagged) == set(PLANTED)
    for name, flags in PLANTED.items():
        assert set(flags) & set(flagged[name])


def test_the_order_of_difficulty_is_recovered() -> None:
    made = simulated(3, candidates=200, hardness=(-2.0, 2.0))
    report = class_report(made.results, made.items)
    good = [item for item in report.items if item.id in made.chance]
    found = spearmanr([item.difficulty for item in good], [made.chance[item.id] for item in good]).statistic
    assert found > 0.98
    made = simulated(3, candidates=4000, good=9, hardness=(-2.0, 2.0))
    report = class_report(made.results, made.items)
    shares = [item.difficulty for item in report.items if item.id in made.chance]
    assert shares == sorted(shares, reverse=True)
    assert shares == pytest.approx(list(made.chance.values()), abs=0.03)


def test_reliability_grows_with_the_number_of_items_as_spearman_and_brown_say() -> None:
    def of(good: int) -> float:
        made = simulated(5, candidates=3000, good=good, hardness=(0.0, 0.0))
        names = set(made.chance)
        results = [replace(r, answers=tuple(a for a in r.answers if a.item in names)) for r in made.results]
        value = class_report(results).reliability.value
        assert value is not None
        return value

    short, long = of(10), of(20)
    assert long == pytest.approx(2 * short / (1 + short), abs=0.02)


# --- options


def test_distractors_have_the_shares_with_which_they_were_taken() -> None:
    picks = [RIGHT] * 50 + [WRONG[0]] * 45 + [WRONG[1]] * 5
    report = class_report(
        [result_of(n, {"x": pick, "y": RIGHT}) for n, pick in enumerate(picks)], [written("x"), written("y")]
    )
    x, y = report.items
    assert [(d.option, d.taken, d.share, d.functions) for d in x.distractors] == [
        (WRONG[0], 45, 0.45, True), (WRONG[1], 5, 0.05, True), (WRONG[2], 0, 0.0, False),
    ]  # fmt: skip
    assert x.never_taken == (WRONG[2],)
    assert y.never_taken == WRONG
    assert "distractors" in x.flags


def test_a_distractor_that_the_good_ones_take_tells_of_a_wrong_key_in_the_smallest_class_that_is_flagged() -> None:
    # Ten pairs of candidates, each one item better than the one before; the better half takes the same distractor.
    taken = [WRONG[1], RIGHT, WRONG[2], RIGHT, WRONG[2], *[WRONG[0]] * 5]
    results = [
        result_of(n + 10 * again, {"x": pick, **{f"y{k}": RIGHT if k < n else WRONG[1] for k in range(9)}})
        for again in range(FLAGGED_FROM // 10)
        for n, pick in enumerate(taken)
    ]
    x = class_report(results, [written("x"), *(written(f"y{k}") for k in range(9))]).items[0]
    assert x.discrimination is not None
    assert -1.96 / 3 < x.discrimination < 0
    assert [d.option for d in x.distractors if d.discrimination is not None and d.discrimination > 0.8] == [WRONG[0]]
    assert "reversed" in x.flags
    # As many take it, and they are no better than the others: then it is a distractor that works.
    shuffled = [taken[n] for n in (5, 0, 6, 1, 7, 2, 8, 3, 9, 4)]
    mixed = [replace(r, answers=(replace(r.answers[0], response=Picked(pick), right=pick == RIGHT), *r.answers[1:]))
             for r, pick in zip(results, shuffled * (FLAGGED_FROM // 10), strict=True)]  # fmt: skip
    assert "reversed" not in class_report(mixed).items[0].flags


@given(tables)
def test_a_class_of_fewer_than_twenty_flags_nothing_and_keeps_its_figures(rows: list[list[float]]) -> None:
    again = -(-FLAGGED_FROM // len(rows))
    few, many = class_of(rows), class_of(rows * again)
    assert few.says == f"fewer than {FLAGGED_FROM} candidates: no item and no option is flagged"
    assert not any(item.flags for item in few.items)
    assert many.says == ""
    assert [item.difficulty for item in few.items] == pytest.approx([item.difficulty for item in many.items])
    assert same([i.discrimination for i in few.items], [i.discrimination for i in many.items])
    for item in many.items:
        assert ("too_hard" in item.flags) == (item.difficulty < 0.3)


def test_one_candidate_more_and_the_class_is_flagged() -> None:
    rows = [[1.0, 0.0, float(n % 2)] for n in range(FLAGGED_FROM)]
    assert [item.flags for item in class_of(rows[1:]).items] == [(), (), ()]
    assert [item.flags[:1] for item in class_of(rows).items[:2]] == [("too_easy",), ("too_hard",)]


def test_without_the_paper_only_options_that_were_taken_are_known() -> None:
    report = class_report([result_of(n, {"x": pick}) for n, pick in enumerate((RIGHT, WRONG[1], WRONG[1]))])
    assert [(d.option, d.taken) for d in report.items[0].distractors] == [(WRONG[1], 2)]


def answered(*responses: tuple[Response, bool], kind: str = "name") -> list[Result]:
    return [
        Result("p", "ab" * 32, str(n), "2026-01-20T10:15:00+00:00",
               (Given("x", kind, "course", response, right, float(right), 5.0),))
        for n, (response, right) in enumerate(responses)
    ]  # fmt: skip


def test_quarters_are_options_too() -> None:
    item = Item("x", "quarter", "approach", "L4-5", "Where?", Quartered("L4-5", "left", ("II", "III")), "Why.")
    report = class_report(answered((Quarter("II"), True), (Quarter("III"), True), (Quarter("IV"), False)), [item])
    assert [(d.option, d.taken) for d in report.items[0].distractors] == [("I", 0), ("IV", 1)]


def test_what_is_answered_in_words_is_counted_together_however_it_is_written() -> None:
    said: list[tuple[Response, bool]] = [
        (Said("Femoral  Nerve"), False), (Said("femoral nerve"), False), (Said("obturator"), False),
        (Said("genitofemoral"), True), (Clicked("femoral_left", (0.0, 0.0, 0.0)), False), (Skipped(), False),
    ]  # fmt: skip
    item = Item("x", "name", "course", "genitofemoral_left", "Name it.", Named("genitofemoral_left"), "Why.")
    found = class_report(answered(*said), [item]).items[0]
    assert found.instead == (("femoral nerve", 2), ("femoral_left", 1), ("obturator", 1))
    assert found.distractors == ()
    assert found.skipped == 1


# --- what was not answered, and what is no class


def test_what_was_not_reached_counts_as_not_known() -> None:
    results = [result_of(1, {"x": RIGHT, "y": RIGHT}), result_of(2, {"x": RIGHT})]
    report = class_report(results, [written("x"), written("y"), written("z")])
    assert [(i.id, i.right, i.skipped, i.difficulty) for i in report.items] == [
        ("x", 2, 0, 1.0), ("y", 1, 1, 0.5), ("z", 0, 2, 0.0),
    ]  # fmt: skip


def test_objectives_stand_with_the_weakest_first() -> None:
    objectives = {"a": "course", "b": "course", "c": "loss"}
    results = [result_of(1, {"a": RIGHT, "b": WRONG[0], "c": RIGHT}, objectives),
               result_of(2, {"a": WRONG[0], "b": WRONG[0], "c": RIGHT}, objectives)]  # fmt: skip
    found = class_report(results).objectives
    assert [(o.objective, o.items, o.asked, o.right, o.share, o.fails) for o in found] == [
        ("course", ("a", "b"), 4, 1, 0.25, True), ("loss", ("c",), 2, 2, 1.0, False),
    ]  # fmt: skip


def test_what_is_no_class_is_told() -> None:
    one, two = result_of(1, {"x": RIGHT}), result_of(2, {"x": WRONG[0]})
    wrong: list[tuple[list[Result], list[Item], str]] = [
        ([], [], "at least one result"),
        ([one, replace(two, candidate="1")], [], "candidate 1 stands in two results"),
        ([one, replace(two, candidate="01")], [], "candidate 01 stands in two results"),
        ([one, replace(two, paper="winter_2")], [], "make a report for each paper"),
        ([one, replace(two, paper_hash="cd" * 32)], [], "make a report for each paper"),
        ([one, two], [written("y")], "'x', which is not in this paper"),
        ([one, result_of(2, {"x": "other"})], [written("x")], "'other' was taken, which the paper does not offer"),
    ]
    for results, items, says in wrong:
        with pytest.raises(FurcalError, match=says):
            class_report(results, items)


def test_the_json_has_the_keys_of_the_contract() -> None:
    table = report_json(class_of(matrix_of(WUENSCH)))
    assert {"candidates", "items", "reliability", "objectives"} <= set(table)
    assert {"id", "difficulty", "discrimination", "distractors"} <= set(table["items"][0])
    assert {"name", "value"} <= set(table["reliability"])
    assert (table["candidates"], table["reliability"]["name"], table["reliability"]["value"]) == (10, "KR-20", 0.6963)


def test_by_chance_is_what_a_share_of_one_half_moves() -> None:
    report = class_of(lsat6())
    shares = np.random.default_rng(1).binomial(1000, 0.5, 20_000) / 1000
    assert np.mean(np.abs(shares - 0.5) <= report.by_chance) == pytest.approx(0.95, abs=0.01)
    assert all(a < b for a, b in pairwise(class_of([[1, 0]] * n).by_chance for n in (100, 20, 5)))
