"""What lies along a portal, in order: the axis and a ring of rim rays cast through every closed surface.

A solid's stretch of a ray is where the sum of its signed crossings is above zero. Every solid is followed by itself, so
solids that overlap (a nerve inside psoas, a muscle sunk a little into its neighbour) do not confuse each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import numpy as np

from meshes.body import Body
from meshes.curves import Array
from meshes.errors import unknown_word
from meshes.nearby import Indices, Nearby
from meshes.portal import Portal
from meshes.structures import DISSECTION, SIDES, Structure
from meshes.tables import ANATOMY, check_keys, cited, read_toml, require
from meshes.tolerances import LAYER_GAP_MM, REACH_MM, RIM_RAYS

By = Literal["axis", "rim"]
Span = tuple[float, float]


@dataclass(frozen=True)
class Layer:
    """A stretch of the portal's way, mm along its axis from the skin; `by` tells whether the axis itself meets it.

    Skin and fasciae have no thickness. What the axis misses is told once, from where the rim first meets it to where
    it last leaves it.
    """

    id: str
    name: str
    from_mm: float
    to_mm: float
    by: By


@dataclass(frozen=True)
class Plane:
    """A row of planes.toml: fat in its `place`, or a fascia `on` a muscle, on its outer or inner `face`.

    layer : the layer of the dissection with which a fat lies open, if it is one of its own
    """

    id: str
    name: str
    place: str
    on: str
    face: str
    layer: str = ""


@dataclass(frozen=True)
class Planes:
    """planes.toml: fat by place, fasciae, and what parts the fat outside from that inside, at the side and behind."""

    fat: Mapping[str, Plane]
    fasciae: Sequence[Plane]
    side: Sequence[str]
    back: Sequence[str]


@cache
def planes() -> Planes:
    """The table. Raises FurcalError naming file and place."""
    path = ANATOMY / "planes.toml"
    table = read_toml(path)
    wall = require(table, "wall", str(path))
    cited(wall, f"{path}, [wall]")
    rows = [_plane(name, row, f"{path}, [{name}]") for name, row in table.items() if name != "wall"]
    fat = {row.place: row for row in rows if row.place}
    return Planes(fat, [row for row in rows if row.on], wall["side"], wall["back"])


def _plane(name: str, row: Mapping[str, Any], where: str) -> Plane:
    check_keys(row, ("name", "place", "on", "face", "layer", "source"), where)
    cited(row, where)
    if "place" in row:
        key, legal = "place", ("outside", "within", "inside")
    else:
        key, legal = "face", ("outer", "inner", "")
    if require(row, key, where) not in legal:
        raise unknown_word(row[key], legal, key, where)
    if row.get("layer", DISSECTION[0]) not in DISSECTION:
        raise unknown_word(row["layer"], DISSECTION, "layer", where)
    return Plane(name, require(row, "name", where), *(row.get(k, "") for k in ("place", "on", "face", "layer")))


def opened_with(name: str, structures: Mapping[str, Structure]) -> str:
    """The layer of the dissection with which a layer of the way lies open, by its id.

    "" for a nerve, which leaves with no layer, and for fat between two of them.
    """
    if name in structures:
        return "" if structures[name].kind == "nerve" else structures[name].layer
    for plane in (*planes().fat.values(), *planes().fasciae):
        if plane.id == name:
            return structures[f"{plane.on}_{SIDES[0]}"].layer if plane.on else plane.layer
    raise unknown_word(name, structures, "layer")


def layers_along(body: Body, portal: Portal, nearby: Nearby) -> tuple[Layer, ...]:
    """Every layer of the portal's way, ordered by depth; see `Layer`."""
    stretches = stretches_along(portal, nearby)
    axis, rim = stretches.of_axis(nearby.ids), stretches.of_rim(nearby.ids)
    border = portal.length_mm - portal.depth_mm
    disc = axis.pop(portal.disc, [])
    rim = {n: spans for n, spans in rim.items() if n not in axis and n != portal.disc}
    name_of = {n: s.name for n, s in body.structures.items()}
    found = [Layer("skin", name_of["skin"], 0.0, 0.0, "axis")]
    found += [Layer(n, name_of[n], a, b, "axis") for n, spans in axis.items() for a, b in spans]
    found += [Layer(n, name_of[n], a, b, "rim") for n, spans in rim.items() for a, b in spans]
    found += _fasciae(axis, portal.side, "axis") + _fasciae(rim, portal.side, "rim")
    onto = min([border, *(a for a, _ in disc)]), max([border, *(b for _, b in disc)])
    found += _fat(axis, onto[0], wall_along(body, portal, axis))
    found.append(Layer(portal.disc, name_of[portal.disc], *onto, "axis"))
    return tuple(sorted(found, key=lambda layer: (layer.from_mm, layer.id == portal.disc, layer.to_mm)))


