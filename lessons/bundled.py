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
    """The lessons of the course that can be read, in order; `course_problems` tells of the others."""
    return tuple(one for one in map(_read, course_files()) if isinstance(one, Lesson))


def course_problems() -> tuple[str, ...]:
    """What is wrong with the lessons of the course that cannot be read, a sentence each."""
    return tuple(str(one) for one in map(_read, course_files()) if isinstance(one, FurcalError))


def number_of(lesson: Lesson) -> int:
    """The number of a lesson of the course, from 1, by which it is also named; a broken one keeps its number."""
    return course_files().index(lesson.path) + 1


def _read(path: Path) -> Lesson | FurcalError:
    try:
        return read_lesson(path)
    except FurcalError as error:
        return error


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
