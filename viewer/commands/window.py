"""`furcal` alone: the window."""

from __future__ import annotations

import argparse
from pathlib import Path

from meshes.errors import FurcalError
from viewer.commands.options import (
    add_scene,
    add_specimen,
    chosen_scene,
    chosen_specimen,
    names_specimen,
    whole_number_of,
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add_scene(parser, "open a scene that was saved; --specimen and --seed show it on another body")
    parser.add_argument("--lesson", metavar="NAME", help="begin a lesson: of the course by its name, or a file")
    parser.add_argument("--step", metavar="N", type=whole_number_of("--step"), help="at this step, from 1")
    add_specimen(parser)


def run(args: argparse.Namespace) -> int:
    """Open the window; its exit code."""
    from viewer.display import prepare_window

    lesson = _chosen_lesson(args)
    scene = chosen_scene(args)
    specimen = chosen_specimen(args) if names_specimen(args) else None
    prepare_window()
    from viewer.start import open_window

    return open_window(specimen, None if scene is None else (args.scene, scene), lesson)


def _chosen_lesson(args: argparse.Namespace) -> tuple[Path, int] | None:
    """The lesson of the options and the step, from 0. Raises FurcalError naming what is wrong."""
    if args.lesson is None:
        if args.step is not None:
            raise FurcalError("--step goes with --lesson; name one.")
        return None
    if args.scene is not None:
        raise FurcalError("--scene and --lesson: give one of them; a lesson begins with what its step shows.")
    from lessons.bundled import lesson_path
    from lessons.script import read_lesson

    path = lesson_path(args.lesson)
    count = len(read_lesson(path).steps)
    step = 1 if args.step is None else args.step
    if not 1 <= step <= count:
        raise FurcalError(f"--step {step}: this lesson has steps 1 to {count}.")
    return path, step - 1
