"""Words against points worked out by hand, and what is said of words that name no place."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.anchors import ANCHOR_KEYS, DIRECTIONS, left_name, resolve
from meshes.curves import Array
from meshes.landmarks import Frame, Landmarks
from meshes.posture import reference_landmarks
from tests.meshes.refusals import refused

#: A frame whose left, back and up directions point to the body's up, left and back.
TURNED = Frame(np.array([10.0, 20.0, 30.0]), np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]))
UPRIGHT = Frame(np.zeros(3), np.eye(3))


def made_up() -> Landmarks:
    points = {
        "crest_left": np.array([100.0, 0.0, 40.0]),
        "crest_right": np.array([-100.0, 0.0, 40.0]),
        "brim_left": np.array([50.0, -20.0, 0.0]),
        "brim_right": np.array([-50.0, -20.0, 0.0]),
        "top": np.array([1.0, 2.0, 3.0]),
        "disc_l4_5_centre": np.array([0.0, 0.0, 38.0]),
        "disc_l4_5_posterior": np.array([0.0, 18.0, 40.0]),
        "disc_l4_5_anterior": np.array([0.0, -16.0, 36.0]),
    }
    frame_of = {name: "turned" if name == "top" else "upright" for name in points}
    return Landmarks(points, {"turned": TURNED, "upright": UPRIGHT}, frame_of, dict.fromkeys(points, "judgement"))


@pytest.mark.parametrize(
    ("row", "point"),
    [
        ({"at": "crest"}, (100, 0, 40)),
        ({"at": "crest_left"}, (100, 0, 40)),
        ({"at": "crest_right"}, (-100, 0, 40)),
        ({"at": "crest", "lateral": 5, "front": 3, "up": 2}, (105, -3, 42)),
        ({"at": "crest", "medial": 5, "back": 3, "down": 2}, (95, 3, 38)),
        ({"at": "crest", "left": 5}, (105, 0, 40)),
        ({"at": "crest", "right": 5}, (95, 0, 40)),
        ({"at": "crest", "lateral": "5.5"}, (105.5, 0, 40)),
        ({"at": "crest", "lateral": -5}, (95, 0, 40)),
        ({"at": "crest", "lateral": 5, "medial": 2}, (103, 0, 40)),
        ({"at": "top", "lateral": 7}, (1, 2, 10)),
        ({"at": "top", "back": 7}, (8, 2, 3)),
        ({"at": "top", "up": 7}, (1, 9, 3)),
        ({"between": ["crest", "brim"]}, (75, -10, 20)),
        ({"between": ["crest", "brim"], "share": 0}, (100, 0, 40)),
        ({"between": ["crest", "brim"], "share": 0.25, "up": 1}, (87.5, -5, 31)),
        ({"between": ["brim", "crest_right"], "share": 0.5}, (-25, -10, 20)),
        ({"between": ["top", "crest"], "share": 1, "up": 1}, (100, 1, 40)),
        ({"at": "disc_l4_5_centre", "fraction": 0}, (0, 18, 40)),
        ({"at": "disc_l4_5_centre", "fraction": 1}, (0, -16, 36)),
        ({"at": "disc_l4_5_centre", "fraction": 0.25, "lateral": 30}, (30, 9.5, 39)),
        ({"at": "disc_l4_5_centre", "fraction": 1.5}, (0, -33, 34)),
    ],
)
def test_words_name_the_point_that_was_worked_out_by_hand(row: dict[str, Any], point: tuple[float, ...]) -> None:
    np.testing.assert_allclose(resolve(row, made_up(), "here"), point, atol=1e-12)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"at": "crst"}, "here: unknown landmark 'crst'. Nearest: crest. Legal: crest, brim, top, "),
        ({"at": ""}, "here: unknown landmark ''. Legal: crest, "),
        ({"between": ["crest", "brm"]}, "here: unknown landmark 'brm'. Nearest: brim. Legal: "),
        ({"up": 3}, "here: name a landmark with 'at' or two with 'between'."),
        ({}, "here: name a landmark with 'at' or two with 'between'."),
        ({"at": "crest", "between": ["crest", "brim"]}, "here: name a landmark with 'at' or two with 'between'"),
        ({"between": ["crest"]}, "here: 'between' takes two landmarks"),
        ({"between": ["crest", "brim", "top"]}, "here: 'between' takes two landmarks"),
        ({"between": "top"}, "here: 'between' takes two landmarks"),
        ({"between": 5}, "here: 'between' takes two landmarks"),
        ({"at": "crest", "share": 0.5}, "here: 'share' goes with 'between'"),
        ({"at": "crest", "fraction": 0.5}, "here: 'fraction' goes with the centre of a disc, not with crest_left."),
        ({"at": "disc_l4_5_anterior", "fraction": 0.5}, "here: 'fraction' goes with the centre of a disc, not with "),
        ({"between": ["disc_l4_5_centre", "top"], "fraction": 0.5}, "here: 'fraction' goes with the centre of a disc"),
        ({"at": "crest", "up": math.nan}, "here, up: expected a finite number, found nan."),
        ({"at": "crest", "back": math.inf}, "here, back: expected a finite number, found inf."),
        ({"at": "crest", "lateral": "wide"}, "here, lateral: expected a number, found 'wide'."),
        ({"at": "crest", "lateral": True}, "here, lateral: expected a number, found True."),
        ({"at": "crest", "lateral": [1]}, "here, lateral: expected a number, found [1]."),
        ({"at": "disc_l4_5_centre", "fraction": math.nan}, "here, fraction: expected a finite number, found nan."),
        ({"between": ["crest", "brim"], "share": None}, "here, share: expected a number, found None."),
    ],
)
def test_words_that_name_no_place_are_refused(row: dict[str, Any], said: str) -> None:
    assert refused(resolve, row, made_up(), "here").startswith(said)


def test_every_direction_has_its_opposite_and_paired_words_agree_on_the_left() -> None:
    for word, against in (("lateral", "medial"), ("left", "right"), ("front", "back"), ("up", "down")):
        assert DIRECTIONS[word][0] == DIRECTIONS[against][0]
        assert DIRECTIONS[word][1] == -DIRECTIONS[against][1]
    assert DIRECTIONS["lateral"] == DIRECTIONS["left"]
    assert set(ANCHOR_KEYS) == {"at", "between", "share", "fraction", *DIRECTIONS}


ROWS = st.dictionaries(st.sampled_from(sorted(DIRECTIONS)), st.floats(-200.0, 200.0))


@given(st.sampled_from(sorted(reference_landmarks().points)), ROWS)
def test_directions_add_up_in_the_landmarks_own_part(name: str, row: dict[str, float]) -> None:
    landmarks = reference_landmarks()
    frame = landmarks.frames[landmarks.frame_of[name]]
    moved = frame.local(resolve({"at": name, **row}, landmarks, "here")) - frame.local(landmarks[name])
    want = np.zeros(3)
    for word, mm in row.items():
        axis, sign = DIRECTIONS[word]
        want[axis] += sign * mm
    np.testing.assert_allclose(moved, want, atol=1e-9)


@given(st.floats(-1.0, 2.0), st.sampled_from(["l1_2", "l2_3", "l3_4", "l4_5", "l5_s1"]))
def test_a_fraction_runs_along_the_disc_from_back_to_front(fraction: float, disc: str) -> None:
    landmarks = reference_landmarks()
    point = resolve({"at": f"disc_{disc}_centre", "fraction": fraction}, landmarks, "here")
    back, front = landmarks[f"disc_{disc}_posterior"], landmarks[f"disc_{disc}_anterior"]
    np.testing.assert_allclose(point, back + fraction * (front - back), atol=1e-9)


def test_a_reader_of_ones_own_is_asked_for_every_number() -> None:
    asked: list[tuple[Any, str]] = []

    def read(value: Any, where: str) -> float:
        asked.append((value, where))
        return 2.0

    point = resolve({"at": "disc_l4_5_centre", "fraction": "a", "up": "b"}, made_up(), "here", read)
    assert asked == [("a", "here, fraction"), ("b", "here, up")]
    np.testing.assert_allclose(point, (0.0, -50.0, 34.0))


def test_a_landmark_is_not_moved_by_what_hangs_on_it() -> None:
    landmarks = made_up()
    before: dict[str, Array] = {name: point.copy() for name, point in landmarks.points.items()}
    resolve({"at": "disc_l4_5_centre", "fraction": 0.3, "up": 5}, landmarks, "here")
    for name, point in before.items():
        np.testing.assert_array_equal(landmarks[name], point)


def test_paired_landmarks_are_meant_on_the_left() -> None:
    assert left_name("crest", made_up(), "here") == "crest_left"
    assert left_name("crest_right", made_up(), "here") == "crest_right"
    assert left_name("top", made_up(), "here") == "top"
    assert refused(left_name, "bottom", made_up(), "here").startswith("here: unknown landmark 'bottom'.")
