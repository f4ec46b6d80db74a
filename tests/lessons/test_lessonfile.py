"""Edits of a lesson file change what they should and not a letter more, and what was written comes back exactly."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons import lessonfile as edits
from lessons.bundled import course_files
from lessons.caution import CAUTION
from lessons.lesson import TRANSITIONS, Lesson, Step
from lessons.lessonfile import TEXTS, first_text, new_lesson
from lessons.lessonparts import taken_apart
from lessons.reading import CONTROL, text_of
from lessons.script import TITLE_MAX, lesson_from_text, read_lesson
from lessons.view import Camera, Placement, View
from lessons.wholetext import write_text
from meshes.errors import FurcalError
from meshes.specimen import ALDER, Specimen
from tests.lessons.anyview import lines, specimens, views, words
from tests.lessons.lessonfiles import PATH, steps_of, text
from tests.lessons.lessonfiles import lines as keys_of

#: Comments, decoys, tables in every way that TOML has, sources at the end.
HARBOUR = '''\
# A lesson with comments. [[steps]]
furcal_lesson = 1   # the schema
title = "Winter"
level = "resident"
minutes = 5
objectives = [
  "[[steps]]",  # no step
]

# the first step
# in two lines
[[steps]]
id = "one" # once
title = "One"
view.camera = { name = "left" }
question = """
[[steps]]
id = "none"
# no comment"""

# stays behind the first step

[[ steps ]]
id = 'two'
title = "Two"
[steps.view]   # a table
hidden = [
  "aorta", # a big one
]
[steps.view.portal]
at = 0.25
# above the third
[["steps"]]
title = "Three"
id = "three"
measured = 1
  [steps.specimen]
  name = "Birch"

