"""How close a portal comes to a tube: exact, for all tubes in one pass.

The portal is a flat-ended cylinder (meshes/cylinder.py), a nerve is the union of all balls along its middle line, with
round ends. A ball of radius r around p comes within sdf(p) - r of the cylinder. The sdf is convex; between two samples
of the middle line the point and the radius are linear; so f(t) = sdf(p(t)) - r(t) is convex: a stretch has one lowest
value, and {f < 0} is one interval. Three facts make it fast:

- f is 1-Lipschitz in the point, so a stretch of length L whose radius changes by dr cannot go below
  (f0 + f1 - L - |dr|) / 2; most stretches are settled by their two ends;
- the crossing of the tangents at both ends of a bracket is a lower bound and a next point to try;
- from the end where f > 0, Newton's steps to the root of a convex function never overshoot.

Clearance is the lowest f along the tube: the distance of the solids where they are apart, and minus the depth of the
deepest ball where they are not. The portal is taken from `entry_mm` to `end_mm` as it stands: skin that slopes across
its rim leaves a sliver outside that plane, and what runs in there counts by its distance to the plane.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from meshes.curves import Array, Centreline
from meshes.cylinder import Cylinder
from meshes.nearby import Indices
from meshes.tolerances import CLEARANCE_MM

_MOST_STEPS = 60


@dataclass(frozen=True, eq=False)
class Chains:
    """The middle lines of many tubes, end to end in one array.

    ids    : n names
    points : (p, 3) mm; radius, arc : (p,) mm
    first  : (n,) index of each tube's first point
    owner  : (p,) index of each point's tube
    span   : (p - 1,) most by which f can change from one point to the next, mm; -infinity from tube to tube
    """

    ids: tuple[str, ...]
    points: Array
    radius: Array
    arc: Array
    first: Indices
    owner: Indices
    span: Array

    @staticmethod
    def of(lines: Mapping[str, Centreline], ids: Iterable[str]) -> Chains:
        """The named lines; reuse the result for every portal asked of the same body."""
        names = tuple(ids)
        chosen = [lines[n] for n in names]
        counts = np.array([len(c.points) for c in chosen], dtype=np.intp)
        points = np.concatenate([np.zeros((0, 3)), *(c.points for c in chosen)])
        radius = np.concatenate([np.zeros(0), *(c.radius for c in chosen)])
        arc = np.concatenate([np.zeros(0), *(c.arc for c in chosen)])
        owner = np.repeat(np.arange(len(names)), counts)
        span = np.linalg.norm(np.diff(points, axis=0), axis=1) + np.abs(np.diff(radius))
        span[owner[1:] != owner[:-1]] = -np.inf
        return Chains(names, points, radius, arc, np.cumsum(counts) - counts, owner, span)


@dataclass(frozen=True, eq=False)
class Clearances:
    """What `clearances` found, one entry per tube of the chains.

    clearance_mm : (n,) signed distance to the portal
    nearest_mm   : (n, 3) point of the middle line where it is reached
    depth_mm     : (n,) that point's depth along the portal's axis, from the skin
    inside_mm    : (n, 2) arc length where the tube first and last is inside; NaN where it is not
    inside_length_mm : (n,) length of middle line that is inside, gaps left out
    """

    clearance_mm: Array
    nearest_mm: Array
    depth_mm: Array
    inside_mm: Array
    inside_length_mm: Array


@dataclass(frozen=True, eq=False)
class _Stretches:
    """Straight stretches as the cylinder sees them: p(t) = start + t step, r(t) = radius + t widening, t in 0..1."""

    cylinder: Cylinder
    start: Array
    step: Array
    radius: Array
    widening: Array

    @staticmethod
    def after(cylinder: Cylinder, seen: Array, radius: Array, at: Indices) -> _Stretches:
        """Those from the points `at` (s,) of `seen` (3, p) to the next ones."""
        start, first = seen[:, at], radius[at]
        return _Stretches(cylinder, start, seen[:, at + 1] - start, first, radius[at + 1] - first)

    def value(self, t: Array | float) -> tuple[Array, Array]:
        """f (s,) and a slope of f (s,) at t (s,)."""
        value, gradient = self.cylinder.slopes(self.start + t * self.step)
        return value - self.radius - t * self.widening, (gradient * self.step).sum(axis=0) - self.widening

    def some(self, which: Indices) -> _Stretches:
        """Only those stretches."""
        start, step = self.start[:, which], self.step[:, which]
        return _Stretches(self.cylinder, start, step, self.radius[which], self.widening[which])


def clearances(cylinder: Cylinder, chains: Chains) -> Clearances:
    """Clearance of every tube to the cylinder, to 1e-6 mm; see the module's text."""
    if not chains.ids:
        return Clearances(np.zeros(0), np.zeros((0, 3)), np.zeros(0), np.zeros((0, 2)), np.zeros(0))
    seen = cylinder.seen(chains.points)
    f = cylinder.sdf(seen) - chains.radius
    best = np.minimum.reduceat(f, chains.first)
    # A dip between two samples counts if it may be the tube's lowest, or the only part of it inside.
    ends = np.minimum(f[:-1], f[1:])
    worth = best[chains.owner[:-1]]
    worth = np.where(ends >= 0.0, np.maximum(worth, 0.0), worth)
    open_ = np.flatnonzero(0.5 * (f[:-1] + f[1:] - chains.span) < worth)
    dips, t_dip, f_dip = _dips(_Stretches.after(cylinder, seen, chains.radius, open_), open_, worth[open_])
    clearance, nearest = _nearest(chains, f, best, dips, t_dip, f_dip)
    depth = (nearest - cylinder.start) @ cylinder.direction
    ends[dips] = np.minimum(ends[dips], f_dip)
    spans = np.flatnonzero((ends < 0.0) & (chains.span >= 0.0))
    t_in, t_out = _inside(_Stretches.after(cylinder, seen, chains.radius, spans), f[spans], f[spans + 1])
    inside, length = _measured(chains, spans, t_in, t_out)
    return Clearances(clearance, nearest, depth, inside, length)


