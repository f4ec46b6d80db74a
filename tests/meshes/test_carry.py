"""Carrying the reference body to a specimen: bones stay rigid, landmarks land on their places, sides stay alike."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RBFInterpolator

from meshes.carry import bone_mover, forward_shift, is_reference, soft_mover, spread_out, thin_plate
from meshes.curves import Array
from meshes.posture import build_of, frames_for, landmarks_for, plexus_forward_mm, reference_landmarks
from meshes.reference import reference
from meshes.specimen import ALDER, RANGES, SEXES, Specimen
from meshes.spine import DISCS, VERTEBRAE, spine_table
from meshes.structures import POSTURES, SIDES
from tests.meshes.lines import MIRROR

BONES = ("pelvis", *VERTEBRAE)


@st.composite
def specimens(draw: st.DrawFn) -> Specimen:
    posture = draw(st.sampled_from(POSTURES))
    on_side = posture == "side_lying"
    return Specimen(
        sex=draw(st.sampled_from(["", *SEXES])),
        stature_mm=draw(st.just(0.0) | st.floats(*RANGES["stature_mm"])),
        posture=posture,
        table_break_deg=draw(st.floats(*RANGES["table_break_deg"])) if on_side else 0.0,
        up=draw(st.sampled_from(["", *SIDES])) if on_side else "",
        psoas_scale=draw(st.floats(*RANGES["psoas_scale"])),
    )


def points_near(name: str, seed: int, count: int = 20, spread_mm: float = 40.0) -> Array:
    frame = reference_landmarks().frames[name]
    return np.asarray(frame.origin + np.random.default_rng(seed).normal(0.0, spread_mm, (count, 3)))


def body_points(seed: int = 0, count: int = 400) -> Array:
    return np.random.default_rng(seed).uniform([-150.0, -110.0, -200.0], [150.0, 90.0, 220.0], (count, 3))


def test_only_what_bends_resizes_or_swells_leaves_the_reference() -> None:
    for same in (ALDER, Specimen(name="Yew", seed=5), Specimen(up="left"), Specimen(stature_mm=1690.0)):
        assert is_reference(same)
    for other in (
        Specimen(stature_mm=1700.0),
        Specimen(sex="female"),
        Specimen(posture="supine"),
        Specimen(posture="prone"),
        Specimen(table_break_deg=1.0),
        Specimen(psoas_scale=1.01),
    ):
        assert not is_reference(other)
    assert is_reference(Specimen(variants=frozenset({"t12_share_left"}))), "variants choose courses, they move nothing"


@pytest.mark.parametrize("bone", BONES)
def test_carrying_the_reference_to_itself_moves_nothing(bone: str) -> None:
    points = points_near(bone, 0)
    np.testing.assert_allclose(bone_mover(bone, ALDER)(points), points, atol=1e-9)
    np.testing.assert_allclose(soft_mover(ALDER)(points), points, atol=1e-9)


@settings(max_examples=25)
@given(specimens(), st.sampled_from(BONES), st.integers(0, 2**32 - 1))
def test_a_bone_keeps_its_shape_but_for_its_size(specimen: Specimen, bone: str, seed: int) -> None:
    """Every pair of points keeps its distance, scaled along the bone's own directions."""
    points = points_near(bone, seed)
    moved = bone_mover(bone, specimen)(points)
    here, there = reference_landmarks().frames[bone], frames_for(specimen)[bone]
    np.testing.assert_allclose(there.local(moved), here.local(points) * build_of(specimen).of(bone), atol=1e-9)
    if specimen.sex == "":
        apart, size = (np.linalg.norm(p[:, None] - p[None], axis=2) for p in (points, moved))
        np.testing.assert_allclose(size, apart * build_of(specimen).of(bone)[0], atol=1e-9)


