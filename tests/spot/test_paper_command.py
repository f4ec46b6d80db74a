"""`furcal paper`: a paper made, its sheet written, what was typed marked and signed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomlkit

from lessons.spot.answersheet import sheet_text
from lessons.spot.item import Item
from lessons.spot.paper import LETTERS, Paper, chosen, is_printable, made_paper, paper_text, read_paper
from lessons.spot.response import Clicked, Said, Skipped
from lessons.spot.results import new_key, read_key, read_result
from meshes.body import Body
from meshes.errors import FurcalError
from tests.spot.anyitem import item
from tests.spot.commands import Capture
from tests.spot.printed import PAPER, made, sheet

# --- the command


def bank_file(folder: Path, count: int = 4) -> Path:
    """A bank of items of five kinds, two of which cannot be printed as they are."""
    some = [item(f"{kind}_{n}", kind) for kind in ("name", "predict", "trace", "quarter", "dock") for n in range(count)]
    path = folder / "bank.toml"
    path.write_text(tomlkit.dumps({"furcal_items": 1, "items": [written(one) for one in some]}))
    return path


def written(one: Item) -> dict[str, Any]:
    answers: dict[str, dict[str, Any]] = {
        "name": {"mark": "femoral_left"},
        "predict": {"right": "a", "wrong": ["b", "c"]},
        "trace": {"roots": ["L2"]},
        "quarter": {"disc": "L4-5", "right": ["II"]},
        "dock": {"portal": {"level": "L4-5"}},
    }
    kept = {key: getattr(one, key) for key in ("id", "kind", "objective", "structure", "ask", "explain")}
    return {**kept, **answers[one.kind]}


def test_a_paper_for_the_window_is_chosen_by_seed_and_blueprint(tmp_path: Path, capsys: Capture) -> None:
    bank, key, plan = bank_file(tmp_path), tmp_path / "lecturer.key", tmp_path / "plan.toml"
    plan.write_text("furcal_blueprint = 1\nseconds = 45\n[kinds]\ndock = 2\n")
    words = ("--items", "6", "--seed", "3", "--blueprint", plan, "--bank", bank, "--key", key, "--window")
    assert made(*words, "--out", tmp_path / "out") == 0
    paper = read_paper(tmp_path / "out" / "paper.json")
    assert (len(paper.items), paper.seed, paper.seconds) == (6, 3, 45)
    assert sum(one.kind == "dock" for one in paper.items) == 2
    said = capsys.readouterr().out
    assert f"paper.json written; paper {paper.id}, 6 stations of 45 seconds." in said
    assert f"{key}: written, the key that signs results; keep it from candidates." in said
    first = read_key(key)
    assert made(*words, "--seconds", "50", "--out", tmp_path / "other") == 0
    assert read_paper(tmp_path / "other" / "paper.json").seconds == 50
    assert read_key(key) == first
    assert f"{key}: is the key that signs results" in capsys.readouterr().out
    assert [entry.name for entry in (tmp_path / "out").iterdir()] == ["paper.json"]


def test_what_cannot_be_printed_is_left_out_and_said(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Drawing is left out: tests/export draws."""
    import viewer.display
    import viewer.export.paper as exported

    def export(items: tuple[Item, ...], seed: int, seconds: int, out: Path, _: object) -> Paper:
        return exported.export_for_window(items, seed, seconds, out)

    monkeypatch.setattr(exported, "export_paper", export)
    monkeypatch.setattr(viewer.display, "prepare_offscreen", lambda: None)
    bank = bank_file(tmp_path)
    assert made("--items", "16", "--seed", "3", "--bank", bank, "--out", tmp_path / "out") == 0
    paper = read_paper(tmp_path / "out" / "paper.json")
    assert all(is_printable(one) for one in paper.items)
    assert len(paper.items) == 16
    assert "left out: 4 items that cannot be printed; --window takes them." in capsys.readouterr().out
    assert made("--items", "17", "--seed", "3", "--bank", bank, "--out", tmp_path / "more") == 2
    assert "17 items are asked for, and the bank has 16 that can be used" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--out", "o"), "furcal paper: give --items N and --seed N"),
        (("--items", "3", "--seed", "1"), "furcal paper: say where to write, with --out."),
        (("--items", "3", "--seed", "1", "--out", "o", "--candidates", "2"), "--candidates does not go with making"),
        (("--sheet", "p.json", "--out", "o.csv", "--seed", "1"), "--seed does not go with --sheet; leave it out."),
        (("--mark", "p.json", "a.csv", "--sheet", "p.json", "--out", "o"), "--mark and --sheet: give one of them."),
        (("--mark", "p.json", "a.csv", "--out", "o"), "furcal paper --mark: give the lecturer's key, with --key FILE"),
        (("--mark", "p.json", "--out", "o"), "argument --mark: expected 2 arguments"),
        (("--sheet", "p.json", "--out", "o.csv"), "p.json: no such file; check the path."),
        (("--items", "3", "--seed", "1", "--seconds", "5", "--out", "o"), "--seconds: expected a whole number from 10"),
        (("--items", "0", "--seed", "1", "--out", "o"), "--items: expected a whole number from 1 to 500, found 0."),
        (("--items", "x", "--seed", "1", "--out", "o"), "--items: expected a whole number from 0, found 'x'."),
        (("--items", "3", "--seed", "1", "--out", "o", "--bank", "none.toml"), "none.toml: no such file"),
        (("--items", "3", "--seed", "1", "--out", "o", "--blueprint", "none.toml"), "none.toml: no such file"),
        (("--items", "3", "--seed", "1", "--out", "o", "--key", "o/k.key"), "lies in the folder of the paper"),
    ],
)  # fmt: skip
def test_what_cannot_be_done_is_one_sentence(
    words: tuple[str, ...], says: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    bank = () if "--bank" in words or not words[0].startswith(("--items", "--out")) else ("--bank", "bank.toml")
    bank_file(tmp_path)
    assert made(*words, *bank) == 2
    said = capsys.readouterr()
    assert says in said.err
    assert said.err.count("\n") == 1
    assert [entry.name for entry in tmp_path.iterdir()] == ["bank.toml"]


def test_a_blueprint_with_portals_is_for_the_window(tmp_path: Path, capsys: Capture) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text("furcal_blueprint = 1\n[kinds]\ndock = 2\n")
    words = ("--items", "3", "--seed", "1", "--bank", bank_file(tmp_path), "--blueprint", plan, "--out", tmp_path / "o")
    assert made(*words) == 2
    assert f"{plan}, [kinds], dock: a portal cannot be placed on paper; take the line out" in capsys.readouterr().err
    assert made(*words, "--window") == 0


def test_a_sheet_is_never_written_over(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "paper.json").write_text(paper_text(PAPER))
    words = ("--sheet", tmp_path / "paper.json", "--out", tmp_path / "a.csv")
    assert made(*words, "--candidates", "2") == 0
    assert (tmp_path / "a.csv").read_text() == sheet_text(PAPER, 2)
    (tmp_path / "a.csv").write_text("typed")
    assert made(*words) == 2
    assert "a.csv: is there already, and may hold answers; name another file." in capsys.readouterr().err
    assert (tmp_path / "a.csv").read_text() == "typed"


# --- marking


@pytest.fixture
def on_body(alder: Body) -> Paper:
    """A paper whose spots lie on the body."""
    femoral = alder.surfaces["femoral_left"].vertices.mean(axis=0)
    spots = []
    for name in ("obturator_left", "femoral_left", "iliacus_left"):
        vertices = alder.surfaces[name].vertices
        far = vertices[np.linalg.norm(vertices - femoral, axis=1).argmax()]
        spots.append(Clicked(name, (round(float(far[0]), 2), round(float(far[1]), 2), round(float(far[2]), 2))))
    return made_paper([one for one in PAPER.items if one.kind != "dock"], 7, spots={"it_point": tuple(spots)})


def right_cells(paper: Paper) -> list[str]:
    """What a candidate who knows everything writes, station by station."""
    words, options = paper.offered[3], paper.offered[4]
    order = "".join(LETTERS[words.index(word)] for word in paper.items[3].answer.right)  # type: ignore[union-attr]
    return ["n. femoralis", "B", "L2-4", order, LETTERS[options.index("Right it_predict")], "II"]


def wrong_cells(paper: Paper) -> list[str]:
    options = paper.offered[4]
    return ["genitofemoral", "A", "L1", "ABC", LETTERS[options.index("Wrong it_predict 1")], "IV"]


def test_a_paper_is_marked_into_signed_results(on_body: Paper, tmp_path: Path, capsys: Capture) -> None:
    paper, key = tmp_path / "paper.json", tmp_path / "lecturer.key"
    paper.write_text(paper_text(on_body))
    secret = new_key(key)
    rows = [("12", n, cell) for n, cell in enumerate(right_cells(on_body), start=1)]
    rows += [("3", n, cell) for n, cell in enumerate(wrong_cells(on_body), start=1)]
    rows += [("5", 1, "femoral nerve"), ("5", 2, "")]
    answers = sheet(tmp_path, "candidate,item,answer\n" + "".join(f"{c},{n},{cell}\n" for c, n, cell in rows))
    assert made("--mark", paper, answers, "--key", key, "--out", tmp_path / "results") == 0
    said = capsys.readouterr().out.splitlines()
    assert said == [
        "candidate 3: 0 of 6 right, 6 answered.",
        "candidate 5: 1 of 6 right, 1 answered.",
        "candidate 12: 6 of 6 right, 6 answered.",
        f"{tmp_path / 'results'}: 3 results written.",
    ]
    files = {path.name: read_result(path, secret) for path in (tmp_path / "results").iterdir()}
    assert set(files) == {f"candidate-{n}.json" for n in (3, 5, 12)}
    for name, result in files.items():
        assert (result.paper, result.paper_hash) == (on_body.id, on_body.sha256)
        assert name == f"candidate-{result.candidate}.json"
        assert [given_.item for given_ in result.answers] == [one.id for one in on_body.items]
    assert [one.score for one in files["candidate-12.json"].answers] == [1.0] * 6
    assert [one.right for one in files["candidate-3.json"].answers] == [False] * 6
    assert [type(one.response) for one in files["candidate-5.json"].answers] == [Said, *[Skipped] * 5]
    edited = json.loads((tmp_path / "results" / "candidate-3.json").read_text())
    edited["answers"][0]["right"] = True
    (tmp_path / "results" / "candidate-3.json").write_text(json.dumps(edited))
    with pytest.raises(FurcalError, match="was changed after the examination"):
        read_result(tmp_path / "results" / "candidate-3.json", secret)


def test_with_anything_wrong_nothing_is_marked_and_older_results_stay(
    on_body: Paper, tmp_path: Path, capsys: Capture
) -> None:
    paper, key, out = tmp_path / "paper.json", tmp_path / "lecturer.key", tmp_path / "results"
    paper.write_text(paper_text(on_body))
    words = ("--mark", paper, tmp_path / "answers.csv", "--key", key, "--out", out)
    answers = sheet(tmp_path, "candidate,item,answer\n3,6,II\n3,5,Z\n4,9,\n")
    assert made(*words) == 2
    assert "lecturer.key: no such file" in capsys.readouterr().err
    new_key(key)
    assert made(*words) == 2
    said = capsys.readouterr()
    assert [line.partition(":")[0] for line in said.out.splitlines()] == [
        f"{answers}, line 3, answer", f"{answers}, line 4, item",
    ]  # fmt: skip
    assert said.err == f"furcal: {answers}: 2 problems found, listed above; nothing was marked.\n"
    assert not out.exists()
    sheet(tmp_path, "candidate,item,answer\n3,6,II\n")
    assert made(*words) == 0


def test_the_bundled_bank_makes_a_paper_of_thirty(tmp_path: Path) -> None:
    from lessons.spot.bank import bundled_items

    found = chosen([one for one in bundled_items() if is_printable(one)], 30, 7)
    paper = made_paper(found, 7)
    (tmp_path / "paper.json").write_text(paper_text(paper))
    assert read_paper(tmp_path / "paper.json") == paper
    assert len({one.kind for one in found}) >= 9
    assert len({one.objective for one in found}) == 9
