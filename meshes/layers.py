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
from numpy.typing import NDArray

from meshes.body import Body
from meshes.curves import Array
from meshes.errors import unknown_word
from meshes.nearby import Indices, Nearby
from meshes.portal import Portal
from meshes.tables import ANATOMY, check_keys, cited, read_toml, require
from meshes.tolerances import LAYER_GAP_MM, REACH_MM, RIM_RAYS

By = Literal["axis", "rim"]
Span = tuple[float, float]


@dataclass(frozen=True)
class Layer:
    """A stretch of the portal's way, mm along its axis from the skin; `by` tells whether the axis itself meets it.

    Skin and fasciae have no thickness. What the axis misses is told as the rim meets it, from first to last.
    """

    id: str
    name: str
    from_mm: float
    to_mm: float
    by: By


@dataclass(frozen=True)
class Plane:
    """A row of planes.toml: fat in its `place`, or a fascia `on` a muscle, on its outer or inner `face`."""

    id: str
    name: str
    place: str
    on: str
    face: str


@dataclass(frozen=True)
class Planes:
    """planes.toml: fat by place, fasciae, and the muscles that part the fat outside from the fat inside."""

    fat: Mapping[str, Plane]
    fasciae: Sequence[Plane]
    flat: Sequence[str]
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
    return Planes(fat, [row for row in rows if row.on], wall["flat"], wall["back"])


def _plane(name: str, row: Mapping[str, Any], where: str) -> Plane:
    check_keys(row, ("name", "place", "on", "face", "source"), where)
    cited(row, where)
    if "place" in row:
        key, legal = "place", ("outside", "within", "inside")
    else:
        key, legal = "face", ("outer", "inner", "")
    if require(row, key, where) not in legal:
        raise unknown_word(row[key], legal, key, where)
    return Plane(name, require(row, "name", where), row.get("place", ""), row.get("on", ""), row.get("face", ""))


def layers_along(body: Body, portal: Portal, nearby: Nearby) -> tuple[Layer, ...]:
    """Every layer of the portal's way, ordered by depth; see `Layer`."""
    met = spans_along(portal, nearby)
    axis = {n: of[0] for n, of in met.items() if of[0]}
    rim = {n: joined(s for ray in of for s in ray) for n, of in met.items() if n not in axis}
    border = portal.length_mm - portal.depth_mm
    disc = axis.pop(portal.disc, [])
    rim.pop(portal.disc, None)
    name_of = {n: s.name for n, s in body.structures.items()}
    found = [Layer("skin", name_of["skin"], 0.0, 0.0, "axis")]
    found += [Layer(n, name_of[n], a, b, "axis") for n, spans in axis.items() for a, b in spans]
    found += [Layer(n, name_of[n], a, b, "rim") for n, spans in rim.items() for a, b in spans]
    found += _fasciae(axis, portal.side, "axis") + _fasciae(rim, portal.side, "rim")
    onto = min([border, *(a for a, _ in disc)]), max([border, *(b for _, b in disc)])
    found += _fat(axis, onto[0], [n for n in axis if body.structures[n].kind not in ("nerve", "vessel")])
    found.append(Layer(portal.disc, name_of[portal.disc], *onto, "axis"))
    return tuple(sorted(found, key=lambda layer: (layer.from_mm, layer.id == portal.disc, layer.to_mm)))


def rays_of(portal: Portal) -> Array:
    """Where the axis and the rim rays stand (1 + RIM_RAYS, 2), mm across, along the first two axes of `facing`."""
    angle = np.linspace(0.0, 2.0 * np.pi, RIM_RAYS, endpoint=False)
    rim = portal.radius_mm * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.concatenate([np.zeros((1, 2)), rim])


def spans_along(portal: Portal, nearby: Nearby) -> dict[str, list[list[Span]]]:
    """Id -> for the axis and then each rim ray, the stretches (from, to), mm, between skin and end inside that solid.

    Only solids that some ray meets; without the skin, in which everything lies.
    """
    start = portal.entry_mm - REACH_MM * portal.direction
    names = [n for n in nearby.ids if n != "skin"]
    hits = nearby.pierced(names, start, portal.end_mm, rays_of(portal))
    met = {n: _spans(ray, depth - REACH_MM, sign, portal.length_mm) for n, (ray, depth, sign) in hits.items()}
    return {n: spans for n, spans in met.items() if any(spans)}


def _spans(ray: Indices, depth: Array, sign: NDArray[np.int64], length_mm: float) -> list[list[Span]]:
    """Stretches inside one solid per ray, cut to 0..length, from its crossings ordered by ray and depth."""
    out: list[list[Span]] = [[] for _ in range(RIM_RAYS + 1)]
    ends = np.append(np.flatnonzero(np.diff(ray)) + 1, len(ray))
    begin = 0
    for end in ends.tolist():
        inside, since = 0, 0.0
        # A last crossing at infinity closes what reaches past the portal's end.
        for d, s in [*zip(depth[begin:end].tolist(), sign[begin:end].tolist(), strict=True), (np.inf, -1)]:
            if inside == 0 and s > 0:
                since = d
            if inside == 1 and s < 0 and max(since, 0.0) < min(d, length_mm):
                out[int(ray[begin])].append((max(since, 0.0), min(d, length_mm)))
            inside += s
        begin = end
    return out


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


def _fat(axis: Mapping[str, Sequence[Span]], until_mm: float, solid: Iterable[str]) -> list[Layer]:
    """What no solid fills between skin and disc, named by its place to the wall.

    solid : ids that are wall where neither flat nor back muscles are met (nerves and vessels may run in any fat)
    """
    filled = joined(s for spans in axis.values() for s in spans)
    edges = [0.0, *(e for span in filled for e in span), until_mm]
    wall = _wall(axis, solid)
    out = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if b - a > LAYER_GAP_MM:
            middle = 0.5 * (a + b)
            place = "outside" if middle < wall[0] else "inside" if middle > wall[1] else "within"
            out.append(Layer(planes().fat[place].id, planes().fat[place].name, a, b, "axis"))
    return out


def _wall(axis: Mapping[str, Sequence[Span]], solid: Iterable[str]) -> Span:
    """From where to where the axis passes the wall, mm: flat muscles, else those of the back, else the first solid."""
    for muscles in (planes().flat, planes().back):
        spans = [s for n, of in axis.items() if n.rsplit("_", 1)[0] in muscles for s in of]
        if spans:
            return min(a for a, _ in spans), max(b for _, b in spans)
    first = min((a for n in solid for a, _ in axis[n]), default=np.inf)
    return first, first
