"""A docking by named things: each nerve once, with its roots, shares, divisions and branches, and what is said of it.

The answer of `meshes.contact.dock` has every piece of a nerve by itself. Whoever asks how many nerves a portal touches
wants nerves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from lessons.readout import CLOSE_MM, capital, named, plain, sided, small
from meshes.branches import nerve_of
from meshes.contact import Contact, Docking
from meshes.structures import Structure
from meshes.tolerances import CREST_BOW_MM

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.portal import Portal

#: It holds the roots and is none of them.
SAC = "dural_sac"
#: Landmarks along the iliac crest, from the front backwards.
CREST = ("asis", "iliac_tubercle", "crest_nerve_crossing", "iliac_crest_top", "crest_back", "psis")
#: Of the kinds that are counted: several of it.
PLURALS = {"nerve": "nerves", "vessel": "vessels", "viscus": "viscera"}
#: A distance that is printed as nothing, mm.
_NONE_MM = 0.05
#: So many of a kind are named in the headline; of more only the worst is, and the rest are counted.
_NAMED = 2


@dataclass(frozen=True, eq=False)
class Row:
    """One named nerve, vessel or viscus, with every piece of it.

    id     : of the nerve, or `l3_spinal_nerve_left`, which the body has only in pieces
    name   : in words, without its side
    pieces : the worst first
    """

    id: str
    name: str
    side: str
    pieces: tuple[Contact, ...]

    @property
    def worst(self) -> Contact:
        """The piece that the portal comes nearest to, or lies deepest in it."""
        return self.pieces[0]

    @property
    def touched(self) -> bool:
        """Whether any piece is touched."""
        return self.worst.touched

    @property
    def clearance_mm(self) -> float:
        """The smallest clearance of its pieces."""
        return self.worst.clearance_mm

    @property
    def kind(self) -> str:
        """What it is counted among: "nerve", "vessel", "viscus"; "" for the dural sac, which is no nerve."""
        return "" if self.worst.id == SAC else self.worst.structure.kind

    @property
    def listed(self) -> str:
        """Its name in a list."""
        return capital(sided(self.name, self.side))

    @property
    def piece(self) -> str:
        """The piece that is nearest, where that is not the nerve itself: "its ventral ramus"."""
        return "" if self.worst.id == self.id else _piece(self.worst.structure.name, self.name)


def rows_of(docking: Docking) -> list[Row]:
    """Every named thing of a docking, the worst first; every nerve, vessel and viscus is in exactly one row."""
    found: dict[tuple[str, str], list[Contact]] = {}
    for contact in sorted((*docking.nerves, *docking.vessels, *docking.viscera), key=lambda c: c.clearance_mm):
        found.setdefault(_belongs_to(contact.structure), []).append(contact)
    return [_row(bare, side, pieces) for (bare, side), pieces in found.items()]


def listed(rows: Iterable[Row]) -> list[Row]:
    """The rows of what is touched or close."""
    return [row for row in rows if row.clearance_mm <= CLOSE_MM]


# --- what is said


def reach_text(docking: Docking) -> str:
    """Whether the portal reaches its disc, and what is in the way."""
    portal, access = docking.portal, docking.access
    if access.reaches_disc:
        return f"Reaches the {portal.level} disc in quarter {portal.quarter}."
    bones = [_bone(bone, docking) for bone in access.barred]
    return f"Does not reach the {portal.level} disc: {_and(bones)} {'is' if len(bones) == 1 else 'are'} in the way."


def headline(docking: Docking, rows: Sequence[Row]) -> str:
    """What is touched, in one sentence: the worst by name, the rest by their number."""
    touched = [row for row in rows if row.touched]
    if not touched:
        return "Touches no nerve, vessel or viscus."
    parts: list[str] = []
    for kind in ("nerve", "", "vessel", "viscus"):
        some = [row for row in touched if row.kind == kind]
        if len(some) > _NAMED:
            parts.append(f"{_spoken(some[0], docking.portal)} and {len(some) - 1} more {PLURALS[kind]}")
        elif some:
            parts.append(" and ".join(_spoken(row, docking.portal) for row in some))
    return f"Touches {_and(parts, ', and ' if any(' and ' in part for part in parts) else ' and ')}."


def farther(docking: Docking, rows: Sequence[Row]) -> str:
    """What is not listed, of nerves: only the next."""
    nerves = [row for row in rows if row.kind == "nerve"]
    far = [row for row in nerves if row.clearance_mm > CLOSE_MM]
    if not far:
        return ""
    at = f"{far[0].clearance_mm:.0f} mm"
    if float(at.split()[0]) <= CLOSE_MM:
        at = f"just over {CLOSE_MM:g} mm"
    other = " other" if len(far) < len(nerves) else ""
    return f"No{other} nerve within {CLOSE_MM:g} mm; the next, {_spoken(far[0], docking.portal)}, at {at}."


def how_near(clearance_mm: float) -> str:
    """A clearance in words."""
    if clearance_mm > 0.0:
        return f"{clearance_mm:.1f} mm clear" if clearance_mm >= _NONE_MM else "less than 0.1 mm clear"
    return f"in the way, {-clearance_mm:.1f} mm within the rim" if -clearance_mm >= _NONE_MM else "grazed"


def row_name(row: Row) -> str:
    """Name of a row, and the piece of it that is told of."""
    return f"{row.listed}, {'by' if row.touched else 'at'} {row.piece}" if row.piece else row.listed


def row_text(row: Row) -> str:
    """One row in words."""
    return f"{row_name(row)}: {how_near(row.clearance_mm)}"


def piece_texts(row: Row) -> list[str]:
    """Every touched or close piece of a row, where there is more to tell than the row does."""
    near = [c for c in row.pieces if c.clearance_mm <= CLOSE_MM]
    return [f"{capital(named(c.structure))}: {how_near(c.clearance_mm)}" for c in near] if len(near) > 1 else []


# --- inside


def _belongs_to(structure: Structure) -> tuple[str, str]:
    return nerve_of(structure.id) if structure.kind == "nerve" else (structure.id, "")


def _row(bare: str, side: str, pieces: list[Contact]) -> Row:
    id = f"{bare}_{side}" if side else bare
    whole = next((c.structure for c in pieces if c.id == id), None)
    if whole is not None:
        return Row(id, plain(whole), whole.side, tuple(pieces))
    return Row(id, _nerve_name(bare), side, tuple(pieces))


@cache
def _nerve_name(bare: str) -> str:
    """Name of a nerve that the body has only in pieces."""
    from meshes.reference import all_courses

    if bare in all_courses():
        return all_courses()[bare].structure.name
    level, _, words = bare.partition("_")
    return f"{level.upper()} {words.replace('_', ' ')}"


@cache
def _piece(name: str, nerve: str) -> str:
    """A piece in the words of its nerve: "its L3 contribution", "the furcal branch of L4"."""
    level = nerve.partition(" ")[0]
    for whole in (f" of the {nerve}", f" to the {nerve}", f" of {level}"):
        if name.lower().endswith(whole.lower()):
            return f"its {small(name[: -len(whole)])}"
    return f"the {small(name)}"


def _spoken(row: Row, portal: Portal) -> str:
    """A row within a sentence: a nerve tells its side where that is not the docked one, or may be either."""
    told = row.kind != "nerve" or row.side != portal.side or portal.approach == "anterior"
    return f"the {f'{row.side} ' if row.side and told else ''}{small(row.name)}"


def _bone(bone: Structure, docking: Docking) -> str:
    name, side = plain(bone), f"{bone.side} " if bone.side else ""
    crest = " (iliac crest)" if bars_with_crest(bone, docking.ready.body, docking.portal) else ""
    return f"{'' if name[-1].isdigit() else 'the '}{side}{small(name)}{crest}"


def bars_with_crest(bone: Structure, body: Body, portal: Portal) -> bool:
    """Whether it is the crest of a hip bone that a portal's way meets: the line through its landmarks runs there."""
    import numpy as np

    from meshes.cylinder import Cylinder

    names = [f"{name}_{bone.side}" for name in CREST]
    if bone.id != f"hip_{bone.side}" or not all(name in body.landmarks.points for name in names):
        return False
    corners = np.array([body.landmarks[name] for name in names])
    share = np.linspace(0.0, 1.0, 33)[:, None, None]
    line = (corners[:-1] + share * (corners[1:] - corners[:-1])).reshape(-1, 3)
    way = Cylinder(portal.entry_mm, portal.direction, portal.length_mm, portal.radius_mm)
    return bool(way.sdf(way.seen(line)).min() < CREST_BOW_MM)


def _and(parts: Sequence[str], last: str = " and ") -> str:
    return last.join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else parts[0]
