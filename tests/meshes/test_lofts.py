"""Lofts with a dent and a taper, numbers in words, and solids that keep near to or clear of others."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.errors import FurcalError
from meshes.fields import Field, empty_field
from meshes.landmarks import Landmarks, place_landmarks
from meshes.lofts import Loft, loft_distance
from meshes.solids import keep_clear, keep_near, level_reader, read_parts, solid_field
from meshes.spine import joint_names, quantities, spine_frames

SIZES = st.floats(8.0, 30.0)


@pytest.fixture(scope="module")
def landmarks() -> Landmarks:
    return place_landmarks(spine_frames())


def upright(half_width: float, half_depth: float, power: float, **shape: float) -> Loft:
    """A straight loft from z = -10 to 10."""
    axes = np.repeat(np.eye(3)[None], 2, axis=0)
    centres = np.array([[0.0, 0.0, -10.0], [0.0, 0.0, 10.0]])
    words = {"sink": 0.0, "rim": 0.0, "hollow": 0.0, "taper": 0.0} | shape
    half = np.array([[half_width, half_depth]] * 2)
    return Loft(centres, axes, half, np.array([power, power]), **words)


@settings(max_examples=50, deadline=None)
@given(SIZES, SIZES, st.floats(2.0, 4.0), st.floats(0.0, 5.0))
def test_a_dent_in_the_back_keeps_depth_and_width(width: float, depth: float, power: float, hollow: float) -> None:
    loft = upright(width, depth, power, hollow=hollow)
    ends = np.array([[0.0, -depth, 0.0], [0.0, depth, 0.0], [width, 0.5 * hollow, 0.0], [-width, 0.5 * hollow, 0.0]])
    assert np.abs(loft_distance(loft, ends)).max() < 1e-6


def test_the_dented_back_stands_furthest_back_beside_the_middle() -> None:
    loft = upright(24.0, 17.0, 2.25, hollow=4.0)
    back = np.linspace(10.0, 25.0, 3001)

    def reach(x: float) -> float:
        points = np.stack([np.full_like(back, x), back, np.zeros_like(back)], axis=1)
        return float(back[loft_distance(loft, points) < 0].max())

    assert reach(10.0) > reach(0.0) + 0.15
    assert reach(10.0) == pytest.approx(reach(-10.0))


def test_a_taper_narrows_the_back_alone() -> None:
    loft = upright(20.0, 10.0, 6.0, taper=0.4)
    points = np.array([[18.0, -8.0, 0.0], [18.0, 8.0, 0.0], [11.0, 8.0, 0.0]])
    front, back, inner = loft_distance(loft, points)
    assert front < 0
    assert back > 0
    assert inner < 0


@given(st.floats(0.0, 3.0), st.floats(0.0, 0.3))
def test_ends_are_hollowed_inside_their_flat_ring(sink: float, rim: float) -> None:
    loft = upright(20.0, 15.0, 2.0, sink=sink, rim=rim)
    axis, ring = loft_distance(loft, np.array([[0.0, 0.0, 10.0], [20.0 * (1.0 - 0.5 * rim), 0.0, 10.0]]))
    assert axis == pytest.approx(sink)
    if rim > 0.05:
        assert ring == pytest.approx(0.0, abs=1e-9)


def test_a_leaning_section_is_tipped_to_the_front(landmarks: Landmarks) -> None:
    ends = [
        {"at": "s1_endplate_centre", "half_width": 10, "half_depth": 10, "lean": 30},
        {"at": "s1_endplate_centre", "up": 20, "half_width": 10, "half_depth": 10, "lean": 30},
    ]
    (part,) = read_parts([{"shape": "loft", "source": "judgement", "sections": ends}], landmarks, "here")
    assert isinstance(part.drawing, Loft)
    along = part.drawing.axes[0, 2]
    assert along == pytest.approx([0.0, -0.5, np.sqrt(0.75)])


class TestNumbersInWords:
    TABLE = {("l3", "width_mm"): 40.0, ("l3", "depth_mm"): 30.0, ("l4", "height_mm"): 1.0}  # noqa: RUF012 - never changed
    read = staticmethod(level_reader(TABLE, "l3"))

    @pytest.mark.parametrize(
        ("words", "value"),
        [
            (3, 3.0), ("3", 3.0), ("0.5 width_mm", 20.0), ("-0.5 width_mm", -20.0), ("0.5 width_mm + 2", 22.0),
            ("0.5 width_mm - 2", 18.0), ("0.5 width_mm - 0.1 depth_mm + 1", 18.0), ("2 - 0.1 width_mm", -2.0),
        ],
    )  # fmt: skip
    def test_terms_are_added_up(self, words: object, value: float) -> None:
        assert self.read(words, "here") == pytest.approx(value)

    @pytest.mark.parametrize("words", ["0.5 height_mm", "width_mm", "0.5 width_mm +", "a width_mm", ""])
    def test_what_cannot_be_read_is_refused_by_place(self, words: str) -> None:
        with pytest.raises(FurcalError, match="here"):
            self.read(words, "here")


def test_derived_quantities_are_means_of_their_neighbours() -> None:
    size = quantities()
    assert size["disc_l3_4", "width_mm"] == (size["l3", "lower_width_mm"] + size["l4", "upper_width_mm"]) / 2.0
    assert size["disc_l5_s1", "depth_mm"] == (size["l5", "lower_depth_mm"] + size["s1", "upper_depth_mm"]) / 2.0
    assert size["l3", "height_mm"] == (size["l3", "anterior_height_mm"] + size["l3", "posterior_height_mm"]) / 2.0


def test_every_vertebra_knows_its_joints() -> None:
    assert joint_names("l3") == {"{joint_below}": "l3_4", "{joint_above}": "l2_3"}
    assert joint_names("l5") == {"{joint_below}": "l5_s1", "{joint_above}": "l4_5"}
    assert joint_names("t11") == {"{joint_below}": "t11_12"}
    assert joint_names("l3_4") == {}


def ball(radius: float, spacing: float, at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Field:
    """The exact distance to a ball, clipped to its band."""
    centre = np.array(at)
    field = empty_field(centre - radius, centre + radius, spacing, 6.0)
    far = np.linalg.norm(field.grid() - centre, axis=-1) - radius
    field.values = np.clip(far, -field.band, field.band).astype(np.float32)
    return field


@pytest.mark.parametrize("spacing", [1.0, 0.8])  # the same grid, and another one
def test_keeping_near_and_clear_leaves_a_shell(spacing: float) -> None:
    thing, core = ball(14.0, 1.0), ball(8.0, spacing)
    keep_near(thing, [core], 3.0)
    keep_clear(thing, [(core, 1.0)])
    ray = np.linspace(0.0, 13.0, 131)
    inside = ray[thing.at(np.stack([0 * ray, ray, 0 * ray], axis=1)) < 0]
    assert inside.min() == pytest.approx(9.0, abs=0.2)
    assert inside.max() == pytest.approx(11.0, abs=0.2)


def test_a_solid_far_away_takes_nothing() -> None:
    thing, before = ball(5.0, 1.0), ball(5.0, 1.0).values
    keep_clear(thing, [(ball(4.0, 1.0, (60.0, 0.0, 0.0)), 1.0)])
    assert np.array_equal(thing.values, before)


def test_a_half_drawn_solid_is_half_of_the_whole(landmarks: Landmarks) -> None:
    row = {
        "shape": "sweep", "source": "judgement", "both": True,
        "points": [{"at": "body_l3_centre", "radius": 6}, {"at": "pedicle_l3", "lateral": 9, "radius": 4}],
    }  # fmt: skip
    parts = read_parts([row], landmarks, "here")
    whole, half = solid_field(parts, 1.0), solid_field(parts, 1.0, half=True)
    first = round(-whole.origin[0])
    assert np.abs(half.values - whole.values[first:]).max() < 1e-4  # single precision
    assert half.is_half
    assert half.origin[0] == 0.0