@settings(max_examples=25)
@given(specimens(), st.sampled_from(BONES))
def test_a_bone_carries_its_landmarks_onto_their_new_place(specimen: Specimen, bone: str) -> None:
    here, there = reference_landmarks(), landmarks_for(specimen)
    move = bone_mover(bone, replace(specimen, psoas_scale=1.0))
    still = landmarks_for(replace(specimen, psoas_scale=1.0))
    names = [name for name, frame in here.frame_of.items() if frame == bone]
    moved = move(np.array([here[name] for name in names]))
    np.testing.assert_allclose(moved, [still[name] for name in names], atol=1e-9)
    assert set(there.points) == set(here.points)


@settings(max_examples=8)
@given(specimens())
def test_soft_tissue_carries_every_landmark_exactly_onto_its_new_place(specimen: Specimen) -> None:
    here, there = reference_landmarks(), landmarks_for(specimen)
    moved = soft_mover(specimen)(np.array(list(here.points.values())))
    np.testing.assert_allclose(moved, [there[name] for name in here.points], atol=1e-6)


@settings(max_examples=8)
@given(specimens())
def test_soft_tissue_on_a_vertebra_moves_with_it(specimen: Specimen) -> None:
    """Between the corners of a body, which are carried exactly, what lies on it strays by little."""
    table, soft = spine_table(), soft_mover(specimen)
    for vertebra in ("l2", "l4"):
        frame = reference_landmarks().frames[vertebra]
        half = np.array([table(vertebra, f"upper_{w}_mm") / 2.0 for w in ("width", "depth")])
        side = np.array([frame.point(x * half[0], y * half[1], 0.0) for x in (-1, 1) for y in (-0.7, 0.0, 0.7)])
        astray = np.linalg.norm(soft(side) - bone_mover(vertebra, specimen)(side), axis=1)
        assert astray.max() < 2.5


@settings(max_examples=8)
@given(specimens().filter(lambda s: s.table_break_deg == 0.0))
def test_a_symmetric_specimen_stays_symmetric(specimen: Specimen) -> None:
    points = body_points()
    for move in (soft_mover(specimen), bone_mover("pelvis", specimen), bone_mover("l3", specimen)):
        np.testing.assert_allclose(move(points * MIRROR), move(points) * MIRROR, atol=1e-8)


@settings(max_examples=8)
@given(specimens().filter(lambda s: s.table_break_deg > 0.0))
def test_a_break_to_the_left_is_the_mirror_image_of_one_to_the_right(specimen: Specimen) -> None:
    points = body_points()
    left, right = (replace(specimen, up=side) for side in SIDES)
    np.testing.assert_allclose(soft_mover(right)(points * MIRROR), soft_mover(left)(points) * MIRROR, atol=1e-8)
    for bone in ("pelvis", "l3", "t12"):
        np.testing.assert_allclose(
            bone_mover(bone, right)(points * MIRROR), bone_mover(bone, left)(points) * MIRROR, atol=1e-9
        )


@settings(max_examples=8)
@given(specimens())
def test_the_warp_turns_nothing_inside_out(specimen: Specimen) -> None:
    """Small boxes in the trunk keep their orientation and, but for stature, a quarter to four times their volume."""
    centres = np.random.default_rng(3).uniform([-110.0, -90.0, -120.0], [110.0, 60.0, 190.0], (150, 3))
    corners = centres[:, None] + np.concatenate([np.zeros((1, 3)), np.eye(3)])
    moved = soft_mover(specimen)(corners.reshape(-1, 3)).reshape(-1, 4, 3)
    volume = np.linalg.det(moved[:, 1:] - moved[:, :1])
    size = build_of(specimen).spine[2] ** 3
    assert volume.min() > size / 4.0
    assert volume.max() < size * 4.0


def test_a_taller_person_is_larger_throughout() -> None:
    """Without a change of shape the warp is exactly a scaling about the sacral endplate."""
    points, size = body_points(), 1900.0 / 1690.0
    np.testing.assert_allclose(soft_mover(Specimen(stature_mm=1900.0))(points), size * points, atol=1e-6)


