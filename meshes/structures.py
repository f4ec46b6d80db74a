"""What a structure of the body is called and where it belongs."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal, get_args

from meshes.errors import unknown_word
from meshes.tables import Table, number, require

Kind = Literal["bone", "disc", "ligament", "muscle", "vessel", "viscus", "nerve", "skin"]
KINDS: tuple[str, ...] = get_args(Kind)
SIDES = ("left", "right")
#: Outermost first; each name is the last layer that is still on.
DISSECTION = (
    "skin", "fat", "external_oblique", "internal_oblique", "transversus", "retroperitoneum",
    "vessels", "psoas", "iliacus_quadratus", "vertebrae", "dura",
)  # fmt: skip
#: The same in words, as they are read on the screen.
LAYER_WORDS = {
    **{layer: layer.replace("_", " ") for layer in DISSECTION},
    "iliacus_quadratus": "iliacus and quadratus",
    "vertebrae": "bone",
}
#: Segments of the spinal cord in order, as `roots` writes them.
SEGMENTS = (*(f"T{n}" for n in range(1, 13)), *(f"L{n}" for n in range(1, 6)), *(f"S{n}" for n in range(1, 6)))
LEVELS = ("T12-L1", "L1-2", "L2-3", "L3-4", "L4-5", "L5-S1")
APPROACHES = ("lateral", "oblique", "anterior", "posterolateral")
VIEWS = ("front", "back", "left", "right", "side_lying", "portal")
POSTURES = ("side_lying", "supine", "prone")


@dataclass(frozen=True)
class Structure:
    """One named part of the body.

    id    : snake case, ending in _left / _right where paired
    layer : the dissection layer it is taken off with (one of DISSECTION; never of "vertebrae" for nerves)
    group : vessels: "artery" or "vein"; muscles: "wall" for the flat ones; nerves: "root", "plexus", "wall" or "other"
    roots_are : what its segments are to it where they are not its roots, as a card says it
    half_width_mm, half_thickness_mm : of a flat nerve where a source gives them, else 0; its tube has their area
    """

    id: str
    name: str
    latin: str
    kind: Kind
    side: str = ""
    roots: str = ""
    layer: str = "vertebrae"
    group: str = ""
    half_width_mm: float = 0.0
    half_thickness_mm: float = 0.0
    roots_are: str = ""


def level_key(level: str) -> str:
    """`L4-5` -> `l4_5`, as landmark and structure ids write it."""
    return level.lower().replace("-", "_")


def segments(roots: str) -> tuple[str, ...]:
    """Every segment of a span of roots: `L2-L4`, or `L2-4`, is L2, L3, L4; empty where there are none."""
    ends = [end for end in re.findall(r"[TLS]?\d+", roots) if end]
    if not ends:
        return ()
    first, last = ends[0], ends[-1]
    last = last if last[0].isalpha() else first[0] + last
    return SEGMENTS[SEGMENTS.index(first) : SEGMENTS.index(last) + 1]


def side_of(name: str) -> str:
    """The side that a name ends with, or empty."""
    return next((side for side in SIDES if name.endswith(f"_{side}")), "")


def structure_from(id: str, row: Table, where: str) -> Structure:
    """A structure from the header of its table. Raises FurcalError naming the place and the legal words."""
    kind, layer = str(require(row, "kind", where)), str(require(row, "layer", where))
    if kind not in KINDS:
        raise unknown_word(kind, KINDS, "kind", where)
    if layer not in DISSECTION:
        raise unknown_word(layer, DISSECTION, "layer", where)
    return Structure(
        id=id,
        name=str(require(row, "name", where)),
        latin=str(require(row, "latin", where)),
        kind=kind,  # type: ignore[arg-type]  # checked against KINDS above
        side=side_of(id),
        roots=str(row.get("roots", "")),
        layer=layer,
        group=str(row.get("group", "")),
        half_width_mm=number(row.get("half_width_mm", 0.0), f"{where}, half_width_mm"),
        half_thickness_mm=number(row.get("half_thickness_mm", 0.0), f"{where}, half_thickness_mm"),
        roots_are=str(row.get("roots_are", "")),
    )


def other_side(name: str) -> str:
    """The same name on the other side; names without a side stay as they are."""
    if name.endswith("_left"):
        return name[: -len("left")] + "right"
    if name.endswith("_right"):
        return name[: -len("right")] + "left"
    return name
