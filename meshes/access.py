"""Whether a portal reaches its disc past the bones, and what would clear the way; by geometry, without any rule.

Bone bars a portal that overlaps it on its way from the skin to the disc's border, but for what the portal comes to
stand on: bone of the two vertebrae beside the disc that lies within the disc's outline, grown by the bulge of their
rims. Their processes and alae lie outside it and do bar.

The search for a way asks the same question of one tilt, and of one table break, after another. Bones are rigid: for
another table break it is the portal that is carried into each bone's own place, so that no bone has to be moved.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np

from meshes.body import Body
from meshes.curves import Array
from meshes.cylinder import Cylinder
from meshes.errors import FurcalError
from meshes.facets import cut_in_four, lowest_on
from meshes.landmarks import Frame
from meshes.nearby import Nearby, reach
from meshes.outline import Outline, disc_outline
from meshes.portal import Portal, approaches, lean, skin_entry
from meshes.posture import frames_for
from meshes.specimen import RANGES, Specimen
from meshes.structures import Structure
from meshes.tolerances import BONE_GRAZE_MM, CLEARING_TILT_MAX_DEG, REACH_MM, RIM_BULGE_MM, RIM_CUT_MM

#: Table break, degrees -> frames of the rigid parts of the same specimen lying on a table broken so far.
Breaks = Callable[[float], Mapping[str, Frame]]


@dataclass(frozen=True)
class Clearing:
    """What would open the way: the smallest tilt and the smallest table break, whole degrees; None where none does."""

    cranial_deg: int | None
    table_break_deg: int | None


@dataclass(frozen=True)
class Access:
    """barred: the bones in the way, the first met first; search: finds what would clear a barred way."""

    barred: tuple[Structure, ...]
    search: Callable[[], Clearing] | None = field(default=None, repr=False, compare=False)

    @cached_property
    def clears_at(self) -> Clearing | None:
        """What would clear the way; None where nothing bars it. Sought when first asked, for that takes its time."""
        return self.search() if self.search is not None else None

    @property
    def barred_by(self) -> tuple[str, ...]:
        """Ids of the bones in the way."""
        return tuple(bone.id for bone in self.barred)

    @property
    def reaches_disc(self) -> bool:
        """Whether no bone stands in the way."""
        return not self.barred


@dataclass(frozen=True, eq=False)
class _Way:
    """A semi-infinite portal: from the disc's border (3,), mm, outwards along a unit direction (3,)."""

    border: Array
    outwards: Array

    def carried(self, here: Frame, there: Frame) -> _Way:
        """The same way, fixed to a part that stands here, once it stands there."""
        tip = here.carried(self.border + self.outwards, there)
        border = here.carried(self.border, there)
        return _Way(border, tip - border)


def access(body: Body, portal: Portal, nearby: Nearby, breaks: Breaks | None = None) -> Access:
    """Bones in the way of a portal and what would clear it.

    breaks : how the specimen lies on a broken table; None where the posture has no table break
    """
    bones = Bones(body, portal, nearby)
    barred = bones.barring(bones.way)
    if not barred:
        return Access(())
    return Access(tuple(body.structures[n] for n in barred), partial(_clearing, bones, breaks))


