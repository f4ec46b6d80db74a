"""Clearance of surfaces that are no tubes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.cylinder import Cylinder
from meshes.facets import lowest_on
from meshes.tolerances import FACET_MM
from tests.contact.bodies import box, ellipsoid
from tests.contact.test_clearance import by_hand, random_cylinder

X = np.array([1.0, 0.0, 0.0])
ALONG_X = Cylinder(np.zeros(3), X, 100.0, 11.0)
coordinate = st.floats(-60.0, 60.0)
point = st.tuples(coordinate, coordinate, coordinate)


@pytest.mark.parametrize(
    ("low", "high", "clearance"),
    [
        ((20, 15, -40), (80, 60, 40), 4.0),  # beside the wall
        ((106, -40, -40), (150, 40, 40), 6.0),  # past the flat end
        ((103, 15, -60), (150, 60, 60), 5.0),  # past the corner
        ((20, 4, -40), (80, 60, 40), -7.0),  # through the wall
        ((90, -40, -40), (150, 40, 40), -10.0),  # over the flat end
        ((40, -50, -50), (60, 50, 50), -11.0),  # across the whole channel
    ],
)
def test_boxes_in_closed_form(low: tuple[float, ...], high: tuple[float, ...], clearance: float) -> None:
    for step in (4.0, 200.0):
        value, _ = lowest_on(ALONG_X, box(low, high, step).triangles())
        assert value == pytest.approx(clearance, abs=2 * FACET_MM)


@settings(max_examples=150, deadline=None)
@given(point, point, point, st.floats(0.5, 120.0), st.floats(0.5, 30.0))
def test_any_triangle_against_dense_sampling(
    a: tuple[float, ...], b: tuple[float, ...], c: tuple[float, ...], length: float, radius: float
) -> None:
    corners = np.array([[a, b, c]])
    cylinder = Cylinder(-0.5 * length * X, X, length, radius)
    value, where = lowest_on(cylinder, corners)
    n = 120
    i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
    s, t = i[i + j <= n] / n, j[i + j <= n] / n
    points = corners[0, 0] + s[:, None] * (corners[0, 1] - corners[0, 0]) + t[:, None] * (corners[0, 2] - corners[0, 0])
    f = by_hand(cylinder, points)
    side = np.linalg.norm(corners[0] - np.roll(corners[0], 1, axis=0), axis=1).max() / n
    assert f.min() - side - 1e-9 <= value <= f.min() + FACET_MM + 1e-9
    assert by_hand(cylinder, where[None])[0] == pytest.approx(value, abs=1e-9)


def test_meshes_against_dense_sampling() -> None:
    draw = np.random.default_rng(8)
    corners = ellipsoid((0, 0, 0), (30, 18, 45)).triangles()
    weights = draw.dirichlet(np.ones(3), 60)
    dense = np.concatenate([corners.reshape(-1, 3), np.einsum("kc,tcx->tkx", weights, corners).reshape(-1, 3)])
    for _ in range(40):
        cylinder = random_cylinder(draw)
        value, _ = lowest_on(cylinder, corners)
        f = by_hand(cylinder, dense)
        assert f.min() - 0.5 <= value <= f.min() + FACET_MM


def test_asked_only_whether_it_lies_below_a_bound_it_says_so_rightly() -> None:
    draw = np.random.default_rng(9)
    corners = ellipsoid((0, 0, 0), (30, 18, 45), rings=12).triangles()
    both = set()
    for _ in range(80):
        cylinder = random_cylinder(draw)
        value, _ = lowest_on(cylinder, corners)
        for bound in (-0.5, value - 0.01, value + 0.01):
            below = lowest_on(cylinder, corners, enough_mm=bound)[0] < bound
            assert below == (value < bound)
            both.add(below)
    assert both == {True, False}


def test_no_triangles_are_infinitely_far() -> None:
    value, where = lowest_on(ALONG_X, np.zeros((0, 3, 3)))
    assert value == np.inf
    assert np.isnan(where).all()
