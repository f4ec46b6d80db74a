"""Settle a drawn course: onto the muscles it runs on, within those it runs in, clear of bone, smooth as a cord."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from meshes.courses import Drawn
from meshes.curves import Array, Centreline, Indices
from meshes.errors import unknown_word
from meshes.fields import Field
from meshes.tolerances import NERVE_TO_BONE_MM, UNDER_SURFACE_MM

ROUNDS = 12


@dataclass(frozen=True)
class Surroundings:
    """What a course of the left side can meet.

    solids : bare id -> Field, for `on` and `inside`
    hard   : fields that every course keeps clear of (bone and disc, both sides)
    """

    solids: Mapping[str, Field]
    hard: Sequence[Field]


@dataclass(frozen=True)
class Stretch:
    """Samples (rows) that lie on, under or inside one solid: on it at a gap, close under it, or well within it."""

    rows: Indices
    solid: Field
    how: str
    gap_mm: float

    def moves(self, points: Array, radius: Array) -> Array:
        """Moves (n, 3) that bring the samples there; `points` and `radius` are those of the whole line."""
        own, size = points[self.rows], radius[self.rows]
        distance = self.solid.at(own)
        if self.how == "on":
            want = size + self.gap_mm - distance
        elif self.how == "under":
            want = np.minimum(size + self.gap_mm - distance, 0.0)
        else:
            want = np.minimum(-(size + UNDER_SURFACE_MM) - distance, 0.0)
        out: Array = self.solid.gradient_at(own) * want[:, None]
        return out


def settle(drawn: Drawn, around: Surroundings, where: str) -> Centreline:
    """The course at rest. Its ends inside a parent or target do not move."""
    points, radius = drawn.line.points.copy(), drawn.line.radius
    hold = _holds(drawn)
    step = drawn.line.length / (len(radius) - 1)
    stretches = list(_stretches(drawn, around, where))
    for _ in range(ROUNDS):
        push = np.zeros_like(points)
        for stretch in stretches:
            push[stretch.rows] += stretch.moves(points, radius)
        push += _from_bone(points, radius, around.hard)
        points += _smooth(push, 3.0 / step) * hold[:, None]
        points = _relaxed(points, hold * _smooth((np.linalg.norm(push, axis=1) > 0.05).astype(np.float64), 4.0 / step))
    for stretch in stretches:
        points[stretch.rows] += stretch.moves(points, radius) * hold[stretch.rows, None]
    points += _smooth(_from_bone(points, radius, around.hard), 1.6 / step) * hold[:, None]
    return drawn.line.moved(_smooth_line(points, hold, 2.0 / step))


def _holds(drawn: Drawn) -> Array:
    """0 where a sample must stay, 1 where it may move; rises over the first millimetres from a fixed end."""
    arc, length = drawn.line.arc, drawn.line.length
    hold = np.ones(len(arc))
    if drawn.fixed_start:
        hold = np.minimum(hold, np.clip((arc - 6.0) / 8.0, 0.0, 1.0))
    if drawn.fixed_end:
        hold = np.minimum(hold, np.clip((length - arc - 6.0) / 8.0, 0.0, 1.0))
    if not drawn.fixed_start:
        hold[0] = 0.0
    if not drawn.fixed_end:
        hold[-1] = 0.0
    return hold


def _stretches(drawn: Drawn, around: Surroundings, where: str) -> list[Stretch]:
    """Samples between two neighbouring waypoints that lie on, under or inside the same solid."""
    out = []
    for index, (a, b) in enumerate(zip(drawn.way[:-1], drawn.way[1:], strict=True)):
        rows = np.flatnonzero(drawn.before == index)
        for key in ("under", "on", "inside"):
            name = getattr(a, key)
            if not name or name != getattr(b, key):
                continue
            if name not in around.solids:
                raise unknown_word(name, around.solids, "solid", f"{where}, waypoint {index + 1}, {key}")
            out.append(Stretch(rows, around.solids[name], key, a.gap_mm))
    return out


def _from_bone(points: Array, radius: Array, hard: Sequence[Field]) -> Array:
    push = np.zeros_like(points)
    for field in hard:
        high = field.origin + field.spacing * (np.array(field.values.shape) - 1)
        near = np.flatnonzero(np.all((points > field.origin) & (points < high), axis=1))
        if len(near) == 0:
            continue
        distance = field.at(points[near])
        short = radius[near] + NERVE_TO_BONE_MM - distance
        # The field knows no distance beyond its band: a thick tube is held off only by what is really near.
        meets = (short > 0) & (distance < field.band - field.spacing)
        if meets.any():
            push[near[meets]] += field.gradient_at(points[near[meets]]) * short[meets][:, None]
    return push


def _smooth(values: Array, sigma: float) -> Array:
    from scipy.ndimage import gaussian_filter1d

    out: Array = gaussian_filter1d(values, sigma, axis=0, mode="nearest")
    return out


def _relaxed(points: Array, hold: Array) -> Array:
    """One light pull of every sample towards the middle of its neighbours: a cord under little tension."""
    middle = points.copy()
    middle[1:-1] = (points[:-2] + points[2:]) / 2.0
    out: Array = points + 0.15 * hold[:, None] * (middle - points)
    return out


def _smooth_line(points: Array, hold: Array, sigma: float) -> Array:
    moved = _smooth(points, sigma) - points
    moved[0] = moved[-1] = 0.0
    out: Array = points + moved * hold[:, None]
    return out
