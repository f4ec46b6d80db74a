"""Writes lesson files: a first one to begin with, and every edit that the window makes, comments and order kept.

An edit takes the text of a file and gives another text, so that a history of edits is a list of texts.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Item, Table

from lessons.caution import CAUTION
from lessons.lesson import TRANSITIONS
from lessons.lessonparts import Parts, taken_apart
from lessons.reading import CONTROL
from lessons.script import ID, SCHEMA, TITLE_MAX, lesson_from_text
from lessons.stepview import KEYS, PARTS
from lessons.view import View, as_table
from lessons.wholetext import write_text
from meshes.errors import FurcalError
from meshes.specimen import Specimen

#: Texts of a step, in the order in which they are written.
TEXTS = ("title", "words", "notes", "question", "answer")
_FIRST = """\
# A lesson of furcal: what is shown and said, step by step. What a step leaves out stays as it was before.
# {caution}
furcal_lesson = {schema}
title = {title}
level = "resident"                # student, resident or fellow
minutes = 10
objectives = [
  "Say where the femoral nerve lies at the L4-5 disc.",
]

[sources]                         # your own, cited in the words as [key]
# my_source = "Authors. Journal year;volume:pages"

[[steps]]
id = "from_the_front"
title = "The whole region"
view.camera = "front"
view.dissection = "psoas"
words = \"\"\"
What the room reads.

- a line that begins with a hyphen is an item of a list
- a source stands in brackets behind what it says [common_practice]
\"\"\"
notes = "What only the speaker sees."

