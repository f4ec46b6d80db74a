"""Named views: which way is up, left and front on the screen."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.view import Camera
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.portal import Portal
from viewer.cameras import (
    Array,
    Eye,
    Region,
    between,
    eye_of,
    free_camera,
    moved,
    projected,
    region_about,
    turned,
    zoomed,
)

REGION = Region(np.array([-150.0, -100.0, -120.0]), np.array([150.0, 90.0, 260.0]))
AXES = {"left": (1, 0, 0), "right": (-1, 0, 0), "back": (0, 1, 0), "front": (0, -1, 0), "head": (0, 0, 1)}


def way(word: str) -> Array:
    return np.array(AXES[word], dtype=float)


def portal(side: str = "left", approach: str = "lateral") -> Portal:
    sign = 1.0 if side == "left" else -1.0
    end, entry = np.array([25.0 * sign, 0.0, 30.0]), np.array([140.0 * sign, 5.0, 40.0])
    inwards = (end - entry) / np.linalg.norm(end - entry)
    return Portal("L4-5", side, approach, 0.5, "II", 11.0, 0.0, 0.0, 0.0, entry, end, inwards)


@pytest.mark.parametrize(
    ("name", "right", "up", "faces"),
    [
        ("front", "left", "head", "front"),
        ("back", "right", "head", "back"),
        ("left", "back", "head", "left"),
        ("right", "front", "head", "right"),
    ],
)
def test_upright_views(name: str, right: str, up: str, faces: str) -> None:
    eye = eye_of(Camera(name), REGION, 1.5)
    for axis, word in zip(eye.axes(), (right, up, faces), strict=True):
        assert axis == pytest.approx(way(word), abs=1e-12)


def test_side_lying_stands_behind_the_patient_with_the_docked_side_up() -> None:
    for side, head_on in (("left", 1.0), ("right", -1.0)):
        right, up, towards = eye_of(Camera("side_lying"), REGION, 1.5, side).axes()
        assert up @ way(side) > 0.6
        assert towards @ way("back") > 0.5
        assert towards @ way(side) > 0.5
        assert right @ way("head") == pytest.approx(head_on)


def test_down_the_portal_looks_along_its_axis_at_its_end() -> None:
    for side in ("left", "right"):
        p = portal(side)
        eye = eye_of(Camera("portal"), REGION, 1.5, side, p)
        assert eye.axes()[2] == pytest.approx(-p.direction)
        assert projected(np.stack([p.entry_mm, p.end_mm]), eye, (200, 100)) == pytest.approx(
            np.array([[100.0, 50.0], [100.0, 50.0]])
        )
        assert eye.axes()[1] @ way("front") > 0.9


@pytest.mark.parametrize("name", ["front", "back", "left", "right", "side_lying", "home"])
@pytest.mark.parametrize("aspect", [0.6, 1.0, 1.6])
def test_the_whole_region_fits(name: str, aspect: float) -> None:
    eye = eye_of(Camera(name), REGION, aspect)
    corners = np.array(np.meshgrid(*zip(REGION.low, REGION.high, strict=True))).reshape(3, -1).T
    size = (round(1000 * aspect), 1000)
    pixels = projected(corners, eye, size)
    assert (pixels > 0.0).all()
    assert (pixels < np.array(size)).all()


angles = st.floats(-170.0, 170.0)


@given(st.sampled_from(["front", "left", "back", "side_lying"]), angles, st.floats(-60.0, 60.0), st.floats(0.5, 2.0))
def test_a_named_view_that_is_turned_shows_the_whole_region_from_there(
    name: str, turn_deg: float, raise_deg: float, aspect: float
) -> None:
    eye = eye_of(Camera(name, turn_deg=turn_deg, raise_deg=raise_deg), REGION, aspect)
    same = turned(eye_of(Camera(name), REGION, aspect), turn_deg, raise_deg)
    assert np.stack(eye.axes()) == pytest.approx(np.stack(same.axes()), abs=1e-9)
    assert eye.focus == pytest.approx(REGION.centre)
    corners = np.array(np.meshgrid(*zip(REGION.low, REGION.high, strict=True))).reshape(3, -1).T
    size = (round(1000 * aspect), 1000)
    pixels = projected(corners, eye, size)
    assert (pixels > -1e-6).all()
    assert (pixels < np.array(size) + 1e-6).all()


def test_turned_to_the_right_from_the_front_one_sees_the_left_side_of_the_body() -> None:
    towards = eye_of(Camera("front", turn_deg=40.0), REGION, 1.0).axes()[2]
    assert towards @ way("left") == pytest.approx(np.sin(np.radians(40.0)))
    assert eye_of(Camera("front", raise_deg=30.0), REGION, 1.0).axes()[2] @ way("head") == pytest.approx(0.5)


@pytest.mark.parametrize("name", ["free", "portal"])
@pytest.mark.parametrize("given_", [{"on": frozenset({"l4"})}, {"turn_deg": 10.0}, {"raise_deg": -10.0}])
def test_a_camera_with_a_place_of_its_own_is_not_turned(name: str, given_: dict[str, Any]) -> None:
    with pytest.raises(FurcalError, match=f"the view {name} has its own place"):
        Camera(name, **given_)


@pytest.mark.parametrize("given_", [{"turn_deg": 181.0}, {"raise_deg": -86.0}, {"turn_deg": float("nan")}])
def test_a_camera_is_turned_within_bounds(given_: dict[str, float]) -> None:
    with pytest.raises(FurcalError, match=r"must lie between"):
        Camera("front", **given_)  # type: ignore[arg-type]


def test_a_picture_about_some_structures_holds_them_and_little_else(alder: Body) -> None:
    names = {"disc_l4_5", "asis_left"}
    region = region_about(names, alder)
    points = np.vstack([alder.surfaces["disc_l4_5"].vertices, alder.landmarks.points["asis_left"][None]])
    assert (points.min(axis=0) - region.low) == pytest.approx((region.high - points.max(axis=0)), abs=1e-9)
    assert (points.min(axis=0) > region.low).all()
    with pytest.raises(FurcalError, match=r"unknown structure or landmark 'disc_l4_6'. Nearest: disc_l4_5"):
        region_about({"disc_l4_6"}, alder)


def any_eye(name: str, right_deg: float, up_deg: float) -> Eye:
    return turned(eye_of(Camera(name), REGION, 1.5), right_deg, up_deg)


@given(st.sampled_from(["front", "left", "side_lying", "home"]), angles, angles)
def test_turning_keeps_focus_distance_and_an_upright_frame(name: str, right_deg: float, up_deg: float) -> None:
    start = eye_of(Camera(name), REGION, 1.5)
    eye = turned(start, right_deg, up_deg)
    assert eye.focus == pytest.approx(start.focus)
    assert np.linalg.norm(eye.position - eye.focus) == pytest.approx(np.linalg.norm(start.position - start.focus))
    axes = np.stack(eye.axes())
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-9)
    pole = np.eye(3)[int(np.argmax(np.abs(start.up)))]
    assert abs(eye.axes()[0] @ pole) < 1e-9


@given(angles, st.floats(-80.0, 80.0))
def test_a_free_camera_says_where_the_eye_stands(right_deg: float, up_deg: float) -> None:
    eye = any_eye("front", right_deg, up_deg)
    again = eye_of(free_camera(eye), REGION, 1.5)
    assert np.stack(again.axes()) == pytest.approx(np.stack(eye.axes()), abs=1e-9)
    assert again.half_height_mm == pytest.approx(eye.half_height_mm)
    assert again.focus == pytest.approx(eye.focus)


@given(angles, st.floats(0.0, 1.0))
def test_the_way_between_two_views_starts_and_ends_at_them(right_deg: float, t: float) -> None:
    a, b = any_eye("front", 0.0, 0.0), zoomed(moved(any_eye("left", right_deg, 20.0), 5.0, -3.0), 2.0)
    for share, end in ((0.0, a), (1.0, b)):
        here = between(a, b, share)
        assert np.stack(here.axes()) == pytest.approx(np.stack(end.axes()), abs=1e-6)
        assert here.half_height_mm == pytest.approx(end.half_height_mm)
        assert here.focus == pytest.approx(end.focus)
    axes = np.stack(between(a, b, t).axes())
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-9)


def test_a_parallel_and_a_perspective_picture_agree_at_the_focus() -> None:
    point = REGION.centre + np.array([[30.0, 0.0, 40.0]])
    flat = eye_of(Camera("front"), REGION, 1.5)
    deep = eye_of(Camera("front", parallel=False), REGION, 1.5)
    assert projected(point, flat, (900, 600)) == pytest.approx(projected(point, deep, (900, 600)))


def test_broken_free_cameras_still_give_a_frame() -> None:
    for camera in (Camera("free"), Camera("free", (0, 0, 5), (0, 0, 0), (0, 0, 1)), Camera("free", up=(0, 0, 0))):
        axes = np.stack(eye_of(camera, REGION, 1.5).axes())
        assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-9)
