"""A mistake in a table is told by file, place and legal words, from the command line too."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from meshes import portal
from meshes.courses import read_courses
from meshes.errors import FurcalError
from meshes.posture import reference_landmarks
from meshes.reference import COURSE_TABLES, SOLID_TABLES
from meshes.solids import read_parts
from meshes.solidtable import read_solids
from meshes.tables import ANATOMY
from tests.house.programs import ROOT, furcal

Mistake = Callable[[str], str]


def first(pattern: str, put: str) -> Mistake:
    """Replaces the first match; it must be there."""

    def make(text: str) -> str:
        changed, count = re.subn(pattern, put, text, count=1)
        assert count == 1
        return changed

    return make


MISTAKES = {
    "unknown landmark": (first(r'\bat = "[^"]+"', 'at = "elbow"'), "unknown landmark 'elbow'"),
    "unknown source": (first(r'source = "[^"]+"', 'source = "hearsay"'), "unknown source 'hearsay'"),
    "unknown direction": (first(r"\b(lateral|medial|front|back) =", "sideways ="), "unknown key 'sideways'"),
    "no number": (first(r"\b(radius|half_width) = [0-9.]+", r'\1 = "thick"'), "'thick'"),
    "unknown kind": (first(r'kind = "[^"]+"', 'kind = "sinew"'), "unknown kind 'sinew'"),
    "unknown layer": (first(r'layer = "[^"]+"', 'layer = "deep"'), "unknown layer 'deep'"),
}


def read(path: Path) -> None:
    """Read a table as building a body does."""
    landmarks = reference_landmarks()
    if path.name in COURSE_TABLES:
        read_courses(path, landmarks)
    else:
        for row in read_solids(path):
            read_parts(row.parts, landmarks, row.where, row.read)


@pytest.mark.parametrize("mistake", MISTAKES)
@pytest.mark.parametrize("table", [*SOLID_TABLES, *COURSE_TABLES])
def test_a_mistake_is_named(tmp_path: Path, table: str, mistake: str) -> None:
    make, named = MISTAKES[mistake]
    path = tmp_path / table
    path.write_text(make((ANATOMY / table).read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises(FurcalError) as caught:
        read(path)
    said = str(caught.value)
    assert said.startswith(f"{path}, [")
    assert named in said
    assert "\n" not in said


@pytest.mark.parametrize("table", [*SOLID_TABLES, *COURSE_TABLES])
def test_without_a_mistake_the_table_is_read(table: str) -> None:
    read(ANATOMY / table)


def test_an_unknown_approach_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (ANATOMY / "approaches.toml").read_text(encoding="utf-8")
    (tmp_path / "approaches.toml").write_text(first(r"\[lateral\]", "[sideways]")(text), encoding="utf-8")
    monkeypatch.setattr(portal, "ANATOMY", tmp_path)
    with pytest.raises(FurcalError, match=r"approaches\.toml.*'sideways'.*posterolateral"):
        portal.approaches.__wrapped__()


@pytest.mark.parametrize(
    ("table", "mistake", "named"),
    [
        (SOLID_TABLES[0], MISTAKES["unknown landmark"][0], ("[", "unknown landmark 'elbow'", "Legal:")),
        (COURSE_TABLES[-1], MISTAKES["unknown landmark"][0], ("[", "unknown landmark 'elbow'", "Legal:")),
        ("landmarks.csv", first("^name,", "names,"), ("line 1", "name, frame")),
        (
            "landmarks.csv",
            first(r"\npromontory,pelvis,0\.0", "\npromontory,pelvis,left"),
            ("line 3, lateral_mm", "'left'"),
        ),
        ("landmarks.csv", first(r"\npromontory,pelvis", "\npromontory,elbow"), ("line 3", "'elbow'", "pelvis")),
        ("ends.toml", first(r"top_mm = ", 'top_mm = "high" # '), ("top_mm", "'high'")),
    ],
)
def test_the_program_says_it_in_one_line(tmp_path: Path, table: str, mistake: Mistake, named: tuple[str, ...]) -> None:
    for room in ("meshes", "lessons", "viewer"):
        shutil.copytree(ROOT / room, tmp_path / room, ignore=shutil.ignore_patterns("__pycache__"))
    path = tmp_path / "meshes" / "anatomy" / table
    path.write_text(mistake(path.read_text(encoding="utf-8")), encoding="utf-8")
    words = ["dock", "--level", "L4-5", "--side", "left", "--approach", "lateral", "--at", "0.5", "--radius", "11"]
    done = furcal(*words, env={"PYTHONPATH": str(tmp_path), "FURCAL_CACHE": str(tmp_path / "cache")}, cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1), done.stderr
    for word in (table, *named):
        assert word in done.stderr
