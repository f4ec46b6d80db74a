"""A docking as text for people: worst first, with units, and nothing that is not in the docking."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from lessons.caution import CAUTION
from meshes.contact import Contact, Docking
from meshes.layers import Layer
from meshes.portal import Portal, approaches
from meshes.specimen import Specimen
from meshes.structures import SIDES, Structure
from meshes.tolerances import CLEARING_TILT_MAX_DEG

#: How quarters of a disc are counted; wherever one is told, this is told with it.
QUARTERS_RUN = "I anterior to IV posterior"
QUARTER_SCHEME = f"quarters of the disc, {QUARTERS_RUN}"
#: What comes this near is listed one by one, mm.
CLOSE_MM = 10.0
WIDTH = 100

_COUNTS_ALONG = {
    "side": "0 = posterior border of the disc, 1 = anterior border",
    "front": "0 = left end of the disc's front, 1 = right end",
    "back": "0 = at the foramen, 1 = at the midline behind",
}


def dock_text(docking: Docking) -> str:
    """The whole answer as plain text, at most 100 columns."""
    parts = [
        *_where(docking.portal, docking.specimen),
        "",
        access_text(docking),
        "",
        *_contacts([*docking.nerves, *docking.vessels, *docking.viscera]),
        "",
        *_layers(docking),
        "",
        # Too long for one line; broken where its sentence is.
        *CAUTION.replace("; ", ";\n").splitlines(),
    ]
    return "\n".join(_wrapped(part) for part in parts)


def named(structure: Structure) -> str:
    """Name of a structure, its side behind it: "femoral artery, left"."""
    return sided(plain(structure), structure.side)


def plain(structure: Structure) -> str:
    """Name of a structure without its side."""
    name, side = structure.name, structure.side
    return name[len(side) + 1 :] if side and name.lower().startswith(f"{side} ") else name


def sided(name: str, side: str) -> str:
    """A name with a side behind it, unless there is none."""
    return f"{name}, {side}" if side else name


def capital(words: str) -> str:
    """Words at the head of a line."""
    return words[:1].upper() + words[1:]


def small(name: str) -> str:
    """A name within a line; one that begins with a level (L4 vertebra) keeps its capital."""
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def access_text(docking: Docking) -> str:
    """Whether bone bars the way, and what would clear it."""
    says = barred_text(docking)
    return says if docking.access.clears_at is None else f"{says} {clearing_text(docking)}"


def clearing_text(docking: Docking) -> str:
    """What would clear a barred way, at the least; nothing where none is barred."""
    clears_at = docking.access.clears_at
    if clears_at is None:
        return ""
    tilt, opened = clears_at.cranial_deg, clears_at.table_break_deg
    ways = []
    if tilt is not None:
        ways.append(f"a tilt of {abs(tilt)} degrees towards the {'head' if tilt >= 0 else 'feet'} (--cranial {tilt})")
    if opened is not None:
        ways.append(f"a table break of {opened} degrees")
    if ways:
        return f"What clears it, at the least: {', or '.join(ways)}."
    table = " and no table break" if docking.specimen.posture == "side_lying" else ""
    return f"No tilt up to {CLEARING_TILT_MAX_DEG} degrees{table} clears it."


def barred_text(docking: Docking) -> str:
    """Whether bone bars the way, and which; what would clear it is not sought."""
    access, disc = docking.access, f"the {docking.portal.level} disc"
    if access.reaches_disc:
        return f"No bone bars the way to {disc}."
    return f"Barred: the way to {disc} meets {'; '.join(named(bone) for bone in access.barred)}."


def _where(portal: Portal, specimen: Specimen) -> list[str]:
    way = approaches()[portal.approach]
    tilts = [
        f"{name} {value:g} degrees"
        for name, value in (("--cranial", portal.cranial_deg), ("--anterior", portal.anterior_deg))
        if value
    ]
    posture = specimen.posture.replace("_", "-")
    if specimen.table_break_deg:
        posture += f", table break {specimen.table_break_deg:g} degrees, {specimen.up} side up"
    return [
        f"{specimen.name}, {posture}",
        f"Portal {portal.level} {portal.side}, {portal.approach}: {way.says}",
        f"  at        {portal.at:g} ({_COUNTS_ALONG[way.rim]})",
        f"  quarter   {portal.quarter} ({QUARTER_SCHEME})",
        f"  radius    {portal.radius_mm:g} mm, {portal.length_mm:.1f} mm long from the skin, "
        f"ending {portal.depth_mm:g} mm past the disc's border",
        f"  tilt      {', '.join(tilts) or 'none'}",
    ]


def _contacts(contacts: Sequence[Contact]) -> list[str]:
    worst = sorted(contacts, key=lambda c: c.clearance_mm)
    touched = [c for c in worst if c.touched]
    close = [c for c in worst if not c.touched and c.clearance_mm <= CLOSE_MM]
    far = [c for c in worst if c.clearance_mm > CLOSE_MM]
    return [
        "Touched (a negative distance: how deep it lies inside the portal)",
        *([_row(c) for c in touched] or ["  nothing"]),
        "",
        f"Close, not touched (within {CLOSE_MM:g} mm)",
        *([_row(c) for c in close] or ["  nothing"]),
        "",
        *_farther(far),
    ]


def _row(contact: Contact) -> str:
    structure = contact.structure
    roots = f" ({structure.roots})" if structure.roots and structure.roots not in structure.name else ""
    inside = f", {contact.inside_length_mm:.0f} mm of it inside" if contact.inside_length_mm else ""
    return f"  {contact.clearance_mm:6.1f} mm   {contact.depth_mm:4.0f} mm deep   {named(structure)}{roots}{inside}"


def _farther(far: Sequence[Contact]) -> list[str]:
    lines = []
    for kind, plural in (("nerve", "nerves"), ("vessel", "vessels"), ("viscus", "viscera")):
        some = [c for c in far if c.structure.kind == kind]
        if some:
            count = f"{len(some)} {plural if len(some) > 1 else kind}"
            nearest = some[0]
            lines.append(f"  {count}, the nearest {named(nearest.structure)} at {nearest.clearance_mm:.1f} mm")
    return [f"Farther than {CLOSE_MM:g} mm", *lines] if lines else []


def _layers(docking: Docking) -> list[str]:
    lines = ["Layers, mm from the skin along the axis (rim: met by the portal's rim only)"]
    for layer in docking.layers:
        start, end = f"{layer.from_mm:6.1f}", f"{layer.to_mm:6.1f}"
        depth = f"{start} -{end}" if start != end else f"{start}        "
        lines.append(f"  {depth}  {layer_name(layer, docking.portal)}{'  (rim)' if layer.by == 'rim' else ''}")
    return lines


def layer_name(layer: Layer, portal: Portal) -> str:
    """Its name, with its side where that is not the docked one, or where a portal from the front may meet either."""
    side = layer.id.rsplit("_", 1)[-1]
    if side not in SIDES:
        return layer.name
    name = layer.name.removeprefix(f"{side} ")
    return sided(name, side) if side != portal.side or portal.approach == "anterior" else name


def _wrapped(line: str) -> str:
    """A line as it is, or broken at 100 columns, what follows set in where it is."""
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.fill(line, WIDTH, subsequent_indent=indent * 2) if len(line) > WIDTH else line
