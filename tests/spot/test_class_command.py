"""`furcal class`: the table, the files and the picture of a class, and what is refused in one sentence."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from lessons.spot.classtext import FLAG_WORDS, report_csv, report_text
from lessons.spot.item import OBJECTIVE_WORDS, OBJECTIVES
from lessons.spot.paper import Paper, made_paper, paper_text
from lessons.spot.response import Picked, Said
from lessons.spot.results import Result, new_key, read_result, signed, unsigned, write_result
from lessons.spot.statistics import FLAGGED_FROM, FLAGS, class_report
from tests.spot.commands import Capture, ran, refused
from tests.spot.simulated import PLANTED, RIGHT, WRONG, result_of, simulated
from viewer.export.classplot import FLAGGED, NUMBERS_LINE, NUMBERS_MOST, ZONE, numbers_beside, write_plot

CANDIDATES = 60


@pytest.fixture(scope="module")
def sat() -> tuple[Paper, tuple[Result, ...]]:
    """A paper of good and planted items over all objectives, and the results of those who sat it."""
    made = simulated(1, CANDIDATES, good=22)
    items = tuple(replace(item, objective=OBJECTIVES[n % len(OBJECTIVES)]) for n, item in enumerate(made.items))
    paper = made_paper(items, 7)
    objective = {item.id: item.objective for item in items}
    results = tuple(
        replace(
            result,
            paper=paper.id,
            paper_hash=paper.sha256,
            answers=tuple(replace(given, objective=objective[given.item]) for given in result.answers),
        )
        for result in made.results
    )
    return paper, results


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory, sat: tuple[Paper, tuple[Result, ...]]) -> Path:
    paper, results = sat
    path = tmp_path_factory.mktemp("class")
    key = new_key(path / "key.txt")
    (path / "paper.json").write_text(paper_text(paper))
    (path / "results").mkdir()
    for result in results:
        (path / "results" / f"{result.number:03d}.json").write_text(signed(result, key))
    return path


@pytest.fixture
def folder(tmp_path: Path, written: Path) -> Path:
    """results/NUMBER.json of the class, key.txt and paper.json, to be changed at will."""
    return Path(shutil.copytree(written, tmp_path / "class"))


def test_the_table_says_in_words_which_items_are_to_be_looked_at(capsys: Capture, folder: Path) -> None:
    out = ran(capsys, "class", folder / "results", "--key", folder / "key.txt", "--paper", folder / "paper.json")
    lines = out.splitlines()
    head = next(n for n, line in enumerate(lines) if line.startswith("  item "))
    place = lines[head].index("look at it")
    flagged = {}
    for line in lines[head + 1 : head + 28]:
        assert line[place - 2 : place].strip() == ""  # columns are aligned
        if line[place:]:
            flagged[line.split()[0]] = line[place:].split(", ")
    assert set(flagged) == set(PLANTED)
    for name, flags in PLANTED.items():
        assert {FLAG_WORDS[flag] for flag in flags} & set(flagged[name])
    assert all(words in out for words in OBJECTIVE_WORDS.values())
    assert f'"{WRONG[2]}" is taken by 0 of {CANDIDATES}' in out  # of dead_option
    assert f'"{WRONG[0]}" is taken by those who do well' in out  # of wrong_key
    assert "The signatures agree with the key." in out


def test_the_json_is_that_of_the_contract(capsys: Capture, folder: Path, sat: tuple[Paper, tuple[Result, ...]]) -> None:
    table = json.loads(ran(capsys, "class", folder / "results", "--paper", folder / "paper.json", "--json"))
    assert {"candidates", "items", "reliability", "objectives"} <= set(table)
    assert table["candidates"] == CANDIDATES
    assert [item["id"] for item in table["items"]] == [item.id for item in sat[0].items]
    assert table["reliability"]["name"] == "KR-20"
    assert 0.8 < table["reliability"]["value"] < 0.95
    assert {o["objective"] for o in table["objectives"]} == set(OBJECTIVES)
    assert "were not checked" in table["signatures"]


def test_files_and_their_folder_are_the_same_class(capsys: Capture, folder: Path) -> None:
    files = sorted((folder / "results").iterdir())
    assert ran(capsys, "class", *files, "--json") == ran(capsys, "class", folder / "results", "--json")


def test_the_csv_has_a_row_an_item(capsys: Capture, folder: Path, sat: tuple[Paper, tuple[Result, ...]]) -> None:
    target = folder / "class.csv"
    ran(capsys, "class", folder / "results", "--paper", folder / "paper.json", "--csv", target)
    rows = list(csv.DictReader(io.StringIO(target.read_text())))
    items = class_report(sat[1], sat[0].items).items
    assert [row["id"] for row in rows] == [item.id for item in items]
    assert [float(row["difficulty"]) for row in rows] == [round(item.difficulty, 4) for item in items]
    assert [row["discrimination"] == "" for row in rows] == [item.discrimination is None for item in items]
    assert {row["id"] for row in rows if row["flags"]} == set(PLANTED)
    assert [row["flags"] for row in rows] == [", ".join(FLAG_WORDS[flag] for flag in item.flags) for item in items]


def test_what_a_candidate_typed_is_no_formula_and_no_command_of_the_terminal() -> None:
    said = ("=1+1", "@cmd", "\x1b[31mred", "right\u202eto left", "half \ud800")
    results = [
        replace(one, answers=(replace(one.answers[0], response=Said(words), right=False),))
        for one, words in ((result_of(n, {"=x": RIGHT}), words) for n, words in enumerate(said * 4))
    ]
    report = class_report(results)
    text = report_csv(report)
    row = next(csv.reader(io.StringIO(text.split("\n", 1)[1])))
    assert not any(cell.startswith(("=", "@")) for cell in row)
    for out in (text, report_text(report)):
        assert out.encode()
        assert not any(sign in out for sign in "\x1b\u202e\ud800")


@pytest.mark.parametrize("suffix", [".svg", ".png", ".pdf"])
def test_the_picture_is_of_the_kind_that_its_name_says(capsys: Capture, folder: Path, suffix: str) -> None:
    target = folder / f"class{suffix}"
    ran(capsys, "class", folder / "results", "--plot", target)
    data = target.read_bytes()
    assert data.startswith({".svg": b"<?xml", ".png": b"\x89PNG", ".pdf": b"%PDF"}[suffix])
    ran(capsys, "class", folder / "results", "--plot", target)
    assert target.read_bytes() == data  # the same class, the same file


def test_the_picture_names_the_flagged_items_and_every_objective(capsys: Capture, folder: Path) -> None:
    target = folder / "class.svg"
    ran(capsys, "class", folder / "results", "--plot", target)
    root = ET.fromstring(target.read_text())
    words = " ".join("".join(text.itertext()).strip() for text in root.iter("{http://www.w3.org/2000/svg}text"))
    for name in set(PLANTED) - {"dead_option"}:
        assert name in words
    assert "good_" not in words
    for objective in OBJECTIVE_WORDS.values():
        assert objective in words
    sizes = [float(size) for size in re.findall(r"font-size: ([\d.]+)px", target.read_text())]
    assert len(sizes) > 20
    assert min(sizes) >= 14
    assert "<pattern" in target.read_text()  # the hatching of an objective that fails


def test_the_picture_has_the_colours_that_everybody_tells_apart(capsys: Capture, folder: Path) -> None:
    target = folder / "class.png"
    ran(capsys, "class", folder / "results", "--plot", target)
    with Image.open(target) as picture:
        assert picture.size == (1920, 1080)
        found = {colour for _, colour in picture.convert("RGB").getcolors(1 << 24) or ()}
    assert {(0x00, 0x72, 0xB2), (0xD5, 0x5E, 0x00)} <= found


def test_what_was_written_is_told(capsys: Capture, folder: Path) -> None:
    table, picture = folder / "class.csv", folder / "class.svg"
    words = (folder / "results", "--paper", folder / "paper.json")
    assert ran(capsys, "class", *words, "--csv", table, "--plot", picture).splitlines()[-2:] == [
        f"{table}: written.", f"{picture}: written.",
    ]  # fmt: skip
    assert ": written." not in ran(capsys, "class", *words)
    assert json.loads(ran(capsys, "class", *words, "--csv", table, "--json"))["written"] == [str(table)]
    assert json.loads(ran(capsys, "class", *words, "--json"))["written"] == []


def test_of_fewer_than_twenty_nothing_is_flagged_in_text_table_and_picture(capsys: Capture, folder: Path) -> None:
    few = sorted((folder / "results").iterdir())[: FLAGGED_FROM - 1]
    words: tuple[str | Path, ...] = (*few, "--paper", folder / "paper.json")
    table, picture = folder / "few.csv", folder / "few.svg"
    out = ran(capsys, "class", *words, "--csv", table, "--plot", picture)
    says = "ewer than 20 candidates: no item and no option is flagged"
    assert f"\nF{says}.\n" in out
    assert "point-biserial" in out
    for flag in (*FLAG_WORDS.values(), "is taken by", "look at", "No item is flagged", "To look at"):
        assert flag not in out
    rows = list(csv.DictReader(io.StringIO(table.read_text())))
    assert all(row["flags"] == "" and row["says"].endswith(f"f{says}") and row["difficulty"] for row in rows)
    assert sum(row["discrimination"] != "" for row in rows) > 20
    for sign in (FLAGGED, ZONE):
        assert sign not in _items_half(picture)
    assert "fewer than 20 candidates: none is flagged" in picture.read_text()
    parts = json.loads(ran(capsys, "class", *words, "--json"))
    assert parts["says"] == f"f{says}"
    assert {d["functions"] for item in parts["items"] for d in item["distractors"]} == {None}


def _items_half(picture: Path) -> str:
    """The half of a picture that shows the items."""
    return picture.read_text().partition('<g id="axes_1">')[2].partition('<g id="axes_2">')[0]


def numbers_in(picture: Path) -> list[str]:
    """Numbers that stand beside marks, line by line; those of the axes stand alone, too."""
    words = [
        "".join(text.itertext()).strip() for text in ET.fromstring(picture.read_text()).iter() if "text" in text.tag
    ]
    return [word for word in words if re.fullmatch(r"[\d, ]+", word)]


def test_items_on_one_spot_stand_with_their_numbers_beside_one_mark(tmp_path: Path) -> None:
    # Items 2, 3 and 5 are known by the same; 1 and 4 by others.
    knows = {"a": "110000", "b": "111000", "c": "111000", "d": "111110", "e": "111000"}
    results = [result_of(n, {item: RIGHT if knows[item][n] == "1" else WRONG[0] for item in knows}) for n in range(6)]
    write_plot(class_report(results), tmp_path / "a.svg")
    assert [word for word in numbers_in(tmp_path / "a.svg") if "," in word] == ["2, 3, 5"]
    apart = [replace(r, answers=(*r.answers[:4], replace(r.answers[4], right=n < 4, score=float(n < 4))))
             for n, r in enumerate(results)]  # fmt: skip
    write_plot(class_report(apart), tmp_path / "b.svg")
    assert [word for word in numbers_in(tmp_path / "b.svg") if "," in word] == ["2, 3"]


def test_many_numbers_are_broken_into_lines_and_cut_off() -> None:
    assert numbers_beside([3, 5, 6]) == "3, 5, 6"
    for count in range(1, 60):
        lines = numbers_beside(list(range(1, count + 1))).split("\n")
        told = [int(n) for line in lines if "more" not in line for n in re.findall(r"\d+", line)]
        assert told == list(range(1, min(count, NUMBERS_MOST) + 1))
        assert all(len(re.findall(r"\d+", line)) <= NUMBERS_LINE for line in lines)
        assert ("more" in lines[-1]) == (count > NUMBERS_MOST)
        assert count <= NUMBERS_MOST or lines[-1] == f"and {count - NUMBERS_MOST} more"


def test_a_class_of_one_is_told_and_drawn(capsys: Capture, folder: Path) -> None:
    out = ran(capsys, "class", folder / "results" / "001.json", "--plot", folder / "one.svg")
    assert "1 candidate, 27 items" in out
    assert "KR-20: one candidate alone" in out
    assert "nan" not in out.lower()
    assert "not defined" in (folder / "one.svg").read_text()


# --- what is refused


def test_an_edited_result_is_noticed_with_the_key(capsys: Capture, folder: Path) -> None:
    path = folder / "results" / "003.json"
    table = json.loads(path.read_text())
    table["answers"][0]["right"] = not table["answers"][0]["right"]
    path.write_text(json.dumps(table))
    said = refused(capsys, "class", folder / "results", "--key", folder / "key.txt")
    assert f"{path}, signature: does not match" in said


def test_unsigned_results_are_taken_only_with_the_option(
    capsys: Capture, folder: Path, sat: tuple[Paper, tuple[Result, ...]]
) -> None:
    path = folder / "results" / "004.json"
    path.write_text(unsigned(sat[1][3]))
    for words in ((), ("--key", folder / "key.txt")):
        assert f"{path}, signature: is missing" in refused(capsys, "class", folder / "results", *words)
    out = ran(capsys, "class", folder / "results", "--key", folder / "key.txt", "--allow-unsigned")
    assert f"1 of {CANDIDATES} are not signed" in out


def test_results_of_another_examination_are_told(capsys: Capture, folder: Path) -> None:
    other = new_key(folder / "other.txt")
    one = read_result(folder / "results" / "001.json", None)
    write_result(folder / "results" / "001.json", one, other)
    assert "001.json, signature: was made with another key" in refused(
        capsys, "class", folder / "results", "--key", folder / "key.txt"
    )


Change = Callable[[Result], Result]
WRONG_CLASSES: dict[str, tuple[Change, str]] = {
    "a candidate twice": (lambda r: replace(r, candidate="0002"), "candidate: 0002 has a result in"),
    "another paper": (lambda r: replace(r, paper="spring"), "'spring' is another paper than that of"),
    "another state of the paper": (lambda r: replace(r, paper_hash="cd" * 32), "is another paper than that of"),
}


@pytest.mark.parametrize("wrong", WRONG_CLASSES)
def test_what_is_no_class_is_told_with_both_files(capsys: Capture, folder: Path, wrong: str) -> None:
    change, says = WRONG_CLASSES[wrong]
    one = read_result(folder / "results" / "009.json", None)
    write_result(folder / "results" / "009.json", change(one), None)
    said = refused(capsys, "class", folder / "results", "--allow-unsigned")
    assert says in said
    assert "009.json, " in said
    assert "001.json" in said or "002.json" in said


def test_another_paper_than_the_one_that_was_sat_is_told(
    capsys: Capture, folder: Path, sat: tuple[Paper, tuple[Result, ...]]
) -> None:
    other = made_paper(sat[0].items, 8)
    (folder / "other.json").write_text(paper_text(other))
    said = refused(capsys, "class", folder / "results", "--paper", folder / "other.json")
    assert f"other.json: is the paper {other.id}, and the candidates sat {sat[0].id}" in said


def test_an_option_that_the_paper_does_not_offer_is_told(
    capsys: Capture, folder: Path, sat: tuple[Paper, tuple[Result, ...]]
) -> None:
    one = sat[1][0]
    odd = replace(one.answers[0], response=Picked("luck"), right=False)
    write_result(folder / "results" / "001.json", replace(one, answers=(odd, *one.answers[1:])), None)
    words = (folder / "results", "--allow-unsigned", "--paper", folder / "paper.json")
    assert "'luck' was taken, which the paper does not offer" in refused(capsys, "class", *words)


def test_files_that_must_not_be_written_are_told_before_anything_is_done(capsys: Capture, folder: Path) -> None:
    first = folder / "results" / "001.json"
    before = first.read_bytes()
    wrong: list[tuple[tuple[str | Path, ...], str]] = [
        (("--csv", first), "would be overwritten"),
        (("--csv", folder / "key.txt", "--key", folder / "key.txt"), "would be overwritten"),
        (("--csv", folder), "is a folder"),
        (("--csv", folder / "none" / "a.csv"), "is no folder"),
        (("--plot", folder / "a.gif"), "--plot: expected a file that ends in .svg, .png, .pdf"),
        (("--csv", folder / "a.svg", "--plot", folder / "a.svg"), "name two files"),
    ]
    for words, says in wrong:
        assert says in refused(capsys, "class", folder / "results", *words)
    assert first.read_bytes() == before
    assert not (folder / "a.svg").exists()


def test_what_cannot_be_read_is_told(capsys: Capture, folder: Path) -> None:
    (folder / "empty").mkdir()
    assert "holds no results" in refused(capsys, "class", folder / "empty")
    assert "no such file" in refused(capsys, "class", folder / "none.json")
    assert "is no result of an examination" in refused(capsys, "class", folder / "paper.json")
    (folder / "note.txt").write_text("the key is in the drawer\n")
    assert "is no key of an examination" in refused(capsys, "class", folder / "results", "--key", folder / "note.txt")
    assert "which no key file is" in refused(capsys, "class", folder / "results", "--key", folder / "paper.json")
    assert "RESULTS" in refused(capsys, "class")


def test_every_flag_has_words() -> None:
    assert set(FLAG_WORDS) == set(FLAGS)
