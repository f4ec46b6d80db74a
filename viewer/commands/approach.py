"""`furcal approach`: an approach layer by layer, what is at risk at each, and how often harm was reported."""

from __future__ import annotations

import argparse
from pathlib import Path

from lessons.view import Placement
from meshes.structures import APPROACHES, LEVELS, SIDES
from viewer.commands.options import add_specimen, body_of, chosen_specimen, docking_of, number_of, word_of

#: Where the path ends and how wide it is unless somebody says otherwise.
USUAL = Placement()


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("approach", type=word_of(APPROACHES, "approach"), metavar="NAME", help=", ".join(APPROACHES))
    path = parser.add_argument_group("path")
    path.add_argument(
        "--level", type=word_of(LEVELS, "--level"), metavar="LEVEL", required=True, help=", ".join(LEVELS)
    )
    path.add_argument(
        "--side", type=word_of(SIDES, "--side"), metavar="SIDE", default=USUAL.side,
        help=f"{', '.join(SIDES)} (default {USUAL.side})",
    )  # fmt: skip
    path.add_argument(
        "--at", type=number_of("--at"), metavar="F", default=USUAL.at,
        help=f"where on the disc the axis ends (default {USUAL.at:g})",
    )  # fmt: skip
    path.add_argument(
        "--radius", type=number_of("--radius"), metavar="MM", default=USUAL.radius_mm,
        help=f"radius of the portal, mm (default {USUAL.radius_mm:g}: a number to set, not a recommendation)",
    )  # fmt: skip
    add_specimen(parser)
    parser.add_argument("--picture", metavar="FILE", type=Path, help="also draw it, layer by layer, as PNG")
    parser.add_argument("--json", action="store_true", help="answer for programs")


def run(args: argparse.Namespace) -> int:
    """Walk the approach, and print it."""
    from meshes.portal import check_numbers

    check_numbers(args.at, args.radius, 0.0, 0.0, 0.0)
    where = Placement(args.level, args.side, args.approach, args.at, args.radius)
    specimen = chosen_specimen(args)
    if args.picture:
        from viewer.display import prepare_offscreen
        from viewer.picture import checked_target

        checked_target(args.picture)
        prepare_offscreen()
    from lessons.walk import as_json, walk
    from lessons.walktext import walk_text
    from viewer.answers import print_json

    walked = walk(docking_of(body_of(specimen, where.side), where))
    if args.picture:
        from viewer.walksheet import save_walk

        save_walk(walked, where, args.picture)
    if args.json:
        print_json(as_json(walked))
    else:
        print(walk_text(walked))
    return 0
