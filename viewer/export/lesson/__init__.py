"""A lesson handed out: the kinds of hand-out, each with the module that writes it, imported when it is asked for.

A module of a kind has `write(lesson, target, asked, progress)`. It writes the target whole or not at all, calls
`progress(share, what)` after every step, and raises FurcalError for what it cannot do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

from lessons.lesson import Lesson
from meshes.errors import FurcalError, unknown_word

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Asked:
    """What of a lesson is handed out.

    numbers : steps, from 0, in order
    size    : width and height of its pictures, pixels; None for what suits the kind
    """

    numbers: tuple[int, ...]
    size: tuple[int, int] | None = None


@dataclass(frozen=True)
class Kind:
    """One kind of hand-out.

    module : where it is written
    says   : what it is, for help
    suffix : how its file's name ends; empty for a folder
    """

    module: str
    says: str
    suffix: str


KINDS = {
    "pdf": Kind("viewer.export.lesson.pdf", "a hand-out: picture, words, sources, space for notes", ".pdf"),
    "slides": Kind("viewer.export.lesson.slides", "slides with the speaker's notes", ".pptx"),
    "page": Kind("viewer.export.lesson.page", "a page that works without network, the body in 3D", ".html"),
    "pictures": Kind("viewer.export.lesson.pictures", "a folder with a picture a step", ""),
    "video": Kind("viewer.export.lesson.video", "a video of the steps", ".mp4"),
}


def target_of(kind: str, out: Path) -> Path:
    """The file or folder to write. Raises FurcalError where it cannot be one, before any work is done."""
    from viewer.export.whole import check_folder
    from viewer.picture import checked_target

    suffix = KINDS[kind].suffix
    if suffix:
        return checked_target(out, kind, (suffix,))
    from viewer.export.lesson.pictures import is_ours

    check_folder(out, is_ours)
    return out


def export_lesson(lesson: Lesson, kind: str, out: Path, asked: Asked, progress: Progress) -> None:
    """Write a lesson as one of KINDS. Raises FurcalError naming file, place and remedy."""
    if kind not in KINDS:
        raise unknown_word(kind, KINDS, "kind", "--to")
    if not asked.numbers:
        raise FurcalError(f"{lesson.path}: no step is left to hand out; name at least one.")
    target = target_of(kind, out)
    import_module(KINDS[kind].module).write(lesson, target, asked, progress)
