"""`furcal` alone: the window."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from meshes.errors import FurcalError
from viewer.commands.options import (
    add_scene,
    add_specimen,
    chosen_scene,
    chosen_specimen,
    names_specimen,
    whole_number_of,
)

if TYPE_CHECKING:
    from lessons.spot.paper import Paper

    Desk = tuple[Paper, Path, bytes, str]

SPOT_MOST = 200


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add_scene(parser, "open a scene that was saved; --specimen and --seed show it on another body")
    parser.add_argument("--lesson", metavar="NAME", help="begin a lesson: of the course by its name, or a file")
    parser.add_argument("--step", metavar="N", type=whole_number_of("--step"), help="at this step, from 1")
    add_specimen(parser)
    add_spot(parser)


def add_spot(parser: argparse.ArgumentParser) -> None:
    """Options of spot tests and papers."""
    group = parser.add_argument_group("spot test and examination")
    group.add_argument(
        "--spot", metavar="N", nargs="?", const=0, type=whole_number_of("--spot"), help="begin a spot test of N items"
    )
    group.add_argument(
        "--bank", metavar="FILE", type=Path, action="append",
        help="with --spot: items of this bank in place of furcal's own; may be given more than once",
    )  # fmt: skip
    group.add_argument("--paper", metavar="FILE", type=Path, help="sit a paper (paper.json); needs --key")
    group.add_argument("--candidate", metavar="N", help="the candidate's number; else the start page asks for it")
    group.add_argument("--key", metavar="FILE", type=Path, help="the key file that signs the results")
    group.add_argument(
        "--out", metavar="DIR", type=Path, help="folder of the results, made if need be (default: that of the paper)"
    )


def run(args: argparse.Namespace) -> int:
    """Open the window; its exit code."""
    from viewer.display import prepare_window

    lesson = _chosen_lesson(args)
    paper = _chosen_paper(args)
    _check_one(args)
    _check_banks(args)
    scene = chosen_scene(args)
    specimen = chosen_specimen(args) if names_specimen(args) else None
    prepare_window()
    from viewer.start import open_window

    return open_window(
        specimen, None if scene is None else (args.scene, scene), lesson, args.spot, paper, args.bank or ()
    )


def _check_one(args: argparse.Namespace) -> None:
    """Raise FurcalError where two things are to be begun at once."""
    begun = [f"--{name}" for name in ("lesson", "spot", "paper") if getattr(args, name) is not None]
    if len(begun) > 1:
        raise FurcalError(f"{' and '.join(begun)}: give one of them.")
    if args.spot is not None and args.spot > SPOT_MOST:
        raise FurcalError(f"--spot {args.spot}: a spot test has at most {SPOT_MOST} items.")


def _check_banks(args: argparse.Namespace) -> None:
    """Raise FurcalError for a bank that is broken, before a window is there."""
    if args.bank is None:
        return
    if args.spot is None:
        raise FurcalError("--bank goes with --spot; give the number of items, or --spot alone, too.")
    from lessons.spot.bank import read_banks

    read_banks(args.bank)


def _chosen_paper(args: argparse.Namespace) -> Desk | None:
    """The paper of the options, its folder, key and candidate. Raises FurcalError naming the file."""
    if args.paper is None:
        for name in ("candidate", "key", "out"):
            if getattr(args, name) is not None:
                raise FurcalError(f"--{name} goes with --paper; name one.")
        return None
    if args.key is None:
        raise FurcalError("--paper needs --key FILE, which signs the results.")
    from lessons.spot.paper import read_paper
    from lessons.spot.results import read_key
    from lessons.spot.sat import results_folder, sitting

    paper, key = read_paper(args.paper), read_key(args.key)
    folder = results_folder(args.paper.parent if args.out is None else args.out)
    if args.candidate is not None:
        sitting(paper, args.candidate, folder, key)  # what stands in the way is told before a window is there
    return paper, folder, key, args.candidate or ""


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
