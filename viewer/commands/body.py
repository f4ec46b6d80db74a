"""`furcal body`: the body as files that other programs read."""

from __future__ import annotations

import argparse
from pathlib import Path

from viewer.commands.options import add_specimen, body_of, chosen_specimen


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add_specimen(parser)
    parser.add_argument("--out", metavar="DIR", type=Path, required=True, help="the folder to write, made if need be")


def run(args: argparse.Namespace) -> int:
    """Write the body's folder, whole or not at all."""
    from viewer.export.body import check_target, write_body

    specimen, target = chosen_specimen(args), check_target(args.out)
    count = write_body(body_of(specimen), target)
    print(f"{args.out}: {count} surfaces, landmarks.csv, centrelines.json and body.glb written.")
    return 0
