"""Writes lesson files: a first one to begin with, and every edit that the window makes, comments and order kept.

An edit takes the text of a file and gives another text, so that a history of edits is a list of texts.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Item, Table
from tomlkit.toml_document import TOMLDocument

from lessons.caution import CAUTION
from lessons.lesson import TRANSITIONS
from lessons.script import ID, SCHEMA
from lessons.stepview import KEYS, PARTS
from lessons.view import View, as_table
from meshes.errors import FurcalError
from meshes.specimen import Specimen

#: Texts of a step, in the order in which they are written.
TEXTS = ("title", "words", "notes", "question", "answer")
#: Control characters, which TOML forbids; tabs and ends of lines stay.
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_GAP, _ONE_LINE = re.compile(r"\n(?:[ \t]*\n){2,}"), "\n\n"
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
    if path.exists():
        raise FurcalError(f"{path}: is there already; name another file.")
    write_text(path, first_text(title or _title_of(path)))


def first_text(title: str) -> str:
    """The text of a first lesson."""
    return _FIRST.format(caution=CAUTION, schema=SCHEMA, title=tomlkit.item(title).as_string())


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all. Raises FurcalError naming it."""
    import os

    target = path.resolve()
    if not target.parent.is_dir():
        raise FurcalError(f"{path.parent}: no such folder; make it first.")
    beside = target.with_name(f".{target.name}.part")
    try:
        with beside.open("wb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        beside.replace(target)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise FurcalError(
            f"{path}: cannot be written ({error.strerror}); make room or choose another folder."
        ) from None


def _title_of(path: Path) -> str:
    words = re.sub(r"[^\w]+|_", " ", path.stem).strip()
    return f"{words[:1].upper()}{words[1:]}" or "A lesson"


# --- edits


def with_step(text: str, at: int, view: View, specimen: Specimen, title: str = "") -> str:
    """The text with one more step, whole, in front of step `at` (from 0)."""
    file = tomlkit.parse(text)
    steps = _steps(file)
    taken = {str(step.get("id")) for step in steps}
    title = title or "New step"
    step = tomlkit.table()
    step.add("id", _free_id(title, taken))
    step.add("title", title)
    step.add("fresh", True)
    _put_scene(step, view, specimen)
    return _with_steps(file, [*steps[:at], step, *steps[at:]])


def with_scene(text: str, at: int, view: View, specimen: Specimen) -> str:
    """The text with another scene in step `at`: it begins fresh, so that it is seen as it is now."""
    file = tomlkit.parse(text)
    step = _steps(file)[at]
    for key in ("view", "specimen"):
        step.pop(key, None)
    if not step.get("fresh"):
        step["fresh"] = True
    _put_scene(step, view, specimen)
    return tomlkit.dumps(file)


def with_text(text: str, at: int, key: str, value: str) -> str:
    """The text with another title, words, notes, question or answer in step `at`; an empty one is taken out."""
    file = tomlkit.parse(text)
    step = _steps(file)[at]
    if value.strip() or key == "title":
        step[key] = _text_item(value)
    else:
        step.pop(key, None)
    return tomlkit.dumps(file)


def with_transition(text: str, at: int, transition: str) -> str:
    """The text with another way to step `at`; the usual one is left out."""
    file = tomlkit.parse(text)
    step = _steps(file)[at]
    if transition == TRANSITIONS[0]:
        step.pop("transition", None)
    else:
        step["transition"] = transition
    return tomlkit.dumps(file)


def with_copy(text: str, at: int) -> str:
    """The text with step `at` twice, the second with an id of its own."""
    file = tomlkit.parse(text)
    steps = _steps(file)
    twin = _steps(tomlkit.parse(text))[at]
    twin["id"] = _free_id(str(steps[at].get("id", "step")), {str(step.get("id")) for step in steps})
    return _with_steps(file, [*steps[: at + 1], twin, *steps[at + 1 :]])


def without_step(text: str, at: int) -> str:
    """The text without step `at`. Raises FurcalError for the only one."""
    file = tomlkit.parse(text)
    steps = _steps(file)
    if len(steps) == 1:
        raise FurcalError("a lesson keeps at least one step; change this one instead.")
    return _with_steps(file, [*steps[:at], *steps[at + 1 :]])


def moved_step(text: str, at: int, to: int) -> str:
    """The text with step `at` in the place of step `to`."""
    file = tomlkit.parse(text)
    steps = _steps(file)
    step = steps.pop(at)
    steps.insert(to, step)
    return _with_steps(file, steps)


# --- inside


def _steps(file: TOMLDocument) -> list[Table]:
    steps = file.get("steps")
    return list(steps.body) if isinstance(steps, AoT) else []


def _with_steps(file: TOMLDocument, steps: list[Table]) -> str:
    whole = tomlkit.aot()
    for step in steps:
        whole.append(step)
    file["steps"] = whole
    return _without_gaps(tomlkit.dumps(file))


def _without_gaps(text: str) -> str:
    """The text with one empty line where steps left several; as it was, should that change what it says."""
    closer = f"{re.sub(_GAP, _ONE_LINE, text).rstrip()}\n"
    return closer if tomllib.loads(closer) == tomllib.loads(text) else text


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
    value = _CONTROL.sub("", value.replace("\r\n", "\n")).strip()
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