@dataclass(frozen=True, eq=False)
class Stretches:
    """Stretches of rays inside solids.

    owner : (s,) index of the solid; ray : (s,) 0 for the axis, then the rim; from_mm, to_mm : (s,) along the axis
    """

    owner: Indices
    ray: Indices
    from_mm: Array
    to_mm: Array

    def of_axis(self, ids: Sequence[str]) -> dict[str, list[Span]]:
        """Id -> the axis' stretches in that solid, for those that it meets."""
        out: dict[str, list[Span]] = {}
        axis = self.ray == 0
        for i, a, b in zip(*(x[axis].tolist() for x in (self.owner, self.from_mm, self.to_mm)), strict=True):
            out.setdefault(ids[i], []).append((a, b))
        return out

    def of_rim(self, ids: Sequence[str]) -> dict[str, list[Span]]:
        """Id -> from where the first rim ray meets that solid to where the last leaves it, as one stretch."""
        first = np.flatnonzero(np.diff(self.owner, prepend=-1))
        if not len(first):
            return {}
        a, b = np.minimum.reduceat(self.from_mm, first), np.maximum.reduceat(self.to_mm, first)
        return {ids[i]: [(c, d)] for i, c, d in zip(self.owner[first].tolist(), a.tolist(), b.tolist(), strict=True)}


def rays_of(portal: Portal) -> Array:
    """Where the axis and the rim rays stand (1 + RIM_RAYS, 2), mm across, along the first two axes of `facing`."""
    angle = np.linspace(0.0, 2.0 * np.pi, RIM_RAYS, endpoint=False)
    rim = portal.radius_mm * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.concatenate([np.zeros((1, 2)), rim])


def stretches_along(portal: Portal, nearby: Nearby) -> Stretches:
    """Where axis and rim rays run inside solids between skin and end; without the skin, in which everything lies."""
    start = portal.entry_mm - REACH_MM * portal.direction
    hits = nearby.pierced(set(nearby.ids) - {"skin"}, start, portal.end_mm, rays_of(portal))
    # One count for each solid and ray: how often it has been entered and not yet left.
    group = hits.owner * (RIM_RAYS + 1) + hits.ray
    total = np.cumsum(hits.sign)
    before = np.concatenate([[0], total])[np.searchsorted(group, group)]
    inside = total - before
    was_inside = inside - hits.sign
    enters = np.flatnonzero((inside > 0) & (was_inside <= 0))
    leaves = np.flatnonzero((inside <= 0) & (was_inside > 0))
    # Each is left at the next crossing outwards, or beyond the portal's end where none was sought.
    following = np.append(leaves, len(group))[np.searchsorted(leaves, enters)]
    left = np.append(group, -1)[following] == group[enters]
    begin = np.maximum(hits.depth[enters] - REACH_MM, 0.0)
    end = np.where(left, np.append(hits.depth, np.inf)[following] - REACH_MM, np.inf)
    end = np.minimum(end, portal.length_mm)
    some = begin < end
    return Stretches(hits.owner[enters][some], hits.ray[enters][some], begin[some], end[some])


def joined(spans: Iterable[Span]) -> list[Span]:
    """Stretches in order, those that overlap or touch as one."""
    out: list[Span] = []
    for a, b in sorted(spans):
        if out and a <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], b))
        else:
            out.append((a, b))
    return out


def _fasciae(met: Mapping[str, Sequence[Span]], side: str, by: By) -> list[Layer]:
    """The fasciae on muscles of the docked side that were met."""
    out = []
    for plane in planes().fasciae:
        spans = met.get(f"{plane.on}_{side}")
        if spans:
            at = min(a for a, _ in spans) if plane.face == "outer" else max(b for _, b in spans)
            out.append(Layer(plane.id, plane.name, at, at, by))
    return out


def _fat(axis: Mapping[str, Sequence[Span]], until_mm: float, wall: Span) -> list[Layer]:
    """What no solid fills between skin and disc, named by its place to the wall; parted where the wall is a line."""
    filled = joined([*(s for spans in axis.values() for s in spans), *([wall] if wall[0] == wall[1] else [])])
    edges = [0.0, *(e for span in filled for e in span), until_mm]
    out = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if b - a > LAYER_GAP_MM:
            middle = 0.5 * (a + b)
            place = "outside" if middle < wall[0] else "inside" if middle > wall[1] else "within"
            out.append(Layer(planes().fat[place].id, planes().fat[place].name, a, b, "axis"))
    return out


def wall_along(body: Body, portal: Portal, axis: Mapping[str, Sequence[Span]]) -> Span:
    """From where to where the axis passes the wall, mm.

    The wall is that of the side, or that of the back where the axis meets nothing of the side. Where it meets neither,
    one depth: where it comes nearest to the wall of the side, or its first bone or muscle if that is met before.
    """
    for parts in (planes().side, planes().back):
        spans = [s for n, of in axis.items() if n.rsplit("_", 1)[0] in parts for s in of]
        if spans:
            return min(a for a, _ in spans), max(b for _, b in spans)
    wall = [s.vertices for n, s in body.surfaces.items() if n.rsplit("_", 1)[0] in planes().side]
    from_entry = np.concatenate([np.zeros((1, 3)), *wall]) - portal.entry_mm
    depth = from_entry @ portal.direction
    away = (from_entry**2).sum(axis=1) - depth**2
    away[(depth < 0.0) | (depth > portal.length_mm - portal.depth_mm)] = np.inf
    firm = [a for n, of in axis.items() if body.structures[n].kind in ("bone", "muscle") for a, _ in of]
    line = min([float(depth[np.argmin(away)]), *firm])
    return line, line
