"""`furcal lesson` as a person without a display types it: lists, texts, checks, pictures, and bad input."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from lessons import bundled
from lessons.bundled import course, lesson_path
from lessons.caution import CAUTION
from lessons.lessonfile import first_text
from lessons.lessontext import WIDTH
from lessons.prose import known_sources, noted, source
from lessons.scenefile import specimen_table
from lessons.script import read_lesson
from lessons.view import as_table
from tests.house.programs import ROOT, furcal, python
from tests.lessons.lessonfiles import text
from viewer.__main__ import main
from viewer.commands.lesson import SIDES_PX, VERBS
from viewer.export.lesson import KINDS

NO_DISPLAY: dict[str, str | None] = {"DISPLAY": None}
SMALL = (320, 200)
SIZE = ("--size", f"{SMALL[0]}x{SMALL[1]}")


def answered(*words: str) -> str:
    done = furcal("lesson", *words, env=NO_DISPLAY)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def refused(*words: str) -> str:
    done = furcal("lesson", *words)
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    assert len(done.stderr.splitlines()) == 1
    return done.stderr


def written(folder: Path, *steps: dict[str, Any]) -> Path:
    path = folder / "winter.toml"
    path.write_text(text(*steps), encoding="utf-8")
    return path


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() if p.is_file() else b"" for p in folder.rglob("*")}


# --- list, show, sources


def test_the_course_is_listed_in_order() -> None:
    rows = answered("list").splitlines()
    assert len(rows) == len(course())
    for number, (row, one) in enumerate(zip(rows, course(), strict=True), start=1):
        assert row.split()[:2] == [str(number), one.key]
        assert row.endswith(f"{len(one.steps):2} steps {one.minutes:3} min  {one.title}")


def test_the_course_is_listed_for_programs() -> None:
    answer = json.loads(answered("list", "--json"))
    assert set(answer) == {"schema", "lessons"}
    assert answer["schema"] == 1
    keys = ("name", "title", "level", "minutes", "steps")
    wanted = [(o.key, o.title, o.level, o.minutes, len(o.steps)) for o in course()]
    assert [tuple(row[k] for k in keys) for row in answer["lessons"]] == wanted


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_one_broken_lesson_hides_no_other(
    course_of_three: Path, capsys: pytest.CaptureFixture[str], more: tuple[str, ...]
) -> None:
    assert main(["lesson", "list", *more]) == 0
    whole = capsys.readouterr()
    (course_of_three / "02_spoilt.toml").write_text("furcal_lesson = 1\ntitle = “x”\n", encoding="utf-8")
    assert main(["lesson", "list", *more]) == 2
    told = capsys.readouterr()
    if more:
        names = [row["name"] for row in json.loads(whole.out)["lessons"]]
        assert [row["name"] for row in json.loads(told.out)["lessons"]] == [names[0], names[2]]
    else:
        rows = whole.out.splitlines()
        assert [row.split()[0] for row in told.out.splitlines()] == ["1", "3"]
        assert [row.split() for row in told.out.splitlines()] == [rows[0].split(), rows[2].split()]
    (only,) = told.err.splitlines()
    assert only.startswith(f"furcal: {course_of_three / '02_spoilt.toml'}: is not valid TOML: ")


@pytest.fixture
def course_of_three(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A course to spoil."""
    monkeypatch.setattr(bundled, "COURSE", tmp_path)
    for name in ("01_first", "02_spoilt", "03_third"):
        (tmp_path / f"{name}.toml").write_text(text(title=name), encoding="utf-8")
    return tmp_path


def test_a_lesson_is_shown_as_text_with_all_that_it_says() -> None:
    one = course()[0]
    told = answered("show", one.key)
    assert told.rstrip().endswith(CAUTION)
    bare = "".join(told.split())
    wanted = [one.title, *one.objectives, *(s.title for s in one.steps), *(f"({s.id})" for s in one.steps)]
    wanted += [line for s in one.steps for line in (s.question, *noted(s.notes, one.sources))]
    for words in wanted:
        assert "".join(words.split()) in bare
    assert all(len(line) <= WIDTH for line in told.splitlines()[2:-1])
    assert answered("show", "1") == answered("show", str(one.path)) == told


