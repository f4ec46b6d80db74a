"""What lesions cost a patient, for the window: words in blocks, the skin to light, the sources.

A portal hurts what it touches, where it touches it; a picked point is a lesion at that point.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from lessons.differential import tables_of
from lessons.supplytext import supply_blocks
from lessons.walktext import range_lines
from meshes.branches import nerve_of
from meshes.errors import FurcalError
from meshes.incidence import reported
from meshes.lesion import Cut, cut_at, loss, nerve_ids
from meshes.story import citation
from meshes.supply import supply
from meshes.tables import RESERVED_SOURCES

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
    else_, keys = _what_else(lesion.id.removesuffix(f"_{structure.side}"))
    blocks_ = tuple(block for block in (*told, *else_) if block[1])
    return Told(title, structure.side, blocks_, patches, tuple(dict.fromkeys((*sources, *keys))))


def _what_else(bare: str) -> tuple[list[tuple[str, tuple[str, ...]]], list[str]]:
    """What a lesion is confused with: each finding, and what each possibility shows; and the citations."""
    blocks: list[tuple[str, tuple[str, ...]]] = []
    keys: list[str] = []
    for table in tables_of(bare):
        lines = []
        for row in table.rows:
            lines.append(f"  {row.finding}")
            for key, cell in row.cells.items():
                own = [k for k in cell.source if k not in RESERVED_SOURCES]
                marks = [*own, *(citation(k) for k in cell.source if k in RESERVED_SOURCES)]
                lines.append(f"    {table.columns[key][0]}: {cell.says} [{', '.join(dict.fromkeys(marks))}]")
                keys += own
        blocks.append((f"what else it could be: {table.name}", tuple(lines)))
    return blocks, [f"{key}: {citation(key)}" for key in dict.fromkeys(keys)]


def reported_after(docking: Docking) -> Told | None:
    """How often harm was reported after the portal's approach, as ranges with denominators; None where none was."""
    portal = docking.portal
    rows = reported().after(portal.approach, portal.level)
    if not rows:
        return None
    lines = [line for row in rows for line in _indented(range_lines(row))]
    keys = dict.fromkeys(key for row in rows for one in row.series for key in one.told.sources)
    sources = tuple(f"{key}: {citation(key)}" for key in keys if key not in RESERVED_SOURCES)
    title = f"Reported after the {portal.approach} approach"
    return Told(title, "", ((reported().caution, tuple(lines)),), (), sources)


def _indented(lines: list[str]) -> list[str]:
    return [f"  {lines[0]}", *(f"    {line}" for line in lines[1:])]


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