def test_a_bigger_psoas_moves_its_own_border_and_leaves_skin_and_bone() -> None:
    soft = soft_mover(Specimen(psoas_scale=1.6))
    here = reference_landmarks()
    border = np.array([here[f"psoas_l4_5_outer_{side}"] for side in SIDES])
    corner = np.array([here[f"psoas_l4_5_corner_{side}"] for side in SIDES])
    grown = np.linalg.norm(soft(border) - soft(corner), axis=1) / np.linalg.norm(border - corner, axis=1)
    np.testing.assert_allclose(grown, np.sqrt(1.6), atol=1e-6)
    bones = np.array([here[f"{name}_left"] for name in ("asis", "iliac_crest_top", "pubic_tubercle", "rib_12_tip")])
    np.testing.assert_allclose(soft(bones), bones, atol=1e-6)


def test_a_table_break_opens_the_flank_of_the_upper_side_and_closes_the_lower_one() -> None:
    here = reference_landmarks()
    soft = soft_mover(Specimen(table_break_deg=25.0, up="left"))
    for side, sign in (("left", 1.0), ("right", -1.0)):
        ends = np.array([here[f"rib_12_tip_{side}"], here[f"iliac_crest_top_{side}"]])
        change = np.linalg.norm(np.diff(soft(ends), axis=0)) - np.linalg.norm(np.diff(ends, axis=0))
        assert sign * change > 8.0


@given(st.integers(0, 2**32 - 1))
def test_the_plexus_moves_forward_by_the_discs_own_amounts_where_it_runs_inside_psoas(seed: int) -> None:
    landmarks = reference_landmarks()
    amounts = plexus_forward_mm(Specimen(posture="supine"))
    heights = np.array([landmarks.frames[d].origin[2] for d in DISCS])
    draw = np.random.default_rng(seed)
    points = np.stack([draw.normal(30.0, 5.0, len(DISCS)), draw.normal(0.0, 9.0, len(DISCS)), heights], axis=1)
    inside = draw.uniform(0.0, 1.0, len(DISCS))
    moved = forward_shift(points, inside, amounts, landmarks)
    want = np.array([amounts.get(d, 0.0) for d in DISCS]) * inside
    np.testing.assert_allclose(points[:, 1] - moved[:, 1], want, atol=1e-9)
    np.testing.assert_array_equal(moved[:, [0, 2]], points[:, [0, 2]])
    between = 0.5 * (points[:-1] + points[1:])
    shift = (between - forward_shift(between, np.ones(len(between)), amounts, landmarks))[:, 1]
    full = np.array([amounts.get(d, 0.0) for d in DISCS])
    np.testing.assert_allclose(shift, 0.5 * (full[:-1] + full[1:]), atol=1e-9)


@given(st.integers(0, 2**32 - 1))
def test_a_nerve_moves_no_further_forward_than_psoas_has_room_and_freely_where_there_is_room(seed: int) -> None:
    landmarks, points = reference_landmarks(), body_points()
    amounts = plexus_forward_mm(Specimen(posture="supine"))
    inside = np.ones(len(points))
    free = (points - forward_shift(points, inside, amounts, landmarks))[:, 1]
    room = np.random.default_rng(seed).uniform(0.0, 30.0, len(points)) * (np.arange(len(points)) % 5 > 0)
    held = (points - forward_shift(points, inside, amounts, landmarks, room))[:, 1]
    assert (held <= np.minimum(free, room) + 1e-8).all()
    assert (held >= 0.9 * np.minimum(free, room) - 1e-9).all()
    roomy = room > 2.0 * free
    np.testing.assert_allclose(held[roomy], free[roomy], rtol=1e-3)


def test_without_amounts_or_outside_psoas_nothing_moves_forward() -> None:
    points, landmarks = body_points(), reference_landmarks()
    amounts = plexus_forward_mm(Specimen(posture="supine"))
    np.testing.assert_array_equal(forward_shift(points, np.ones(len(points)), {}, landmarks), points)
    np.testing.assert_array_equal(forward_shift(points, np.zeros(len(points)), amounts, landmarks), points)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.integers(12, 80), st.floats(1.0, 300.0))
