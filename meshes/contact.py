"""Portal and body -> a docking: what the portal passes, what it touches, and how close the rest is.

Clearance of tubes is exact (meshes/clearance.py), of other organs exact for their surface as meshed (meshes/facets.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from meshes.access import Access, access, table_breaks
from meshes.body import Body
from meshes.clearance import Chains, clearances
from meshes.curves import Array
from meshes.cylinder import Cylinder
from meshes.facets import lowest_on
from meshes.layers import Layer, layers_along
from meshes.nearby import Nearby, reach
from meshes.portal import Portal
from meshes.specimen import Specimen
from meshes.structures import Structure
from meshes.surfaces import Surface

SCHEMA = 1
KINDS = ("nerve", "vessel", "viscus")


@dataclass(frozen=True, eq=False)
class Contact:
    """One nerve, vessel or viscus and the portal.

    clearance_mm : signed distance of the solids; inside, minus the depth of the deepest ball
    nearest_mm   : (3,) where it is reached: on the middle line of a tube, on the surface of anything else
    depth_mm     : that point's depth along the portal's axis, from the skin
    inside_mm    : arc length where a tube's part inside begins and ends; None where nothing is, or it is no tube
    inside_length_mm : length of a tube inside, gaps left out; None where it is no tube
    """

    structure: Structure
    clearance_mm: float
    nearest_mm: Array
    depth_mm: float
    inside_mm: tuple[float, float] | None
    inside_length_mm: float | None

    @property
    def id(self) -> str:
        """The structure's id."""
        return self.structure.id

    @property
    def touched(self) -> bool:
        """Whether portal and structure meet."""
        return self.clearance_mm <= 0.0


@dataclass(frozen=True, eq=False)
class Ready:
    """A body prepared for many portals: what `dock` would otherwise prepare for each.

    chains : the vessels, viscera and nerves that are tubes
    solids : id -> the surface of those that are none, and how far each of its triangles reaches from its first corner
    """

    body: Body
    nearby: Nearby
    chains: Chains
    solids: Mapping[str, tuple[Surface, Array]]

    @staticmethod
    def of(body: Body) -> Ready:
        """Prepare a body; the few that were last asked for are kept."""
        return _prepared(body)

    @staticmethod
    def _of(body: Body) -> Ready:
        every = [n for kind in KINDS for n in body.ids(kind)]
        solids = {n: body.surfaces[n] for n in every if n not in body.centrelines}
        reaches = {n: reach(*np.moveaxis(surface.triangles(), 1, 0)) for n, surface in solids.items()}
        tubes = Chains.of(body.centrelines, [n for n in every if n in body.centrelines])
        return Ready(body, Nearby(body.surfaces), tubes, {n: (solids[n], reaches[n]) for n in solids})


@lru_cache(maxsize=4)
def _prepared(body: Body) -> Ready:
    return Ready._of(body)  # bodies are told apart by identity


@dataclass(frozen=True, eq=False)
class Docking:
    """A portal docked on a body, answered. Nerves, vessels and viscera: every one, the closest first.

    Bone in the way and layers are found when they are first asked for: while a portal is dragged not every place is
    read, and every place is touched or not.
    """

    portal: Portal
    nerves: tuple[Contact, ...]
    vessels: tuple[Contact, ...]
    viscera: tuple[Contact, ...]
    ready: Ready = field(repr=False)

    @property
    def specimen(self) -> Specimen:
        """Whose body it is docked on."""
        return self.ready.body.specimen

    @cached_property
    def access(self) -> Access:
        """Bone in the way."""
        body = self.ready.body
        return access(body, self.portal, self.ready.nearby, table_breaks(body.specimen, self.portal.side))

    @cached_property
    def layers(self) -> tuple[Layer, ...]:
        """What the portal passes, from the skin inwards."""
        return layers_along(self.ready.body, self.portal, self.ready.nearby)


def dock(body: Body, portal: Portal, ready: Ready | None = None) -> Docking:
    """What the portal passes, touches and comes near.

    ready : the body prepared before, where many portals are asked of the same one
    """
    ready = ready if ready is not None and ready.body is body else Ready.of(body)
    contacts = touching(portal, ready)
    by_kind = {kind: tuple(c for c in contacts if c.structure.kind == kind) for kind in KINDS}
    return Docking(portal, by_kind["nerve"], by_kind["vessel"], by_kind["viscus"], ready)