class Bones:
    """The bones of a body as one portal meets them."""

    def __init__(self, body: Body, portal: Portal, nearby: Nearby) -> None:
        self.body, self.portal, self.nearby = body, portal, nearby
        self.way = _Way(portal.border_mm, -portal.direction)
        self.frame = body.landmarks.frames[portal.disc]
        self.outline: Outline = disc_outline(body.surfaces[portal.disc], self.frame)
        self.beside = beside(portal.disc)
        self.ids = body.ids("bone")

    def barring(self, way: _Way) -> list[str]:
        """Ids of the bones in the way, the first met first."""
        near = self.nearby.near(set(self.ids), _far(way), way.border, self.portal.radius_mm)
        found = {n: d for n, corners in near.items() if (d := self._met_at(n, way, corners)) is not None}
        return sorted(found, key=lambda n: found[n])

    def clear(self, ways: Mapping[str, _Way]) -> bool:
        """Whether no bone bars its own way (id -> way). The bone that barred the last one is asked first."""
        for name in self.ids:
            if self._met_at(name, ways[name]) is not None:
                self.ids.remove(name)
                self.ids.insert(0, name)
                return False
        return True

    def _met_at(self, name: str, way: _Way, corners: Array | None = None) -> float | None:
        """Depth, mm from far outside, at which a bone is overlapped; None where it is passed.

        corners : its triangles near the way, where they are known
        """
        radius, start = self.portal.radius_mm, _far(way)
        if corners is None:
            corners = self.nearby.triangles(name, start, way.border, radius)
        cylinder = Cylinder(start, -way.outwards, REACH_MM, radius)
        if name in self.beside:
            corners = self._off_rim(corners)
        if not len(corners):
            return None
        value, point = lowest_on(cylinder, corners, enough_mm=-BONE_GRAZE_MM)
        if value >= -BONE_GRAZE_MM:
            return None
        seen = cylinder.seen(corners)
        overlapped = seen[2][cylinder.sdf(seen) < 0.0]
        return float(min([cylinder.seen(point)[2], *overlapped]))

    def _off_rim(self, corners: Array) -> Array:
        """What of triangles (t, 3, 3) lies outside the disc's outline grown by its bulge, cut small at the border."""
        kept = []
        while len(corners):
            within = self.outline.within(corners.reshape(-1, 3), RIM_BULGE_MM).reshape(-1, 3)
            kept.append(corners[~within.any(axis=1)])
            mixed = corners[within.any(axis=1) & ~within.all(axis=1)]
            small = reach(*np.moveaxis(mixed, 1, 0)) < RIM_CUT_MM
            kept.append(mixed[small])
            corners = cut_in_four(mixed[~small])
        return np.concatenate(kept) if kept else corners


def beside(disc: str) -> tuple[str, str]:
    """Ids of the bones above and below a disc."""
    above, below = disc.removeprefix("disc_").split("_")
    below = "sacrum" if below == "s1" else below if below[0] in "lt" else above[0] + below
    return above, below


def carrier(bone: str) -> str:
    """Name of the rigid frame that a bone moves with."""
    part = bone.split("_")
    if part[0] == "rib":
        return f"t{part[1]}"
    return "pelvis" if part[0] in ("sacrum", "hip", "femur") else bone


def table_breaks(specimen: Specimen, side: str) -> Breaks | None:
    """How a specimen lies on a table broken further, docked side up where it leaves that open; None off its side."""
    if specimen.posture != "side_lying":
        return None
    return lambda degrees: frames_for(replace(specimen, table_break_deg=degrees, up=specimen.up or side))


def _clearing(bones: Bones, breaks: Breaks | None) -> Clearing:
    return Clearing(_smallest_tilt(bones), _smallest_break(bones, breaks) if breaks else None)


def _smallest_tilt(bones: Bones) -> int | None:
    """Whole degrees of --cranial nearest to zero at which no bone bars the way and the axis still meets skin."""
    portal = bones.portal
    outwards = approaches()[portal.approach].outwards(portal.side)
    for cranial in _nearest_to_zero(CLEARING_TILT_MAX_DEG):
        direction = lean(outwards, portal.side, cranial, portal.anterior_deg) @ bones.frame.axes
        way = _Way(bones.way.border, direction)
        if bones.clear(dict.fromkeys(bones.ids, way)) and _meets_skin(bones.body, portal, direction):
            return cranial
    return None


def _far(way: _Way) -> Array:
    """A point (3,) of the way's axis outside every body."""
    far: Array = way.border + REACH_MM * way.outwards
    return far


def _nearest_to_zero(most: int) -> Iterator[int]:
    yield 0
    for size in range(1, most + 1):
        yield from (size, -size)


def _meets_skin(body: Body, portal: Portal, outwards: Array) -> bool:
    try:
        skin_entry(body, portal.border_mm, replace(portal, direction=-outwards))
    except FurcalError:
        return False
    return True


def _smallest_break(bones: Bones, breaks: Breaks) -> int | None:
    """Whole degrees of table break, the smallest first, at which no bone bars the same portal on the carried disc."""
    disc = bones.portal.disc
    here = breaks(bones.body.specimen.table_break_deg)
    for degrees in range(int(RANGES["table_break_deg"][1]) + 1):
        there = breaks(float(degrees))
        on_disc = bones.way.carried(here[disc], there[disc])
        part = {n: carrier(n) for n in bones.ids}
        if bones.clear({n: on_disc.carried(there[p], here[p]) for n, p in part.items()}):
            return degrees
    return None
