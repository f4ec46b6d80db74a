"""What `make run` shows: the window, or, where there is no display, a few pictures and a docking report."""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path

from viewer.commands.options import add_specimen

PORTAL = "--level L4-5 --side left --approach lateral --at 0.5 --radius 11"
#: Run one after the other where there is no display; OUT stands for the folder.
TOUR = (
    "picture --view front --dissection psoas OUT/front.png",
    f"picture --view side_lying --dissection retroperitoneum {PORTAL} OUT/side_lying.png",
    f"picture --view portal --dissection psoas {PORTAL} OUT/portal.png",
    f"dock {PORTAL}",
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.set_defaults(scene=None)  # which the window asks for
    add_specimen(parser)
    parser.add_argument("--out", metavar="DIR", type=Path, default=Path("out"), help="the folder for pictures (out)")


def run(args: argparse.Namespace) -> int:
    """Open the window, or walk through the tour."""
    from viewer.display import has_display

    if has_display():
        from viewer.commands import window

        return window.run(args)
    from viewer.__main__ import run as furcal

    print("There is no display, so here is furcal without a window.", flush=True)
    args.out.mkdir(parents=True, exist_ok=True)
    for line in TOUR:
        words = shlex.split(line.replace("OUT", shlex.quote(str(args.out))))
        print(f"\n$ furcal {shlex.join(words)}", flush=True)
        furcal([*words, *specimen_words(args)])
    return 0


def specimen_words(args: argparse.Namespace) -> list[str]:
    """The options for the specimen again, as words."""
    file = [] if args.specimen is None else ["--specimen", str(args.specimen)]
    return file if args.seed is None else [*file, "--seed", str(args.seed)]
