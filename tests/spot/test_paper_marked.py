"""`furcal paper --mark`: what it says of names that it does not know, and of results that are there already."""

from __future__ import annotations

from pathlib import Path

from lessons.spot.paper import made_paper, paper_text
from lessons.spot.results import new_key, read_result
from tests.spot.anyitem import item
from tests.spot.commands import Capture
from tests.spot.printed import made, sheet


def test_a_name_that_furcal_does_not_know_is_listed_for_the_lecturer(tmp_path: Path, capsys: Capture) -> None:
    paper = made_paper([item("a"), item("b", "quarter"), item("c")], 7)
    (tmp_path / "paper.json").write_text(paper_text(paper))
    new_key(tmp_path / "k.key")
    answers = sheet(
        tmp_path,
        "candidate,item,answer\n12,1,obt. n.\n12,2,II\n12,3,nervus hiemalis\n3,1,femoral\n3,3,femroal nerve (L1)\n",
    )
    words = ("--mark", tmp_path / "paper.json", answers, "--key", tmp_path / "k.key", "--out", tmp_path / "r")
    assert made(*words) == 0
    assert capsys.readouterr().out.splitlines() == [
        "candidate 3: 1 of 3 right, 2 answered.",
        "candidate 12: 1 of 3 right, 3 answered.",
        f"{tmp_path / 'r'}: 2 results written.",
        *(
            f"candidate {who}, station 3: {said!r} is no name that furcal knows; it was marked wrong, "
            "look at it yourself."
            for who, said in ((3, "femroal nerve (L1)"), (12, "nervus hiemalis"))
        ),
    ]


def test_results_are_replaced_with_a_sentence_and_only_those_of_the_same_paper_and_candidates(
    tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "results"
    new_key(tmp_path / "k.key")

    def marked(count: int, rows: str) -> tuple[int, str, str]:
        paper = made_paper([item("a"), *(item(f"b{n}") for n in range(count))], 7)
        (tmp_path / "paper.json").write_text(paper_text(paper))
        answers = sheet(tmp_path, f"candidate,item,answer\n{rows}")
        code = made("--mark", tmp_path / "paper.json", answers, "--key", tmp_path / "k.key", "--out", out)
        said = capsys.readouterr()
        return code, (said.out.splitlines() or [""])[-1], said.err

    def files() -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in out.iterdir()}

    assert marked(0, "3,1,femoral\n") == (0, f"{out}: 1 result written.", "")
    replaced = f"{out}: 1 result written; 1 that was there before replaced."
    assert marked(0, "3,1,obturator\n") == (0, replaced, "")
    before = files()
    assert [given_.right for given_ in read_result(out / "candidate-3.json", None).answers] == [False]
    first = read_result(out / "candidate-3.json", None).paper
    other = f"furcal: {out}: holds results of paper {first}; name a new or empty folder.\n"
    assert marked(1, "3,1,femoral\n") == (2, "", other)
    lost = f"furcal: {out}: holds the result of candidate 3, who is not in this sheet; name a new or empty folder.\n"
    assert marked(0, "4,1,femoral\n") == (2, "", lost)
    assert files() == before
    more = f"{out}: 2 results written; 1 that was there before replaced."
    assert marked(0, "3,1,femoral\n4,1,femoral\n") == (0, more, "")
    both = f"{out}: 2 results written; 2 that were there before replaced."
    assert marked(0, "3,1,femoral\n4,1,femoral\n") == (0, both, "")
    (out / "candidate-4.json").write_text("{}")
    odd = f"furcal: {out}: holds candidate-4.json, which is no whole result; name a new or empty folder.\n"
    assert marked(0, "3,1,femoral\n4,1,femoral\n") == (2, "", odd)
    (out / "candidate-4.json").unlink()
    (out / "notes.txt").write_text("mine")
    notes = f"furcal: {out}: holds notes.txt, which furcal did not write; name a new or empty folder.\n"
    assert marked(0, "3,1,femoral\n") == (2, "", notes)
    assert (out / "notes.txt").read_text() == "mine"