def test_a_lesson_is_shown_for_programs_every_step_whole(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        {
            "view": {"dissection": "dura", "portal": {"at": 0.25}},
            "specimen": {"name": "Birch"},
            "words": "A. [judgement]",
        },
        {"question": "Why?", "answer": "So. [from_memory]", "notes": "Slowly. [judgement]", "body_map": "femoral_left"},
    )
    one = read_lesson(path)
    answer = json.loads(answered("show", str(path), "--json"))
    assert {key: answer[key] for key in ("schema", "name", "title", "level", "minutes")} == {
        "schema": 1, "name": "winter", "title": one.title, "level": one.level, "minutes": one.minutes,
    }  # fmt: skip
    assert answer["objectives"] == list(one.objectives)
    for told, step in zip(answer["steps"], one.steps, strict=True):
        assert set(told) == {f.name for f in fields(step)} - {"picture_says"} | {"sources"}
        for key in ("id", "title", "question", "transition", "body_map"):
            assert told[key] == asdict(step)[key]
        assert (told["view"], told["specimen"]) == (as_table(step.view), specimen_table(step.specimen))
    assert (answer["steps"][0]["words"], answer["steps"][1]["answer"]) == (["A. [1]"], ["So. [1]"])
    assert answer["steps"][1]["notes"] == ["Slowly. [1]", f"[1] {source('judgement', {})}"]
    assert answer["steps"][1]["sources"] == [source("from_memory", {})]
    assert answer["steps"][1]["view"] == answer["steps"][0]["view"]


def test_every_source_that_may_be_cited_is_listed() -> None:
    rows = answered("sources").splitlines()
    assert rows == [f"{key}: {source(key, {})}" for key in sorted(known_sources())]


# --- check, new


def test_a_new_lesson_is_written_and_passes(tmp_path: Path) -> None:
    path = tmp_path / "winter_week.toml"
    assert answered("new", str(path)) == f"{path}: written; open it with: furcal --lesson {path}\n"
    assert path.read_text(encoding="utf-8") == first_text("Winter week")
    (first,) = read_lesson(path).objectives
    assert answered("check", str(path)).splitlines() == [
        f"hint: {path}, objectives: {first!r} is still that of a new lesson; write your own.",
        f"{path}: nothing wrong (2 steps).",
    ]
    path.unlink()
    answered("new", str(path), "--title", 'A "title"')
    assert read_lesson(path).title == 'A "title"'


def test_check_tells_all_problems_of_all_files_and_then_how_many(tmp_path: Path) -> None:
    good, bad = lesson_path("1"), written(tmp_path, {"id": "A", "wrods": "x"}, {"view": {"side": "up"}})
    none = tmp_path / "none.toml"
    done = furcal("lesson", "check", str(bad), str(none), "1")
    assert done.returncode == 2
    assert done.stderr == "furcal: 4 problems found, listed above.\n"
    places = [f"{bad}, step 1, id", f"{bad}, step 1: unknown key", f"{bad}, step 2 (s2), view", f"{none}: no such file"]
    lines = done.stdout.splitlines()
    assert [line.startswith(place) for line, place in zip(lines, places, strict=False)] == [True] * len(places)
    assert lines[len(places) :] == [f"{good}: nothing wrong ({len(read_lesson(good).steps)} steps)."]


def test_check_looks_at_the_body_and_hints_are_no_problem(tmp_path: Path) -> None:
    path = written(tmp_path, {"words": "In 3 of 18."})
    assert answered("check", str(path)).splitlines() == [
        f"hint: {path}, step 1 (s1): a figure without a source: In 3 of 18.",
        f"{path}: nothing wrong (1 steps).",
    ]
    done = furcal("lesson", "check", str(written(tmp_path, {"view": {"camera": "portal"}})))
    assert (done.returncode, done.stderr) == (2, "furcal: 1 problem found, listed above.\n")
    assert done.stdout.startswith(f"{path}, step 1 (s1), view, camera: looks down a portal")


def test_no_drawing_library_is_needed_to_read_and_check(tmp_path: Path) -> None:
    path = written(tmp_path, {})
    calls = [["list"], ["show", "1"], ["sources"], ["check", str(path)], ["new", str(tmp_path / "b.toml")]]
    code = (
        "import sys; from viewer.__main__ import main\n"
        f"for words in {calls!r}: assert main(['lesson', *words]) == 0\n"
        "print([n for n in ('vtk', 'vtkmodules', 'pyvista', 'PySide6', 'PIL') if n in sys.modules])"
    )
    done = python("-c", code, env=NO_DISPLAY)
    assert done.stdout.splitlines()[-1] == "[]", done.stderr


# --- pictures


def pictures(folder: Path) -> dict[str, Any]:
    found = {}
    for path in sorted(folder.iterdir()):
        with Image.open(path) as image:
            assert (image.format, image.size) == ("PNG", SMALL)
            found[path.name] = np.asarray(image.convert("RGB")).astype(int)
    return found


