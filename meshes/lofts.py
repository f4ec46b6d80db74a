"""Rounded bodies through sections along a path: vertebral bodies, bellies of muscles, the trunk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from meshes.curves import Array

#: Points of a loft that are worked on at once: few enough to stay in the processor's cache.
CHUNK = 8192


@dataclass(frozen=True)
class Loft:
    """Dense sections of one part: centres (n, 3), axes (n, 3, 3) rows width/depth/along, half sizes (n, 2), power (n,).

    Sizes in mm; `rim` and `taper` are shares.
    """

    centres: Array
    axes: Array
    half: Array
    power: Array
    sink: float
    rim: float = 0.0
    hollow: float = 0.0
    taper: float = 0.0


def loft_distance(loft: Loft, points: Array) -> Array:
    """Signed distance (n,), mm, of points (n, 3): exact to first order near the surface."""
    pieces = np.array_split(points, len(points) // CHUNK + 1)
    return np.concatenate([_loft_distance(loft, piece) for piece in pieces])


def _loft_distance(loft: Loft, points: Array) -> Array:
    lower, share, heights = _between_sections(loft, points)

    def mix(values: Array) -> Array:
        out: Array = values[lower] * (1 - share) + values[lower + 1] * share
        return out

    offset = points - mix(loft.centres)
    a = np.einsum("ij,ij->i", offset, mix(loft.axes[:, 0]))
    b = np.einsum("ij,ij->i", offset, mix(loft.axes[:, 1]))
    half, power = mix(loft.half), mix(loft.power[:, None])[:, 0]
    a, b, half = _dented(loft, a, b, half)
    radial, side = _superellipse(a, b, half, power)
    bulge = loft.sink * np.maximum(1.0 - (radial / (1.0 - loft.rim)) ** 2, 0.0)
    ends = np.maximum(heights[1], -heights[0]) + bulge
    outside = np.hypot(np.maximum(side, 0.0), np.maximum(ends, 0.0))
    out: Array = np.where((side > 0) & (ends > 0), outside, np.maximum(side, ends))
    return out


def _between_sections(loft: Loft, points: Array) -> tuple[Array, Array, tuple[Array, Array]]:
    """For points (n, 3): the section below (n,), the share (n, 1) of the next one, heights over the first and last."""
    along, last = loft.axes[:, 2], len(loft.centres) - 1
    # Which section comes first is found in single precision, four times faster; how far along, in double.
    reach = np.einsum("ij,ij->i", loft.centres, along).astype(np.float32)
    below = points.astype(np.float32) @ along.T.astype(np.float32) < reach
    first = np.argmax(below, axis=1)
    upper = np.where(below[np.arange(len(points)), first], np.maximum(first, 1), last)

    def height(section: Any) -> Array:
        out: Array = np.einsum(
            "ij,ij->i", points - loft.centres[section], np.broadcast_to(along[section], points.shape)
        )
        return out

    h0, h1 = height(upper - 1), height(upper)
    share = np.clip(h0 / np.where(np.abs(h0 - h1) < 1e-9, 1e-9, h0 - h1), 0.0, 1.0)
    return upper - 1, share[:, None], (height(0), height(last))


def _dented(loft: Loft, a: Array, b: Array, half: Array) -> tuple[Array, Array, Array]:
    """Local points and half sizes as they would be without the dent in the back and the taper."""
    if loft.hollow == 0.0 and loft.taper == 0.0:
        return a, b, half
    half = half + np.array([0.0, 0.5 * loft.hollow])
    b = b - 0.5 * loft.hollow
    across = np.clip(1.0 - (a / (0.7 * half[:, 0])) ** 2, 0.0, 1.0)
    b = b + loft.hollow * across * np.clip(b / np.maximum(half[:, 1] - loft.hollow, 0.1), 0.0, 1.0)
    return a / (1.0 - loft.taper * np.clip(0.5 + 0.5 * b / half[:, 1], 0.0, 1.0)), b, half


def _superellipse(a: Array, b: Array, half: Array, power: Array) -> tuple[Array, Array]:
    """Radial measure (1 on the outline) and first-order distance of local points to a superellipse."""
    u, v = np.abs(a) / half[:, 0], np.abs(b) / half[:, 1]
    total = np.maximum(u**power + v**power, 1e-12)
    radial = total ** (1.0 / power)
    slope = total ** (1.0 / power - 1.0)
    gradient = slope * np.hypot(u ** (power - 1.0) / half[:, 0], v ** (power - 1.0) / half[:, 1])
    deepest = half.min(axis=1)
    distance = (radial - 1.0) / np.maximum(gradient, 1.0 / (4.0 * half.max(axis=1)))
    return radial, np.maximum(distance, -deepest)
