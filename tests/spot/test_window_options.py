"""What the options of a spot test and of a paper are asked before a window is there: each mistake is one sentence."""

from collections.abc import Callable
from pathlib import Path

import pytest

from lessons.spot.paper import made_paper, paper_text
from lessons.spot.results import new_key
from meshes.errors import FurcalError
from tests.spot.anyitem import item
from viewer.__main__ import main, run


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a paper and a key; what would open a window fails the test."""

    def opens() -> None:
        raise AssertionError("a window would have been opened")

    monkeypatch.setattr("viewer.display.prepare_window", opens)
    (tmp_path / "paper.json").write_text(paper_text(made_paper([item("one", "predict")], 7)), encoding="utf-8")
    new_key(tmp_path / "key")
    return tmp_path


Words = Callable[[Path], list[str]]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (lambda _: ["--spot", "x"], "--spot: expected a whole number"),
        (lambda _: ["--spot", "201"], "at most 200"),
        (lambda _: ["--spot", "5", "--lesson", "formation"], "--lesson and --spot: give one"),
        (lambda d: ["--spot", "--paper", f"{d}/paper.json", "--key", f"{d}/key"], "--spot and --paper: give one"),
        (lambda _: ["--candidate", "17"], "--candidate goes with --paper"),
        (lambda d: ["--key", f"{d}/key"], "--key goes with --paper"),
        (lambda d: ["--out", f"{d}"], "--out goes with --paper"),
        (lambda d: ["--paper", f"{d}/paper.json"], "--paper needs --key"),
        (lambda d: ["--paper", f"{d}/none.json", "--key", f"{d}/key"], "none.json"),
        (lambda d: ["--paper", f"{d}/key", "--key", f"{d}/key"], "key"),
        (lambda d: ["--paper", f"{d}/paper.json", "--key", f"{d}/paper.json"], "no key of an examination"),
        (lambda d: ["--paper", f"{d}/paper.json", "--key", f"{d}/key", "--candidate", "Birch"], "at most 12 digits"),
        (
            lambda d: ["--paper", f"{d}/paper.json", "--key", f"{d}/key", "--out", f"{d}/none/deeper"],
            "none: no such folder",
        ),
        (lambda d: ["--paper", f"{d}/paper.json", "--key", f"{d}/key", "--out", f"{d}/key"], "key: is a file"),
    ],
)
def test_a_mistake_is_one_sentence(desk: Path, words: Words, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(FurcalError, match=said):
        run(words(desk))
    assert main(words(desk)) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert said in told


def test_a_candidate_who_has_sat_the_paper_is_told_before_the_window(desk: Path) -> None:
    (desk / "results-17.json").write_text("{}", encoding="utf-8")
    with pytest.raises(FurcalError, match="has sat this paper"):
        run(["--paper", f"{desk}/paper.json", "--key", f"{desk}/key", "--candidate", "017"])


def test_what_is_right_goes_on_to_the_window(desk: Path) -> None:
    for words in (["--spot"], ["--spot", "10"], ["--paper", f"{desk}/paper.json", "--key", f"{desk}/key"]):
        with pytest.raises(AssertionError, match="a window would have been opened"):
            run(words)


def test_the_folder_of_the_results_is_made_but_no_folder_above_it(desk: Path) -> None:
    words = ["--paper", f"{desk}/paper.json", "--key", f"{desk}/key", "--out"]
    for _ in range(2):  # made, then there
        with pytest.raises(AssertionError, match="a window would have been opened"):
            run([*words, f"{desk}/results"])
        assert (desk / "results").is_dir()
    with pytest.raises(FurcalError):
        run([*words, f"{desk}/none/results"])
    assert not (desk / "none").exists()
