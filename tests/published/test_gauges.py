"""Sections, distances and stretches against closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.curves import Centreline
from meshes.gauges.sections import section
from meshes.gauges.space import UPRIGHT, Depth, bend_deg, runs, through_plane
from meshes.landmarks import Frame
from meshes.surfaces import Surface, tube

SIDES = 96


def cylinder(radius_mm: float, lean: tuple[float, float] = (0.0, 0.0), at: tuple[float, float] = (0.0, 0.0)) -> Surface:
    """A tube 160 mm high through the plane z = 0 at `at`, leaning by so much sideways and back per mm of height."""
    height = np.linspace(-80.0, 80.0, 121)
    points = np.stack([at[0] + lean[0] * height, at[1] + lean[1] * height, height], axis=1)
    return tube(Centreline(points, np.full(len(height), radius_mm)), sides=SIDES)


LEAN = st.tuples(st.floats(-0.8, 0.8), st.floats(-0.8, 0.8))
PLACE = st.tuples(st.floats(-40.0, 40.0), st.floats(-40.0, 40.0))


@settings(deadline=None, max_examples=60)
@given(st.floats(1.0, 15.0), LEAN, PLACE)
def test_a_slanting_cut_of_a_tube_is_an_ellipse(
    radius: float, lean: tuple[float, float], at: tuple[float, float]
) -> None:
    cut = section(cylinder(radius, lean, at), UPRIGHT)
    polygon = SIDES / (2.0 * np.pi) * np.sin(2.0 * np.pi / SIDES)
    stretch = np.sqrt(1.0 + lean[0] ** 2 + lean[1] ** 2)
    assert cut.area == pytest.approx(np.pi * radius**2 * stretch * polygon, rel=0.01)
    assert cut.centroid == pytest.approx(np.array(at), abs=0.05 * radius)
    assert len(cut.loops()) == 1
    assert cut.holds(np.array(at))
    assert not cut.holds(np.array(at) + 30.0 * radius)


def test_a_cut_through_two_tubes_has_two_loops_and_a_gap() -> None:
    from meshes.surfaces import joined

    cut = section(joined([cylinder(4.0, at=(-10.0, 0.0)), cylinder(6.0, at=(15.0, 0.0))]), UPRIGHT)
    small, large = sorted(cut.loops(), key=lambda loop: loop.area)
    assert small.area == pytest.approx(np.pi * 16.0, rel=0.01)
    assert small.gap(large) == pytest.approx(25.0 - 10.0, abs=0.02)
    assert large.gap(large) == 0.0
    assert cut.across(1, 0.0) == pytest.approx([-14.0, -6.0, 9.0, 21.0], abs=0.02)


def test_a_plane_that_misses_cuts_nothing() -> None:
    away = Frame(np.array([0.0, 0.0, 500.0]), np.eye(3))
    assert not section(cylinder(4.0), away)


@settings(deadline=None, max_examples=40)
@given(st.floats(2.0, 12.0), st.floats(0.0, 60.0), st.floats(-np.pi, np.pi), st.floats(-50.0, 50.0))
def test_depth_of_a_point_in_and_beside_a_tube(radius: float, out: float, turn: float, height: float) -> None:
    point = np.array([[out * np.cos(turn), out * np.sin(turn), height]])
    assert Depth(cylinder(radius))(point)[0] == pytest.approx(out - radius, abs=0.02 * radius)


def test_depth_of_two_is_that_of_the_nearer() -> None:
    both = Depth(cylinder(4.0, at=(-10.0, 0.0)), cylinder(6.0, at=(15.0, 0.0)))
    assert both(np.array([[[-10.0, 0.0, 0.0]], [[3.0, 0.0, 0.0]]])) == pytest.approx(
        np.array([[-4.0], [6.0]]), abs=0.05
    )


def test_nearest_point_of_a_surface() -> None:
    found = Depth(cylinder(4.0)).nearest(np.array([[10.0, 0.0, 3.0]]))
    assert found[0] == pytest.approx([4.0, 0.0, 3.0], abs=0.05)


@given(st.lists(st.booleans(), min_size=1, max_size=40))
def test_runs_cover_exactly_what_is_set(flags: list[bool]) -> None:
    array = np.array(flags)
    covered = np.zeros(len(flags), dtype=bool)
    for first, last in runs(array):
        assert array[first : last + 1].all()
        assert not covered[first : last + 1].any()
        covered[first : last + 1] = True
    assert (covered == array).all()


def test_through_plane_and_bend() -> None:
    arc = np.linspace(0.0, np.pi / 2.0, 200)
    quarter = Centreline(np.stack([np.zeros(200), 40.0 * np.cos(arc), 40.0 * np.sin(arc)], axis=1), np.ones(200))
    plane = Frame(np.array([0.0, 0.0, 20.0]), np.eye(3))
    assert through_plane(quarter, plane) == pytest.approx([40.0 * np.pi / 6.0], abs=0.05)
    assert bend_deg(quarter, 10.0, 50.0) == pytest.approx(np.degrees(1.0), abs=0.2)