[[steps]]
id = "a_question"
title = "A question to the room"
view.camera = {{ name = "left", on = ["disc_l4_5"], half_height_mm = 60 }}
view.highlighted = ["femoral_left"]
question = "Which nerve lies here?"
answer = "The femoral nerve."
"""


def new_lesson(path: Path, title: str = "") -> None:
    """Write a first lesson to change. Raises FurcalError for a file that is there, and where none can be written."""
    if path.suffix.lower() != ".toml":
        raise FurcalError(f"{path}: the name of a lesson file ends in .toml.")
    if _is_there(path):
        raise FurcalError(f"{path}: is there already; name another file.")
    text = first_text(title or _title_of(path))
    lesson_from_text(text, path)
    write_text(path, text)


def first_text(title: str) -> str:
    """The text of a first lesson."""
    return _FIRST.format(caution=CAUTION, schema=SCHEMA, title=tomlkit.item(title).as_string())


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:  # of a name too long; writing says so
        return False


def _title_of(path: Path) -> str:
    words = re.sub(r"[^\w]+|_", " ", path.stem).strip()
    return f"{words[:1].upper()}{words[1:]}"[:TITLE_MAX].strip() or "A lesson"


# --- edits: each changes the text of one step, or the order of steps; everything else stays as it is, letter by letter


def with_step(text: str, at: int, view: View, specimen: Specimen, title: str = "") -> str:
    """The text with one more step, whole, in front of step `at` (from 0)."""
    file = taken_apart(text)
    title = title.strip() or "New step"
    step = tomlkit.table()
    step.add("id", _free_id(title, _ids(file)))
    step.add("title", title)
    step.add("fresh", True)
    _put_scene(step, view, specimen)
    whole = tomlkit.aot()
    whole.append(step)
    return file.with_new(at, tomlkit.dumps(tomlkit.document().add("steps", whole)))


def with_scene(text: str, at: int, view: View, specimen: Specimen) -> str:
    """The text with another scene in step `at`: it begins fresh, so that it is seen as it is now."""

    def change(step: Table) -> None:
        for key in ("view", "specimen"):
            step.pop(key, None)
        if not step.get("fresh"):
            step["fresh"] = True
        _put_scene(step, view, specimen)

    return _changed(text, at, change)


def with_text(text: str, at: int, key: str, value: str) -> str:
    """The text with another title, words, notes, question or answer in step `at`; an empty one is taken out."""

    def change(step: Table) -> None:
        if value.strip() or key == "title":
            step[key] = _text_item(value)
        else:
            step.pop(key, None)

    return _changed(text, at, change)


def with_transition(text: str, at: int, transition: str) -> str:
    """The text with another way to step `at`; the usual one is left out."""

    def change(step: Table) -> None:
        if transition == TRANSITIONS[0]:
            step.pop("transition", None)
        else:
            step["transition"] = transition

    return _changed(text, at, change)


def with_copy(text: str, at: int) -> str:
    """The text with step `at` twice, the second with an id of its own."""
    file = taken_apart(text)
    ids = _ids(file)

    def change(step: Table) -> None:
        step["id"] = _free_id(str(step.get("id", "step")), ids)

    return file.with_new(at + 1, _step_changed(file.steps[at], change))


def without_step(text: str, at: int) -> str:
    """The text without step `at`. Raises FurcalError for the only one."""
    file = taken_apart(text)
    if len(file.steps) == 1:
        raise FurcalError("a lesson keeps at least one step; change this one instead.")
    return file.ordered([*file.steps[:at], *file.steps[at + 1 :]])


def moved_step(text: str, at: int, to: int) -> str:
    """The text with step `at` in the place of step `to`."""
    file = taken_apart(text)
    steps = list(file.steps)
    step = steps.pop(at)
    steps.insert(to, step)
    return file.ordered(steps)


# --- inside


def _changed(text: str, at: int, change: Callable[[Table], None]) -> str:
    file = taken_apart(text)
    steps = list(file.steps)
    steps[at] = _step_changed(steps[at], change)
    return file.with_steps(steps)


def _step_changed(text: str, change: Callable[[Table], None]) -> str:
    """The text of one step after a change of its table; the empty lines behind it stay."""
    bare = text.rstrip()
    file = tomlkit.parse(f"{bare}\n")
    steps = file["steps"]
    assert isinstance(steps, AoT)
    change(steps[0])
    return f"{tomlkit.dumps(file).rstrip()}{text[len(bare) :]}"


def _ids(file: Parts) -> set[str]:
    return {str(tomllib.loads(step)["steps"][0].get("id")) for step in file.steps}


def _put_scene(step: Table, view: View, specimen: Specimen) -> None:
    from lessons.scenefile import specimen_table

    who = specimen_table(specimen)
    if who:
        step.add("specimen", _inline(who))
    table = tomlkit.table(is_super_table=True)
    for key, value in as_table(view).items():
        if key in KEYS:
            table.add(key, _inline(value) if key in PARTS or key == "camera" else tomlkit.item(value))
    if table:
        step.add("view", table)


def _inline(table: Mapping[str, Any]) -> Item:
    out = tomlkit.inline_table()
    for key, value in table.items():
        out.add(key, _inline(value) if isinstance(value, Mapping) else value)
    return out


def _text_item(value: str) -> Item:
    """Lines as a text of several lines, so that the file can be read."""
    value = CONTROL.sub("", value.replace("\r\n", "\n").replace("\r", "\n")).strip()
    if "\n" not in value:
        return tomlkit.item(value)
    safe = value.replace("\\", "\\\\").replace('"""', '""\\"')
    # The library writes the first line behind the quotes; read from such text, it stays where it is.
    item = tomlkit.parse(f'text = """\n{safe}\n"""\n').item("text")
    assert isinstance(item, Item)
    return item


def _free_id(title: str, taken: set[str]) -> str:
    words = re.sub(r"[^a-z0-9]+", "_", title.lower()).strip("_")
    base = (words if ID.fullmatch(words[:30]) else f"step_{words}".strip("_"))[:30].rstrip("_")
    base = re.sub(r"_\d+$", "", base) or "step"
    if base not in taken:
        return base
    return next(f"{base}_{n}" for n in range(2, 10_000) if f"{base}_{n}" not in taken)
