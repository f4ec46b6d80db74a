"""`furcal picture`: a named view of the body as a PNG file, or a sheet of all views."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from lessons.view import Camera, View
from meshes.errors import FurcalError
from meshes.structures import DISSECTION, VIEWS
from viewer.commands.options import (
    add_dock,
    add_scene,
    add_specimen,
    body_of,
    chosen_scene,
    chosen_specimen,
    docking_of,
    placement_if_any,
    word_of,
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("out", metavar="OUT.png", type=Path, nargs="?", help="the file to write, 1920 x 1080")
    parser.add_argument("--view", type=word_of(VIEWS, "--view"), metavar="NAME", help=f"{', '.join(VIEWS)} (front)")
    parser.add_argument(
        "--dissection",
        type=word_of(DISSECTION, "--dissection"),
        metavar="NAME",
        help=f"the outermost layer still on: {', '.join(DISSECTION)} (psoas)",
    )
    parser.add_argument("--sheet", metavar="DIR", type=Path, help="instead: every view at three depths of dissection")
    add_scene(parser, "draw a scene that was saved; what other options say goes before it")
    add_dock(parser)
    add_specimen(parser)


def run(args: argparse.Namespace) -> int:
    """Draw, and say what was written."""
    if (args.out is None) == (args.sheet is None):
        raise FurcalError("furcal picture: name one file (OUT.png) or one folder (--sheet DIR).")
    if args.sheet and args.scene:
        raise FurcalError("--sheet draws every view; --scene goes with one picture.")
    return _sheet(args) if args.sheet else _picture(args)


def _picture(args: argparse.Namespace) -> int:
    scene = chosen_scene(args)
    specimen, view = (scene.specimen, scene.view) if scene else (chosen_specimen(args), View(camera=Camera("front")))
    view = _overridden(view, args)
    portal = view.portal
    if view.camera.name == "portal" and portal is None:
        where = "--view portal" if args.view else f"{args.scene}, [view], camera: it"
        raise FurcalError(f"{where} looks down a portal; give --level --side --approach --at --radius too.")
    from lessons.scenefile import check_ids, portal_error
    from viewer.display import prepare_offscreen
    from viewer.picture import checked_target, save_picture

    checked_target(args.out)
    prepare_offscreen()
    body = body_of(specimen, portal.side if portal else "")
    if scene:
        check_ids(view, body, f"{args.scene}, [view]")
    try:
        docking = docking_of(body, portal) if portal else None
    except FurcalError as error:
        own = scene is not None and portal == scene.view.portal
        raise portal_error(error, f"{args.scene}, [view]") if own else error from None
    save_picture(body, view, args.out, docking=docking)
    print(f"{args.out}: written.")
    return 0


def _overridden(view: View, args: argparse.Namespace) -> View:
    """The view with what the options say instead."""
    if args.view is not None:
        view = view.seen_from(args.view)
    if args.dissection is not None:
        view = replace(view, dissection=args.dissection)
    portal = placement_if_any(args)
    return view if portal is None else replace(view, portal=portal)


def _sheet(args: argparse.Namespace) -> int:
    specimen = chosen_specimen(args)
    from viewer.display import prepare_offscreen
    from viewer.sheet import save_sheet

    prepare_offscreen()
    print(f"{save_sheet(body_of(specimen), args.sheet)}: written.")
    return 0
