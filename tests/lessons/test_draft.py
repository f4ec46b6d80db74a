"""A lesson that is being written: each edit does one thing, can be undone to the byte, and loses nothing."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from lessons.draft import EDITS_MAX, Draft
from lessons.lesson import TRANSITIONS, Step
from lessons.lessonfile import TEXTS
from lessons.script import read_lesson
from lessons.view import Camera, Placement, View
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from tests.lessons.anyview import lines, specimens, views
from tests.lessons.lessonfiles import SHOWN, text

SCENE = View(Camera("left"), dissection="dura", hidden=frozenset({"aorta"}), portal=Placement(at=0.25))
BIRCH = Specimen(name="Birch", psoas_scale=1.3)
#: Steps that take over from one another in every way there is.
STEPS: tuple[dict[str, Any], ...] = (
    {"view": SHOWN, "specimen": {"name": "Birch"}, "words": "One.", "question": "Why?", "answer": "So."},
    {"view": {"portal": {"at": 0.75}, "hidden": ["l4"]}},
    {"view": {"film": False, "glassy": ["l4"]}, "notes": "Slowly."},
    {"fresh": True, "view": {"portal": True}},
    {"view": {"labels": False}, "transition": "cut"},
)
WHOLE = f"# kept\n{text(*STEPS)}# the end\n"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "winter.toml"
    file.write_text(WHOLE, encoding="utf-8", newline="")
    return file


def scenes(draft: Draft) -> dict[str, tuple[View, Specimen]]:
    return {step.id: (step.view, step.specimen) for step in draft.lesson.steps}


def ids(draft: Draft) -> list[str]:
    return [step.id for step in draft.lesson.steps]


#: Edits that change the file, whichever step they are about.
EDITS: dict[str, Callable[[Draft], Any]] = {
    "keep_step": lambda d: d.keep_step(SCENE, BIRCH, "Kept"),
    "keep_scene": lambda d: d.keep_scene(SCENE, BIRCH),
    "write": lambda d: d.write("notes", "Point\nat it."),
    "title": lambda d: d.write("title", "Another"),
    "come_by": lambda d: d.come_by("follow"),
    "copy_step": Draft.copy_step,
    "drop_step": Draft.drop_step,
    "up or down": lambda d: d.move_step(-1 if d.index else 1),
}


@pytest.mark.parametrize("at", range(len(STEPS)))
@pytest.mark.parametrize("name", EDITS)
def test_an_edit_never_changes_what_another_step_shows(path: Path, name: str, at: int) -> None:
    draft = Draft(path, at)
    before, own = scenes(draft), draft.step.id
    EDITS[name](draft)
    after = scenes(draft)
    others = set(before) - {own}
    assert {i: after[i] for i in others} == {i: before[i] for i in others}
    if name == "keep_scene":
        assert after[own] == (SCENE, BIRCH)
    elif name != "drop_step":
        assert after[own] == before[own]
    if name == "copy_step":
        assert after[draft.step.id] == before[own]
        assert draft.step == replace(draft.lesson.steps[at], id=draft.step.id)
    if name == "keep_step":
        assert (draft.step.view, draft.step.specimen, draft.step.title) == (SCENE, BIRCH, "Kept")


@pytest.mark.parametrize("at", range(len(STEPS)))
@pytest.mark.parametrize("name", EDITS)
def test_an_edit_keeps_comments_and_order_and_stands_in_the_file(path: Path, name: str, at: int) -> None:
    draft = Draft(path, at)
    order = ids(draft)
    EDITS[name](draft)
    assert path.read_bytes().decode() == draft.text
    assert draft.lesson == read_lesson(path)
    assert draft.text.startswith("# kept\n")
    assert "# the end" in draft.text or (name == "drop_step" and at == len(STEPS) - 1)
    if name != "up or down":
        assert [i for i in ids(draft) if i in order] == [i for i in order if i in ids(draft)]


@pytest.mark.parametrize("at", range(len(STEPS)))
@pytest.mark.parametrize("name", EDITS)
def test_undo_gives_the_file_back_to_the_byte_and_redo_the_edit(path: Path, name: str, at: int) -> None:
    path.write_bytes(WHOLE.replace("\n", "\r\n").encode())
    before = path.read_bytes()
    draft = Draft(path, at)
    lesson = draft.lesson
    assert not draft.can_undo
    EDITS[name](draft)
    after, index = path.read_bytes(), draft.index
    assert (draft.can_undo, draft.can_redo) == (True, False)
    assert draft.undo()
    assert path.read_bytes() == before
    assert (draft.lesson, draft.index) == (lesson, at)
    assert (draft.can_undo, draft.can_redo) == (False, True)
    assert draft.redo()
    assert (path.read_bytes(), draft.index) == (after, index)
    assert not draft.redo()


def test_nothing_to_take_back_leaves_the_file_alone(path: Path) -> None:
    draft = Draft(path)
    path.chmod(0o400)
    stamp = path.stat().st_mtime_ns
    assert not draft.undo()
    assert not draft.redo()
    draft.write("title", draft.step.title)
    draft.write("words", f" {draft.step.words}\n")
    draft.come_by(draft.step.transition)
    draft.move_step(-1)
    assert not draft.can_undo
    assert path.stat().st_mtime_ns == stamp


def test_an_edit_after_undo_forgets_what_was_undone(path: Path) -> None:
    draft = Draft(path)
    draft.write("title", "A")
    draft.undo()
    draft.write("title", "B")
    assert not draft.can_redo
    assert draft.undo()
    assert draft.text == WHOLE


def test_moving_stops_at_the_ends_and_the_step_stays_chosen(path: Path) -> None:
    draft = Draft(path, 1)
    for by, place in ((-9, 0), (1, 1), (99, len(STEPS) - 1)):
        draft.move_step(by)
        assert (draft.index, draft.step.id) == (place, "s2")


def test_the_last_step_cannot_be_dropped(path: Path) -> None:
    draft = Draft(path)
    for _ in STEPS[1:]:
        draft.drop_step()
    with pytest.raises(FurcalError, match="at least one step"):
        draft.drop_step()
    assert len(draft.lesson.steps) == 1
    while draft.undo():
        pass
    assert path.read_bytes().decode() == WHOLE


def test_so_many_edits_are_kept_and_no_more(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text(text())
    draft = Draft(path)
    for n in range(EDITS_MAX + 3):
        draft.write("title", f"T{n}")
    count = 0
    while draft.undo():
        count += 1
    assert count == EDITS_MAX
    assert draft.step.title == "T2"


# --- what goes wrong leaves all as it was


@contextmanager
def unchanged(draft: Draft, said: str) -> Iterator[None]:
    """What is done is refused; the file, the lesson and what can be undone are as before, and no other file is left."""
    folder = {p: p.read_bytes() for p in draft.path.parent.iterdir()}
    before = (draft.text, draft.lesson, draft.index, draft.can_undo, draft.can_redo)
    with pytest.raises(FurcalError, match=said):
        yield
    assert (draft.text, draft.lesson, draft.index, draft.can_undo, draft.can_redo) == before
    assert {p: p.read_bytes() for p in draft.path.parent.iterdir()} == folder


WORKS: dict[str, Callable[[Draft], Any]] = {**EDITS, "undo": Draft.undo, "redo": Draft.redo}


@pytest.fixture
def draft(path: Path) -> Draft:
    """One that has something to undo and something to redo."""
    made = Draft(path, 1)
    made.write("words", "Some.")
    made.write("notes", "Some.")
    made.undo()
    return made


@pytest.mark.parametrize("name", WORKS)
def test_what_another_program_wrote_is_never_lost(draft: Draft, name: str) -> None:
    other = draft.text.replace("Some.", "By another.")
    draft.path.write_text(other, encoding="utf-8")
    with unchanged(draft, "another program has changed it"):
        WORKS[name](draft)
    assert draft.path.read_text(encoding="utf-8") == other
    assert draft.reread()
    assert draft.step.words == "By another."
    assert not draft.reread()
    draft.undo()
    assert draft.step.words == "Some."


@pytest.mark.parametrize("words", ["furcal_lesson = 2", "no TOML", ""])
def test_what_another_program_broke_is_told_and_the_lesson_stays(draft: Draft, words: str) -> None:
    draft.path.write_text(words)
    with unchanged(draft, f"^{draft.path}"):
        draft.reread()


@pytest.mark.parametrize("name", WORKS)
@pytest.mark.parametrize(
    ("call", "number", "says"),
    [("os.fsync", 28, "No space left on device"), ("pathlib.Path.open", 13, "Permission denied"),
     ("pathlib.Path.replace", 30, "Read-only file system")],
)  # fmt: skip
def test_a_disk_that_does_not_let_us_write_leaves_all_as_it_was(
    draft: Draft, monkeypatch: pytest.MonkeyPatch, name: str, call: str, number: int, says: str
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(number, says)

    with unchanged(draft, f"^{draft.path}.*{says}"), monkeypatch.context() as patch:
        patch.setattr(call, refuse)
        WORKS[name](draft)
    WORKS[name](draft)
    assert draft.path.read_bytes().decode() == draft.text


@pytest.mark.parametrize("work", [lambda d: d.write("title", " "), lambda d: d.write("words", "[no_such_source]")])
def test_an_edit_that_would_break_the_lesson_is_refused(draft: Draft, work: Callable[[Draft], Any]) -> None:
    with unchanged(draft, "step 2 "):
        work(draft)


def test_question_and_answer_are_written_and_go_in_any_order(path: Path) -> None:
    draft = Draft(path)
    answer = draft.step.answer
    draft.write("question", "")
    assert (draft.step.question, draft.step.answer) == ("", answer)
    assert answer
    draft.write("answer", "")
    draft.write("answer", "Here.")
    draft.write("question", "Where?")
    assert (draft.step.question, draft.step.answer) == ("Where?", "Here.")


def test_a_file_that_was_deleted_is_written_anew(draft: Draft) -> None:
    draft.path.unlink()
    draft.write("title", "Back")
    assert read_lesson(draft.path).steps[1].title == "Back"


# --- any edits in any order


class Writing(RuleBasedStateMachine):
    """Random edits; beside them what each step should show and say, told by its id."""

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.path = self.folder / "winter.toml"
        self.path.write_text(WHOLE, encoding="utf-8")
        self.draft = Draft(self.path)
        self.steps = list(self.draft.lesson.steps)
        self.history: list[tuple[bytes, list[Step], int]] = []

    def teardown(self) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)

    def remember(self) -> None:
        self.history.append((self.path.read_bytes(), list(self.steps), self.draft.index))

    @rule(data=st.data())
    def choose(self, data: st.DataObject) -> None:
        self.draft.index = data.draw(st.integers(0, len(self.steps) - 1))

    @rule(view=views(), specimen=specimens(), title=lines)
    def keep_step(self, view: View, specimen: Specimen, title: str) -> None:
        self.remember()
        at = self.draft.index + 1
        self.draft.keep_step(view, specimen, title)
        made = Step(self.draft.step.id, title.strip() or self.draft.step.title, specimen, view)
        self.steps.insert(at, made)
        assert self.draft.index == at

    @rule(view=views(), specimen=specimens())
    def keep_scene(self, view: View, specimen: Specimen) -> None:
        self.remember()
        self.draft.keep_scene(view, specimen)
        self.change(view=view, specimen=specimen)

    @rule(key=st.sampled_from([key for key in TEXTS if key not in ("title", "question", "answer")]), said=lines)
    def write(self, key: str, said: str) -> None:
        said = said.replace("[", "(")
        if said.strip() != getattr(self.steps[self.draft.index], key):
            self.remember()
        self.draft.write(key, said)
        self.change(**{key: said.strip()})

    @rule(by=st.sampled_from(TRANSITIONS))
    def come_by(self, by: str) -> None:
        if by != self.steps[self.draft.index].transition:
            self.remember()
        self.draft.come_by(by)
        self.change(transition=by)

    @rule()
    def copy_step(self) -> None:
        self.remember()
        at = self.draft.index
        self.draft.copy_step()
        self.steps.insert(at + 1, replace(self.steps[at], id=self.draft.step.id))

    @precondition(lambda self: len(self.steps) > 1)
    @rule()
    def drop_step(self) -> None:
        self.remember()
        del self.steps[self.draft.index]
        self.draft.drop_step()

    @rule(by=st.integers(-3, 3))
    def move_step(self, by: int) -> None:
        at = self.draft.index
        to = min(max(at + by, 0), len(self.steps) - 1)
        if to != at:
            self.remember()
        self.draft.move_step(by)
        self.steps.insert(to, self.steps.pop(at))
        assert self.draft.index == to

    @rule()
    def undo(self) -> None:
        assert self.draft.undo() == bool(self.history)
        if self.history:
            written, self.steps, _ = self.history.pop()
            assert self.path.read_bytes() == written

    def change(self, **what: Any) -> None:
        self.steps[self.draft.index] = replace(self.steps[self.draft.index], **what)

    @invariant()
    def every_step_is_what_it_should_be(self) -> None:
        if hasattr(self, "draft"):
            assert list(self.draft.lesson.steps) == self.steps
            assert self.path.read_bytes().decode() == self.draft.text
            assert list(self.folder.iterdir()) == [self.path]


Writing.TestCase.settings = settings(max_examples=12, stateful_step_count=12)
TestWriting = Writing.TestCase
