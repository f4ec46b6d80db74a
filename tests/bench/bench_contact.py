"""Clearance and layers of one portal against general libraries, on the same tubes and meshes."""

from __future__ import annotations

from collections.abc import Sequence

import fcl
import numpy as np
import trimesh
from trimesh.ray.ray_triangle import RayMeshIntersector

from meshes.clearance import Chains, clearances
from meshes.curves import Array
from meshes.cylinder import Cylinder
from meshes.layers import layers_along, rays_of
from meshes.nearby import Nearby, facing
from meshes.portal import Portal
from tests.bench.results import Ratio, seconds
from tests.bench.subject import subject

#: The library works to about this, mm; a stretch whose radius changes is a capsule of its mean radius there.
LIBRARY_MM = 1e-3


def turned_to(direction: Array) -> Array:
    """A rotation (3, 3) that takes z to a direction."""
    return np.ascontiguousarray(facing(direction).T)


def as_capsules(chains: Chains) -> list[list[fcl.CollisionObject]]:
    """Every tube as the library's capsules, one a stretch."""
    tubes: list[list[fcl.CollisionObject]] = [[] for _ in chains.ids]
    for i in np.flatnonzero(chains.owner[1:] == chains.owner[:-1]):
        a, b = chains.points[i], chains.points[i + 1]
        span = float(np.linalg.norm(b - a))
        shape = fcl.Capsule(float(chains.radius[i : i + 2].mean()), span)
        there = fcl.Transform(turned_to((b - a) / span), 0.5 * (a + b))
        tubes[chains.owner[i]].append(fcl.CollisionObject(shape, there))
    return tubes


def bench_clearance() -> Sequence[Ratio]:
    """All nerves against one portal, and the library's distance of each of the same stretches."""
    body, portal = subject()
    cylinder = Cylinder(portal.entry_mm, portal.direction, portal.length_mm, portal.radius_mm)
    chains = Chains.of(body.centrelines, body.ids("nerve"))
    tubes = as_capsules(chains)
    middle = 0.5 * (portal.entry_mm + portal.end_mm)
    channel = fcl.CollisionObject(
        fcl.Cylinder(portal.radius_mm, portal.length_mm), fcl.Transform(turned_to(portal.direction), middle)
    )
    ours = seconds(lambda: clearances(cylinder, chains))
    theirs = seconds(lambda: [[fcl.distance(channel, capsule) for capsule in tube] for tube in tubes])
    mine = clearances(cylinder, chains).clearance_mm
    other = np.array([min(fcl.distance(channel, capsule) for capsule in tube) for tube in tubes])
    widening = [np.abs(np.diff(body.centrelines[n].radius)).max() for n in chains.ids]
    apart = mine > LIBRARY_MM
    off = np.abs(mine - other)[apart]
    agrees = bool((off <= LIBRARY_MM + 0.5 * np.array(widening)[apart]).all() and (other[~apart] <= LIBRARY_MM).all())
    how = f"{apart.sum()} tubes apart, largest difference {off.max(initial=0.0):.4f} mm; "
    how += f"{(~apart).sum()} touched, where the library has no depth"
    return [Ratio(f"clearance of {len(chains.ids)} nerves, against fcl", ours, theirs, 10.0, agrees, how)]


def bench_layers() -> Sequence[Ratio]:
    """The whole layer list, and the library's own ray query alone, of the same rays through the same meshes."""
    body, portal = subject()
    nearby = Nearby(body.surfaces)
    names = [n for n in body.surfaces if n != "skin"]
    starts = np.cumsum([0] + [len(body.surfaces[n].vertices) for n in names])
    everything = trimesh.Trimesh(
        np.concatenate([body.surfaces[n].vertices for n in names]),
        np.concatenate([body.surfaces[n].faces + s for n, s in zip(names, starts, strict=False)]),
        process=False,
    )
    origins = portal.entry_mm + rays_of(portal) @ facing(portal.direction)[:2]
    ways = np.tile(portal.direction, (len(origins), 1))
    caster = RayMeshIntersector(everything)
    ours = seconds(lambda: layers_along(body, portal, nearby))
    theirs = seconds(lambda: caster.intersects_id(origins, ways, multiple_hits=True, return_locations=True))
    face, ray, where = caster.intersects_id(origins, ways, multiple_hits=True, return_locations=True)
    depth = (where - origins[ray]) @ portal.direction
    owner = np.searchsorted(np.cumsum([len(body.surfaces[n].faces) for n in names]), face, side="right")
    agrees, how = same_crossings(portal, nearby, names, owner, ray, depth)
    return [Ratio(f"layers by {len(origins)} rays, against trimesh", ours, theirs, 5.0, agrees, how)]


def same_crossings(
    portal: Portal, nearby: Nearby, names: list[str], owner: Array, ray: Array, depth: Array
) -> tuple[bool, str]:
    """Whether the library found the crossings that ours found, and how many it did not, or twice (at shared edges)."""
    found = nearby.pierced(names, portal.entry_mm, portal.end_mm, rays_of(portal))
    mine = {(n, r, round(d, 4)) for n, (rays, depths, _) in found.items() for r, d in zip(rays, depths, strict=True)}
    theirs = {(names[o], r, round(d, 4)) for o, r, d in zip(owner, ray, depth, strict=True)}
    mine = {x for x in mine if 0.0 < x[2] < portal.length_mm}
    theirs = {x for x in theirs if 0.0 < x[2] < portal.length_mm}
    # Two roundings of one depth may fall on different sides of a step: neighbours of a step count as equal.
    apart = [
        x for x in mine ^ theirs if not {(x[0], x[1], round(x[2] + s, 4)) for s in (-1e-4, 1e-4)} & (mine | theirs)
    ]
    return len(apart) <= 0.001 * len(mine), f"{len(mine)} crossings, {len(apart)} found by one side only"
