"""What crosses here: every structure within reach of a point, the nearest first.

Tubes are measured exactly, as the portal measures them; other surfaces exactly to the nearest of their triangles.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from meshes.contact import Ready
from meshes.curves import Array
from meshes.structures import Structure
from meshes.tapers import nearest_on, stretches
from meshes.tolerances import AROUND_MM


@dataclass(frozen=True, eq=False)
class Neighbour:
    """One structure near a point.

    distance_mm : from the point to the structure; negative where the point lies inside it, by so much
    nearest_mm  : (3,) the point of the structure's surface that this is measured to
    """

    structure: Structure
    distance_mm: float
    nearest_mm: Array


def neighbours(ready: Ready, point_mm: Array, within_mm: float = AROUND_MM) -> list[Neighbour]:
    """Every structure that holds a point (3,) or comes within `within_mm` of it, the nearest first.

    Being inside the skin is no news: it counts by the distance to its surface alone, and is never negative.
    """
    found = [*_tubes(ready, point_mm, within_mm), *_solids(ready, point_mm, within_mm)]
    return sorted(found, key=lambda n: (n.distance_mm, n.structure.id))


def _tubes(ready: Ready, point: Array, within: float) -> Iterator[Neighbour]:
    chains = ready.chains
    if not chains.ids:
        return
    at = stretches(chains)
    t, value = nearest_on(chains.points - point, chains, at)
    lowest = np.full(len(chains.ids), np.inf)
    np.minimum.at(lowest, chains.owner[at], value)
    for n in np.flatnonzero(lowest <= within):
        k = int(np.flatnonzero((chains.owner[at] == n) & (value == lowest[n]))[0])
        i, share = at[k], float(t[k])
        middle = chains.points[i] + share * (chains.points[i + 1] - chains.points[i])
        outwards = point - middle
        away = float(np.linalg.norm(outwards))
        # In the middle of a tube every way out is as short; the first axis stands for all.
        outwards = outwards / away if away > 0.0 else np.array([1.0, 0.0, 0.0])
        surface = middle + (away - value[k]) * outwards
        yield Neighbour(ready.body.structures[chains.ids[n]], float(value[k]), surface)


def _solids(ready: Ready, point: Array, within: float) -> Iterator[Neighbour]:
    """Everything without a middle line."""
    structures = ready.body.structures
    solids = frozenset(structures) - frozenset(ready.chains.ids)
    holding = inside(ready, point, (n for n in solids if structures[n].kind != "skin"))
    for name, distance, nearest in _nearest(ready, solids - holding, point, within):
        yield Neighbour(structures[name], distance, nearest)
    for name in holding:
        for _, depth, nearest in _nearest(ready, frozenset({name}), point, np.inf):
            yield Neighbour(structures[name], -depth, nearest)


def inside(ready: Ready, point: Array, names: Iterable[str]) -> frozenset[str]:
    """Which of the named surfaces hold a point (3,): a line from it leaves them once more than it enters them."""
    top = float(ready.nearby.box[1][2])
    end = point + np.array([0.0, 0.0, max(top - float(point[2]), 0.0) + 1.0])
    met = ready.nearby.pierced(frozenset(names), point, end, np.zeros((1, 2)))
    ahead = met.depth > 0.0
    left = np.zeros(len(ready.nearby.ids), dtype=np.int64)
    np.subtract.at(left, met.owner[ahead], met.sign[ahead])
    return frozenset(ready.nearby.ids[n] for n in np.flatnonzero(left > 0))


def _nearest(ready: Ready, names: frozenset[str], point: Array, within: float) -> Iterator[tuple[str, float, Array]]:
    """Id, distance (mm) and nearest point (3,) of each surface within reach; endless reach grows until it suffices."""
    from trimesh.triangles import closest_point

    margin = within if within < np.inf else AROUND_MM
    while True:
        corners, owner = ready.nearby.around(names, point, margin)
        nearest = closest_point(corners, np.broadcast_to(point, (len(corners), 3))) if len(corners) else corners[:, 0]
        distance = np.linalg.norm(nearest - point, axis=1)
        if within < np.inf or (len(distance) and distance.min() <= margin):
            break
        margin *= 2.0
    for n in np.unique(owner):
        k = int(np.argmin(np.where(owner == n, distance, np.inf)))
        if distance[k] <= within:
            yield ready.nearby.ids[n], float(distance[k]), nearest[k]
