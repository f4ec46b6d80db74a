"""One table from kind of structure to how it is drawn."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from lessons.view import State, View
from meshes.structures import Structure
from meshes.tables import ANATOMY, check_keys, cited, read_toml, require
from viewer.palette import BY_DIVISION, BY_NERVE, BY_ROOT, OKABE_ITO, PRINT, RGB, THEMES, Paint

#: How much of a glassy thing is seen where it faces the eye.
GLASSY_OPACITY = 0.36
#: What the colour of everything else is mixed with while something is traced.
DIMMED = 0.62
#: Thickness of the rim around what is touched or traced, mm; near to, down a portal, less is enough and hides less.
RIM_MM, RIM_DOWN_MM = 1.3, 0.45
#: Kinds that the channel of a portal pushes aside: not drawn inside it while one looks down.
CLEARED = ("skin", "muscle")


@dataclass(frozen=True)
class Material:
    """How one kind of structure looks.

    colour  : a key of palette.PRINT
    shine   : strength of the highlight, 0..1
    grip    : how tight the highlight is
    fibres  : "bundle" along the length, "sheet" around the trunk, or none
    detail  : cell of the light copy used while something moves, mm; tubes have a slender one instead
    """

    colour: str
    shine: float = 0.05
    grip: float = 12.0
    fibres: str = ""
    detail: float = 5.0


#: Looked up by id without side, then by kind and group, then by kind.
MATERIALS: dict[str, Material] = {
    "bone": Material("bone", 0.08, 10.0),
    "disc": Material("disc", 0.18, 20.0),
    "ligament": Material("ligament", 0.12, 16.0, detail=4.0),
    "muscle": Material("muscle", 0.12, 14.0, fibres="bundle", detail=6.0),
    "muscle wall": Material("wall", 0.1, 14.0, fibres="sheet", detail=7.0),
    "vessel": Material("artery", 0.28, 24.0),
    "vessel artery": Material("artery", 0.28, 24.0),
    "vessel vein": Material("vein", 0.28, 24.0),
    "viscus": Material("viscus", 0.25, 20.0),
    "kidney": Material("kidney", 0.25, 20.0),
    "ureter": Material("ureter", 0.25, 20.0),
    "nerve": Material("nerve", 0.3, 28.0),
    "dural_sac": Material("dura", 0.2, 20.0),
    "skin": Material("skin", 0.06, 8.0, detail=8.0),
    "fat": Material("fat", 0.1, 10.0, detail=8.0),
}


@dataclass(frozen=True)
class Look:
    """How one structure is drawn now; two equal looks need no work.

    colour  : (3,) 0..255
    opacity : where it faces the eye
    edge    : what the colour is multiplied with where the surface turns away
    banded  : dark bands across its length: the second cue beside its colour
    rim_mm  : thickness of its rim in the accent colour, mm; 0 for none
    opened  : only what lies behind its cut, see `meshes.opening`
    cleared : not drawn inside the channel of the portal that one looks down
    behind  : beside that channel it steps back towards this colour; None where it keeps its own
    shines  : seen, paler, through what covers it
    """

    colour: RGB
    opacity: float = 1.0
    edge: float = 1.0
    banded: bool = False
    rim_mm: float = 0.0
    rim: RGB = (0, 0, 0)
    opened: bool = False
    cleared: bool = False
    behind: RGB | None = None
    shines: bool = False

    @property
    def ringed(self) -> bool:
        """Whether it has a rim: it is touched or traced."""
        return self.rim_mm > 0.0


def material(structure: Structure) -> Material:
    """The row of the table for a structure."""
    keys = (stem(structure.id), f"{structure.kind} {structure.group}", structure.kind)
    return next(MATERIALS[k] for k in keys if k in MATERIALS)


def look(structure: Structure, view: View, state: State, marked: frozenset[str] = frozenset()) -> Look | None:
    """How a structure is drawn in a view; None when it is off.

    marked : ids that a portal touches, or that bar its way; they and what is traced get a rim
    """
    if state == "off":
        return None
    theme = THEMES[view.theme]
    paint = paint_of(structure, view.colouring)
    traced = structure.id in view.highlighted
    colour = paint.colour
    if view.highlighted and not traced:
        colour = mixed(colour, theme.background, DIMMED)
    opacity = 1.0 if state == "on" else GLASSY_OPACITY
    # While something is traced the rim is its own; what a portal touches keeps its collar.
    ringed = traced or (structure.id in marked and not view.highlighted)
    rim_mm = (RIM_DOWN_MM if view.looks_down else RIM_MM) if ringed else 0.0
    return Look(
        colour, opacity, theme.edge, paint.style == "banded", rim_mm, theme.accent,
        opened=view.is_opened(structure), cleared=view.looks_down and structure.kind in CLEARED,
        behind=theme.background if view.looks_down and _steps_back(structure, view, ringed) else None,
        shines=traced,
    )  # fmt: skip


def _steps_back(structure: Structure, view: View, ringed: bool) -> bool:
    """Whether a structure steps back beside the portal that one looks down; of what is ringed only bone does."""
    return not view.highlighted and not (ringed and structure.kind != "bone")


def paint_of(structure: Structure, colouring: str) -> Paint:
    """The colour of a structure and its second cue. Only nerves follow the colouring."""
    if structure.kind != "nerve" or colouring == "print":
        return Paint(PRINT[material(structure).colour])
    if colouring == "by_nerve":
        return _by_nerve(structure)
    if colouring == "by_root":
        return BY_ROOT.get(main_root(structure.roots), BY_DIVISION["undivided"])
    return BY_DIVISION[division(structure)]


def main_root(roots: str) -> str:
    """The middle root of a list such as `L2-L4` or `L4, L5`; empty without one."""
    order = list(BY_ROOT)
    found = [r for r in re.findall(r"[TLS]\d+", roots.replace("–", "-")) if r in order]
    if not found:
        return ""
    return order[(order.index(found[0]) + order.index(found[-1])) // 2]


def division(structure: Structure) -> str:
    """Which division of the plexus a nerve comes from, or "undivided"."""
    name = stem(structure.id)
    for which, nerves in divisions().items():
        if any(name == nerve or name.startswith(f"{nerve}_") for nerve in nerves):
            return which
    return "undivided"


@cache
def divisions() -> Mapping[str, Sequence[str]]:
    """divisions.toml: division -> ids without side. Raises FurcalError naming file and place."""
    path = ANATOMY / "divisions.toml"
    table = read_toml(path)
    check_keys(table, ("anterior", "posterior"), str(path))
    rows = {}
    for name, row in table.items():
        where = f"{path}, [{name}]"
        check_keys(row, ("nerves", "says", "source"), where)
        cited(row, where)
        rows[name] = tuple(require(row, "nerves", where))
    return rows


@cache
def stem(structure_id: str) -> str:
    """The id without its side."""
    return re.sub(r"_(left|right)$", "", structure_id)


def mixed(colour: RGB, other: RGB, share: float) -> RGB:
    """The colour moved towards another by a share of 0..1."""
    r, g, b = (round(c + (o - c) * share) for c, o in zip(colour, other, strict=True))
    return r, g, b


def as_fat(look_of_skin: Look) -> Look:
    """What is left when the skin is off and the fat is still on: the same coat, in fat's colour."""
    return replace(look_of_skin, colour=PRINT["fat"])


def _by_nerve(structure: Structure) -> Paint:
    name = stem(structure.id)
    best = max((k for k in BY_NERVE if name == k or name.startswith(k + "_")), key=len, default="")
    return BY_NERVE[best] if best else Paint(OKABE_ITO["grey"])
