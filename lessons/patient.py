"""What lesions cost a patient, for the window: words in blocks, the skin to light, the sources.

A portal hurts what it touches, where it touches it; a picked point is a lesion at that point.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from lessons.supplytext import supply_blocks
from meshes.branches import nerve_of
from meshes.errors import FurcalError
from meshes.lesion import Cut, cut_at, loss, nerve_ids
from meshes.supply import supply

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.contact import Docking


@dataclass(frozen=True)
class Lesion:
    """Where a nerve is hurt: its id, and the arc length, mm, along its own line."""

    id: str
    at_mm: float


@dataclass(frozen=True)
class Told:
    """What is told of one lesion.

    blocks  : (title, lines); lines are set in by spaces
    patches : areas of skin, each with whether it is lost only in part, or not in everybody
    sources : citations of the keys that the lines name
    """

    title: str
    side: str
    blocks: tuple[tuple[str, tuple[str, ...]], ...]
    patches: tuple[tuple[str, bool], ...]
    sources: tuple[str, ...]


def told_of(body: Body, lesion: Lesion) -> Told:
    """What one lesion costs. Raises FurcalError for what the body lacks, and for what is no nerve with a supply."""
    structure = body.structures.get(lesion.id)
    if structure is None or lesion.id not in body.centrelines:
        raise FurcalError(f"{lesion.id!r}: this body has no such nerve.")
    cut: Cut = cut_at(body, lesion.id, lesion.at_mm)
    found = loss(lesion.id, body.structures, cut)
    blocks, sources = supply_blocks(structure, found, cut, lesion.at_mm)
    (title, *about), *rest = blocks
    drawn = {patch: one for patch in supply().patches for one in found.skin if one.row.patch == patch}
    patches = tuple((patch, one.partial or one.row.variable) for patch, one in drawn.items())
    told = [("", tuple(about)), *((block[0], tuple(block[1:])) for block in rest)]
    return Told(title, structure.side, tuple(block for block in told if block[1]), patches, tuple(sources))


def lesions_of(body: Body, docking: Docking) -> list[Lesion]:
    """Where a portal hurts nerves: each touched piece with a supply, where it enters the portal.

    A share or a division that joins a nerve that is itself hurt tells nothing more and is left out.
    """
    hurt = [c for c in docking.nerves if c.touched and c.id in body.centrelines and has_supply(c.id)]
    own = {c.id for c in hurt}
    kept = [c for c in hurt if _goes_on_as(c.id) not in own - {c.id}]
    return [Lesion(c.id, c.inside_mm[0] if c.inside_mm else body.centrelines[c.id].nearest(c.nearest_mm)) for c in kept]


def _goes_on_as(structure_id: str) -> str:
    """The nerve that a share or a division ends in; a branch is its own."""
    bare, side = nerve_of(structure_id)
    return structure_id if structure_id.startswith(bare) else f"{bare}_{side}"


def has_supply(structure_id: str) -> bool:
    """Whether a lesion of a structure can be asked about."""
    return structure_id.removesuffix("_left").removesuffix("_right") in nerve_ids()
