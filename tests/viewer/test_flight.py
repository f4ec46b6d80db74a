"""Ways of the eye: where they begin, where they end, and what stays the same."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viewer.cameras import Eye, stepped
from viewer.flight import COME_S, eased, evenly, following, straight

FRONT = Eye(np.array([0.0, -2000.0, 50.0]), np.array([0.0, 0.0, 50.0]), np.array([0.0, 0.0, 1.0]), 250.0)
SIDE = Eye(np.array([2000.0, 0.0, 0.0]), np.array([0.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]), 90.0)
LINE = np.array([[0.0, 0.0, 200.0], [30.0, -20.0, 100.0], [40.0, -60.0, -50.0]])


def test_a_flight_begins_and_ends_where_it_should() -> None:
    way = straight(FRONT, SIDE)
    assert way.at(0.0).is_close(FRONT)
    assert way.at(1.0).is_close(SIDE)
    assert way.end is SIDE


begins = st.floats(0.0, 0.95)


@given(st.floats(0.0, 1.0), begins)
def test_following_keeps_the_direction_of_looking_and_the_point_in_the_middle(t: float, begin: float) -> None:
    line = evenly(LINE)
    way = following(FRONT, line, 350.0, begin)
    eye = way.at(t)
    assert eye.axes()[2] == pytest.approx(FRONT.axes()[2], abs=1e-9)
    assert eye.half_height_mm <= FRONT.half_height_mm + 1e-9
    if t >= COME_S / way.seconds:
        gap = np.linalg.norm(line - eye.focus, axis=1).min()
        assert gap <= np.linalg.norm(line[1] - line[0])


@given(begins)
def test_following_goes_from_where_it_begins_to_the_end_and_stays_there(begin: float) -> None:
    line = evenly(LINE)
    way = following(FRONT, line, 350.0, begin)
    assert way.at(0.0).is_close(FRONT)
    assert way.at(1.0).focus == pytest.approx(line[-1])
    assert way.end.focus == pytest.approx(line[-1])
    assert way.along is not None
    assert way.along(0.0) == pytest.approx(begin)
    assert way.along(1.0) == pytest.approx(1.0)
    shares = [way.along(t) for t in np.linspace(0.0, 1.0, 50)]
    assert shares == sorted(shares)
    assert way.seconds - COME_S == pytest.approx((following(FRONT, line, 350.0).seconds - COME_S) * (1.0 - begin))


def test_evenly_spaced_points_keep_the_ends_and_the_way() -> None:
    line = evenly(LINE, 200)
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    assert line[[0, -1]] == pytest.approx(LINE[[0, -1]], abs=2.0)
    assert steps.max() < 1.6 * np.median(steps), steps
    for corner in LINE:
        assert np.linalg.norm(line - corner, axis=1).min() < 4.0


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_easing_never_goes_back(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert 0.0 <= eased(low) <= eased(high) <= 1.0


turns = st.floats(-180.0, 180.0)


@given(turns, st.floats(-80.0, 80.0), st.sampled_from([5.0, 15.0, 30.0, 45.0]))
def test_a_stepped_eye_stands_on_a_whole_step_and_near(turn: float, height: float, step: float) -> None:
    a, h = np.radians(turn), np.radians(height)
    towards = np.array([np.cos(h) * np.sin(a), -np.cos(h) * np.cos(a), np.sin(h)])
    eye = Eye(towards * 2000.0, np.zeros(3), np.array([0.0, 0.0, 1.0]), 200.0)
    now = stepped(eye, step)
    right, up, facing = now.axes()
    tilt = np.degrees(np.arcsin(np.clip(facing[2], -1.0, 1.0)))
    around = np.degrees(np.arctan2(facing[0], -facing[1]))
    assert tilt / step == pytest.approx(round(tilt / step), abs=1e-6)
    assert around / step == pytest.approx(round(around / step), abs=1e-6)
    assert abs(tilt - height) <= step / 2.0 + max(0.0, abs(height) + step / 2.0 - 85.0) + 1e-6
    assert abs((around - turn + 180.0) % 360.0 - 180.0) <= step / 2.0 + 1e-6
    assert right @ up == pytest.approx(0.0, abs=1e-9)
    assert up[2] > 0.0
    assert stepped(now, step).is_close(now)
