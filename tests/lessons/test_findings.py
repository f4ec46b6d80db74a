"""The words of findings: every spelling is read, an unknown word gets the nearest three, a bad table is refused."""

from __future__ import annotations

import json
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.differential import differentials, read_differentials
from lessons.findings import KINDS, find, find_spared, legal, read_words, words
from lessons.sites import lesion_ids
from meshes.errors import FurcalError
from meshes.tables import ANATOMY
from tests.house.programs import furcal

TABLE = (ANATOMY / "findings.toml").read_text(encoding="utf-8")
DIFFERENTIAL = (ANATOMY / "differential.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("kind", "word"), [pytest.param(k, w, id=f"{k}-{w.id}") for k in KINDS for w in legal(k) if not w.same_as]
)
def test_every_spelling_is_read(kind: str, word: object) -> None:
    for spelling in word.spellings():  # type: ignore[attr-defined]
        assert find(kind, spelling.upper()).id == word.id  # type: ignore[attr-defined]
        assert find(kind, f"  {spelling.replace(' ', '  ')} ").kind == kind


def test_a_complaint_is_the_finding_that_it_stands_for() -> None:
    assert find("other", "knee gives way") == find("weak", "quadriceps")
    assert find("other", "pseudohernia") == find("weak", "trunk wall")


def test_spared_takes_words_of_every_kind_and_each_has_one_meaning() -> None:
    meaning: dict[str, str] = {}
    for part, rows in words().items():
        for word in rows.values():
            for spelling in word.spellings():
                if part != "joint_place":
                    assert meaning.setdefault(spelling, f"{part} {word.id}") == f"{part} {word.id}"
    assert find_spared("knee jerk") == find("lost", "patellar")
    assert find_spared("adductors") == find("weak", "hip adduction")


@given(st.sampled_from(list(KINDS)), st.text(max_size=40))
def test_any_text_is_read_or_gets_the_nearest_three(kind: str, text: str) -> None:
    try:
        assert find(kind, text).id
    except FurcalError as error:
        said = str(error)
        assert said.startswith(f"--{kind}: unknown word ")
        near = said.split("Nearest: ")[1].split(". furcal")[0].split(", ")
        spellings = [s for word in legal(kind) for s in word.spellings()]
        assert len(near) >= 3 or len(spellings) < 3
        assert "\n" not in said


def test_a_word_of_another_kind_is_told() -> None:
    with pytest.raises(FurcalError, match=r"--numb: unknown word 'knee jerk'\. It is a word of --lost\."):
        find("numb", "knee jerk")


MISTAKES = [
    ("synonyms =", "synonims =", "unknown key 'synonims'"),
    ('source = "lateral_ch1"', 'source = "hearsay"', "unknown source 'hearsay'"),
    ('same_as = { weak = "knee extension" }', 'same_as = { weak = "knee bending" }', "'knee bending'"),
    ('"bikini line"', '"groin"', "'groin' stands for both"),
    ("[place.suprapubic]", "[places.suprapubic]", "unknown key 'places'"),
]


@pytest.mark.parametrize(("old", "new", "named"), MISTAKES)
def test_a_mistake_in_the_table_is_named(tmp_path: Path, old: str, new: str, named: str) -> None:
    assert old in TABLE
    path = tmp_path / "findings.toml"
    path.write_text(TABLE.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FurcalError, match=r"findings\.toml") as caught:
        read_words(path)
    assert named in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ('is = ["femoral"]', 'is = ["femural"]', "unknown nerve or lesion 'femural'. Nearest: femoral"),
        ('of = ["femoral"', 'of = ["thumb"', "unknown nerve or lesion 'thumb'"),
        ("plexus = {", "plexuss = {", "unknown key 'plexuss'"),
        ('basis = "published"', 'basis = "heard"', "unknown basis 'heard'"),
        ('source = "preston_23"', 'source = "hearsay"', "unknown source 'hearsay'"),
    ],
)
def test_a_mistake_in_a_differential_is_named(tmp_path: Path, old: str, new: str, named: str) -> None:
    assert old in DIFFERENTIAL
    path = tmp_path / "differential.toml"
    path.write_text(DIFFERENTIAL.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FurcalError, match=r"differential\.toml") as caught:
        read_differentials(path, lesion_ids())
    assert named in str(caught.value)


def test_every_differential_has_a_nerve_and_parts_every_two_of_its_columns() -> None:
    for table in differentials().values():
        assert any(ids for _, ids in table.columns.values())
        for one, other in combinations(table.columns, 2):
            assert any(row.cells[one].says != row.cells[other].says for row in table.rows), (table.id, one, other)
        for lesion in {i for _, ids in table.columns.values() for i in ids}:
            assert lesion in table.of


WORDS = ("findings", "--numb", "suprapubic", "--weak", "knee extension")


def test_the_program_ranks_for_people_and_for_programs() -> None:
    after = ("--after", "lateral", "--level", "L4-5", "--side", "left", "--spared", "hip adduction")
    text = furcal(*WORDS, *after)
    assert text.returncode == 0, text.stderr
    assert max(len(line) for line in text.stdout.splitlines()) <= 100
    for part in (
        "Score: ",
        "1. ",
        "3. ",
        "leaves unexplained: ",
        "Next, to tell the first two apart: ",
        "For teaching.",
    ):
        assert part in text.stdout
    told = json.loads(furcal(*WORDS, *after, "--json").stdout)
    assert set(told) >= {"findings", "ranked", "next_examination"}
    assert set(told["next_examination"]) >= {"do", "separates"}
    for one in told["ranked"]:
        assert set(one) >= {"id", "name", "site", "score", "explains", "unexplained", "expected_but_absent"}
        assert one["id"].endswith("_left")
    assert {"femoral_left", "iliohypogastric_left"} == {one["id"] for one in told["ranked"][:2]}


def test_the_program_lists_every_word() -> None:
    text, told = furcal("findings", "--list"), json.loads(furcal("findings", "--list", "--json").stdout)
    assert {kind: {w["id"] for w in rows} for kind, rows in told.items()} == {
        kind: {w.id for w in legal(kind)} for kind in KINDS
    }
    for kind in KINDS:
        for word in legal(kind):
            assert word.name in text.stdout


@pytest.mark.parametrize(
    ("options", "named"),
    [
        (("--numb", "suprapubik"), ("--numb", "'suprapubik'", "Nearest: suprapubic", "--list")),
        (("--weak", "knee extention"), ("Nearest: knee extension",)),
        (("--weak", "quadriceps", "--spared", "knee extension"), ("both reported and --spared",)),
        ((), ("at least one of", "--numb", "--list")),
        (("--numb", "groin", "--after", "latral"), ("--after", "Nearest: lateral")),
        (("--numb", "groin", "--level", "L4-5"), ("--level", "--after")),
        (("--spared", "thumb", "--numb", "groin"), ("--spared", "'thumb'", "Nearest")),
    ],
)
def test_bad_words_end_with_two_and_one_sentence(options: tuple[str, ...], named: tuple[str, ...]) -> None:
    done = furcal("findings", *options)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    for word in named:
        assert word in done.stderr
