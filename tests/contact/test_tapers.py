"""Distance to tapered stretches, against a search along each of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.clearance import Chains
from meshes.curves import Array, Centreline
from meshes.tapers import nearest_on, stretches

coordinate = st.floats(-50.0, 50.0)
points = st.lists(st.tuples(coordinate, coordinate, coordinate), min_size=2, max_size=6)


@given(points, st.lists(st.floats(0.1, 30.0), min_size=6, max_size=6), st.sampled_from([2, 3]))
def test_no_place_of_a_stretch_is_nearer(points: list[tuple[float, ...]], radius: list[float], across: int) -> None:
    line = Centreline(np.array(points), np.array(radius[: len(points)]))
    chains = Chains.of({"tube": line}, ["tube"])
    at = stretches(chains)
    seen = chains.points[:, :across]
    t, value = nearest_on(seen, chains, at)
    assert ((t >= 0.0) & (t <= 1.0)).all()
    dense = np.linspace(0.0, 1.0, 2001)[:, None]

    def f(share: Array) -> Array:
        place = seen[at] + share[..., None] * (seen[at + 1] - seen[at])
        radius = chains.radius[at] + share * (chains.radius[at + 1] - chains.radius[at])
        out: Array = np.linalg.norm(place, axis=-1) - radius
        return out

    assert value == pytest.approx(f(t), abs=1e-9)
    assert (value <= f(dense).min(axis=0) + 1e-6).all()


def test_no_stretch_runs_from_one_tube_to_the_next() -> None:
    line = Centreline(np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]]), np.ones(2))
    far = Centreline(np.array([[0.0, 100.0, 0.0], [1.0, 100.0, 0.0]]), np.ones(2))
    chains = Chains.of({"a": line, "b": far}, ["a", "b"])
    assert stretches(chains).tolist() == [0, 2]
