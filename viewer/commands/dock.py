"""`furcal dock`: what a portal passes, touches and comes near."""

from __future__ import annotations

import argparse
from pathlib import Path

from lessons.view import Camera, View
from viewer.commands.options import add_dock, add_specimen, body_of, chosen_specimen, docking_of, placement


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add_dock(parser)
    add_specimen(parser)
    parser.add_argument("--json", action="store_true", help="answer for programs")
    parser.add_argument("--picture", metavar="FILE", type=Path, help="also draw the portal in place, as PNG")


def run(args: argparse.Namespace) -> int:
    """Dock, and print the answer."""
    where, specimen = placement(args), chosen_specimen(args)
    if args.picture:
        from viewer.display import prepare_offscreen
        from viewer.picture import checked_target

        checked_target(args.picture)
        prepare_offscreen()
    from lessons.readout import dock_text
    from meshes.contact import as_json
    from viewer.answers import print_json

    body = body_of(specimen, where.side)
    docking = docking_of(body, where)
    if args.picture:
        from viewer.picture import save_picture

        save_picture(body, View(camera=Camera("side_lying"), portal=where), args.picture, docking=docking)
    if args.json:
        print_json(as_json(docking))
    else:
        print(dock_text(docking))
    return 0
