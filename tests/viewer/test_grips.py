"""Taking hold of a portal on the screen: what is pulled, and where to."""

from dataclasses import astuple, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.view import Camera, Placement
from meshes.body import Body
from meshes.portal import Portal, place
from meshes.structures import APPROACHES, LEVELS, SIDES
from viewer.cameras import Eye, eye_of, projected, ray_through, region_of, unprojected
from viewer.grips import (
    MIDDLES,
    Border,
    at_under,
    grip_at,
    is_end_on,
    leaned,
    mm_per_pixel,
    nudged_along,
    nudged_lean,
    pulled_outwards,
    snapped,
)

SIZE = (900, 600)
#: Levels at which every approach has an axis that meets skin, without any lean.
REACHED = ("L2-3", "L3-4", "L4-5")


def portal_of(body: Body, where: Placement) -> Portal:
    return place(body, *astuple(where))


def eye(body: Body, name: str, side: str = "left", parallel: bool = True) -> Eye:
    return eye_of(Camera(name, parallel=parallel), region_of(body.surfaces), 1.4, side)


def pixel_of(point: np.ndarray, from_: Eye) -> tuple[float, float]:
    x, y = projected(point[None], from_, SIZE)[0]
    return float(x), float(y)


@pytest.mark.parametrize("parallel", [True, False])
def test_each_end_is_taken_where_it_is_seen_and_nothing_beside_it(alder: Body, parallel: bool) -> None:
    portal, front = portal_of(alder, Placement()), eye(alder, "front", parallel=parallel)
    assert grip_at(portal, front, SIZE, pixel_of(portal.end_mm, front)) == "inner"
    assert grip_at(portal, front, SIZE, pixel_of(portal.entry_mm, front)) == "outer"
    beside = portal.end_mm + np.array([0.0, 0.0, 2.0 * portal.radius_mm])
    assert grip_at(portal, front, SIZE, pixel_of(beside, front)) == ""
    past = portal.entry_mm - 3.0 * portal.radius_mm * portal.direction
    assert grip_at(portal, front, SIZE, pixel_of(past, front)) == ""


def test_seen_down_its_axis_a_portal_is_taken_by_its_inner_end(alder: Body) -> None:
    portal = portal_of(alder, Placement())
    down = eye_of(Camera("portal"), region_of(alder.surfaces), 1.4, "left", portal)
    assert grip_at(portal, down, SIZE, (450.0, 300.0)) == "inner"
    assert grip_at(portal, down, SIZE, (2.0, 2.0)) == ""


@pytest.mark.parametrize("approach", APPROACHES)
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("level", REACHED)
def test_the_inner_end_follows_the_hand_along_the_border(alder: Body, level: str, side: str, approach: str) -> None:
    """Pulled to where another position is seen, that position is what comes out."""
    border = Border.of(alder, portal_of(alder, Placement(level, side, approach)))
    view = eye(alder, "front" if approach in ("anterior", "posterolateral") else side)
    assert not is_end_on(border, view, SIZE)
    for at in (0.0, 0.3, 0.65, 1.0):
        portal = portal_of(alder, Placement(level, side, approach, at))
        found, off_px = at_under(border, view, SIZE, pixel_of(portal.end_mm, view))
        assert found == pytest.approx(at, abs=0.02)
        assert off_px < 0.5


def test_a_border_along_the_line_of_sight_cannot_be_pulled(alder: Body) -> None:
    border = Border.of(alder, portal_of(alder, Placement()))
    assert is_end_on(border, eye(alder, "front"), (90, 60))
    assert not is_end_on(border, eye(alder, "left"), SIZE)


angles = st.floats(-40.0, 40.0)


@given(st.sampled_from(LEVELS), st.sampled_from(SIDES), st.sampled_from(APPROACHES), angles, angles)
def test_a_pulled_lean_is_the_lean_that_was_pulled_to(
    alder: Body, level: str, side: str, approach: str, cranial: float, anterior: float
) -> None:
    from meshes.portal import approaches, lean

    frame = alder.landmarks.frames[f"disc_{level.lower().replace('-', '_')}"]
    outwards = lean(approaches()[approach].outwards(side), side, cranial, anterior) @ frame.axes
    found = leaned(Placement(level, side, approach), frame, outwards)
    assert found.cranial_deg == pytest.approx(cranial, abs=0.2501)
    assert found.anterior_deg == pytest.approx(anterior, abs=0.2501)


