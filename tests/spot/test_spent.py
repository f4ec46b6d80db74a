"""The time of a station that is spent: kept with the answers, signed, and told of the station that is sat."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from lessons.spot.paper import paper_text
from lessons.spot.response import Skipped
from lessons.spot.results import new_key
from lessons.spot.sat import Sitting, sitting
from meshes.errors import FurcalError
from tests.house.programs import ROOT
from tests.spot.test_sat import KEY, NO, NOW, paper_of
from viewer.__main__ import main


@pytest.fixture
def begun(tmp_path: Path) -> Sitting:
    return sitting(paper_of(), "017", tmp_path, KEY)


def again(of: Sitting) -> Sitting:
    return sitting(of.paper, of.candidate, of.folder, KEY)


def answered(of: Sitting) -> Sitting:
    now = of.answered(Skipped(), NO, 60.0)
    now.keep(NOW)
    return now


def test_time_is_taken_up_at_every_station_and_a_new_one_has_all_of_it(begun: Sitting) -> None:
    now = begun
    for n in range(3):
        assert again(now).spent == 0.0, "nothing is written of this station yet"
        for spent in (3.0, 6.04, 59.96):
            now.keep_time(spent)
            assert again(now) == replace(now, spent=round(spent, 1))
        assert len(again(now).given) == n
        now = answered(now)
    assert now.spent == 0.0


def test_a_crash_between_answer_and_clock_counts_for_nothing(begun: Sitting) -> None:
    """The part is written when a station is over; what the clock says then is of the station before."""
    begun.keep_time(42.0)
    assert again(answered(begun)).spent == 0.0


def test_no_more_than_a_station_has_and_no_less_than_nothing(begun: Sitting) -> None:
    begun.keep_time(1e6)
    assert again(begun).spent == begun.paper.seconds
    begun.keep_time(-5.0)
    assert again(begun).spent == 0.0


def test_the_results_leave_no_clock_behind(begun: Sitting) -> None:
    begun.keep_time(3.0)
    now = answered(begun)
    now.keep_time(9.0)
    now.finish(NOW)
    assert {path.name for path in begun.folder.iterdir()} == {"results-17.json"}


def test_a_clock_that_was_changed_is_refused_and_stays(begun: Sitting) -> None:
    begun.keep_time(42.0)
    whole = begun.clock.read_text()
    table = json.loads(whole)
    assert table["seconds"] == 42.0
    other = sitting(paper_of(seed=8), "17", begun.folder.parent, KEY)
    signed = replace(other, folder=begun.folder)
    wrong = [
        ("signature: does not match", json.dumps({**table, "seconds": 1.0})),
        ("another key", json.dumps({**table, "signed_with": "0" * 16})),
        ("is not as furcal writes it", whole[:60]),
        ("is not as furcal writes it", ""),
        ("is not as furcal writes it", json.dumps([1])),
        ("is not as furcal writes it", " " * 5000),
        ("furcal_clock: there is no version 2", json.dumps({**table, "furcal_clock": 2})),
    ]
    for said, text in wrong:
        begun.clock.write_text(text)
        with pytest.raises(FurcalError, match=said) as refused:
            again(begun)
        assert str(refused.value).startswith(f"{begun.clock}")
        assert "take it away" in str(refused.value)
        assert begun.clock.read_text() == text
    signed.keep_time(5.0)
    with pytest.raises(FurcalError, match="another paper or candidate"):
        again(begun)


def test_a_clock_without_the_answers_before_it_is_refused(begun: Sitting) -> None:
    """Who takes the answers away to sit the stations again finds the clock in the way."""
    now = answered(begun)
    now.keep_time(5.0)
    now.part.unlink()
    with pytest.raises(FurcalError, match="tells of station 2"):
        again(begun)
    now.clock.unlink()
    assert again(begun) == begun


def test_a_clock_that_cannot_be_written_is_one_sentence(begun: Sitting) -> None:
    begun.folder.rmdir()
    with pytest.raises(FurcalError, match="no such folder"):
        begun.keep_time(3.0)


WRITING = """
import sys
from pathlib import Path
from lessons.spot.sat import sitting
from tests.spot.test_sat import KEY, paper_of
begun = sitting(paper_of(), "17", Path(sys.argv[1]), KEY)
for tenth in range(1, 600):
    begun.keep_time(tenth / 10)
    print(tenth, flush=True)
"""


def test_a_kill_at_any_moment_leaves_a_clock_that_is_whole(tmp_path: Path) -> None:
    before = 0.0
    for wait in range(1, 9):
        line = [sys.executable, "-c", WRITING, str(tmp_path)]
        with subprocess.Popen(line, cwd=ROOT, stdout=subprocess.PIPE, text=True) as running:
            assert running.stdout is not None
            told = [int(running.stdout.readline()) for _ in range(3 * wait)]
            running.kill()
            told += [int(said) for said in running.stdout.read().splitlines(keepends=True) if said.endswith("\n")]
        found = sitting(paper_of(), "17", tmp_path, KEY)
        assert told[-1] / 10 <= found.spent <= (told[-1] + 1) / 10
        before = max(before, found.spent)
    assert before >= 2.4


def test_a_clock_that_was_changed_is_told_before_a_window_is_there(
    begun: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("viewer.display.prepare_window", lambda: pytest.fail("a window would have been opened"))
    folder = begun.folder
    (folder / "paper.json").write_text(paper_text(begun.paper), encoding="utf-8")
    key = new_key(folder / "key")
    now = replace(begun, key=key)
    now.keep_time(50.0)
    now.clock.write_text(now.clock.read_text().replace("50.0", "5.0"))
    assert main(["--paper", f"{folder}/paper.json", "--key", f"{folder}/key", "--candidate", "17"]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert f"{now.clock}, signature: does not match" in told
