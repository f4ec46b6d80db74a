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
from meshes.tolerances import RIM_RAYS
from tests.bench.results import Ratio, seconds
from tests.bench.subject import portals, subject

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
    body, portal = subject(), portals()[0]
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
    widening = np.array([np.abs(np.diff(body.centrelines[n].radius)).max() for n in chains.ids])
    apart = mine > LIBRARY_MM
    beyond = (np.abs(mine - other) - 0.5 * widening)[apart]
    agrees = bool((beyond <= LIBRARY_MM).all() and (other[~apart] <= LIBRARY_MM + widening[~apart]).all())
    how = (
        f"{apart.sum()} tubes apart, largest difference beyond what the taper makes {beyond.max(initial=0.0):.4f} mm; "
    )
    how += f"{(~apart).sum()} touched, where the library has no depth"
    return [Ratio(f"clearance of {len(chains.ids)} nerves, against fcl", ours, theirs, 10.0, agrees, how)]


def bench_layers() -> Sequence[Ratio]:
    """The whole layer list, and the library's own ray query alone, of the same rays through the same meshes."""
    body = subject()
    nearby = Nearby(body.surfaces)
    names = [n for n in body.surfaces if n != "skin"]
    starts = np.cumsum([0] + [len(body.surfaces[n].vertices) for n in names])
    everything = trimesh.Trimesh(
        np.concatenate([body.surfaces[n].vertices for n in names]),
        np.concatenate([body.surfaces[n].faces + s for n, s in zip(names, starts, strict=False)]),
        process=False,
    )
    caster = RayMeshIntersector(everything)

    def cast(portal: Portal) -> tuple[Array, Array, Array]:
        """The library's answer: face, ray and depth of every crossing."""
        origins = portal.entry_mm + rays_of(portal) @ facing(portal.direction)[:2]
        ways = np.tile(portal.direction, (len(origins), 1))
        face, ray, where = caster.intersects_id(origins, ways, multiple_hits=True, return_locations=True)
        return face, ray, (where - origins[ray]) @ portal.direction

    ours = seconds(lambda: [layers_along(body, portal, nearby) for portal in portals()])
    theirs = seconds(lambda: [cast(portal) for portal in portals()])
    last = np.cumsum([len(body.surfaces[n].faces) for n in names])
    total, apart = 0, 0
    for portal in portals():
        face, ray, depth = cast(portal)
        found = [names[i] for i in np.searchsorted(last, face, side="right")]
        both, one = same_crossings(portal, nearby, set(zip(found, ray.tolist(), depth.tolist(), strict=True)))
        total, apart = total + both, apart + one
    # The library may lose a ray that runs along an edge; ours may not, and a test asserts it (tests/contact).
    agrees, how = apart <= 0.005 * total, f"{total} crossings, {apart} found by one side only"
    return [Ratio(f"layers by {1 + RIM_RAYS} rays, against trimesh", ours, theirs, 5.0, agrees, how)]


def same_crossings(portal: Portal, nearby: Nearby, theirs: set[tuple[str, int, float]]) -> tuple[int, int]:
    """How many crossings (surface, ray, depth) were found by either side, and how many by one of them only."""
    found = nearby.pierced(set(nearby.ids) - {"skin"}, portal.entry_mm, portal.end_mm, rays_of(portal))
    rows = zip(found.owner.tolist(), found.ray.tolist(), found.depth.tolist(), strict=True)
    mine = {(nearby.ids[o], r, d) for o, r, d in rows}
    depths: dict[tuple[str, int], list[tuple[float, bool]]] = {}
    for side, is_mine in ((mine, True), (theirs, False)):
        for name, ray, depth in side:
            if 0.0 < depth < portal.length_mm:
                depths.setdefault((name, ray), []).append((depth, is_mine))
    alone = sum(
        all(abs(d - other) > 1e-4 for other, of in rest if of != is_mine)
        for rest in depths.values()
        for d, is_mine in rest
    )
    return sum(map(len, depths.values())) // 2, alone
