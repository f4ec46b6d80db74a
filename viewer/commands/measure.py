"""`furcal measure`: the body's own figures beside the published ones."""

from __future__ import annotations

import argparse

from viewer.commands.options import add_specimen, chosen_specimen


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add_specimen(parser)
    parser.add_argument("--json", action="store_true", help="answer for programs")


def run(args: argparse.Namespace) -> int:
    """Measure, and print every figure."""
    specimen = chosen_specimen(args)
    from meshes.measure import as_json, as_text, measure
    from viewer.answers import print_json

    rows = measure(specimen)
    if args.json:
        print_json(as_json(rows))
    else:
        print(as_text(rows))
    return 0
