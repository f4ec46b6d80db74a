"""Small lessons to hand out, as values: what a file may not hold (control characters) can be tried too."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import pytest
from PIL import Image

from lessons.lesson import Lesson, Step
from lessons.view import View
from meshes.errors import FurcalError
from viewer.display import prepare_offscreen
from viewer.export.lesson import KINDS, Asked, export_lesson

#: Every one of these must be seen somewhere, and none may run over an edge.
HOSTILE = "<script>alert(1)</script> & ]]> \\ {{x}} %d"
LEFTWARD = "שלום עולם זה משפט בעברית"
LONG_WORD = "".join(chr(ord("a") + k % 26) for k in range(5000))
OUTSIDE = "😀 🫠 漢字"
CONTROLS = "bell\x07 escape\x1b[31m turn\u202e end\u202c wide\u200b mark\ufeff"
SMALL = (120, 72)


#: Asked once: it tries a way to draw in a process of its own.
ready_to_draw = cache(prepare_offscreen)
#: What is left of a body when nearly all is lifted off: a page holds what its views show, its picture aside.
BARE = View(dissection="dura")


def own_picture(folder: Path, colour: str = "#336699") -> Path:
    """A picture file of one colour, so that no body has to be drawn."""
    path = folder / f"{colour[1:]}.png"
    Image.new("RGB", (60, 36), colour).save(path)
    return path


def step(folder: Path, number: int, **more: object) -> Step:
    """A step on a picture file of its own; `more` as in Step."""
    given: dict[str, object] = {
        "id": f"step_{number}",
        "title": f"Title of step {number}",
        "words": f"Words of step {number}. [common_practice]",
        "notes": f"Secret notes {number}.",
        "picture": own_picture(folder, f"#{40 * number % 256:02x}6699"),
        "picture_says": f"Seen on picture {number}.",
        "view": BARE,
        **more,
    }
    return Step(**given)  # type: ignore[arg-type]


def lesson(folder: Path, *steps: Step, **more: object) -> Lesson:
    """A lesson of steps."""
    given: dict[str, object] = {
        "path": folder / "small.toml",
        "title": "A small lesson",
        "level": "resident",
        "minutes": 7,
        "objectives": ("Say what is seen.", "Say what is not."),
        "steps": steps,
        "about": "About it.",
        "sources": {"one": "First source, doi:10.1000/ab(c)1.", "two": "Second source, javascript:alert(1)"},
        **more,
    }
    return Lesson(**given)  # type: ignore[arg-type]


def asking(folder: Path, number: int, **more: object) -> Step:
    """A step with a question."""
    return step(
        folder, number, question=f"Question {number}?", answer=f"Hidden answer {number}. [two]", **more
    )  # fmt: skip


def hand_out(given: Lesson, kind: str, folder: Path, size: tuple[int, int] | None = SMALL) -> Path:
    """Write it and return the file; progress must have come after every step, in order, up to 1."""
    told: list[tuple[float, str]] = []
    target = folder / f"out{KINDS[kind].suffix}"
    ready_to_draw()
    export_lesson(
        given, kind, target, Asked(tuple(range(len(given.steps))), size), lambda share, what: told.append((share, what))
    )
    assert [what for _, what in told] == [one.title for one in given.steps]
    assert [share for share, _ in told] == [(k + 1) / len(given.steps) for k in range(len(given.steps))]
    return target


def interrupted(*_: object) -> None:
    """Progress that is stopped by the keyboard at the first step."""
    raise KeyboardInterrupt


@contextmanager
def older_kept(target: Path) -> Iterator[None]:
    """Something stands there already, and afterwards it still does, alone with what was there."""
    target.write_bytes(b"older")
    before = sorted(entry.name for entry in target.parent.iterdir())
    yield
    assert target.read_bytes() == b"older"
    assert sorted(entry.name for entry in target.parent.iterdir()) == before


def check_interrupt(given: Lesson, kind: str, folder: Path) -> None:
    """Stopped in the middle, nothing is left behind."""
    target = folder / f"out{KINDS[kind].suffix}"
    with older_kept(target), pytest.raises(KeyboardInterrupt):
        export_lesson(given, kind, target, Asked((0, 1), SMALL), interrupted)


def check_full_disk(given: Lesson, kind: str, folder: Path) -> None:
    """On a disk that is full it is told in one sentence, and nothing is left behind.

    What is written beside the target goes to the device that is always full.
    """
    target = folder / f"out{KINDS[kind].suffix}"
    with older_kept(target):
        (folder / f".{target.name}.part").symlink_to("/dev/full")
        with pytest.raises(FurcalError, match=r"cannot be written \(No space left on device\); make room"):
            export_lesson(given, kind, target, Asked((0,), SMALL), lambda *_: None)


def check_missing(given: Lesson, kind: str, package: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the package of an extra one sentence says how to get it, before anything is drawn."""
    import sys

    monkeypatch.setitem(sys.modules, package, None)
    target = folder / f"out{KINDS[kind].suffix}"
    with older_kept(target), pytest.raises(FurcalError) as told:
        export_lesson(given, kind, target, Asked((0,), SMALL), interrupted)
    assert str(told.value).endswith(f"pip install 'furcal[{kind}]'")
    assert "\n" not in str(told.value)
