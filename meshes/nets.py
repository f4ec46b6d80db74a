"""Flat muscles and other thin plates: a smooth net of points, so thick on both sides of itself.

A plate is asked for its distance, not drawn from balls: its faces come out smooth however thin it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from meshes.curves import Array, chord_parameter, spline_matrix

#: Feet of the net stand so far apart, mm: the plate bends by less than a tenth of a millimetre from one to the next.
FOOT_MM = 2.5


@dataclass(frozen=True)
class Net:
    """Dense feet of a plate's middle surface.

    feet    : (n, 3) mm
    normals : (n, 3) across the plate
    out     : (n, 2, 3) directions in the plate that lead over its edge; zero away from the edges
    half    : (n,) half thickness, mm
    """

    feet: Array
    normals: Array
    out: Array
    half: Array

    def reach(self) -> tuple[Array, Array]:
        """Corners (3,), (3,), mm, of the box around the plate."""
        pad = self.half[:, None]
        return (self.feet - pad).min(axis=0), (self.feet + pad).max(axis=0)

    def mirrored(self) -> Net:
        """The plate of the other side."""
        flip = np.array([-1.0, 1.0, 1.0])
        return Net(self.feet * flip, self.normals * flip, self.out * flip, self.half)

    def distance(self) -> Callable[[Array], Array]:
        """A function from points (n, 3) to their signed distance (n,), mm; edges are round."""
        from scipy.spatial import cKDTree

        tree = cKDTree(self.feet)

        def measure(points: Array) -> Array:
            _, foot = tree.query(points)
            away = points - self.feet[foot]
            across = np.einsum("ij,ij->i", away, self.normals[foot])
            beyond = np.maximum(np.einsum("ij,ikj->ik", away, self.out[foot]), 0.0)
            out: Array = np.sqrt(across**2 + (beyond**2).sum(axis=1)) - self.half[foot]
            return out

        return measure


def dense_net(controls: Array) -> Net:
    """Net of controls (rows, columns, 4: point and half thickness, mm) -> a plate through all of them."""
    across = np.linalg.norm(np.diff(controls[..., :3], axis=1), axis=2).sum(axis=1)
    down = np.linalg.norm(np.diff(controls[..., :3], axis=0), axis=2).sum(axis=0)
    lines = _spline_along(controls, _count(across))
    dense = np.swapaxes(_spline_along(np.swapaxes(lines, 0, 1), _count(down)), 0, 1)
    points = dense[..., :3]
    first = np.stack([np.gradient(points[..., k], axis=0) for k in range(3)], axis=-1)
    second = np.stack([np.gradient(points[..., k], axis=1) for k in range(3)], axis=-1)
    normals = _unit(np.cross(first, second))
    out = np.zeros((*points.shape[:2], 2, 3))
    for end, sign in ((0, -1.0), (-1, 1.0)):
        out[end, :, 0] = sign * _unit(np.cross(second[end], normals[end]))
        out[:, end, 1] = sign * _unit(np.cross(normals[:, end], first[:, end]))
    half = np.maximum(dense[..., 3].ravel(), 0.1)
    return Net(points.reshape(-1, 3), normals.reshape(-1, 3), out.reshape(-1, 2, 3), half)


def _count(lengths: Array) -> int:
    return max(2, int(np.ceil(float(lengths.max()) / FOOT_MM)) + 1)


def _unit(vectors: Array) -> Array:
    out: Array = vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-9)
    return out


def _spline_along(controls: Array, count: int) -> Array:
    """Splines along the second axis of controls (r, c, k), all with one mean parameter -> (r, count, k)."""
    parameter = np.mean([chord_parameter(row[:, :3]) for row in controls], axis=0)
    matrix = spline_matrix(parameter, np.linspace(0.0, parameter[-1], count))
    out: Array = np.einsum("mc,rck->rmk", matrix, controls)
    return out
