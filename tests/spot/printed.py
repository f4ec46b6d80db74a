"""A paper of a station of each kind as it is printed, the sheet its answers are typed into, and the command."""

from __future__ import annotations

from pathlib import Path

from lessons.spot.paper import made_paper
from lessons.spot.response import Clicked
from tests.spot.anyitem import item
from viewer.__main__ import main

KINDS = ("name", "point", "trace", "order", "predict", "quarter")
PAPER = made_paper([*(item(f"it_{kind}", kind) for kind in KINDS), item("it_dock", "dock")], 7, spots={
    "it_point": tuple(Clicked(name, (1.0, 2.0, 3.0)) for name in ("obturator_left", "femoral_left", "psoas_major_left"))
})  # fmt: skip


def sheet(folder: Path, text: str | bytes) -> Path:
    """What was typed, in a file."""
    path = folder / "answers.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def made(*words: str | Path) -> int:
    """The exit code of `furcal paper`."""
    return main(["paper", *map(str, words)])
