"""Control points -> smooth centrelines.

A cubic spline through the control points, chord-length parametrised, sampled evenly in arc length.
"""

from __future__ import annotations

from dataclasses import dataclass, field

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

    def nearest(self, point: Array) -> float:
        """Arc length, mm, at which the line comes nearest to a point (3,)."""
        start, step = self.points[:-1], np.diff(self.points, axis=0)
        span = np.maximum(np.einsum("ij,ij->i", step, step), 1e-12)
        share = np.clip(np.einsum("ij,ij->i", point - start, step) / span, 0.0, 1.0)
        i = int(np.argmin(np.linalg.norm(start + share[:, None] * step - point, axis=1)))
        return float(self.arc[i] + share[i] * (self.arc[i + 1] - self.arc[i]))

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


def frames(points: Array, starts: Indices) -> tuple[Array, Array, Array]:
    """Rotation-minimising frames along lines that stand one after the other: tangents, normals, binormals.

    points : (3, n) of all lines, as are the frames; each line begins at one of `starts` (t,), the first of them 0
    Double reflection (Wang, Juettler, Zheng, Liu, ACM Trans Graph 2008;27(1):2), of all samples at once: some frame is
    taken at each sample, then turned back by the twist that these frames have gathered since their line began.
    """
    step = np.diff(points, axis=1)
    tangent = _tangents(step, starts)
    normal, binormal = _across(tangent)
    chord = 2.0 / np.maximum(_dot(step, step), 1e-18)
    carried = normal[:, :-1] - step * (chord * _dot(step, normal[:, :-1]))
    second = tangent[:, 1:] - tangent[:, :-1] + step * (chord * _dot(step, tangent[:, :-1]))
    carried -= second * (2.0 / np.maximum(_dot(second, second), 1e-18) * _dot(second, carried))
    # A turn is a complex number of size 1: turns one after another multiply.
    turns = np.ones(points.shape[1], dtype=np.complex128)
    turns[1:] = _dot(carried, normal[:, 1:]) + 1j * _dot(carried, binormal[:, 1:])
    turns[starts] = 1.0
    gathered = np.cumprod(turns / np.maximum(np.abs(turns), 1e-12))
    twist = gathered * np.repeat(np.conj(gathered[starts]), np.diff([*starts, points.shape[1]]))
    return tangent, normal * twist.real + binormal * twist.imag, binormal * twist.real - normal * twist.imag


def _tangents(step: Array, starts: Indices) -> Array:
    """Unit tangents (3, n) of lines that stand one after the other, from their steps: the mean on either side."""
    unit = step / np.maximum(np.sqrt(_dot(step, step)), 1e-12)
    mean = np.zeros((3, step.shape[1] + 1))
    mean[:, :-1] = unit
    mean[:, starts[1:] - 1] = 0.0
    unit[:, starts[1:] - 1] = 0.0
    mean[:, 1:] += unit
    out: Array = mean / np.maximum(np.sqrt(_dot(mean, mean)), 1e-12)
    return out


def _across(tangent: Array) -> tuple[Array, Array]:
    """Two directions (3, n) across each tangent (Duff et al., J Comput Graph Tech 2017;6(1):1)."""
    x, y, z = tangent
    sign = np.copysign(1.0, z)
    share = -1.0 / (sign + z)
    mixed = x * y * share
    normal = np.stack([1.0 + sign * x * x * share, sign * mixed, -sign * x])
    return normal, np.stack([mixed, sign + y * y * share, -y])


def _dot(a: Array, b: Array) -> Array:
    """Products (n,) of vectors (3, n), component by component: as fast for few of them as for many."""
    out: Array = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    return out