def touching(portal: Portal, ready: Ready) -> list[Contact]:
    """Every nerve, vessel and viscus of a body against a portal, the closest first."""
    cylinder = Cylinder(portal.entry_mm, portal.direction, portal.length_mm, portal.radius_mm)
    found = _tubes(cylinder, ready) + _solids(cylinder, ready)
    return sorted(found, key=lambda c: (c.clearance_mm, c.id))


def _tubes(cylinder: Cylinder, ready: Ready) -> list[Contact]:
    answer = clearances(cylinder, ready.chains)
    rows = zip(
        ready.chains.ids,
        answer.clearance_mm.tolist(),
        answer.nearest_mm,
        answer.depth_mm.tolist(),
        answer.inside_mm.tolist(),
        answer.inside_length_mm.tolist(),
        strict=True,
    )
    return [
        Contact(ready.body.structures[n], clear, nearest, depth, None if a != a else (a, b), length)
        for n, clear, nearest, depth, (a, b), length in rows
    ]


def _solids(cylinder: Cylinder, ready: Ready) -> list[Contact]:
    """Vessels and viscera without a middle line."""
    found = []
    for n, (surface, far) in ready.solids.items():
        # Only triangles that may come nearer than the nearest vertex are worth their corners.
        value = cylinder.sdf(cylinder.seen(surface.vertices))
        faces = surface.faces[value[surface.faces[:, 0]] - far <= value.min()]
        clear, nearest = lowest_on(cylinder, surface.vertices[faces])
        depth = float((nearest - cylinder.start) @ cylinder.direction)
        found.append(Contact(ready.body.structures[n], clear, nearest, depth, None, None))
    return found


def as_json(docking: Docking) -> dict[str, Any]:
    """The docking for programs: plain values, lengths in mm to 4 decimals, schema 1."""
    from importlib.metadata import version

    clears_at = docking.access.clears_at
    return {
        "schema": SCHEMA,
        "furcal_version": version("furcal"),
        "specimen": specimen_json(docking.specimen),
        "portal": portal_json(docking.portal),
        "reaches_disc": docking.access.reaches_disc,
        "barred_by": list(docking.access.barred_by),
        "clears_at": clears_at and {"cranial_deg": clears_at.cranial_deg, "table_break_deg": clears_at.table_break_deg},
        "layers": [
            {"id": y.id, "name": y.name, "from_mm": _mm(y.from_mm), "to_mm": _mm(y.to_mm), "by": y.by}
            for y in docking.layers
        ],
        "nerves": [_contact_json(c) for c in docking.nerves],
        "vessels": [_contact_json(c) for c in docking.vessels],
        "viscera": [_contact_json(c) for c in docking.viscera],
    }


def _mm(value: float) -> float:
    return round(float(value), 4) + 0.0


def _mms(values: Sequence[float] | Array) -> list[float]:
    return [_mm(v) for v in np.asarray(values)]


def specimen_json(specimen: Specimen) -> dict[str, Any]:
    """All that makes a specimen, for programs."""
    return {
        "name": specimen.name,
        "sex": specimen.sex or None,
        "stature_mm": specimen.stature_mm or None,
        "posture": specimen.posture,
        "table_break_deg": specimen.table_break_deg,
        "up": specimen.up or None,
        "psoas_scale": specimen.psoas_scale,
        "seed": specimen.seed,
        "variants": sorted(specimen.variants),
    }


def portal_json(portal: Portal) -> dict[str, Any]:
    """A portal for programs."""
    return {
        "level": portal.level,
        "side": portal.side,
        "approach": portal.approach,
        "at": portal.at,
        "quarter": portal.quarter,
        "radius_mm": portal.radius_mm,
        "depth_mm": portal.depth_mm,
        "entry_mm": _mms(portal.entry_mm),
        "end_mm": _mms(portal.end_mm),
        "direction": [round(float(d), 9) + 0.0 for d in portal.direction],
    }


def _contact_json(contact: Contact) -> dict[str, Any]:
    structure = contact.structure
    return {
        "id": structure.id,
        "name": structure.name,
        "latin": structure.latin,
        "roots": structure.roots,
        "side": structure.side,
        "touched": contact.touched,
        "clearance_mm": _mm(contact.clearance_mm),
        "nearest_mm": _mms(contact.nearest_mm),
        "depth_mm": _mm(contact.depth_mm),
        "inside_mm": None if contact.inside_mm is None else _mms(contact.inside_mm),
        "inside_length_mm": None if contact.inside_length_mm is None else _mm(contact.inside_length_mm),
    }
