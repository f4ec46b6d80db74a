"""Which wires of one side crowd at a disc on a side film, from front to back, and how far apart they lie there."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from lessons.readout import plain
from meshes.body import Body
from meshes.branches import nerve_of
from meshes.curves import Array
from meshes.film.beam import Beam
from meshes.film.filmed import SAC
from meshes.gauges.space import through_plane
from meshes.outline import Outline, disc_outline
from meshes.structures import level_key

#: The discs between L4 and S1, as they follow from the head down.
CROWD_LEVELS = ("L4-5", "L5-S1")
#: A wire further off than this before or behind the disc does not crowd there, in shares of the disc's depth.
BESIDE = 0.5
#: Middle lines this near to one another are one wire there: a ramus and what it has only just divided into, mm.
ONE_WIRE_MM = 1.0


@dataclass(frozen=True, eq=False)
class CrowdRow:
    """A wire that passes a disc.

    name         : without side
    share        : of the disc's depth, 0 at its posterior border and 1 at its anterior one, in the disc's own plane
    on_film      : the same as it is read on the film, where what is nearer to the source is carried outwards
    aside_mm     : from the midline of the disc; a side film does not show it
    point_mm     : (3,) where the nerve's middle line passes the plane of the disc
    """

    id: str
    name: str
    share: float
    on_film: float
    aside_mm: float
    point_mm: Array


def crowd(body: Body, side: str, level: str, beam: Beam, nerves: Collection[str] | None = None) -> list[CrowdRow]:
    """The wires of one side that cross the plane of a disc beside it, as they are read on a film: front to back.

    nerves : ids of those that carry wires; None for all of the side
    """
    disc = f"disc_{level_key(level)}"
    outline = disc_outline(body.surfaces[disc], body.landmarks.frames[disc])
    rows = []
    for structure in body.structures.values():
        name = structure.id
        if structure.kind != "nerve" or structure.side != side or name == SAC or name not in body.centrelines:
            continue
        if nerves is not None and name not in nerves:
            continue
        line = body.centrelines[name]
        points = line.at(through_plane(line, outline.frame)).reshape(-1, 3)
        if len(points):
            point = points[int(np.argmin(np.linalg.norm(points - outline.frame.origin, axis=1)))]
            local = outline.frame.local(point[None])[0]
            share, aside = outline.fraction(local[:2]), abs(float(local[0]))
            rows.append(CrowdRow(name, plain(structure), share, _read(outline, beam, point), aside, point))
    near = [row for row in rows if -BESIDE <= row.on_film <= 1.0 + BESIDE]
    return sorted(_one_a_wire(near), key=lambda row: (-row.on_film, row.id))


def _one_a_wire(rows: Sequence[CrowdRow]) -> list[CrowdRow]:
    """Of rows at one place the nerve that has a name of its own, else the ramus, else the first."""

    def rank(row: CrowdRow) -> tuple[bool, bool, str]:
        own = "_".join(nerve_of(row.id)) == row.id
        return (not own, "_ramus_" not in row.id, row.id)

    kept: list[CrowdRow] = []
    for row in sorted(rows, key=rank):
        if all(float(np.linalg.norm(row.point_mm - other.point_mm)) > ONE_WIRE_MM for other in kept):
            kept.append(row)
    return kept


def disc_ends(outline: Outline) -> Array:
    """Middle of a disc's posterior and anterior border (2, 3), mm, in its mid-plane."""
    return np.stack([outline.frame.point(0.0, back, 0.0) for back in (outline.back_mm, outline.front_mm)])


def _read(outline: Outline, beam: Beam, point: Array) -> float:
    """Share of the disc's depth at which a point (3,) is seen on the film, along the line between the borders."""
    back, front, at = beam.project(np.concatenate([disc_ends(outline), point[None]]))
    along = front - back
    return float((at - back) @ along / (along @ along))


def crowd_json(rows: Sequence[CrowdRow]) -> list[dict[str, Any]]:
    """Rows for programs."""
    return [
        {
            "id": row.id,
            "name": row.name,
            "share": round(row.share, 4) + 0.0,
            "on_film": round(row.on_film, 4) + 0.0,
            "aside_mm": round(row.aside_mm, 4) + 0.0,
            "point_mm": [round(float(v), 4) + 0.0 for v in row.point_mm],
        }
        for row in rows
    ]


def crowd_text(side: str, level: str, rows: Sequence[CrowdRow]) -> str:
    """Rows for people, front to back, with the step from each wire to the next one behind it."""
    lines = [
        f"{level}, {side} side, front to back (0 = posterior border of the disc, 1 = anterior border)",
        "   on film   in its plane   behind the one before   mm from the midline",
    ]
    before: float | None = None
    for number, row in enumerate(rows, start=1):
        step = "" if before is None else f"{before - row.on_film:.2f}"
        lines.append(
            f"{number:3} {row.on_film:6.2f}   {row.share:12.2f}   {step:>21}   {row.aside_mm:19.0f}   {row.name}"
        )
        before = row.on_film
    return "\n".join(lines if rows else [lines[0], "  no wire passes here"])
