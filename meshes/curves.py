"""Control points -> smooth centrelines.

A cubic spline through the control points, chord-length parametrised, sampled evenly in arc length.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Centreline:
    """A tube's middle line.

    points : (m, 3) float, mm, from the spine outwards
    radius : (m,) float, mm; of the circle of equal area where the structure is flat
    arc    : (m,) float, mm, length along the line from its start
    flat   : whether the tube's start and end are cut flat, as where it leaves the body; else they are round
    """

    points: Array
    radius: Array
    flat: tuple[bool, bool] = (False, False)
    arc: Array = field(init=False)

    def __post_init__(self) -> None:
        steps = np.linalg.norm(np.diff(self.points, axis=0), axis=1)
        object.__setattr__(self, "arc", np.concatenate([[0.0], np.cumsum(steps)]))
        for array in (self.points, self.radius, self.arc):
            array.setflags(write=False)

    @property
    def length(self) -> float:
        """Length, mm."""
        return float(self.arc[-1])

    def at(self, arc_mm: float | Array) -> Array:
        """Points (…, 3), mm, at the given lengths along the line."""
        return np.stack([np.interp(arc_mm, self.arc, self.points[:, k]) for k in range(3)], axis=-1)

    def moved(self, points: Array) -> Centreline:
        """The same line and radius on other points (m, 3)."""
        return Centreline(np.ascontiguousarray(points), self.radius.copy(), self.flat)

    def mirrored(self) -> Centreline:
        """The line of the other side (x changes sign)."""
        return self.moved(self.points * np.array([-1.0, 1.0, 1.0]))


def chord_parameter(points: Array) -> Array:
    """Centripetal-to-chord parameter (k,) of control points (k, 3): no loops where spacing is uneven."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(np.maximum(steps, 1e-6) ** 0.75)])


def spline_matrix(parameter: Array, at: Array) -> Array:
    """Matrix (m, k) that turns control values into values of a C1 cubic spline at parameters `at` (m,).

    Finite-difference tangents (Catmull-Rom on uneven knots), one-sided at the ends.
    """
    k = len(parameter)
    if k == 2:
        w = (at - parameter[0]) / (parameter[1] - parameter[0])
        return np.stack([1.0 - w, w], axis=1)
    gaps = np.diff(parameter)
    slope = np.zeros((k, k))
    for i in range(1, k - 1):
        a, b = gaps[i - 1], gaps[i]
        slope[i, i - 1] = -b / (a * (a + b))
        slope[i, i] = (b - a) / (a * b)
        slope[i, i + 1] = a / (b * (a + b))
    slope[0, 0], slope[0, 1] = -1.0 / gaps[0], 1.0 / gaps[0]
    slope[-1, -2], slope[-1, -1] = -1.0 / gaps[-1], 1.0 / gaps[-1]
    cell = np.clip(np.searchsorted(parameter, at, side="right") - 1, 0, k - 2)
    h = gaps[cell]
    t = (at - parameter[cell]) / h
    rows = np.arange(len(at))
    matrix = np.zeros((len(at), k))
    matrix[rows, cell] += 2 * t**3 - 3 * t**2 + 1
    matrix[rows, cell + 1] += -2 * t**3 + 3 * t**2
    matrix += ((t**3 - 2 * t**2 + t) * h)[:, None] * slope[cell]
    matrix += ((t**3 - t**2) * h)[:, None] * slope[cell + 1]
    return matrix


def spline(controls: Array, samples: int) -> Array:
    """Control rows (k, c) -> (samples, c), evenly spaced in arc length of the first three columns."""
    parameter = chord_parameter(controls[:, :3])
    dense = np.linspace(0.0, parameter[-1], max(8 * len(controls), 4 * samples))
    curve = spline_matrix(parameter, dense) @ controls
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(curve[:, :3], axis=0), axis=1))])
    even = np.interp(np.linspace(0.0, arc[-1], samples), arc, dense)
    out: Array = spline_matrix(parameter, even) @ controls
    return out


def frames(points: Array) -> tuple[Array, Array, Array]:
    """Rotation-minimising frames along lines (t, m, 3): tangents, normals, binormals, each (t, m, 3).

    Double reflection (Wang, Juettler, Zheng, Liu, ACM Trans Graph 2008;27(1):2), all lines at once. A line may repeat
    its last point: the frame stays.
    """
    tangents = _tangents(points)
    normals = np.empty_like(points)
    first = tangents[:, 0]
    seed = np.eye(3)[np.argmin(np.abs(first), axis=1)]
    normal = seed - first * np.einsum("ij,ij->i", seed, first)[:, None]
    normals[:, 0] = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    steps = np.diff(points, axis=1)
    chords = np.maximum(np.einsum("tmj,tmj->tm", steps, steps), 1e-18)
    turned = tangents[:, :-1] - steps * (2.0 * np.einsum("tmj,tmj->tm", steps, tangents[:, :-1]) / chords)[..., None]
    second = tangents[:, 1:] - turned
    lengths = np.maximum(np.einsum("tmj,tmj->tm", second, second), 1e-18)
    for i in range(points.shape[1] - 1):
        n, v, w = normals[:, i], steps[:, i], second[:, i]
        r = n - v * (2.0 * (v * n).sum(axis=1) / chords[:, i])[:, None]
        normals[:, i + 1] = r - w * (2.0 * (w * r).sum(axis=1) / lengths[:, i])[:, None]
    return tangents, normals, np.cross(tangents, normals)


def _tangents(points: Array) -> Array:
    """Unit tangents (t, m, 3); where a line repeats its last point, the last tangent it had."""
    ahead = np.diff(points, axis=1)
    size = np.linalg.norm(ahead, axis=2)
    last = np.maximum.accumulate(np.where(size > 1e-9, np.arange(size.shape[1]), 0), axis=1)
    unit = ahead / np.maximum(size, 1e-12)[..., None]
    unit = np.take_along_axis(unit, last[..., None], axis=1)
    mean = np.concatenate([unit[:, :1], unit[:, :-1] + unit[:, 1:], unit[:, -1:]], axis=1)
    out: Array = mean / np.maximum(np.linalg.norm(mean, axis=2, keepdims=True), 1e-12)
    return out


def as_points(rows: Any) -> Array:
    """Anything row-like as a contiguous (k, 3) float array."""
    return np.ascontiguousarray(np.asarray(rows, dtype=np.float64).reshape(-1, 3))
