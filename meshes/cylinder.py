"""The portal as a solid: a flat-ended cylinder and its signed distance.

With z along the axis from the middle and rho away from the axis, h = |z| - H and q = rho - R,

    sdf = min(max(h, q), 0) + hypot(max(h, 0), max(q, 0))

is exact outside, and inside minus the distance to the nearest wall. The cylinder is convex, and so is its sdf.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meshes.curves import Array
from meshes.nearby import facing


@dataclass(frozen=True, eq=False)
class Cylinder:
    """A flat-ended cylinder: from `start` (3,), mm, along `direction` (3,) unit."""

    start: Array
    direction: Array
    length_mm: float
    radius_mm: float

    def seen(self, points: Array) -> Array:
        """Points (…, 3) in the cylinder's directions (3, …): two across, and along the axis from its middle."""
        middle = self.start + 0.5 * self.length_mm * self.direction
        seen = facing(self.direction) @ (points - middle).reshape(-1, 3).T
        return seen.reshape(3, *points.shape[:-1])

    def sdf(self, seen: Array) -> Array:
        """Signed distance (…,), mm, of points that `seen` gave."""
        h, q = self._beyond(seen, _away(seen))
        return _joint(h, q, np.sqrt(np.maximum(h, 0.0) ** 2 + np.maximum(q, 0.0) ** 2))

    def slopes(self, seen: Array) -> tuple[Array, Array]:
        """Signed distance (n,) and one of its gradients (3, n) at points (3, n) that `seen` gave."""
        rho = _away(seen)
        h, q = self._beyond(seen, rho)
        h0, q0 = np.maximum(h, 0.0), np.maximum(q, 0.0)
        outside = np.sqrt(h0**2 + q0**2)
        within = outside == 0.0
        by_wall = q >= h
        size = outside + within
        wall, end = (q0 + (within & by_wall)) / size, (h0 + (within & ~by_wall)) / size
        across = wall / np.maximum(rho, 1e-300)
        gradient = np.empty_like(seen)
        gradient[:2] = seen[:2] * across
        gradient[2] = np.copysign(end, seen[2])
        return _joint(h, q, outside), gradient

    def _beyond(self, seen: Array, rho: Array) -> tuple[Array, Array]:
        """How far points lie past the flat ends and past the wall."""
        return np.abs(seen[2]) - 0.5 * self.length_mm, rho - self.radius_mm


def _away(seen: Array) -> Array:
    out: Array = np.sqrt(seen[0] ** 2 + seen[1] ** 2)
    return out


def _joint(h: Array, q: Array, outside: Array) -> Array:
    out: Array = np.minimum(np.maximum(h, q), 0.0) + outside
    return out