@pytest.fixture
def three(tmp_path: Path) -> Path:
    """A body, a film, a picture of its own."""
    Image.new("RGB", SMALL, (200, 30, 90)).save(tmp_path / "scan.png")
    return written(
        tmp_path,
        {"id": "body", "view": {"dissection": "dura"}},
        {"id": "film", "view": {"film": {"view": "left"}}},
        {"id": "own", "picture": "scan.png", "picture_says": "A scan."},
    )


def test_a_folder_of_pictures_holds_the_steps_that_were_asked_for(three: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    words = ("export", str(three), "--to", "pictures", "--out", str(out), *SIZE)
    assert answered(*words) == f"{out}: written.\n"
    whole = pictures(out)
    assert list(whole) == ["01-body.png", "02-film.png", "03-own.png"]
    assert (whole["03-own.png"] == (200, 30, 90)).all()
    assert all(len(np.unique(whole[name].reshape(-1, 3), axis=0)) > 50 for name in ("01-body.png", "02-film.png"))
    assert (whole["02-film.png"].max(axis=2) - whole["02-film.png"].min(axis=2)).mean() < (
        whole["01-body.png"].max(axis=2) - whole["01-body.png"].min(axis=2)
    ).mean()  # a film is grey
    # Another call replaces the folder as a whole, and a step is the same whatever is written beside it.
    answered(*words, "--steps", "3, 2")
    again = pictures(out)
    assert list(again) == ["02-film.png", "03-own.png"]
    assert all((again[name] == whole[name]).all() for name in again)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out", "scan.png", "winter.toml"]


@pytest.mark.parametrize("name", ["notes.txt", ".hidden", "1-a.png", "01-A.png", "01-a.jpg", "01-in.png/notes.txt"])
def test_a_folder_with_other_things_is_not_touched(tmp_path: Path, name: str) -> None:
    out = tmp_path / "out"
    (out / name).parent.mkdir(parents=True)
    (out / name).write_text("mine")
    (out / "01-front.png").write_text("ours, perhaps")
    before = contents(tmp_path)
    line = refused("export", "1", "--to", "pictures", "--out", str(out), *SIZE)
    assert f"{out}: holds {name.partition('/')[0]}, which furcal did not write; name a new or empty folder." in line
    assert contents(tmp_path) == before


def test_a_step_that_cannot_be_shown_leaves_no_folder_and_an_older_one_as_it_was(three: Path, tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(text({"picture": "scan.png", "picture_says": "A scan."}, {"view": {"camera": "portal"}}))
    out = tmp_path / "out"
    words = ("export", str(path), "--to", "pictures", "--out", str(out), *SIZE)
    assert f"{path}, step 2 (s2), view, camera: looks down a portal" in refused(*words)
    assert not out.exists()
    answered(*words, "--steps", "1")
    before = contents(tmp_path)
    refused(*words)
    assert contents(tmp_path) == before


@pytest.mark.parametrize("older", [False, True])
def test_nothing_half_written_is_left_after_an_interrupt(tmp_path: Path, older: bool) -> None:
    """Ctrl+C while the second step is drawn: what stood there stays, and nothing else does."""
    path = written(tmp_path, *({"view": {"camera": {"name": "front", "turn_deg": n}}} for n in range(40)))
    out = tmp_path / "out"
    if older:
        out.mkdir()
        (out / "01-old.png").write_text("of an earlier call")
    before = contents(tmp_path)
    words = ["-m", "viewer", "lesson", "export", str(path), "--to", "pictures", "--out", str(out), *SIZE]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, *words, "--progress-lines"], env=env, cwd=ROOT, stderr=subprocess.PIPE, text=True
    ) as running:
        assert running.stderr is not None
        assert running.stderr.readline().startswith("0 ")
        assert running.stderr.readline().startswith("2 ")
        assert contents(tmp_path) != before  # it writes beside its target
        running.send_signal(signal.SIGINT)
        rest = running.stderr.read()
        assert running.wait(timeout=60) == 130
    assert rest.splitlines()[-1] == "furcal: stopped."
    assert "Traceback" not in rest
    assert contents(tmp_path) == before


def test_whoever_listens_is_told_the_share_that_is_done(three: Path, tmp_path: Path) -> None:
    words = ("export", str(three), "--to", "pictures", "--out", str(tmp_path / "out"), "--steps", "3", *SIZE)
    done = furcal("lesson", *words, "--progress-lines")
    assert (done.returncode, done.stderr) == (0, "0 Step 3\n")


# --- wrong use


