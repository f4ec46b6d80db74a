"""Pictures and files that a lesson cannot use, and whatever else may stand in one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from lessons.film import Film
from lessons.scenefile import SIZE_MAX_BYTES
from lessons.script import (
    LESSON_KEYS,
    PICTURE_MAX_BYTES,
    PICTURES,
    STEP_KEYS,
    lesson_from_text,
    looked_over,
    read_lesson,
)
from lessons.stepview import KEYS, PARTS, READERS_OWN
from lessons.view import Camera, Placement
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from tests.lessons.lessonfiles import HEAD, OF_ONE_STEP, PATH, SHOWN, lines, steps_of, text, told, toml


def a_picture(folder: Path, name: str = "scan.png") -> Path:
    Image.new("RGB", (4, 3)).save(folder / name)
    return folder / name


# --- pictures


def with_picture(folder: Path, name: str, says: str = "A scan.") -> list[str]:
    return told(text({"picture": name, "picture_says": says}), folder / "a.toml")


@pytest.mark.parametrize("suffix", [*PICTURES, ".PNG"])
def test_a_picture_beside_the_lesson_or_in_a_folder_there_is_found(tmp_path: Path, suffix: str) -> None:
    (tmp_path / "in").mkdir()
    for name in (f"scan{suffix}", f"in/scan{suffix}", f"in/../scan{suffix}"):
        a_picture(tmp_path, name)
        assert with_picture(tmp_path, name) == []


def climb_absolute(folder: Path) -> str:
    return str(a_picture(folder, "own.png"))


def climb_link(folder: Path) -> str:
    a_picture(folder.parent)
    (folder / "own.png").symlink_to(folder.parent / "scan.png")
    return "own.png"


def climb_linked_folder(folder: Path) -> str:
    a_picture(folder.parent)
    (folder / "in").symlink_to(folder.parent)
    return "in/scan.png"


def climb_dots(folder: Path) -> str:
    a_picture(folder.parent)
    return "../scan.png"


def climb_dots_and_back(folder: Path) -> str:
    a_picture(folder)
    return f"../{folder.name}/../scan.png"


def climb_neighbour(folder: Path) -> str:
    """Its name begins as that of the folder does."""
    beside = folder.with_name(f"{folder.name}_2")
    beside.mkdir()
    a_picture(beside)
    return f"../{beside.name}/scan.png"


CLIMBS = [climb_absolute, climb_link, climb_linked_folder, climb_dots, climb_dots_and_back, climb_neighbour]


@pytest.mark.parametrize("climb", CLIMBS)
def test_a_picture_outside_the_folder_is_refused_though_it_is_there(
    tmp_path: Path, climb: Callable[[Path], str]
) -> None:
    folder = tmp_path / "lesson"
    folder.mkdir()
    name = climb(folder)
    assert (folder / name).is_file() or climb is climb_dots_and_back
    only = with_picture(folder, name)
    assert len(only) == 1
    assert only[0].startswith(f"{folder / 'a.toml'}, step 1 (s1), picture: {name[:40]!r}"[:-1])
    assert only[0].endswith(" leads out of the folder of the lesson; put the file beside it.")


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("none.png", "no such file in the folder of the lesson."),
        ("folder.png", "no such file in the folder of the lesson."),
        ("notes.txt", "a picture's name ends in .png, .jpg, .jpeg."),
        ("text.png", "is no PNG or JPEG picture inside; save it as one."),
        ("empty.png", "is no PNG or JPEG picture inside; save it as one."),
        ("large.png", f"is larger than {PICTURE_MAX_BYTES // 10**6} MB; make it smaller."),
        ("round.png", "cannot be read; name a file in the folder of the lesson."),
        (f"{'x' * 400}.png", "cannot be read; name a file in the folder of the lesson."),
        ("a\0.png", "cannot be read; name a file in the folder of the lesson."),
        ("http://harbour/scan.png", "no such file in the folder of the lesson."),
    ],
)
def test_a_picture_that_cannot_be_used_is_told(tmp_path: Path, name: str, said: str) -> None:
    (tmp_path / "folder.png").mkdir()
    (tmp_path / "notes.txt").write_text("x")
    (tmp_path / "text.png").write_text("x")
    (tmp_path / "empty.png").touch()
    (tmp_path / "round.png").symlink_to("round.png")
    with (tmp_path / "large.png").open("wb") as file:
        file.truncate(PICTURE_MAX_BYTES + 1)
    found = [p for p in with_picture(tmp_path, name) if "control character" not in p]
    assert len(found) == 1
    assert found[0].startswith(f"{tmp_path / 'a.toml'}, step 1 (s1), picture: {name[:40]!r}"[:-1])
    assert found[0].endswith(said)


@pytest.mark.parametrize("says", ["", "  "])
def test_a_picture_must_be_told_in_words(tmp_path: Path, says: str) -> None:
    for name in ("scan.png", "a\nb.png"):
        a_picture(tmp_path, name)
        assert with_picture(tmp_path, name, says) == [
            f"{tmp_path / 'a.toml'}, step 1 (s1), picture_says: say in words what is seen on {name!r}, "
            "for whoever cannot see it."
        ]


# --- files


def said_by(path: Path) -> str:
    with pytest.raises(FurcalError) as caught:
        read_lesson(path)
    return str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    assert said_by(tmp_path / "none.toml") == f"{tmp_path / 'none.toml'}: no such file; check the path."
    assert said_by(tmp_path) == f"{tmp_path}: is a folder; name a file."
    assert said_by(Path("/dev/zero")) == "/dev/zero: is not a plain file; name one."
    assert "cannot be read" in said_by(tmp_path / ("x" * 400))
    bad = tmp_path / "a.toml"
    bad.write_bytes(b"furcal_lesson = 1 # \xff")
    assert said_by(bad) == f"{bad}: is not UTF-8 text."


def test_a_huge_file_is_refused_by_its_size(tmp_path: Path) -> None:
    huge = tmp_path / "huge.toml"
    with huge.open("wb") as file:
        file.truncate(SIZE_MAX_BYTES * 10**6)  # a hole; reading it would fill the memory
    said = f"is larger than {SIZE_MAX_BYTES // 10**6} MB, which no lesson and no bank is; check the path."
    assert said_by(huge) == f"{huge}: {said}"


def test_a_file_with_the_line_ends_of_another_system_is_the_same_lesson(tmp_path: Path) -> None:
    words = text({"words": "a"}) + 'notes = """\none\n\ntwo"""\n'
    path = tmp_path / "a.toml"
    path.write_bytes(words.replace("\n", "\r\n").encode())
    assert read_lesson(path) == lesson_from_text(words, path)


# --- whatever stands in a file

chars = st.characters(exclude_categories=["Cs"])
scalars = (
    st.booleans() | st.integers() | st.floats() | st.text(chars, max_size=8) | st.dates() | st.times()
    | st.sampled_from(["femoral_left", "psoas", "left", "L4-5", "../x.png", "[ward]", 10**400])
)  # fmt: skip
keys = st.text(chars, max_size=5) | st.sampled_from([*KEYS, *STEP_KEYS, *LESSON_KEYS])
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3), max_leaves=6
)
#: Every place of a lesson that holds a value.
PLACES = (
    *((key,) for key in LESSON_KEYS),
    *(("step", key) for key in STEP_KEYS),
    *(("step", "view", key) for key in (*KEYS, *READERS_OWN)),
    *(("step", "view", "camera", f.name) for f in fields(Camera)),
    *(("step", "view", "portal", f.name) for f in fields(Placement)),
    *(("step", "view", "film", f.name) for f in fields(Film)),
    *(("step", "specimen", f.name) for f in fields(Specimen)),
    ("sources", "ward"),
    (),
    ("step",),
)


def put(place: tuple[str, ...], value: Any) -> str:
    """The text of a lesson with a value in some place."""
    step: dict[str, Any] = {**steps_of()[0], "view": {k: dict(SHOWN[k]) for k in ("camera", *PARTS)}, "specimen": {}}
    whole: dict[str, Any] = {**HEAD, "sources": {}, "steps": [step, steps_of({}, {})[1]]}
    if not place:
        return "\n".join([*lines(whole), *(lines(value) if isinstance(value, dict) else [f"x = {toml(value)}"])])
    if place == ("step",):
        whole["steps"][0] = value
        return "\n".join(lines(whole))
    at: dict[str, Any] = step if place[0] == "step" else whole
    inner = place[1:] if place[0] == "step" else place
    for key in inner[:-1]:
        at = at[key]
    at[inner[-1]] = value
    return "\n".join(lines(whole))


def refused_or_whole(words: str) -> None:
    """Either a lesson, or sentences; anything else that is raised fails the test."""
    found = told(words)
    if not found:
        whole = lesson_from_text(words, PATH)
        assert whole.steps
        assert looked_over(words, PATH) == (whole, [])


@given(st.sampled_from(PLACES), values)
def test_any_value_in_any_place_is_taken_or_told(place: tuple[str, ...], value: Any) -> None:
    refused_or_whole(put(place, value))


@given(st.dictionaries(keys, values, max_size=4))
def test_any_table_is_a_lesson_or_told(table: dict[str, Any]) -> None:
    refused_or_whole("\n".join(lines(table)))
    refused_or_whole("\n".join(lines({**HEAD, "steps": [table]})))
    refused_or_whole("\n".join(lines({**HEAD, "steps": [{**steps_of()[0], "view": table}]})))


WHOLE_TEXT = text({"view": SHOWN, **OF_ONE_STEP}, {}, sources={"ward": "x"})


@given(st.text(), st.integers(0, len(WHOLE_TEXT)), st.integers(0, 12))
def test_any_text_and_any_mangled_lesson_is_told(words: str, start: int, cut: int) -> None:
    refused_or_whole(words)
    refused_or_whole(f"furcal_lesson = 1\n{words}")
    refused_or_whole(WHOLE_TEXT[:start] + words + WHOLE_TEXT[start + cut :])


@given(st.sampled_from([p for p in PLACES if p[0:1] == ("step",) and p[1:]]), values)
def test_a_slip_in_one_step_is_told_of_that_one_alone(place: tuple[str, ...], value: Any) -> None:
    """The next step says nothing of its own, so that nothing in it can be wrong."""
    for problem in told(put(place, value)):
        assert problem.startswith(f"{PATH}, step 1")
