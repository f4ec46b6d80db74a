"""Where each point of a muscle lies among its fibres, so that a texture can run along them.

A muscle is coloured by a picture of its cross-section, carried along the fibres: two coordinates that stay the same
along a fibre and change across it. There is no seam, and fibres draw together where the muscle narrows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from meshes.surfaces import Surface
from meshes.tables import ANATOMY, check_keys, cited, number, read_toml

Array = NDArray[np.float64]
#: One tile of the texture stands for this much of the cross-section.
TILE_MM = 48.0
SLICES = 24


@dataclass(frozen=True)
class Course:
    """A row of fibres.toml.

    lean_deg    : flat muscles: how far fibres rise (+) or fall (-) on their way to the front
    tendon_from : share of the length from which the muscle pales into tendon; 1 for none
    """

    lean_deg: float = 0.0
    tendon_from: float = 1.0


@cache
def courses() -> Mapping[str, Course]:
    """fibres.toml by muscle, without sides. Raises FurcalError naming file and place."""
    path = ANATOMY / "fibres.toml"
    rows = {}
    for name, row in read_toml(path).items():
        where = f"{path}, [{name}]"
        check_keys(row, ("lean_deg", "tendon_from", "says", "source"), where)
        cited(row, where)
        lean, tendon = (number(row.get(key, usual), where) for key, usual in (("lean_deg", 0.0), ("tendon_from", 1.0)))
        rows[name] = Course(lean, tendon)
    return rows


def course_of(muscle: str) -> Course:
    """How the fibres of a muscle (id without side) run; along its length where the table says nothing."""
    return courses().get(muscle, Course())


def bundle_coordinates(surface: Surface) -> Array:
    """Fibre coordinates (v, 2), in tiles, of a muscle whose fibres run its length.

    The muscle is cut across its long axis into slices; a point's place in its slice, measured in units of the slice's
    own spread, is the same all along a fibre.
    """
    points = surface.vertices - surface.vertices.mean(axis=0)
    axes = long_axes(points)
    along, across = points @ axes[0], points @ axes[1:].T
    knots = np.linspace(along.min(), along.max(), SLICES)
    middle, spread = _slice_shape(along, across, knots)
    here = np.stack([np.interp(along, knots, middle[:, k]) for k in range(2)], axis=1)
    wide = np.stack([np.interp(along, knots, spread[:, k]) for k in range(2)], axis=1)
    scale = spread.mean(axis=0)
    out: Array = (across - here) / wide * scale / TILE_MM
    return out


def sheet_coordinates(surface: Surface, lean_deg: float) -> Array:
    """Fibre coordinates (v, 2), in tiles, of a flat muscle of the wall.

    lean_deg : how far the fibres run up (+) or down (-) on their way to the front; 0 runs around the trunk
    """
    points = surface.vertices
    centre = np.array([0.0, float(points[:, 1].mean())])
    away = points[:, :2] - centre
    radius = float(np.median(np.linalg.norm(away, axis=1)))
    to_front = -np.abs(np.arctan2(away[:, 0], -away[:, 1])) * radius
    lean = np.radians(lean_deg)
    across = points[:, 2] * np.cos(lean) - to_front * np.sin(lean)
    return np.stack([across / TILE_MM, np.zeros(len(points))], axis=1)


def end_share(surface: Surface) -> Array:
    """How far along its long axis, from head to foot, each vertex lies: (v,), 0..1."""
    points = surface.vertices - surface.vertices.mean(axis=0)
    axis = long_axes(points)[0]
    along = points @ (axis if axis[2] < 0.0 else -axis)
    out: Array = (along - along.min()) / max(float(np.ptp(along)), 1e-9)
    return out


def long_axes(points: Array) -> Array:
    """Principal axes (3, 3), longest first, of centred points (n, 3)."""
    _, axes = np.linalg.eigh(points.T @ points)
    return np.ascontiguousarray(axes.T[::-1])


def fibre_texture(size: int = 256) -> NDArray[np.uint8]:
    """A grey picture (size, size) of bundles in cross-section that repeats without a seam, 0..255.

    Waves of 1.5 to 9 mm in every direction, drawn once with a fixed seed: only a look, no measurement.
    """
    rng = np.random.default_rng(7)
    drawn = rng.uniform((1.5, 0.0, 0.0), (9.0, np.pi, 2.0 * np.pi), (90, 3))
    length_mm, angle, phase = drawn.T[:, :, None]
    grid = np.arange(size) / size * 2.0 * np.pi
    rightwards = np.exp(1j * np.round(TILE_MM / length_mm * np.cos(angle)) * grid)
    upwards = np.exp(1j * (np.round(TILE_MM / length_mm * np.sin(angle)) * grid + phase))
    picture = ((upwards * np.sqrt(length_mm)).T @ rightwards).real  # the sum of all waves
    picture = np.clip(picture / picture.std(), -2.0, 2.0)
    out: NDArray[np.uint8] = np.round(205.0 + picture * 22.0).astype(np.uint8)
    return out


def _slice_shape(along: Array, across: Array, knots: Array) -> tuple[Array, Array]:
    """Middle and spread (slices, 2) of the points near each knot, smoothed along the muscle."""
    width = knots[1] - knots[0]
    weights = np.exp(-0.5 * ((along[None, :] - knots[:, None]) / (0.8 * width)) ** 2)
    total = weights.sum(axis=1, keepdims=True) + 1e-12
    middle = weights @ across / total
    variance = weights @ across**2 / total - middle**2
    spread = np.sqrt(np.maximum(variance, 1.0))
    return middle, spread