TO = ("--to", "pictures", "--out", "out")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), ("VERB",)),
        (("lst",), ("unknown", "'lst'", "Nearest: list", *VERBS)),
        (("list", "femoral"), ("furcal lesson list: takes no name.",)),
        (("sources", "femoral"), ("furcal lesson sources: takes no name.",)),
        (("show",), ("furcal lesson show: name one lesson.",)),
        (("show", "1", "2"), ("furcal lesson show: name one lesson.",)),
        (("show", "femorall"), ("unknown lesson 'femorall'", "Nearest: femoral", ".toml")),
        (("show", "0"), ("unknown lesson '0'",)),
        (("show", "none.toml"), ("none.toml: no such file",)),
        (("show", "."), (".: is a folder; name a file.",)),
        (("show", "/dev/zero"), ("/dev/zero: is not a plain file",)),
        (("show", "pyproject.toml"), ("pyproject.toml: is no lesson",)),
        (("show", "1", "--title", "x"), ("--title goes with new only",)),
        (("check",), ("furcal lesson check: name at least one file.",)),
        (("check", "1", "--json"), ("furcal lesson check: --json goes with list and show only.",)),
        (("new",), ("furcal lesson new: name one lesson.",)),
        (("new", "a.txt"), ("a.txt: the name of a lesson file ends in .toml.",)),
        (("new", "pyproject.toml"), ("pyproject.toml: is there already",)),
        (("new", "nowhere/a.toml"), ("nowhere: no such folder",)),
        (("new", "a.toml", "--title", " "), ("a.toml, title: is empty",)),
        (("list", "--steps", "1"), ("--steps goes with export only",)),
        (("export", "1"), ("--to (", *KINDS, "--out PATH")),
        (("export", "1", "--to", "pictures"), ("--out PATH",)),
        (("export", "1", "--to", "film", "--out", "out"), ("--to", "unknown", "'film'", *KINDS)),
        (("export", *TO), ("furcal lesson export: name one lesson.",)),
        (("export", "1", *TO, "--steps", "0"), ("--steps: '0' names no steps; this lesson has 1 to 1",)),
        (("export", "1", *TO, "--steps", "3-2"), ("--steps: '3-2'",)),
        (("export", "1", *TO, "--steps", "2-99"), ("--steps: '2-99'",)),
        (("export", "1", *TO, "--steps", "1,,2"), ("--steps: ''",)),
        (("export", "1", *TO, "--steps", ""), ("--steps: ''",)),
        (("export", "1", *TO, "--steps=-1"), ("--steps: '-1'",)),
        (("export", "1", *TO, "--size", "big"), ("--size: 'big' is no size", "1920x1080")),
        (("export", "1", *TO, "--size", f"{SIDES_PX[0] - 1}x400"), (f"{SIDES_PX[0]} to {SIDES_PX[1]}",)),
        (("export", "1", *TO, "--size", f"400x{SIDES_PX[1] + 1}"), (f"{SIDES_PX[0]} to {SIDES_PX[1]}",)),
        (
            ("export", "1", "--to", "pictures", "--out", "pyproject.toml"),
            ("is a file; name a folder.",),
        ),
        (("export", "1", "--to", "pictures", "--out", "."), (".: is the folder you are in",)),
        (("export", "1", "--to", "pictures", "--out", "nowhere/out"), ("nowhere: no such folder",)),
        *(
            (("export", "1", "--to", name, "--out", "a.txt"), ("a.txt:", kind.suffix))
            for name, kind in KINDS.items()
            if kind.suffix
        ),
        (("export", "1", *TO, "--sizes", "1"), ("unknown option '--sizes'", "Nearest: --size")),
    ],
)
def test_a_wrong_use_is_one_sentence_and_writes_nothing(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    said: tuple[str, ...],
) -> None:
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    before = contents(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert main(["lesson", *words]) == 2
    told = capsys.readouterr()
    assert (told.out, len(told.err.splitlines())) == ("", 1)
    for part in said:
        assert part in told.err
    assert contents(tmp_path) == before


def test_help_names_every_verb_and_every_kind() -> None:
    told = answered("--help")
    for word in (*VERBS, *KINDS, CAUTION[:20]):
        assert word in told


def test_bad_words_of_a_lesson_are_told_before_anything_is_drawn(tmp_path: Path) -> None:
    path = written(tmp_path, {"view": {"side": "up"}})
    line = refused("export", str(path), "--to", "pictures", "--out", str(tmp_path / "out"))
    assert f"{path}, step 1 (s1), view: unknown side 'up'. Nearest:" in line or "unknown side 'up'. Legal: both" in line
    assert list(tmp_path.iterdir()) == [path]
