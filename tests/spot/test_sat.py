"""A paper that is sat: each answer is on the disk before the next station, and is taken up again."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from lessons.spot.item import Chosen
from lessons.spot.paper import Paper, made_paper
from lessons.spot.response import Picked, Response, Skipped
from lessons.spot.results import read_result, write_result
from lessons.spot.sat import Sitting, sitting
from lessons.spot.verdict import Verdict
from meshes.errors import FurcalError
from tests.spot.anyitem import item

KEY, NOW = bytes(range(32)), datetime(2026, 1, 20, 10, 15, tzinfo=UTC)
YES, NO = Verdict(True, 1.0, "Right."), Verdict(False, 0.0, "No.")


def paper_of(count: int = 4, seed: int = 7) -> Paper:
    items = [item(f"item_{i}", "predict", answer=Chosen("one", ("two", "three"))) for i in range(count)]
    return made_paper(items, seed, 60)


@pytest.fixture
def begun(tmp_path: Path) -> Sitting:
    return sitting(paper_of(), "017", tmp_path, KEY)


def test_every_answer_is_kept_and_taken_up_where_it_was_left(begun: Sitting, tmp_path: Path) -> None:
    assert begun.candidate == "17"
    now = begun
    given: list[tuple[Response, Verdict]] = [(Picked("one"), YES), (Skipped(), NO), (Picked("two"), NO)]
    for n, (response, verdict) in enumerate(given, start=1):
        now = now.answered(response, verdict, 10.0 * n)
        now.keep(NOW)
        again = sitting(begun.paper, "17", tmp_path, KEY)
        assert again == now
        assert [item.id for item in again.left] == [item.id for item in begun.paper.items[n:]]
    assert [(g.response, g.right, g.seconds) for g in now.given] == [
        (Picked("one"), True, 10.0), (Skipped(), False, 20.0), (Picked("two"), False, 30.0),
    ]  # fmt: skip


def test_the_end_leaves_signed_results_and_no_part(begun: Sitting) -> None:
    now = begun.answered(Picked("one"), YES, 5.0)
    now.keep(NOW)
    assert now.finish(NOW) == now.path
    assert not now.part.exists()
    result = read_result(now.path, KEY)
    assert (result.paper, result.paper_hash, result.number) == (begun.paper.id, begun.paper.sha256, 17)
    assert result.answers == now.given
    with pytest.raises(FurcalError, match="another key"):
        read_result(now.path, bytes(32))


def test_nobody_sits_a_paper_twice_and_nobody_has_a_name(begun: Sitting, tmp_path: Path) -> None:
    begun.answered(Skipped(), NO, 60.0).finish(NOW)
    with pytest.raises(FurcalError, match="has sat this paper"):
        sitting(begun.paper, "0017", tmp_path, KEY)
    for word in ("", "Alder", "1" * 13, "-1", "1.5", "\u0661"):
        with pytest.raises(FurcalError, match="at most 12 digits"):
            sitting(begun.paper, word, tmp_path, KEY)
    with pytest.raises(FurcalError, match="no such folder"):
        sitting(begun.paper, "18", tmp_path / "none", KEY)


def test_nothing_answered_is_no_result(begun: Sitting) -> None:
    with pytest.raises(FurcalError, match="nothing was answered"):
        begun.finish(NOW)
    assert not begun.path.exists()


def test_a_part_that_does_not_fit_is_refused_and_stays(begun: Sitting, tmp_path: Path) -> None:
    now = begun.answered(Picked("one"), YES, 5.0)
    now.keep(NOW)
    whole = now.part.read_text()

    def refused(match: str, paper: Paper = begun.paper) -> None:
        kept = now.part.read_text()
        with pytest.raises(FurcalError, match=match):
            sitting(paper, "17", tmp_path, KEY)
        assert now.part.read_text() == kept

    refused("another paper", paper_of(seed=8))
    now.part.write_text(whole.replace('"right": true', '"right": false'))
    refused("was changed")
    now.part.write_text(whole[:80])
    refused("no whole JSON")
    other = replace(now.result(NOW), answers=(replace(now.given[0], item="item_3"),))
    assert begun.paper.items[0].id != "item_3"
    write_result(now.part, other, KEY)
    refused("first stations")
    write_result(now.part, replace(now.result(NOW), candidate="18"), KEY)
    refused("first stations")
