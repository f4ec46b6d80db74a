"""A lesson as one page that works without a network: the body in 3D, the words beside it, step by step."""

from __future__ import annotations

from pathlib import Path

from lessons.lesson import Lesson
from viewer.export.lesson import Asked, Progress
from viewer.export.whole import whole_file


def write(lesson: Lesson, target: Path, asked: Asked, progress: Progress) -> None:
    """Write the page. Raises FurcalError naming what cannot be written or shown."""
    from viewer.export.lesson.pageparts.making import Making
    from viewer.export.lesson.pageparts.paper import page_text

    with Making(lesson, asked) as making:
        text = page_text(making.table(progress))
    with whole_file(target) as beside:
        beside.write_text(text, encoding="utf-8", newline="\n")
