"""Ways of the eye from step to step: what was in the picture stays in it, the shortest way, and no jump."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from viewer.cameras import DIRECTIONS, Array, Eye, between, placed_at, projected, turned
from viewer.flight import STEP_S, chained, evenly, following, keeping, straight

#: Nowhere may a point lie further from the middle than the edge of the picture.
EDGE = 1.0 + 1e-9
LINE = np.array([[0.0, 0.0, 200.0], [30.0, -20.0, 100.0], [40.0, -60.0, -50.0]])
SHARES = np.linspace(0.0, 1.0, 41)

numbers = st.floats(-150.0, 150.0)
points = st.lists(st.tuples(numbers, numbers, numbers), min_size=1, max_size=12).map(np.array)
shares = st.floats(0.0, 1.0)
aspects = st.floats(0.5, 3.0)
near = st.floats(-60.0, 60.0)


@st.composite
def eyes(draw: st.DrawFn) -> Eye:
    """An eye of a named view, turned, moved, near or far, parallel or not."""
    seen = turned(eye_from(draw(st.sampled_from(sorted(DIRECTIONS)))), draw(st.floats(-180.0, 180.0)),
                  draw(st.floats(-80.0, 80.0)))  # fmt: skip
    eye = replace(seen, parallel=draw(st.booleans()))
    return placed_at(eye, np.array(draw(st.tuples(near, near, near))), draw(st.floats(40.0, 400.0)))


def eye_from(name: str) -> Eye:
    """The eye of a named view, about the origin."""
    towards, up = (np.array(d) for d in DIRECTIONS[name])
    towards = towards / np.linalg.norm(towards)
    up = up - towards * (towards @ up)
    return Eye(towards * 2000.0, np.zeros(3), up / np.linalg.norm(up), 250.0)


def out_by(spots: Array, eye: Eye, aspect: float) -> Array:
    """How far each point lies from the middle of the picture, 1 on its edge; nothing behind the eye is in it."""
    height = 1000
    width = aspect * height
    size = (round(width), height)
    away = np.abs(projected(spots, eye, size) - np.array(size) / 2.0) * 2.0
    across = np.maximum(away[:, 0] / width, away[:, 1] / height)
    behind = (spots - eye.position) @ eye.axes()[2] >= 0.0
    return np.where(behind & (not eye.parallel), np.inf, across)


def turn_deg(a: Eye, b: Eye) -> float:
    """The angle between two ways of looking."""
    first, second = (np.stack(e.axes(), axis=1) for e in (a, b))
    # Of a rotation by w, |R - 1| is sqrt(8) sin(w / 2): exact for small and for large turns alike.
    chord = float(np.linalg.norm(second @ first.T - np.eye(3))) / np.sqrt(8.0)
    return float(np.degrees(2.0 * np.arcsin(min(1.0, chord))))


# --- keeping


@given(eyes(), eyes(), points, aspects)
def test_what_is_in_the_picture_at_both_ends_stays_in_it(a: Eye, b: Eye, spots: Array, aspect: float) -> None:
    flight = keeping(straight(a, b, STEP_S), spots, aspect)
    within = (out_by(spots, flight.at(0.0), aspect) <= 0.93) & (out_by(spots, b, aspect) <= 0.93)
    assume(within.any())
    assert max(out_by(spots[within], flight.at(t), aspect).max() for t in SHARES) <= EDGE


@pytest.mark.parametrize("parallel", [True, False])
def test_a_nerve_that_both_steps_show_is_lost_by_the_straight_way_and_kept_by_this_one(parallel: bool) -> None:
    """Its ends at the edge from in front and from behind: half way it would lie across the narrow picture."""
    line = evenly(np.array([[110.0, -30.0, 60.0], [0.0, 10.0, 0.0], [-110.0, 40.0, -60.0]]))
    a = placed_at(replace(turned(eye_from("left"), 20.0, 10.0), parallel=parallel), np.zeros(3), 110.0)
    b = placed_at(replace(turned(eye_from("right"), -20.0, -10.0), parallel=parallel), np.zeros(3), 110.0)
    plain = straight(a, b, STEP_S)
    flight = keeping(plain, line, 0.8)
    assert (out_by(line, a, 0.8) < 0.93).all()
    assert (out_by(line, b, 0.8) < 0.93).all()
    assert max(out_by(line, plain.at(t), 0.8).max() for t in SHARES) > 1.05
    assert max(out_by(line, flight.at(t), 0.8).max() for t in SHARES) <= EDGE


def test_a_point_far_behind_what_one_looks_at_is_kept_in_perspective_too() -> None:
    """Standing back by a factor brings it nearer to the middle by less than that factor."""
    behind = np.array([[130.0, 80.0, 30.0]])
    a, b = (replace(eye, parallel=False) for eye in (turned(eye_from("front"), -70.0, -40.0), eye_from("side_lying")))
    a, b = placed_at(a, np.array([-35.0, 22.0, -54.0]), 40.0), placed_at(b, np.array([25.0, -37.0, 9.0]), 150.0)
    flight = keeping(straight(a, b, STEP_S), behind, 1.5)
    assert out_by(behind, a, 1.5) < 0.93
    assert out_by(behind, b, 1.5) < 0.93
    assert max(out_by(behind, flight.at(t), 1.5)[0] for t in SHARES) <= EDGE


@given(eyes(), eyes(), points, aspects)
def test_keeping_changes_neither_end_nor_time_nor_where_one_looks(a: Eye, b: Eye, spots: Array, aspect: float) -> None:
    plain = straight(a, b, STEP_S)
    flight = keeping(plain, spots, aspect)
    assert flight.end is b
    assert flight.seconds == plain.seconds
    assert flight.at(0.0).is_close(plain.at(0.0))
    assert flight.at(1.0).is_close(b)
    for t in (0.2, 0.5, 0.8):
        kept, free = flight.at(t), plain.at(t)
        assert kept.half_height_mm >= free.half_height_mm
        assert kept.focus == pytest.approx(free.focus)
        assert np.stack(kept.axes()) == pytest.approx(np.stack(free.axes()), abs=1e-9)


@given(eyes(), eyes(), points, aspects)
def test_keeping_does_not_jump(a: Eye, b: Eye, spots: Array, aspect: float) -> None:
    b = replace(b, parallel=a.parallel)
    flight = keeping(straight(a, b, STEP_S), spots, aspect)
    for t in (0.1, 0.5, 0.9):
        before, after = flight.at(t - 1e-7), flight.at(t + 1e-7)
        assert after.half_height_mm == pytest.approx(before.half_height_mm, rel=1e-4)


def test_nothing_to_keep_is_the_straight_way() -> None:
    a, b = eye_from("front"), eye_from("left")
    flight = straight(a, b, STEP_S)
    assert keeping(flight, np.empty((0, 3)), 1.5) is flight
    assert keeping(flight, np.array([[9000.0, 9000.0, 9000.0]]), 1.5) is flight


# --- the shortest way


@given(eyes(), eyes(), shares)
def test_the_eye_turns_the_shortest_way(a: Eye, b: Eye, t: float) -> None:
    whole = turn_deg(a, b)
    eye = straight(a, b, STEP_S).at(t)
    assert turn_deg(a, eye) + turn_deg(eye, b) == pytest.approx(whole, abs=2e-3)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("front", "back"),
        ("left", "right"),
        ("back", "front"),
        ("side_lying", "side_lying of the right"),
        ("side_lying of the right", "side_lying"),
    ],
)
def test_half_a_turn_arrives_without_a_jump(a: str, b: str) -> None:
    """Of two opposite ways of looking every axis is as short as any other; not every one leads there."""

    def seen(name: str) -> Eye:
        eye = eye_from(name.partition(" ")[0])
        flip = np.array([-1.0, 1.0, 1.0]) if name.endswith("of the right") else np.ones(3)
        return replace(eye, position=eye.position * flip, up=eye.axes()[1] * flip)

    start, end = seen(a), seen(b)
    assert turn_deg(start, end) == pytest.approx(180.0)
    assert turn_deg(between(start, end, 0.999), end) < 0.5
    assert turn_deg(start, between(start, end, 0.5)) == pytest.approx(90.0)


# --- one after the other


@given(eyes(), eyes())
def test_along_a_nerve_and_on_to_the_step_is_one_way_without_a_jump(a: Eye, b: Eye) -> None:
    b = replace(b, parallel=a.parallel)
    along = following(a, evenly(LINE), 350.0)
    way = chained(along, straight(along.end, b, STEP_S))
    assert way.seconds == pytest.approx(along.seconds + STEP_S)
    assert way.end is b
    assert way.at(0.0).is_close(along.at(0.0))
    assert way.at(1.0).is_close(b)
    assert way.along is None, "where a nerve that is traced would be told, nothing is"
    change = along.seconds / way.seconds
    before, after = way.at(change - 1e-9), way.at(change)
    assert after.focus == pytest.approx(before.focus, abs=1e-3)
    assert after.half_height_mm == pytest.approx(before.half_height_mm, rel=1e-4)
    assert turn_deg(before, after) < 1e-2


@given(eyes(), shares)
def test_each_of_two_ways_takes_its_own_time(a: Eye, t: float) -> None:
    along = following(a, evenly(LINE), 350.0)
    back = straight(along.end, a, STEP_S)
    way = chained(along, back)
    change = along.seconds / way.seconds
    assert way.at(t * change * 0.999).is_close(along.at(t * 0.999))
    assert way.at(change + t * (1.0 - change)).focus == pytest.approx(back.at(t).focus, abs=1e-6)
