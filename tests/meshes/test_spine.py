"""The stack: angles add up, heights add up, bending is symmetric, bodies keep their shape."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes import spine as module
from meshes.curves import Array
from meshes.landmarks import Frame
from meshes.spine import (
    DISCS,
    STACK,
    VERTEBRAE,
    Joints,
    body_wedge_deg,
    quantities,
    rotation,
    spine_frames,
    spine_table,
)
from tests.meshes.lines import MIRROR
from tests.meshes.refusals import refused

ANGLES = st.dictionaries(st.sampled_from(DISCS), st.floats(-12.0, 12.0))


def lean_deg(axes: Array) -> float:
    """How far a part that is not bent sideways leans to the front."""
    return float(np.degrees(np.arctan2(-axes[2, 1], axes[2, 2])))


def upper_plate(vertebra: str, frame: Frame) -> Array:
    """Axes of a vertebra's upper endplate."""
    out: Array = rotation(-body_wedge_deg(vertebra) / 2.0) @ frame.axes
    return out


def lower_plate(vertebra: str, frame: Frame) -> Array:
    """Axes of a vertebra's lower endplate."""
    out: Array = rotation(body_wedge_deg(vertebra) / 2.0) @ frame.axes
    return out


@pytest.mark.parametrize(("upper", "published"), [("t12", 36.8), ("l4", 29.8)])
def test_lordosis_between_upper_endplate_and_s1_is_that_of_people_lying(upper: str, published: float) -> None:
    """627 volunteers, recumbent (Asian Spine J 2019): the stack is built to it, with discs rounded to 0.1 degrees."""
    table = spine_table()
    stack = STACK[: VERTEBRAE.index(upper) + 1]
    parts = sum(table(disc, "lordosis_deg") + body_wedge_deg(v) for v, disc in stack)
    assert table("s1", "slope_deg") - lean_deg(upper_plate(upper, spine_frames()[upper])) == pytest.approx(parts)
    assert parts == pytest.approx(published, abs=0.15)


@given(ANGLES)
def test_extension_at_any_discs_adds_up(extension: dict[str, float]) -> None:
    straight, bent = spine_frames(), spine_frames(Joints(extension, {}))
    below = {disc: sum(extension.get(d, 0.0) for d in DISCS[: i + 1]) for i, disc in enumerate(DISCS)}
    for vertebra, disc in STACK:
        assert lean_deg(straight[vertebra].axes) - lean_deg(bent[vertebra].axes) == pytest.approx(below[disc], abs=1e-9)


@given(ANGLES, ANGLES)
def test_bending_to_one_side_is_the_mirror_image_of_bending_to_the_other(
    extension: dict[str, float], bend: dict[str, float]
) -> None:
    right = spine_frames(Joints(extension, bend))
    left = spine_frames(Joints(extension, {disc: -angle for disc, angle in bend.items()}))
    flip = np.diag(MIRROR)
    for name, frame in right.items():
        np.testing.assert_allclose(left[name].origin, frame.origin * MIRROR, atol=1e-9)
        np.testing.assert_allclose(left[name].axes, flip @ frame.axes @ flip, atol=1e-12)


