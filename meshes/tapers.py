"""How close stretches of tubes come to a point, or to a line seen along it: in closed form.

A tube is the union of all balls along its middle line (meshes/clearance.py). Between two samples the point and the
radius are linear, so that f(t) = |start + t step| - radius - t widening is convex and its lowest place is known.
"""

from __future__ import annotations

import numpy as np

from meshes.clearance import Chains
from meshes.curves import Array, Indices


def nearest_on(seen: Array, chains: Chains, at: Indices) -> tuple[Array, Array]:
    """Where stretches of tubes come nearest to the origin.

    seen : (p, k) the chains' points in 3 dimensions, or in the 2 across a line; the origin is the point or the line
    at   : (s,) index of the point at which each stretch begins; it ends at the next one

    Returns t (s,), 0 to 1 along the stretch, and the signed distance (s,), mm: negative inside the tube.
    """
    start, step = seen[at], seen[at + 1] - seen[at]
    radius, widening = chains.radius[at], chains.radius[at + 1] - chains.radius[at]
    length = np.sqrt(np.einsum("ij,ij->i", step, step))
    long = np.maximum(length, 1e-12)
    foot = -np.einsum("ij,ij->i", start, step) / long
    beside = np.sqrt(np.maximum(np.einsum("ij,ij->i", start, start) - foot * foot, 0.0))
    # f' = 0 where the line of sight to the origin leans as steeply as the tube widens.
    lean = np.clip(widening / long, -1.0, 1.0)
    steep = np.sqrt(np.maximum(1.0 - lean * lean, 1e-24))
    t = np.clip((foot + beside * lean / steep) / long, 0.0, 1.0)
    t = np.where(np.abs(widening) >= length, (widening > 0.0).astype(float), t)
    value = np.linalg.norm(start + t[:, None] * step, axis=1) - radius - t * widening
    return t, value


def stretches(chains: Chains) -> Indices:
    """Index (s,) of every point from which a stretch runs to the next point of the same tube."""
    return np.flatnonzero(chains.span >= 0.0)
