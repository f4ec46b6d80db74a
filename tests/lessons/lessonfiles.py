"""Small lesson files for tests: a valid one as a table to change, its text, and what is told of it."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lessons.lesson import Lesson
from lessons.script import lesson_from_text, looked_over

#: Names the file in errors; no such file is read.
PATH = Path("harbour/winter.toml")
HEAD: dict[str, Any] = {
    "furcal_lesson": 1,
    "title": "The femoral nerve",
    "level": "resident",
    "minutes": 5,
    "objectives": ["Follow the femoral nerve from its roots to the groin."],
}
Step = dict[str, Any]
#: Keys of a view that a step replaces as a whole, each with a value that is not the usual one.
WHOLE: dict[str, Any] = {
    "camera": {"name": "left", "on": ["disc_l4_5"], "half_height_mm": 60.0},
    "dissection": "dura",
    "side": "left",
    "glassy": ["psoas"],
    "hidden": ["aorta"],
    "shown": ["skin"],
    "highlighted": ["femoral_left"],
    "named": ["obturator_left"],
    "colouring": "by_root",
    "labels": False,
    "measured": [[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]],
}
SHOWN = {**WHOLE, "portal": {"level": "L3-4", "at": 0.25}, "film": {"view": "left", "wires": 0.5}}
#: Belongs to one step only.
OF_ONE_STEP = {
    "words": "a", "notes": "b", "question": "c", "answer": "d", "transition": "cut", "body_map": "femoral_left",
}  # fmt: skip


def toml(value: Any) -> str:
    """A value as TOML writes it on one line."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{toml(k)} = {toml(v)}' for k, v in value.items())}}}"
    if isinstance(value, list | tuple | frozenset):
        return f"[{', '.join(toml(v) for v in value)}]"
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return repr(value)


def steps_of(*steps: Step) -> list[Step]:
    """Steps, each with an id and a title."""
    return [{"id": f"s{n}", "title": f"Step {n}", **step} for n, step in enumerate(steps or ({},), start=1)]


def lines(table: Mapping[str, Any]) -> list[str]:
    """A table, one key a line; None leaves a key out."""
    return [f"{toml(key)} = {toml(value)}" for key, value in table.items() if value is not None]


def text(*steps: Step, **head: Any) -> str:
    """The text of a lesson file with such steps; `head` adds keys, or takes them away where None."""
    out = lines({**HEAD, **head})
    for step in steps_of(*steps):
        out += ["", "[[steps]]", *lines(step)]
    return "\n".join([*out, ""])


def lesson(*steps: Step, **head: Any) -> Lesson:
    """The lesson in it."""
    return lesson_from_text(text(*steps, **head), PATH)


def told(words: str, path: Path = PATH) -> list[str]:
    """Everything that is wrong with a text; each is one line that names the file first."""
    found = looked_over(words, path)[1]
    for problem in found:
        assert problem.startswith(f"{path}")
        assert problem[len(str(path))] in ":,"
        assert len(problem.splitlines()) == 1
        assert problem.endswith((".", "..."))
    return found


def problems(*steps: Step, **head: Any) -> list[str]:
    """Everything that is wrong with such a lesson."""
    return told(text(*steps, **head))
