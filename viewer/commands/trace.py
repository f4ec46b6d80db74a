"""`furcal trace`: a nerve's whole way, place by place, with what endangers it there."""

from __future__ import annotations

import argparse
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from lessons.view import Camera, View
from meshes.errors import unknown_word
from meshes.structures import DISSECTION, SIDES, Structure
from viewer.commands.options import add_specimen, body_of, chosen_specimen, word_of

if TYPE_CHECKING:
    from meshes.body import Body


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("nerve", metavar="NERVE", help="femoral, obturator, LFCN, l4_ramus, ...")
    parser.add_argument("--side", type=word_of(SIDES, "--side"), metavar="SIDE", required=True, help=", ".join(SIDES))
    add_specimen(parser)
    parser.add_argument("--json", action="store_true", help="answer for programs")
    parser.add_argument("--picture", metavar="FILE", type=Path, help="also draw the nerve, lit from its roots, as PNG")


def run(args: argparse.Namespace) -> int:
    """Follow the nerve, and print its way."""
    specimen = chosen_specimen(args)
    if args.picture:
        from viewer.display import prepare_offscreen
        from viewer.picture import checked_target

        checked_target(args.picture)
        prepare_offscreen()
    from lessons.way import way_json, way_of, way_text
    from viewer.answers import print_json

    body = body_of(specimen)
    nerve = named_nerve(args.nerve, args.side, body.structures.values())
    way = way_of(body, nerve)
    if args.picture:
        from viewer.picture import save_picture

        save_picture(body, view_of(body, nerve), args.picture)
    if args.json:
        print_json(way_json(way))
    else:
        print(way_text(way))
    return 0


def named_nerve(word: str, side: str, structures: Collection[Structure]) -> str:
    """The id of the nerve that a typed word means: an id without side, a name, or the trade's short form.

    Raises FurcalError with the nearest words for one that means none.
    """
    from lessons.find import short_names

    nerves = {s.id.removesuffix(f"_{side}"): s for s in structures if s.kind == "nerve" and s.side in ("", side)}
    typed = "_".join(word.lower().replace("-", " ").replace("_", " ").split())
    for form, ids in short_names().items():
        if form.lower() == typed and len(ids) == 1 and ids[0] in nerves:
            return nerves[ids[0]].id
    for bare, structure in nerves.items():
        called = "_".join(structure.name.lower().replace("-", " ").split())
        if typed in (bare, f"{bare}_nerve", called):
            return structure.id
    raise unknown_word(word, nerves, "nerve")


def view_of(body: Body, nerve: str) -> View:
    """The nerve lit from its roots: wall nerves from their side, with their layer on; others from in front."""
    from meshes.branches import roots_of

    structure = body.structures[nerve]
    lit = frozenset(roots_of(nerve, body.structures))
    view = View(camera=Camera("front"), highlighted=lit)
    if structure.group == "wall":
        return replace(view.seen_from(structure.side), dissection=_under(structure.layer))
    glassy = [f"{muscle}_{structure.side}" for muscle in ("psoas_major", "iliacus")] if structure.side else []
    return replace(view.with_state(glassy, "glassy"), dissection="psoas")


def _under(layer: str) -> str:
    """A wall nerve's own layer; what runs in the fat is seen on the muscles under it."""
    return max(layer, "external_oblique", key=DISSECTION.index)
