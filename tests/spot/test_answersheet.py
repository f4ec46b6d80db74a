"""What is typed into the sheet of a paper: each cell, the whole sheet, and every mistake with its line."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot.answersheet import Answers, read_answers, response_typed, sheet_text
from lessons.spot.item import QUARTERS, Item
from lessons.spot.paper import LETTERS, Paper, made_paper
from lessons.spot.response import Arranged, Picked, Quarter, Said, Segments, Skipped
from meshes.errors import FurcalError
from meshes.structures import SEGMENTS
from tests.spot.printed import PAPER, sheet

NAME, POINT, TRACE, ORDER, PREDICT, QUARTER, DOCK = PAPER.items


def typed(cell: str, one: Item, paper: Paper = PAPER) -> Any:
    return response_typed(cell, one, paper, "answers.csv, line 2, answer")


# --- one cell


def test_what_a_cell_stands_for() -> None:
    options, words = PAPER.offered[4], PAPER.offered[3]
    spots = PAPER.spots["it_point"]
    for cell, one, response in (
        ("lateral cutaneous nerve of thigh", NAME, Said("lateral cutaneous nerve of thigh")),
        ("B", POINT, spots[1]), (" c) ", POINT, spots[2]),
        ("C", PREDICT, Picked(options[2])), ("d.", PREDICT, Picked(options[3])),
        (options[1].upper(), PREDICT, Picked(options[1])),
        ("BCA", ORDER, Arranged((words[1], words[2], words[0]))),
        ("b - c > a", ORDER, Arranged((words[1], words[2], words[0]))),
        ("L2-L4", TRACE, Segments(("L2", "L3", "L4"))), ("l2 – 4", TRACE, Segments(("L2", "L3", "L4"))),
        ("L4, L2 and L3", TRACE, Segments(("L2", "L3", "L4"))), ("L2/3/4", TRACE, Segments(("L2", "L3", "L4"))),
        ("T12-L1; S1", TRACE, Segments(("T12", "L1", "S1"))), ("L3", TRACE, Segments(("L3",))),
        ("iii", QUARTER, Quarter("III")),
    ):  # fmt: skip
        assert typed(cell, one) == response, cell
    assert all(typed(cell, one) == Skipped() for one in PAPER.items for cell in ("", "  "))


@given(st.lists(st.sampled_from(SEGMENTS), min_size=1, unique=True))
def test_any_segments_can_be_typed(roots: list[str]) -> None:
    wanted = Segments(tuple(sorted(roots, key=SEGMENTS.index)))
    assert typed(" ".join(roots), TRACE) == typed(",".join(roots).lower(), TRACE) == wanted


@given(st.integers(0, len(SEGMENTS) - 1), st.integers(0, len(SEGMENTS) - 1))
def test_any_run_of_segments_can_be_typed_by_its_ends(a: int, b: int) -> None:
    first, last = sorted((a, b))
    wanted = Segments(SEGMENTS[first : last + 1])
    assert typed(f"{SEGMENTS[first]}-{SEGMENTS[last]}", TRACE) == wanted


@given(st.permutations(range(3)))
def test_any_order_can_be_typed(order: list[int]) -> None:
    words = PAPER.offered[3]
    assert typed("".join(LETTERS[k] for k in order), ORDER) == Arranged(tuple(words[k] for k in order))


@pytest.mark.parametrize(
    ("cell", "one", "says"),
    [
        ("F", PREDICT, "expected one letter from A to D, found 'F'"),
        ("AB", PREDICT, "expected one letter from A to D, found 'AB'"),
        ("D", POINT, "expected one letter from A to C, found 'D'"),
        ("AB", ORDER, "expected each letter from A to C once, in order, found 'AB'"),
        ("AAB", ORDER, "expected each letter from A to C once, in order, found 'AAB'"),
        ("L4-L2", TRACE, "expected segments as L2-L4 or L2, L3, L4, found 'L4-L2'"),
        ("L6", TRACE, "expected segments as L2-L4 or L2, L3, L4, found 'L6'"),
        ("2-4", TRACE, "expected segments as L2-L4 or L2, L3, L4, found '2-4'"),
        ("femoral", TRACE, "expected segments as L2-L4 or L2, L3, L4, found 'femoral'"),
        ("V", QUARTER, f"expected a quarter, {', '.join(QUARTERS)}, found 'V'"),
        ("L4-5", DOCK, "a portal cannot be placed on paper"),
    ],
)
def test_a_cell_that_stands_for_nothing_is_told(cell: str, one: Item, says: str) -> None:
    with pytest.raises(FurcalError) as told:
        typed(cell, one)
    way_out = "leave the cell empty where the candidate gave no answer that can be told."
    assert str(told.value) == f"answers.csv, line 2, answer: {says}; {way_out}"


def test_a_point_that_was_not_printed_is_told() -> None:
    with pytest.raises(FurcalError, match="this paper was made for the window, and its picture has no letters"):
        typed("A", POINT, made_paper(PAPER.items, 7))


# --- the sheet


def test_the_empty_sheet_has_a_line_for_each_station_and_means_nothing_answered(tmp_path: Path) -> None:
    text = sheet_text(PAPER, 3)
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [(r["candidate"], r["item"], r["answer"]) for r in rows] == [
        (str(c), str(n), "") for c in (1, 2, 3) for n in range(1, 8)
    ]
    found = read_answers(sheet(tmp_path, text), PAPER)
    assert found == Answers({c: {one.id: Skipped() for one in PAPER.items} for c in "123"}, ())
    for count in (0, 1001):
        with pytest.raises(FurcalError, match="--candidates: expected a whole number from 1 to 1000"):
            sheet_text(PAPER, count)


@pytest.mark.parametrize(
    "text",
    [
        "candidate,item,answer\n7,1,femoral\n7,it_trace,\"L2, L3\"\n\n,,\n9,4,BCA\n",
        "\ufeffCandidate;Item;Answer\r\n7;1;femoral\r\n7;it_trace;L2, L3\r\n9;4;BCA\r\n",
        "answer\titem\tcandidate\nfemoral\t1\t7\nL2, L3\tit_trace\t7\nBCA\t4\t9\n",
    ],
    ids=["comma", "semicolon", "tab"],
)  # fmt: skip
def test_sheets_are_read_as_spreadsheets_write_them(text: str, tmp_path: Path) -> None:
    words = PAPER.offered[3]
    assert read_answers(sheet(tmp_path, text), PAPER) == Answers(
        {
            "7": {"it_name": Said("femoral"), "it_trace": Segments(("L2", "L3"))},
            "9": {"it_order": Arranged((words[1], words[2], words[0]))},
        },
        (),
    )


def test_everything_wrong_is_told_with_its_line(tmp_path: Path) -> None:
    path = sheet(
        tmp_path,
        "candidate,item,answer\n7,1,femoral\nseven,1,femoral\n7,8,A\n7,it_nme,x\n7,4,AB\n7,1,obturator\n\n8,it_name,a\n"
        '9,1,"two\nlines"\n9,5,Z\n',
    )
    found = read_answers(path, PAPER)
    assert [problem.partition(";")[0] for problem in found.problems] == [
        f"{path}, line 3, candidate: expected a number of at most 12 digits, found 'seven'.",
        f"{path}, line 4, item: the paper has stations 1 to 7, found 8.",
        f"{path}, line 5, item: unknown item 'it_nme'. Nearest: it_name. Legal: it_name, it_point, it_trace, it_order, "
        "it_predict, it_quarter, it_dock.",
        f"{path}, line 6, answer: expected each letter from A to C once, in order, found 'AB'",
        f"{path}, line 7: candidate 7 answered station 1 in line 2 already",
        f"{path}, line 12, answer: expected one letter from A to D, found 'Z'",
    ]
    assert found.given["9"]["it_name"] == Said("two lines")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1: the columns must be candidate, item, answer."),
        ("candidate,answer\n", "line 1: the columns must be candidate, item, answer."),
        ("candidate,item,answer\n7,1,a,b\n", "line 2: expected 3 cells, found 4; put an answer that holds ',' into "),
        ('candidate,item,answer\n7,1,"a\n', "line 2: unexpected end of data; save the sheet as CSV anew."),
        (b"candidate,item,answer\n7,1,f\xe9moral\n", "is not UTF-8 text."),
    ],
)
def test_what_is_no_sheet_is_told(text: str | bytes, says: str, tmp_path: Path) -> None:
    path = sheet(tmp_path, text)
    with pytest.raises(FurcalError) as told:
        read_answers(path, PAPER)
    assert str(told.value).startswith(str(path))
    assert says in str(told.value)


def test_a_sheet_without_answers_is_told(tmp_path: Path) -> None:
    path = sheet(tmp_path, "candidate,item,answer\n")
    assert read_answers(path, PAPER).problems == (
        f"{path}: holds no answers; type a line for each station of each candidate.",
    )
