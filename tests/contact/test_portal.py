"""Where a portal stands."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.curves import Array
from meshes.errors import FurcalError
from meshes.landmarks import Frame
from meshes.outline import Outline, disc_outline
from meshes.portal import Portal, approaches, place
from meshes.structures import APPROACHES, LEVELS, SIDES
from tests.contact.bodies import DISC_HALF, SKIN_HALF, disc_frame, ellipsoid, made_up_body

BODY = made_up_body()
MIRROR = np.array([-1.0, 1.0, 1.0])
fractions = st.floats(0.0, 1.0)
sides = st.sampled_from(SIDES)
levels = st.sampled_from(LEVELS)
#: The made-up disc's outline has 96 corners: between them it lies this far inside the ellipse, mm.
SAG = DISC_HALF[0] * (1.0 - np.cos(np.pi / 96)) + 1e-9


def docked(**options: Any) -> Portal:
    words: dict[str, Any] = {"level": "L3-4", "side": "left", "approach": "lateral", "at": 0.5, "radius_mm": 11.0}
    return place(BODY, **(words | options))


def in_disc(portal: Portal, point: Array) -> Array:
    return disc_frame(portal.disc).local(point)


@settings(max_examples=80, deadline=None)
@given(levels, sides, st.sampled_from(APPROACHES), fractions)
def test_the_axis_ends_on_the_border_of_the_disc_in_its_mid_plane(
    level: str, side: str, approach: str, at: float
) -> None:
    portal = docked(level=level, side=side, approach=approach, at=at)
    left, back, up = in_disc(portal, portal.end_mm)
    assert up == pytest.approx(0.0, abs=1e-9)
    out = np.hypot(left / DISC_HALF[0], back / DISC_HALF[1])
    assert 1.0 - SAG / DISC_HALF[1] <= out <= 1.0 + 1e-9


@settings(max_examples=60, deadline=None)
@given(levels, sides, st.sampled_from(["lateral", "oblique"]), fractions)
def test_at_counts_from_the_posterior_to_the_anterior_border_in_the_plane_of_the_disc(
    level: str, side: str, approach: str, at: float
) -> None:
    portal = docked(level=level, side=side, approach=approach, at=at)
    left, back, _ = in_disc(portal, portal.end_mm)
    assert back == pytest.approx(DISC_HALF[1] * (1.0 - 2.0 * at), abs=1e-9)
    assert (left if side == "left" else -left) >= -1e-9


@pytest.mark.parametrize(("at", "left"), [(0.0, 25.0), (0.5, 0.0), (1.0, -25.0)])
@pytest.mark.parametrize("side", SIDES)
def test_from_the_front_at_counts_from_left_to_right(at: float, left: float, side: str) -> None:
    found = in_disc(docked(approach="anterior", side=side, at=at), docked(approach="anterior", side=side, at=at).end_mm)
    assert found[0] == pytest.approx(left, abs=1e-9)
    assert found[1] <= 1e-9


@pytest.mark.parametrize("side", SIDES)
def test_from_behind_at_runs_round_the_rim_from_the_foramen_to_the_midline(side: str) -> None:
    ends = np.array([docked(approach="posterolateral", side=side, at=f).end_mm for f in np.linspace(0, 1, 11)])
    points = disc_frame("disc_l3_4").local(ends)
    sign = 1.0 if side == "left" else -1.0
    # First met: the point of the rim that reaches furthest towards the approach.
    towards = np.array([sign, 1.0]) / np.sqrt(2.0)
    assert points[0, :2] @ towards == pytest.approx(np.hypot(25.0, 17.0) / np.sqrt(2.0), abs=0.05)
    assert points[-1, :2] == pytest.approx([0.0, 17.0], abs=SAG)
    assert (np.diff(sign * points[:, 0]) < 0.0).all()
    assert (np.diff(points[:, 1]) > 0.0).all()
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert steps == pytest.approx(np.full(10, steps.mean()), rel=2e-3)


@pytest.mark.parametrize(
    ("at", "quarter"), [(0.0, "IV"), (0.24, "IV"), (0.26, "III"), (0.51, "II"), (0.76, "I"), (1.0, "I")]
)
def test_quarters_run_from_i_in_front_to_iv_behind(at: float, quarter: str) -> None:
    assert docked(at=at).quarter == quarter
    assert docked(at=at, approach="oblique", level="L4-5").quarter == quarter


def test_the_quarter_of_other_approaches_is_that_of_their_end() -> None:
    assert docked(approach="anterior", at=0.5).quarter == "I"
    assert docked(approach="posterolateral", at=1.0).quarter == "IV"


@pytest.mark.parametrize(
    ("approach", "left", "back"),
    [
        ("lateral", 1.0, 0.0),
        ("oblique", np.cos(np.radians(40)), -np.sin(np.radians(40))),
        ("anterior", 0.0, -1.0),
        ("posterolateral", np.sqrt(0.5), np.sqrt(0.5)),
    ],
)
@pytest.mark.parametrize("level", ["L3-4", "L4-5", "L5-S1"])
def test_directions_lie_in_the_plane_of_the_disc(approach: str, left: float, back: float, level: str) -> None:
    portal = docked(approach=approach, level=level, at=0.5)
    outwards = -portal.direction @ disc_frame(portal.disc).axes.T
    assert outwards == pytest.approx([left, back, 0.0], abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(sides, st.sampled_from(["lateral", "oblique"]), st.floats(-20, 20), st.floats(-20, 20), st.floats(0, 30))
def test_tilts_turn_the_axis_about_its_end(
    side: str, approach: str, cranial: float, anterior: float, depth: float
) -> None:
    straight = docked(side=side, approach=approach)
    portal = docked(side=side, approach=approach, cranial_deg=cranial, anterior_deg=anterior, depth_mm=depth)
    assert portal.border_mm == pytest.approx(straight.end_mm, abs=1e-9)
    assert portal.end_mm == pytest.approx(straight.end_mm + depth * portal.direction, abs=1e-9)
    assert np.linalg.norm(portal.direction) == pytest.approx(1.0)
    outwards = -portal.direction @ disc_frame(portal.disc).axes.T
    assert np.degrees(np.arcsin(outwards[2])) == pytest.approx(cranial, abs=1e-9)
    across = 1.0 if side == "left" else -1.0
    forward = np.degrees(np.arctan2(-outwards[1], across * outwards[0]))
    assert forward == pytest.approx(approaches()[approach].forward_deg + anterior, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(levels, sides, st.sampled_from(APPROACHES), fractions, st.floats(-15, 15))
def test_the_entry_is_on_the_skin_and_on_the_axis(level: str, side: str, approach: str, at: float, tilt: float) -> None:
    portal = docked(level=level, side=side, approach=approach, at=at, anterior_deg=tilt)
    out = np.hypot(*(portal.entry_mm[:2] / SKIN_HALF))
    assert 1.0 - (1.0 - np.cos(np.pi / 96)) - 1e-9 <= out <= 1.0 + 1e-9
    assert portal.end_mm - portal.length_mm * portal.direction == pytest.approx(portal.entry_mm, abs=1e-9)
    assert portal.length_mm > 0.0


@settings(max_examples=60, deadline=None)
@given(levels, st.sampled_from(APPROACHES), fractions, st.floats(-10, 10), st.floats(-10, 10))
def test_right_is_left_in_the_mirror(level: str, approach: str, at: float, cranial: float, anterior: float) -> None:
    tilts = {"cranial_deg": cranial, "anterior_deg": anterior}
    left = docked(level=level, approach=approach, at=at, **tilts)
    # From the front `at` counts from left to right on both sides: the mirror turns it round.
    there = 1.0 - at if approach == "anterior" else at
    right = docked(level=level, approach=approach, at=there, side="right", **tilts)
    for of in ("entry_mm", "end_mm", "direction"):
        assert getattr(right, of) == pytest.approx(getattr(left, of) * MIRROR, abs=1e-6)
    assert right.quarter == left.quarter


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"level": "L6-7"}, ("--level", "'L6-7'", "L4-5")),
        ({"side": "top"}, ("--side", "left, right")),
        ({"approach": "latral"}, ("--approach", "Nearest: lateral")),
        *[({"at": bad}, ("--at", "from 0 to 1")) for bad in (-0.001, 1.001, np.nan, np.inf)],
        *[({"radius_mm": bad}, ("--radius", "40 mm")) for bad in (-1.0, 0.0, 1e6, np.inf, np.nan)],
        *[({"depth_mm": bad}, ("--depth", "80 mm")) for bad in (-0.1, 1e6, np.inf, np.nan)],
        *[({"cranial_deg": bad}, ("--cranial", "degrees")) for bad in (-61.0, 90.0, np.nan)],
        *[({"anterior_deg": bad}, ("--anterior", "degrees")) for bad in (61.0, -np.inf, np.nan)],
    ],
)
def test_what_is_no_portal_is_refused_in_one_sentence(options: dict[str, Any], words: tuple[str, ...]) -> None:
    with pytest.raises(FurcalError) as error:
        docked(**options)
    assert all(word in str(error.value) for word in words)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("cranial", [45.0, 60.0])
def test_an_axis_that_leaves_through_a_cut_end_is_refused(cranial: float) -> None:
    with pytest.raises(FurcalError, match=r"--cranial .* cut end"):
        docked(level="T12-L1", cranial_deg=cranial)


def bean(k: int = 60) -> Array:
    """A disc hollow behind: (k, 2)."""
    angle = np.linspace(-np.pi, np.pi, k, endpoint=False)
    reach = 20.0 - 5.0 * np.exp(-((angle - np.pi / 2) ** 2) / 0.2)
    return np.stack([reach * np.cos(angle), reach * np.sin(angle)], axis=1)


@settings(max_examples=50, deadline=None)
@given(fractions, st.sampled_from([1.0, -1.0]))
def test_on_a_disc_hollow_behind_the_outermost_point_counts(at: float, sign: float) -> None:
    outline = Outline(bean(), Frame(np.zeros(3), np.eye(3)))
    left, back = outline.at_depth(at, sign)
    assert outline.fraction(np.array([left, back])) == pytest.approx(at, abs=1e-9)
    assert outline.within(np.array([[left, back, 0.0]]), 1e-6)[0]
    assert not outline.within(np.array([[left + sign, back, 0.0]]), 1e-6)[0] or abs(left) < 8.0
    assert sign * left >= 0.0


def test_within_follows_the_outline_and_its_margin() -> None:
    outline = disc_outline(BODY.surfaces["disc_l4_5"], disc_frame("disc_l4_5"))
    draw = np.random.default_rng(1)
    points = disc_frame("disc_l4_5").point(0, 0, 0) + draw.uniform(-40, 40, (400, 3)) @ disc_frame("disc_l4_5").axes
    local = disc_frame("disc_l4_5").local(points)
    out = np.hypot(local[:, 0] / DISC_HALF[0], local[:, 1] / DISC_HALF[1])
    found = outline.within(points, 0.0)
    assert found[out < 0.995].all()
    assert not found[out > 1.0].any()
    assert outline.within(points, 5.0)[out < 1.15].all()
    assert not outline.within(points, 5.0)[out > 1.35].any()


def test_a_frame_that_does_not_belong_to_its_disc_is_refused() -> None:
    with pytest.raises(FurcalError, match="mid-plane"):
        disc_outline(ellipsoid((0, 0, 100), (20, 15, 5)), Frame(np.zeros(3), np.eye(3)))