# where it comes from
[sources]
ward = "Sheet"
'''.replace("measured = 1\n", "")
STEPS = ("one", "two", "three")
SCENE = View(Camera("front", turn_deg=30.0), dissection="dura", hidden=frozenset({"l4"}), portal=Placement(at=0.1))
BIRCH = Specimen(name="Birch", psoas_scale=1.3)


def read(words: str) -> Lesson:
    return lesson_from_text(words, PATH)


# --- the parts of a text


def test_a_text_is_taken_apart_at_its_steps_alone() -> None:
    parts = taken_apart(HARBOUR)
    assert parts.with_steps(parts.steps) == HARBOUR
    assert parts.head.endswith("]\n\n")
    assert parts.tail.startswith("# where it comes from\n[sources]")
    starts = ("# the first step\n# in two lines\n[[steps]]", "[[ steps ]]", '# above the third\n[["steps"]]')
    assert len(parts.steps) == len(starts)
    for step, start in zip(parts.steps, starts, strict=True):
        assert step.startswith(start)
    assert parts.steps[0].endswith("# stays behind the first step\n\n")


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("path", [None, *course_files()], ids=lambda p: p.stem if p else "harbour")
def test_the_parts_are_the_whole(path: Path | None, ends: str) -> None:
    whole = (path.read_text(encoding="utf-8") if path else HARBOUR).replace("\n", ends)
    parts = taken_apart(whole)
    assert parts.with_steps(parts.steps) == whole
    assert len(parts.steps) == len(lesson_from_text(whole, path or PATH).steps)


def test_steps_in_one_list_cannot_be_edited_and_none_is_lost() -> None:
    inline = "\n".join([text().split("\n\n")[0], *keys_of({"steps": steps_of({}, {})})])
    assert len(read(inline).steps) == len(steps_of({}, {}))
    for edit in EDITS.values():
        with pytest.raises(FurcalError, match=r"begin each with the line \[\[steps\]\]"):
            edit(inline, 0)


# --- each edit, and what it leaves

EDITS: dict[str, Callable[[str, int], str]] = {
    "step": lambda t, at: edits.with_step(t, at, SCENE, BIRCH, "New"),
    "scene": lambda t, at: edits.with_scene(t, at, SCENE, BIRCH),
    "words": lambda t, at: edits.with_text(t, at, "words", "Other\n\n- words"),
    "no words": lambda t, at: edits.with_text(t, at, "words", " "),
    "title": lambda t, at: edits.with_text(t, at, "title", "Another"),
    "transition": lambda t, at: edits.with_transition(t, at, "cut"),
    "copy": edits.with_copy,
    "drop": edits.without_step,
    "move": lambda t, at: edits.moved_step(t, at, (at + 1) % len(STEPS)),
}
#: Edits that change one step and leave the others where they are.
INSIDE = ("scene", "words", "no words", "title", "transition")


@pytest.mark.parametrize("at", range(len(STEPS)))
@pytest.mark.parametrize("name", EDITS)
def test_an_edit_leaves_every_other_step_letter_by_letter(name: str, at: int) -> None:
    before = taken_apart(HARBOUR)
    after = taken_apart(EDITS[name](HARBOUR, at))
    assert (after.head, after.tail) == (before.head, before.tail)
    kept = [step.rstrip() for i, step in enumerate(before.steps) if name in ("step", "copy", "move") or i != at]
    now = [step.rstrip() for step in after.steps]
    assert all(now.count(step) == 1 for step in kept)
    if name != "move":
        assert [step for step in now if step in kept] == kept
    if name in INSIDE:
        others = [i for i in range(len(STEPS)) if i != at]
        assert [after.steps[i] for i in others] == [before.steps[i] for i in others]


@pytest.mark.parametrize("at", range(len(STEPS)))
@pytest.mark.parametrize("name", INSIDE)
def test_a_step_that_is_changed_keeps_its_comments(name: str, at: int) -> None:
    """Those of a view that is written anew go with it."""
    before, after = taken_apart(HARBOUR).steps[at], taken_apart(EDITS[name](HARBOUR, at)).steps[at]
    comments = ["# the first step\n# in two lines", "# once", "# stays behind the first step", "# above the third"]
    comments += [] if name == "scene" else ["# a table", "# a big one"]
    for comment in comments:
        assert (comment in before) == (comment in after)


@pytest.mark.parametrize("at", range(len(STEPS)))
def test_each_edit_says_what_it_was_for(at: int) -> None:
    steps = {name: read(edit(HARBOUR, at)).steps for name, edit in EDITS.items()}
    old = read(HARBOUR).steps
    assert [s.id for s in steps["step"]] == [*STEPS[:at], "new", *STEPS[at:]]
    assert (steps["step"][at].view, steps["step"][at].specimen, steps["step"][at].title) == (SCENE, BIRCH, "New")
    assert (steps["scene"][at].view, steps["scene"][at].specimen) == (SCENE, BIRCH)
    assert steps["words"][at].words == "Other\n\n- words"
    assert steps["no words"][at].words == ""
    assert steps["title"][at].title == "Another"
    assert steps["transition"][at].transition == "cut"
    assert [s.id for s in steps["copy"]] == [*STEPS[: at + 1], f"{STEPS[at]}_2", *STEPS[at + 1 :]]
    assert steps["copy"][at + 1].question == old[at].question
    assert [s.id for s in steps["drop"]] == [s for s in STEPS if s != STEPS[at]]
    moved = [s for s in STEPS if s != STEPS[at]]
    moved.insert((at + 1) % len(STEPS), STEPS[at])
    assert [s.id for s in steps["move"]] == moved


def test_the_only_step_stays() -> None:
    with pytest.raises(FurcalError, match="at least one step"):
        edits.without_step(text(), 0)


def test_the_usual_transition_is_left_out() -> None:
    cut = edits.with_transition(text(), 0, "cut")
    assert edits.with_transition(cut, 0, TRANSITIONS[0]) == text()


@settings(max_examples=30)
@given(words, st.lists(words, max_size=3))
def test_a_new_step_gets_an_id_of_its_own(title: str, others: list[str]) -> None:
    whole = text()
    for name in [*others, title, title]:
        whole = edits.with_step(whole, 0, View(), ALDER, name)
    ids = [step.id for step in read(whole).steps]
    assert len(set(ids)) == len(others) + 3


# --- what was written comes back

paragraphs = st.lists(lines.filter(lambda t: "[" not in t), max_size=4).map("\n".join)
hard = st.sampled_from(['"""', "'''", '\\"""\\', '""""', "\\", "a\\\n\\b", '"', "x\ty", "# no comment", "a = 1"])
told = paragraphs | hard | st.tuples(paragraphs, hard, paragraphs).map("\n".join)
decoys = st.just('A line.\n[[steps]]\nid = "none"\n[sources]\n# no comment')
scripts = st.fixed_dictionaries(
    {"title": words, "words": told, "notes": told, "question": words | decoys, "answer": told, "view": views(),
     "specimen": specimens(), "transition": st.sampled_from(TRANSITIONS)}
)  # fmt: skip


@settings(max_examples=30)
@given(st.lists(scripts, min_size=1, max_size=3), st.data())
def test_a_lesson_written_by_edits_is_read_as_it_was_meant(script: list[dict[str, Any]], data: st.DataObject) -> None:
    """Steps put in from the last to the first, then each text in whatever order."""
    whole = first_text("Winter")
    first = len(read(whole).steps)
    for one in reversed(script):
        whole = edits.with_step(whole, 0, one["view"], one["specimen"], one["title"])
    for _ in range(first):
        whole = edits.without_step(whole, len(script))
    for at, one in enumerate(script):
        for key in data.draw(st.permutations([k for k in TEXTS if k != "answer"])):
            whole = edits.with_text(whole, at, key, one[key])
        whole = edits.with_text(whole, at, "answer", one["answer"])
        whole = edits.with_transition(whole, at, one["transition"])
    steps = read(whole).steps
    for one, step in zip(script, steps, strict=True):
        bare = {key: one[key].strip() for key in TEXTS}
        assert step == Step(
            id=step.id, view=one["view"], specimen=one["specimen"], transition=one["transition"], **bare
        )


@given(st.text())
def test_whatever_is_typed_is_kept_but_for_what_no_page_can_hold(typed: str) -> None:
    question = read(edits.with_text(text(), 0, "question", typed)).steps[0].question
    clean = CONTROL.sub("", typed.replace("\r\n", "\n").replace("\r", "\n"))
    assert question == clean.strip()


# --- files


def test_a_new_lesson_can_be_read_and_says_its_caution(tmp_path: Path) -> None:
    path = tmp_path / "07_winter-week.toml"
    new_lesson(path)
    one = read_lesson(path)
    assert one.title == "07 winter week"
    assert len(one.steps) == 2
    assert one.steps[1].question
    assert CAUTION in path.read_text(encoding="utf-8")
    assert list(tmp_path.iterdir()) == [path]


@given(words)
def test_a_new_lesson_takes_any_title(title: str) -> None:
    assert read(first_text(title)).title == title.strip()


@pytest.mark.parametrize(
    "name", [".toml", "-.toml", f"{'x' * (TITLE_MAX + 20)}.toml", "ä ö.toml", "A.TOML", '"a\\.toml']
)
def test_a_new_lesson_is_named_after_whatever_its_file_is_called(tmp_path: Path, name: str) -> None:
    path = tmp_path / "in" / name
    path.parent.mkdir()
    if not path.suffix:
        with pytest.raises(FurcalError, match=r"ends in \.toml"):
            new_lesson(path)
        return
    new_lesson(path)
    assert read_lesson(path).title


@pytest.mark.parametrize(
    ("name", "title", "said"),
    [
        (".toml", "", ".toml: the name of a lesson file ends in .toml."),
        ("a.txt", "", "a.txt: the name of a lesson file ends in .toml."),
        ("there.toml", "", "there.toml: is there already; name another file."),
        ("none/a.toml", "", "none: no such folder; make it first."),
        ("a.toml", " ", "a.toml, title: is empty; write a text."),
        ("a.toml", "x" * (TITLE_MAX + 1), f"{TITLE_MAX} are the most."),
        ("a.toml", "\x1b", "a.toml, title: holds the control character '\\x1b'; take it out."),
        ("a.toml", "\udcff", "a.toml, title: holds the control character '\\udcff'; take it out."),
        (f"{'x' * 300}.toml", "", "cannot be written (File name too long); make room or choose another folder."),
    ],
)
def test_a_new_lesson_that_cannot_be_is_refused_and_nothing_written(
    tmp_path: Path, name: str, title: str, said: str
) -> None:
    (tmp_path / "there.toml").write_text("mine")
    with pytest.raises(FurcalError) as caught:
        new_lesson(tmp_path / name, title)
    assert str(caught.value).endswith(said)
    assert [p.read_text() for p in tmp_path.iterdir()] == ["mine"]


def test_a_file_is_written_through_a_link(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    real, link = tmp_path / "in" / "a.toml", tmp_path / "a.toml"
    real.write_text("x")
    link.symlink_to(real)
    write_text(link, "y\r\nz")
    assert link.is_symlink()
    assert real.read_bytes() == b"y\r\nz"
    assert text_of(link) == "y\r\nz"
    assert list((tmp_path / "in").iterdir()) == [real]
