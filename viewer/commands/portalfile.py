"""Reads the portal of a docking that `furcal dock --json` wrote, and places it again on the same specimen."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from meshes.errors import FurcalError, shown

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.portal import Portal
    from meshes.specimen import Specimen

#: What a portal is placed by; its tilts are read from where it points.
WORDS, NUMBERS = ("level", "side", "approach"), ("at", "radius_mm", "depth_mm")
#: A portal that is placed again ends within this of where the file says, mm: the file has four decimals.
AGAIN_MM = 0.05


@dataclass(frozen=True)
class PortalRow:
    """The portal of a file."""

    level: str
    side: str
    approach: str
    at: float
    radius_mm: float
    depth_mm: float
    direction: tuple[float, ...]
    end_mm: tuple[float, ...]


def read_portal(path: Path, specimen: Specimen) -> PortalRow:
    """The portal of a file, docked on this specimen. Raises FurcalError naming file, place and remedy."""
    from meshes.contact import SCHEMA, specimen_json
    from meshes.portal import check_numbers, check_words

    remedy = "write it with furcal dock ... --json"
    answer = _read(path)
    if not isinstance(answer, dict) or "portal" not in answer or "schema" not in answer:
        raise FurcalError(f"{path}: is no docking; {remedy}.")
    if answer["schema"] != SCHEMA:
        raise FurcalError(f"{path}, schema: expected {SCHEMA}, found {shown(answer['schema'])}; {remedy}.")
    row = _row(answer["portal"], f"{path}, portal", remedy)
    try:
        check_words(row.level, row.side, row.approach)
        check_numbers(row.at, row.radius_mm, row.depth_mm, 0.0, 0.0)
    except FurcalError as error:
        raise FurcalError(f"{path}, portal: {error}") from None
    ours, theirs = specimen_json(specimen.facing_up(row.side)), answer.get("specimen")
    if not isinstance(theirs, dict):
        raise FurcalError(f"{path}, specimen: is missing; {remedy}.")
    other = [key for key in ours if theirs.get(key) != ours[key]]
    if other:
        unlike = f"{other[0]} {shown(theirs.get(other[0]))}, here {shown(ours[other[0]])}"
        raise FurcalError(
            f"{path}: was docked on another specimen ({unlike}); give that one by --specimen FILE or --seed N."
        )
    return row


def portal_in(body: Body, row: PortalRow, where: str) -> Portal:
    """The portal, placed again. Raises FurcalError where it does not come to where the file says."""
    import numpy as np

    from meshes.portal import place, tilts_of
    from meshes.structures import level_key

    frame = body.landmarks.frames[f"disc_{level_key(row.level)}"]
    way = np.array(row.direction)
    length = float(np.linalg.norm(way))
    if not abs(length - 1.0) < 1e-3:
        raise FurcalError(f"{where}, portal, direction: must have the length 1.")
    cranial, anterior = tilts_of(frame.axes @ (-way / length), row.approach, row.side)
    tilts = round(cranial, 6) + 0.0, round(anterior, 6) + 0.0
    try:
        portal = place(body, row.level, row.side, row.approach, row.at, row.radius_mm, row.depth_mm, *tilts)
    except FurcalError as error:
        raise FurcalError(f"{where}, portal: {error}") from None
    off = float(np.linalg.norm(portal.end_mm - np.array(row.end_mm)))
    if off > AGAIN_MM:
        raise FurcalError(
            f"{where}, portal: ends {off:.1f} mm from where it should on this body; write it anew with furcal dock."
        )
    return portal


def _read(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise FurcalError(f"{path}: no such file; write it with furcal dock ... --json.") from None
    except OSError as error:
        raise FurcalError(f"{path}: cannot be read ({error.strerror}).") from None
    except (ValueError, RecursionError):
        raise FurcalError(f"{path}: is no JSON; write it with furcal dock ... --json.") from None


def _row(portal: Any, where: str, remedy: str) -> PortalRow:
    if not isinstance(portal, dict):
        raise FurcalError(f"{where}: is no portal; {remedy}.")
    for key in WORDS:
        if not isinstance(portal.get(key), str):
            raise FurcalError(f"{where}, {key}: expected a word, found {shown(portal.get(key))}; {remedy}.")
    for key in NUMBERS:
        if not _is_number(portal.get(key)):
            raise FurcalError(f"{where}, {key}: expected a number, found {shown(portal.get(key))}; {remedy}.")
    for key in ("direction", "end_mm"):
        value = portal.get(key)
        if not isinstance(value, list) or len(value) != 3 or not all(_is_number(v) for v in value):
            raise FurcalError(f"{where}, {key}: expected three numbers, found {shown(value)}; {remedy}.")
    level, side, approach = (portal[key] for key in WORDS)
    at, radius, depth = (float(portal[key]) for key in NUMBERS)
    direction, end = (tuple(float(v) for v in portal[key]) for key in ("direction", "end_mm"))
    return PortalRow(level, side, approach, at, radius, depth, direction, end)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9