def test_the_thin_plate_is_that_of_a_general_library(seed: int, count: int, size: float) -> None:
    draw = np.random.default_rng(seed)
    here = draw.normal(0.0, size, (count, 3)) + draw.normal(0.0, 100.0, 3)
    there = here + draw.normal(0.0, 0.1 * size, (count, 3))
    points = draw.normal(0.0, 1.5 * size, (50, 3)) + here.mean(axis=0)
    library = RBFInterpolator(here, there - here, kernel="linear", degree=1)
    np.testing.assert_allclose(thin_plate(here, there)(points), points + library(points), atol=1e-6 * size)
    np.testing.assert_allclose(thin_plate(here, there)(here), there, atol=1e-6 * size)


@given(st.integers(0, 2**32 - 1))
def test_a_thin_plate_keeps_an_even_change_even(seed: int) -> None:
    """Turned, sheared, scaled and shifted handles carry everything the same way, however far off."""
    draw = np.random.default_rng(seed)
    here, change, shift = draw.normal(0.0, 80.0, (30, 3)), draw.normal(size=(3, 3)), draw.normal(0.0, 50.0, 3)
    points = draw.normal(0.0, 400.0, (20, 3))
    np.testing.assert_allclose(thin_plate(here, here @ change + shift)(points), points @ change + shift, atol=1e-5)


def test_many_points_are_carried_as_one_by_one() -> None:
    draw = np.random.default_rng(4)
    here = draw.normal(0.0, 80.0, (30, 3))
    move = thin_plate(here, here + draw.normal(0.0, 5.0, (30, 3)))
    points = draw.normal(0.0, 100.0, (5000, 3))
    some = [0, 1, 2047, 2048, 4095, 4096, 4999]
    np.testing.assert_allclose(move(points)[some], np.concatenate([move(points[i : i + 1]) for i in some]), atol=1e-6)
    assert move(points[:0]).shape == (0, 3)


@given(st.integers(0, 2**32 - 1), st.integers(1, 30))
def test_points_spread_out_leave_no_wide_gap(seed: int, count: int) -> None:
    """Farthest-point choice: no point is farther from those taken than these are from each other."""
    points = np.random.default_rng(seed).normal(0.0, 30.0, (60, 3))
    taken = spread_out(points, count)
    assert len(taken) == len(np.unique(taken, axis=0)) == count
    assert {tuple(t) for t in taken} <= {tuple(p) for p in points}
    apart = np.linalg.norm(taken[:, None] - taken[None], axis=2)[~np.eye(count, dtype=bool)].min(initial=np.inf)
    away = np.linalg.norm(points[:, None] - taken[None], axis=2).min(axis=1).max()
    assert away <= apart
    assert len(spread_out(points[:5], count)) == min(5, count)


@settings(max_examples=6)
@given(specimens())
def test_what_lies_on_a_bone_goes_with_it(specimen: Specimen) -> None:
    """Nine tenths of what lies on hip and sacrum stray by about a millimetre (tolerances.py, HANDLES_PER_BONE).

    Where psoas swells or wastes at the brim its own landmarks pull the tissue on the bone along.
    """
    hip = next(s for s in reference().solids if s.structure.id == "hip_left")
    sacrum = next(s for s in reference().solids if s.structure.id == "sacrum")
    bones = [(s.rides, surface) for s in (hip, sacrum) for surface in (s.surface, s.surface.mirrored())]
    for person, usual_mm, most_mm in ((replace(specimen, psoas_scale=1.0), 1.0, 2.5), (specimen, 1.5, 5.0)):
        soft = soft_mover(person, bones)
        for solid in (hip, sacrum):
            on_it = solid.surface.vertices[::50]
            astray = np.linalg.norm(soft(on_it) - bone_mover(solid.rides, person)(on_it), axis=1)
            assert np.quantile(astray, 0.9) < usual_mm
            assert astray.max() < most_mm
