"""`furcal supply`: what hangs on a nerve, and what is lost when it is hurt."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from meshes.errors import FurcalError, unknown_word
from meshes.structures import SIDES
from viewer.commands.options import add_specimen, body_of, chosen_specimen, number_of, word_of

if TYPE_CHECKING:
    from meshes.lesion import Cut, Loss, Lost
    from meshes.specimen import Specimen


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("nerve", metavar="NERVE", help="a nerve, ramus or root: femoral, l4_ramus, ...")
    parser.add_argument("--side", type=word_of(SIDES, "--side"), metavar="SIDE", required=True, help=", ".join(SIDES))
    where = parser.add_argument_group("where it is hurt (default: all of it)")
    where.add_argument(
        "--cut-at", type=number_of("--cut-at"), metavar="MM", help="arc length along the nerve from the foramen"
    )
    where.add_argument("--cut-in", metavar="PLACE", help="psoas, iliac_fossa, ligament, ...: where that place begins")
    add_specimen(parser)
    parser.add_argument("--json", action="store_true", help="answer for programs")


def run(args: argparse.Namespace) -> int:
    """Look up what is lost, and print it."""
    if args.cut_at is not None and args.cut_in is not None:
        raise FurcalError("--cut-at and --cut-in: give one of them; both say where the nerve is hurt.")
    specimen = chosen_specimen(args)
    from lessons.supplytext import supply_text
    from meshes.lesion import ids_of, loss
    from meshes.reference import all_courses
    from viewer.answers import print_json

    bare = nerve_named(args.nerve)
    name = f"{bare}_{args.side}"
    cut = _cut(args, name, specimen)
    found = loss(name, ids_of(specimen), cut)
    if args.json:
        print_json(as_json(found))
        return 0
    from dataclasses import replace

    structure = replace(all_courses()[bare].structure, id=name, side=args.side)
    print(supply_text(structure, found, cut, args.cut_at))
    return 0


def nerve_named(word: str) -> str:
    """The id, without side, that a typed word means: the id itself, or the name. Raises FurcalError otherwise."""
    from meshes.lesion import nerve_ids
    from meshes.reference import all_courses

    typed = "_".join(word.lower().replace("-", " ").replace("_", " ").split())
    for name in nerve_ids():
        called = all_courses()[name].structure.name.lower().replace("-", " ").replace(" ", "_")
        if typed in (name, f"{name}_nerve", called):
            return name
    raise unknown_word(word, nerve_ids(), "nerve", "supply")


def _cut(args: argparse.Namespace, name: str, specimen: Specimen) -> Cut | None:
    from meshes.lesion import cut_at, cut_in

    if args.cut_in is not None:
        return cut_in(name, args.cut_in)
    return None if args.cut_at is None else cut_at(body_of(specimen), name, args.cut_at)


def as_json(found: Loss) -> dict[str, Any]:
    """The answer for programs."""
    from meshes.supply import supply

    muscles = supply().muscles
    return {
        "motor": [
            {
                "muscle": one.row.muscle, "movement": muscles[one.row.muscle].movement, "roots": one.roots,
                "variable": one.row.variable, "disputed": one.row.disputed, **_rest(one),
            }
            for one in found.motor
        ],
        "skin": [
            {"patch": one.row.patch, "variable": one.row.variable, "roots": one.roots, **_rest(one)}
            for one in found.skin
        ],
        "joints": [{"joint": one.row.joint, **_rest(one)} for one in found.joints],
        "reflexes": [
            {"reflex": one.row.reflex, "limb": one.row.limb, "disputed": one.row.disputed, **_rest(one)}
            for one in found.reflexes
        ],
        "spared": [
            {
                "muscle": one.muscle, "movement": muscles[one.muscle].movement, "roots": muscles[one.muscle].roots,
                "nerve": one.nerve, "because": one.because,
            }
            for one in found.spared
        ],
        "functions": [{"function": one.row.function, "name": one.row.name, **_rest(one)} for one in found.functions],
    }  # fmt: skip


def _rest(one: Lost[Any]) -> dict[str, Any]:
    """What every row of the answer ends with."""
    return {
        "partial": one.partial,
        "nerve": one.nerve,
        "source": "+".join(one.row.source),
        "basis": one.row.basis,
    }
