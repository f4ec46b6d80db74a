"""Items that ask for a structure itself: its name, its place, its roots, its wire on a film."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from random import Random

from lessons.film import Film
from lessons.spot.item import Answer, Named, Pointed, Rooted
from lessons.spot.made.draft import Asked, Draft, Making, in_text
from lessons.spot.made.seen import told_from, view_of
from lessons.spot.made.told import marks, sourced, told_of
from lessons.spot.mark import listed
from lessons.spot.names import is_called
from lessons.spot.wordbook import bare_id
from lessons.view import Camera, View
from meshes.branches import roots_of
from meshes.reference import all_courses
from meshes.structures import SEGMENTS, SIDES, Structure, segments

#: What a structure is called in a question, by its kind.
KIND_WORDS = {
    "nerve": "nerve", "vessel": "vessel", "muscle": "muscle", "viscus": "organ", "bone": "bone",
    "ligament": "ligament", "disc": "joint or disc",
}  # fmt: skip
#: How far beside a structure a click counts, mm along the surface.
WITHIN_MM = 6.0
#: A wire shorter than this cannot be told on a film, mm.
WIRE_MIN_MM = 60.0
_HAS_SEGMENT = re.compile(r"\b[TLS]\d")


def name_items(asked: Asked) -> Iterator[Making]:
    """The marked structure is to be named."""
    for id_, structure in asked.body.structures.items():
        if structure.kind in KIND_WORDS and is_called(structure.name, id_, asked.body.structures):
            yield id_, partial(_named, asked, id_)


def _named(asked: Asked, id_: str) -> Draft | None:
    structure = asked.body.structures[id_]
    return _of_field(asked, id_, "name", f"On this body, name the marked {_kind_word(structure)}.", lambda: Named(id_))


def _kind_word(structure: Structure) -> str:
    """What is to be named: a nerve of one segment among several alike with its segment, and so on."""
    if structure.kind == "nerve" and _HAS_SEGMENT.search(structure.name):
        return "part of the plexus, with its segment"
    if structure.kind == "bone" and re.search(r"\d", structure.name):
        return "bone, and say which one of its kind"
    if structure.kind == "nerve" and structure.group == "other":
        return "structure"
    return KIND_WORDS[structure.kind]


def point_items(asked: Asked) -> Iterator[Making]:
    """A structure is to be pointed to."""
    for id_, structure in asked.body.structures.items():
        if structure.kind in KIND_WORDS:
            yield id_, partial(_pointed, asked, id_)


def _pointed(asked: Asked, id_: str) -> Draft | None:
    words = in_text(asked.body.structures[id_])
    made = _of_field(asked, id_, "point", f"On this body, point to {words}.", lambda: Pointed(id_, WITHIN_MM))
    if made is None:
        return None
    # The middle of the picture must not give it away: another structure is fitted into it too.
    on = frozenset({id_, _companion(asked, id_)})
    return replace(made, view=replace(made.view, camera=Camera(made.view.camera.name, on=on)))


def _companion(asked: Asked, id_: str) -> str:
    """Another structure of the same kind and side, the same for the same question."""
    own = asked.body.structures[id_]
    others = [s.id for s in asked.body.structures.values() if (s.kind, s.side) == (own.kind, own.side) and s.id != id_]
    others = others or [s.id for s in asked.body.structures.values() if s.side == own.side and s.id != id_]
    return Random(id_).choice(others)


def _of_field(asked: Asked, id_: str, kind: str, ask: str, answer: Callable[[], Answer]) -> Draft | None:
    view, structure = view_of(asked, id_), asked.body.structures[id_]
    if view is None:
        return None
    explain = told_of(structure, asked.body.specimen)
    objective = "course" if structure.kind == "nerve" else "relations"
    return Draft(
        kind, id_, objective, id_, f"{told_from(view)} {ask}", explain, view, asked.body.specimen, answer(), lit=(id_,)
    )


def trace_items(asked: Asked) -> Iterator[Making]:
    """The segments of a nerve whose name does not tell them, where the body's own tree carries just those."""
    for id_, structure in asked.body.structures.items():
        if structure.kind != "nerve" or not structure.roots or structure.roots_are or structure.group == "root":
            continue
        if not _HAS_SEGMENT.search(structure.name) and carried(asked, id_) == segments(structure.roots):
            yield id_, partial(_traced, asked, id_)


def carried(asked: Asked, id_: str) -> tuple[str, ...]:
    """The segments of the roots, ganglia and rami of this body that carry fibres to a nerve."""
    present = asked.body.structures
    own = {present[name].roots for name in roots_of(id_, present) if present[name].group == "root"}
    return tuple(s for s in SEGMENTS if s in own)


def _traced(asked: Asked, id_: str) -> Draft | None:
    structure, view = asked.body.structures[id_], view_of(asked, id_)
    if view is None:
        return None
    view = replace(view, highlighted=frozenset({id_}))
    rami = [n for n in roots_of(id_, asked.body.structures) if asked.body.structures[n].group == "root"]
    keys = [p.source for n in rami for p in all_courses()[bare_id(asked.body.structures[n])].way if p.says]
    explain = sourced(
        f"On this body fibres reach it from {listed(segments(structure.roots))}", keys[:3] or ["judgement"]
    )
    return Draft(
        "trace", id_, "formation", id_,
        f"{told_from(view)} On this body, which segments does {in_text(structure)} carry fibres of?",
        f"{explain} {told_of(structure, asked.body.specimen)}", view, asked.body.specimen,
        Rooted(segments(structure.roots)), lit=(id_, *rami),
    )  # fmt: skip


def wire_items(asked: Asked) -> Iterator[Making]:
    """A wire on a film is to be named: from in front all nerves carry wires, from a side those of that side."""
    for id_, structure in asked.body.structures.items():
        line = asked.body.centrelines.get(id_)
        if structure.kind != "nerve" or line is None or structure.side not in SIDES or structure.group == "root":
            continue
        if line.length >= WIRE_MIN_MM and is_called(structure.name, id_, asked.body.structures):
            yield f"{id_}_front", partial(_wired, asked, id_, "front")
            yield f"{id_}_side", partial(_wired, asked, id_, structure.side)


def _wired(asked: Asked, id_: str, beam: str) -> Draft | None:
    body, structure = asked.body, asked.body.structures[id_]
    wires = frozenset(
        n for n in body.centrelines if body.structures[n].kind == "nerve" and body.structures[n].side == structure.side
    )
    view = View(camera=Camera("front"), labels=False, film=Film(view=beam, nerves=wires))
    how = "front film of this body" if beam == "front" else f"side film of this body, taken from the {beam},"
    return Draft(
        "wire", f"{id_}_{beam}", "film", id_,
        f"On this {how} the nerves of the {structure.side} side carry wires. Name the marked nerve.",
        told_of(structure, body.specimen) or marks(["judgement"]), view, body.specimen, Named(id_), lit=(id_,),
    )  # fmt: skip
