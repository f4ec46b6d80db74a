"""A lesson as a folder of pictures, one a step, named by number and id."""

from __future__ import annotations

import re
from pathlib import Path

from lessons.lesson import Lesson
from viewer.export.lesson import Asked, Progress
from viewer.export.lesson.shots import Camera, shots
from viewer.export.whole import whole_folder
from viewer.picture import SIZE, write_png

_NAME = re.compile(r"\d{2,3}-[a-z][a-z0-9_]*\.png")


def is_ours(name: str) -> bool:
    """Whether a file of that name may be a picture of a step."""
    return _NAME.fullmatch(name) is not None


def write(lesson: Lesson, target: Path, asked: Asked, progress: Progress) -> None:
    """Write the pictures. Raises FurcalError naming what cannot be written or shown."""
    digits = len(str(len(lesson.steps)).rjust(2))
    with whole_folder(target, is_ours) as folder, Camera(asked.size or SIZE) as camera:
        for done, shot in enumerate(shots(lesson, asked.numbers)):
            progress(done / len(asked.numbers), shot.step.title)
            name = f"{shot.number + 1:0{digits}}-{shot.step.id}.png"
            write_png(camera.picture(shot), folder / name)