@pytest.mark.parametrize("parallel", [True, False])
def test_the_outer_end_is_under_the_hand_after_the_pull(alder: Body, parallel: bool) -> None:
    where = Placement()
    portal, front = portal_of(alder, where), eye(alder, "front", parallel=parallel)
    grabbed = pixel_of(portal.entry_mm, front)
    here = (grabbed[0] + 4.0, grabbed[1] - 30.0)
    moved = leaned(where, alder.landmarks.frames[portal.disc], pulled_outwards(portal, front, SIZE, here, grabbed))
    assert moved.cranial_deg > 5.0
    after = portal_of(alder, moved)
    inner, outer = (np.array(pixel_of(p, front)) for p in (after.end_mm, after.entry_mm))
    way, to_hand = outer - inner, np.array(here) - inner
    assert abs(float(way[0] * to_hand[1] - way[1] * to_hand[0])) / np.linalg.norm(way) < 2.0


@given(st.floats(0.0, 1.0))
def test_a_snapped_position_is_the_middle_of_its_own_quarter(at: float) -> None:
    middle = snapped(at)
    assert middle in MIDDLES
    assert abs(middle - at) <= 0.125 + 1e-12


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("approach", APPROACHES)
def test_a_nudge_goes_one_millimetre_the_asked_way_across_the_screen(alder: Body, side: str, approach: str) -> None:
    where = Placement("L3-4", side, approach, 0.5)
    portal = portal_of(alder, where)
    border = Border.of(alder, portal)
    for name in ("front", "back", side, "home"):
        view = eye(alder, name, side)
        across = view.axes()[0]
        for right in (1.0, -1.0):
            moved = portal_of(alder, nudged_along(where, border, view, right))
            step = moved.end_mm - portal.end_mm
            assert float(np.linalg.norm(step)) == pytest.approx(1.0, abs=0.12)
            if abs(step @ across) > 0.1:
                assert np.sign(step @ across) == right


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("approach", APPROACHES)
def test_a_nudged_lean_turns_the_outer_end_by_one_degree_the_asked_way(alder: Body, side: str, approach: str) -> None:
    where = Placement("L3-4", side, approach, 0.5)
    portal = portal_of(alder, where)
    for right, up in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)):
        for name in ("front", side):
            view = eye(alder, name, side)
            other = portal_of(alder, nudged_lean(where, portal, view, right, up))
            angle = np.degrees(np.arccos(np.clip(other.direction @ portal.direction, -1.0, 1.0)))
            assert angle == pytest.approx(1.0, abs=0.01)
            shift = portal.direction - other.direction  # of the outer end, seen from the inner one
            if up:
                assert np.sign(shift @ alder.landmarks.frames[portal.disc].axes[2]) == up
            elif abs(shift @ view.axes()[0]) > 2e-3:
                assert np.sign(shift @ view.axes()[0]) == right


@given(st.floats(5.0, 895.0), st.floats(5.0, 595.0), st.floats(-200.0, 200.0), st.booleans())
def test_a_pixel_and_its_point_are_one(alder: Body, x: float, y: float, depth: float, parallel: bool) -> None:
    view = eye(alder, "home", parallel=parallel)
    like = view.focus + depth * view.axes()[2]
    point = unprojected((x, y), view, SIZE, like)
    assert (point - like) @ view.axes()[2] == pytest.approx(0.0, abs=1e-6)
    assert pixel_of(point, view) == pytest.approx((x, y), abs=1e-6)
    start, towards = ray_through((x, y), view, SIZE)
    assert np.linalg.norm(np.cross(point - start, towards)) == pytest.approx(0.0, abs=1e-6)
    step = view.axes()[0] * mm_per_pixel(view, point, SIZE)
    assert pixel_of(point + step, view) == pytest.approx((x + 1.0, y), abs=1e-6)


def test_a_nudge_stops_at_the_end_of_the_border(alder: Body) -> None:
    where = Placement(at=0.999)
    border = Border.of(alder, portal_of(alder, where))
    view = eye(alder, "left")
    ahead = replace(where, at=nudged_along(where, border, view, -1.0).at)
    assert ahead.at == 1.0
    assert nudged_along(ahead, border, view, -1.0).at == 1.0
