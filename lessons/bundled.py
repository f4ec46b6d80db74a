"""The course that comes with furcal: its lessons in order, and a lesson by its name or its file."""

from __future__ import annotations

from pathlib import Path

from lessons.lesson import Lesson
from lessons.script import read_lesson
from meshes.errors import FurcalError, unknown_word

COURSE = Path(__file__).parent / "course"


def course_files() -> tuple[Path, ...]:
    """The files of the course, in order."""
    return tuple(sorted(COURSE.glob("*.toml")))


def course() -> tuple[Lesson, ...]:
    """The lessons of the course, in order."""
    return tuple(read_lesson(path) for path in course_files())


def key_of(path: Path) -> str:
    """The name of a lesson of the course: that of its file without the number."""
    return path.stem.partition("_")[2]


def lesson_path(name: str) -> Path:
    """The file of a lesson: one of the course by its name or number, or any file by its path.

    Raises FurcalError with the nearest names.
    """
    files = course_files()
    for number, path in enumerate(files, start=1):
        if name in (key_of(path), path.stem, str(number)):
            return path
    path = Path(name)
    if path.suffix.lower() == ".toml" or path.exists():
        return path
    legal = [key_of(p) for p in files]
    raise FurcalError(f"{unknown_word(name, legal, 'lesson')} Or name a file that ends in .toml.")


def is_bundled(path: Path) -> bool:
    """Whether a file is one of the course, which nobody changes in place."""
    return path.resolve().parent == COURSE.resolve()
