"""Lines to try things on: a helix and a ring with closed forms, and lines of any shape by hypothesis."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from meshes.curves import Array, Centreline

MIRROR = np.array([-1.0, 1.0, 1.0])


def helix(radius_mm: float, rise_mm: float, turns: float, samples: int) -> Array:
    """Points (samples, 3) of a helix about z, `rise_mm` a turn, evenly spaced."""
    angle = np.linspace(0.0, 2.0 * np.pi * turns, samples)
    return np.stack([radius_mm * np.cos(angle), radius_mm * np.sin(angle), rise_mm * angle / (2.0 * np.pi)], axis=1)


def wandering(seed: int, samples: int = 64, step_mm: float = 2.0, bend: float = 0.25) -> Array:
    """Points (samples, 3) of a line that turns at random, by about `bend` radians a step."""
    draw = np.random.default_rng(seed)
    heading = draw.normal(size=3)
    points = [draw.normal(0.0, 50.0, 3)]
    for _ in range(samples - 1):
        heading = heading / np.linalg.norm(heading) + draw.normal(0.0, bend, 3)
        points.append(points[-1] + step_mm * heading / np.linalg.norm(heading))
    return np.array(points)


@st.composite
def centrelines(draw: st.DrawFn, samples: int = 80) -> Centreline:
    """A line of 2 to `samples` samples, from straight to tangled, thin or thick, of varying radius."""
    count = draw(st.integers(2, samples))
    points = wandering(
        draw(st.integers(0, 2**32 - 1)),
        count,
        draw(st.floats(0.05, 20.0)),
        draw(st.sampled_from([0.0, 0.05, 0.3, 1.0])),
    )
    ends = draw(st.tuples(st.floats(0.05, 12.0), st.floats(0.05, 12.0)))
    return Centreline(points, np.linspace(*ends, count))


def straight(start: Array, end: Array, radius_mm: float, samples: int) -> Centreline:
    """A straight line of one radius."""
    return Centreline(np.linspace(start, end, samples), np.full(samples, radius_mm))