def _dips(stretches: _Stretches, at: Indices, worth: Array) -> tuple[Indices, Array, Array]:
    """Stretches whose lowest value lies between their ends and may lie below `worth`: which, t and f of the lowest."""
    (v0, g0), (v1, g1) = stretches.value(0.0), stretches.value(1.0)
    dip = np.flatnonzero((g0 < 0.0) & (g1 > 0.0))
    v0, g0, v1, g1 = v0[dip], g0[dip], v1[dip], g1[dip]
    below = v0 + g0 * _tangents_meet(0.0, v0, g0, 1.0, v1, g1) < worth[dip]
    dip, v0, g0, v1, g1 = dip[below], v0[below], g0[below], v1[below], g1[below]
    t, f = _lowest(stretches.some(dip), v0, g0, v1, g1)
    return at[dip], t, f


def _tangents_meet(ta: Array | float, fa: Array, ga: Array, tb: Array | float, fb: Array, gb: Array) -> Array:
    """Where the tangents at ta and tb (slopes ga < 0 < gb) meet."""
    meet: Array = (fb - fa + ga * ta - gb * tb) / (ga - gb)
    return np.clip(meet, ta, tb)


def _lowest(stretches: _Stretches, fa: Array, ga: Array, fb: Array, gb: Array) -> tuple[Array, Array]:
    """t (s,) and f (s,) of the lowest point of stretches that fall at t = 0 and rise at t = 1."""
    ta, tb = np.zeros(len(fa)), np.ones(len(fa))
    for turn in range(_MOST_STEPS):
        meet = _tangents_meet(ta, fa, ga, tb, fb, gb)
        if not (np.minimum(fa, fb) - (fa + ga * (meet - ta)) > CLEARANCE_MM).any():
            break
        t = (meet, (ta * gb - tb * ga) / (gb - ga), 0.5 * (ta + tb))[turn % 3]
        f, g = stretches.value(t)
        falls, rises = g <= 0.0, g >= 0.0
        # A slope of zero is the lowest point itself; it becomes both ends, with slopes that keep their signs.
        slope = np.where(g == 0.0, 1e-300, g)
        ta, fa, ga = np.where(falls, t, ta), np.where(falls, f, fa), np.where(falls, -np.abs(slope), ga)
        tb, fb, gb = np.where(rises, t, tb), np.where(rises, f, fb), np.where(rises, np.abs(slope), gb)
    return np.where(fa <= fb, ta, tb), np.minimum(fa, fb)


def _nearest(chains: Chains, f: Array, best: Array, dips: Indices, t_dip: Array, f_dip: Array) -> tuple[Array, Array]:
    """Lowest value (n,) of each tube and the point (n, 3) where it is reached: at a sample, or at a dip after one."""
    nearest = np.empty((len(chains.ids), 3))
    samples = np.flatnonzero(f == best[chains.owner])[::-1]
    nearest[chains.owner[samples]] = chains.points[samples]
    clearance = best.copy()
    np.minimum.at(clearance, chains.owner[dips], f_dip)
    better = np.flatnonzero((f_dip < best[chains.owner[dips]]) & (f_dip == clearance[chains.owner[dips]]))[::-1]
    at, t = dips[better], t_dip[better, None]
    nearest[chains.owner[at]] = chains.points[at] + t * (chains.points[at + 1] - chains.points[at])
    return clearance, nearest


def _inside(stretches: _Stretches, f0: Array, f1: Array) -> tuple[Array, Array]:
    """t (s,) where stretches with f < 0 somewhere begin and end to be inside; f0, f1 (s,) are f at their ends."""
    enters, leaves = np.flatnonzero(f0 >= 0.0), np.flatnonzero(f1 >= 0.0)
    t_in, t_out = np.zeros(len(f0)), np.ones(len(f0))
    some = stretches.some(np.concatenate([enters, leaves]))
    roots = _roots(some, np.repeat([0.0, 1.0], [len(enters), len(leaves)]))
    t_in[enters], t_out[leaves] = roots[: len(enters)], roots[len(enters) :]
    return t_in, t_out


def _roots(stretches: _Stretches, t: Array) -> Array:
    """Newton's steps (s,) from ends t (s,) where f >= 0 to the nearest root; f falls below zero further on."""
    for _ in range(_MOST_STEPS):
        f, g = stretches.value(t)
        if not (f > CLEARANCE_MM).any():
            break
        t = np.clip(np.where(f > 0.0, t - f / np.where(g == 0.0, np.inf, g), t), 0.0, 1.0)
    return t


def _measured(chains: Chains, at: Indices, t_in: Array, t_out: Array) -> tuple[Array, Array]:
    """First and last arc length inside (n, 2), NaN for none, and total length inside (n,)."""
    span = chains.arc[at + 1] - chains.arc[at]
    owner = chains.owner[at]
    inside = np.tile([np.inf, -np.inf], (len(chains.ids), 1))
    np.minimum.at(inside[:, 0], owner, chains.arc[at] + t_in * span)
    np.maximum.at(inside[:, 1], owner, chains.arc[at] + t_out * span)
    inside[np.isinf(inside)] = np.nan
    length = np.zeros(len(chains.ids))
    np.add.at(length, owner, (t_out - t_in) * span)
    return inside, length