@given(ANGLES, ANGLES, st.floats(0.8, 1.3))
def test_every_frame_is_rigid_and_right_handed(
    extension: dict[str, float], bend: dict[str, float], height: float
) -> None:
    frames = spine_frames(Joints(extension, bend), height)
    assert set(frames) == {"pelvis", *VERTEBRAE, *DISCS}
    for frame in frames.values():
        np.testing.assert_allclose(frame.axes @ frame.axes.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(frame.axes) == pytest.approx(1.0)


@given(ANGLES, ANGLES, st.floats(0.8, 1.3))
def test_each_vertebra_stands_on_its_disc_and_each_disc_on_the_vertebra_below(
    extension: dict[str, float], bend: dict[str, float], height: float
) -> None:
    """Endplate centres, worked out from the frames of the bodies, lie half a disc's height from the disc's centre."""
    frames, table = spine_frames(Joints(extension, bend), height), spine_table()
    below, up = np.zeros(3), rotation(table("s1", "slope_deg"))[2]
    for vertebra, disc in STACK:
        half = height * table(disc, "middle_height_mm") / 2.0
        middle = frames[disc].origin
        np.testing.assert_allclose(np.linalg.norm(middle - below), half, atol=1e-9)
        body, tall = frames[vertebra], height * quantities()[vertebra, "height_mm"]
        lower = body.origin - body.axes[2] * tall / 2.0
        np.testing.assert_allclose(np.linalg.norm(middle - lower), half, atol=1e-9)
        opening = np.degrees(np.arccos(np.clip(up @ lower_plate(vertebra, body)[2], -1.0, 1.0)))
        angle = table(disc, "lordosis_deg") + extension.get(disc, 0.0)
        assert opening == pytest.approx(np.hypot(angle, bend.get(disc, 0.0)), abs=0.15)
        below = body.origin + body.axes[2] * tall / 2.0
        up = upper_plate(vertebra, body)[2]


def test_unbent_the_whole_stack_lies_in_the_midplane() -> None:
    for frame in spine_frames().values():
        assert frame.origin[0] == 0.0
        np.testing.assert_array_equal(frame.axes[0], [1.0, 0.0, 0.0])
    heights = [spine_frames()[disc].origin[2] for disc in DISCS]
    assert heights == sorted(heights)


def test_bending_to_the_right_carries_the_spine_to_the_right() -> None:
    bent = spine_frames(Joints({}, dict.fromkeys(DISCS, 3.0)))
    right = [-bent[v].origin[0] for v in VERTEBRAE]
    assert right == sorted(right)
    assert right[0] > 0.0
    assert bent["t11"].axes[0, 2] > 0.0, "its left side is the higher one"
    np.testing.assert_array_equal(bent["pelvis"].axes, np.eye(3))


@given(st.floats(-80.0, 80.0), st.floats(-80.0, 80.0))
def test_a_rotation_leans_to_the_front_and_to_the_right(sagittal: float, side: float) -> None:
    np.testing.assert_allclose(rotation(sagittal) @ rotation(-sagittal), np.eye(3), atol=1e-12)
    front, right = rotation(sagittal)[2], rotation(0.0, side)[2]
    np.testing.assert_allclose(front, [0.0, -np.sin(np.radians(sagittal)), np.cos(np.radians(sagittal))], atol=1e-12)
    np.testing.assert_allclose(right, [-np.sin(np.radians(side)), 0.0, np.cos(np.radians(side))], atol=1e-12)


@pytest.mark.parametrize("vertebra", VERTEBRAE)
def test_a_body_opens_by_the_angle_between_its_own_endplates(vertebra: str) -> None:
    """Closed form: front and back heights stand on the mean depth."""
    table = spine_table()
    rise = table(vertebra, "anterior_height_mm") - table(vertebra, "posterior_height_mm")
    depth = (table(vertebra, "upper_depth_mm") + table(vertebra, "lower_depth_mm")) / 2.0
    half = np.radians(body_wedge_deg(vertebra) / 2.0)
    assert 2.0 * depth * np.tan(half) == pytest.approx(rise)
    assert np.sign(body_wedge_deg(vertebra)) == np.sign(rise)


def test_what_follows_from_the_table_follows() -> None:
    words, table = quantities(), spine_table()
    for key, value in table.values.items():
        assert words[key] == value
    assert words["l3", "wedge_deg"] == body_wedge_deg("l3")


def test_a_quantity_that_is_not_there_is_named() -> None:
    assert refused(spine_table(), "l3", "colour") == "vertebrae.csv: no row for l3, colour."


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("l1,a,1,judgement,\nl1,a,2,judgement,", "line 3: l1, a stands twice."),
        ("l1,a,x,judgement,", "line 2: expected a number, found 'x'."),
        ("l1,a,inf,judgement,", "line 2: expected a finite number, found 'inf'."),
        ("l1,a,1,hearsay,", "line 2: unknown source 'hearsay'."),
        ("l1,a,1", "line 2: expected 5 cells."),
    ],
)
def test_a_row_that_cannot_be_used_is_told_with_its_line(
    rows: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "vertebrae.csv").write_text("part,quantity,value,source,note\n" + rows + "\n")
    monkeypatch.setattr(module, "ANATOMY", tmp_path)
    assert f"{tmp_path / 'vertebrae.csv'}, {said}" in refused(spine_table.__wrapped__)
