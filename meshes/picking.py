"""Which structure is meant by a place on the screen: a straight line from the eye, and some slack for thin things.

What is solid hides what lies behind it, glass does not. A nerve or a vessel is thin and a hand is not exact: where its
tube comes within the slack of the line, and nothing solid covers it there, it is meant rather than the big thing that
the line itself meets, and rather than glass in front of it.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from meshes.contact import Ready
from meshes.curves import Array, Indices
from meshes.nearby import Crossings, facing
from meshes.tapers import nearest_on, stretches


@dataclass(frozen=True, eq=False)
class Hit:
    """The structure that is meant, and the point (3,), mm, of its surface where the line meets it or comes nearest."""

    id: str
    point_mm: Array


@dataclass(frozen=True)
class _Tube:
    """A tube near the line, at one place.

    across   : where its middle stands across the line, mm
    depth_mm : depth of its side towards the eye
    off_mm   : how far the tube passes from the line; 0 where the line meets it
    """

    id: str
    across: tuple[float, float]
    depth_mm: float
    off_mm: float
    radius_mm: float


def pick(
    ready: Ready,
    start_mm: Array,
    towards: Array,
    solid: Container[str],
    glassy: Container[str],
    slack_mm: float,
    skip_front_mm: float = 0.0,
) -> Hit | None:
    """The structure that a line from the eye means, or None where there is nothing.

    start_mm      : (3,) the eye, or any point on the line before the body
    towards       : (3,) unit direction of sight
    solid, glassy : ids that are drawn, and how
    slack_mm      : how far off the line a tube may pass
    skip_front_mm : what lies nearer to the start is not seen

    First what the line itself meets, if that is a tube; then, of the tubes within the slack that nothing solid covers,
    the one nearest to the line, and of equally near ones that nearest to the eye; then whatever solid thing the line
    meets first; then the first thing of glass.
    """
    start = start_mm + skip_front_mm * towards
    direct = _first(_met(ready, start, towards, solid, np.zeros((1, 2))))
    straight = {ray: (ready.nearby.ids[owner], depth) for ray, owner, depth in direct}.get(0)
    if straight is None or straight[0] not in ready.body.centrelines:
        tube = _uncovered(ready, start, towards, solid, slack_mm)
        if tube is not None:
            return Hit(tube.id, _on(tube, start, towards))
    if straight is None:
        glass = _first(_met(ready, start, towards, glassy, np.zeros((1, 2))))
        straight = next(((ready.nearby.ids[owner], depth) for _, owner, depth in glass), None)
    return None if straight is None else Hit(straight[0], start + straight[1] * towards)


def _met(ready: Ready, start: Array, towards: Array, names: Container[str], rays: Array) -> Crossings:
    """Crossings of rays (r, 2) beside the line with the named surfaces, as far as the body reaches."""
    low, high = ready.nearby.box
    far = float(np.linalg.norm(0.5 * (low + high) - start) + np.linalg.norm(high - low)) + 1.0
    return ready.nearby.pierced(names, start, start + far * towards, rays)


def _first(met: Crossings) -> list[tuple[int, int, float]]:
    """Ray, surface and depth (mm) of the first crossing ahead on each ray that has one."""
    ahead = np.flatnonzero(met.depth > 0.0)
    ahead = ahead[np.lexsort((met.depth[ahead], met.ray[ahead]))]
    _, begin = np.unique(met.ray[ahead], return_index=True)
    return [(int(met.ray[k]), int(met.owner[k]), float(met.depth[k])) for k in ahead[begin]]


def _uncovered(ready: Ready, start: Array, towards: Array, solid: Container[str], slack: float) -> _Tube | None:
    """The best tube within the slack that nothing else solid covers."""
    tubes = _tubes(ready, start, towards, solid, slack)
    if not tubes:
        return None
    # What the line meets must be free where it does; what it passes, where it comes nearest.
    places = np.array([t.across if t.off_mm > 0.0 else (0.0, 0.0) for t in tubes])
    met = _met(ready, start, towards, solid, places)
    ids = np.array([ready.nearby.ids.index(t.id) for t in tubes])
    over = (met.depth > 0.0) & (met.owner != ids[met.ray])
    over &= met.depth < np.array([t.depth_mm for t in tubes])[met.ray]
    covered = frozenset(met.ray[over].tolist())
    seen = [t for k, t in enumerate(tubes) if k not in covered]
    return min(seen, key=lambda t: (t.off_mm, t.depth_mm, t.id), default=None)


def _tubes(ready: Ready, start: Array, towards: Array, solid: Container[str], slack: float) -> list[_Tube]:
    """Tubes within the slack: for each of their runs near the line, the place where it is nearest."""
    chains = ready.chains
    if not chains.ids:
        return []
    wanted = np.array([n in solid for n in chains.ids])
    at = stretches(chains)
    at = at[wanted[chains.owner[at]]]
    seen = (chains.points - start) @ facing(towards).T
    t, value = nearest_on(seen[:, :2], chains, at)
    place = seen[at] + t[:, None] * (seen[at + 1] - seen[at])
    radius = chains.radius[at] + t * (chains.radius[at + 1] - chains.radius[at])
    near = np.flatnonzero((value <= slack) & (place[:, 2] - radius > 0.0))
    found = []
    for run in _runs(at[near]):
        k = near[run]
        off = np.maximum(value[k], 0.0)
        best = k[np.lexsort((place[k, 2], off))[0]]
        u, v, depth = place[best].tolist()
        thick = float(radius[best])
        name = chains.ids[chains.owner[at[best]]]
        found.append(_Tube(name, (u, v), depth - thick, max(float(value[best]), 0.0), thick))
    return found


def _runs(at: Indices) -> list[NDArray[np.intp]]:
    """Indices into `at` (s,), in order, parted wherever stretches do not follow each other."""
    return [run for run in np.split(np.arange(len(at)), np.flatnonzero(np.diff(at) > 1) + 1) if len(run)]


def _on(tube: _Tube, start: Array, towards: Array) -> Array:
    """The point (3,) of a tube's surface nearest to the line; where the line meets it, that towards the eye."""
    across = np.array(tube.across)
    away = float(np.linalg.norm(across))
    axes = facing(towards)
    if tube.off_mm > 0.0:
        return start + (1.0 - tube.radius_mm / away) * (across @ axes[:2]) + (tube.depth_mm + tube.radius_mm) * towards
    rise = float(np.sqrt(max(tube.radius_mm**2 - away**2, 0.0)))
    return start + (tube.depth_mm + tube.radius_mm - rise) * towards
