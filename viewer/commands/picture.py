"""`furcal picture`: a named view of the body as a PNG file, or a sheet of all views."""

from __future__ import annotations

import argparse
from pathlib import Path

from lessons.view import Camera, View
from meshes.errors import FurcalError
from meshes.structures import DISSECTION, VIEWS
from viewer.commands.options import (
    add_dock,
    add_specimen,
    body_of,
    chosen_specimen,
    docking_of,
    placement_if_any,
    word_of,
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("out", metavar="OUT.png", type=Path, nargs="?", help="the file to write, 1920 x 1080")
    parser.add_argument(
        "--view", type=word_of(VIEWS, "--view"), default="front", metavar="NAME", help=f"{', '.join(VIEWS)} (front)"
    )
    parser.add_argument(
        "--dissection",
        type=word_of(DISSECTION, "--dissection"),
        default="psoas",
        metavar="NAME",
        help=f"the outermost layer still on: {', '.join(DISSECTION)} (psoas)",
    )
    parser.add_argument("--sheet", metavar="DIR", type=Path, help="instead: every view at three depths of dissection")
    add_dock(parser)
    add_specimen(parser)


def run(args: argparse.Namespace) -> int:
    """Draw, and say what was written."""
    if (args.out is None) == (args.sheet is None):
        raise FurcalError("furcal picture: name one file (OUT.png) or one folder (--sheet DIR).")
    return _sheet(args) if args.sheet else _picture(args)


def _picture(args: argparse.Namespace) -> int:
    portal, specimen = placement_if_any(args), chosen_specimen(args)
    if args.view == "portal" and portal is None:
        raise FurcalError("--view portal looks down a portal; give --level --side --approach --at --radius too.")
    from viewer.display import prepare_offscreen
    from viewer.picture import checked_target, save_picture

    checked_target(args.out)
    prepare_offscreen()
    body = body_of(specimen, portal.side if portal else "")
    docking = docking_of(body, portal) if portal else None
    view = View(camera=Camera(args.view), dissection=args.dissection).docked(portal)
    save_picture(body, view, args.out, docking=docking)
    print(f"{args.out}: written.")
    return 0


def _sheet(args: argparse.Namespace) -> int:
    specimen = chosen_specimen(args)
    from viewer.display import prepare_offscreen
    from viewer.sheet import save_sheet

    prepare_offscreen()
    print(f"{save_sheet(body_of(specimen), args.sheet)}: written.")
    return 0
