"""How bodies differ: left from right, one size, posture or table from another, and a variant from the usual."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

from meshes.body import Body, build
from meshes.specimen import Specimen
from meshes.structures import level_key, other_side, side_of
from tests.meshes.everyone import SIDES_MM, body_of
from tests.meshes.lines import MIRROR


def mirrored_pairs(body: Body) -> list[str]:
    """Left ids of what is symmetric by contract: nerves, muscles and bones."""
    kinds = ("bone", "disc", "ligament", "muscle", "nerve")
    asymmetric = {"diaphragm_crus_left"}  # the right crus is the longer one
    return [
        name for name, s in body.structures.items()
        if s.side == "left" and s.kind in kinds and name not in asymmetric
    ]  # fmt: skip


@pytest.mark.parametrize("name", ["alder", "supine", "prone", "tall woman", "small, bulky", "variants"])
def test_the_right_side_is_the_mirror_image_of_the_left(name: str) -> None:
    body = body_of(name)
    assert len(mirrored_pairs(body)) > 50
    for left in mirrored_pairs(body):
        right = other_side(left)
        if left in body.centrelines:
            one, other = body.centrelines[left], body.centrelines[right]
            np.testing.assert_allclose(other.points, one.points * MIRROR, atol=SIDES_MM, err_msg=left)
            np.testing.assert_array_equal(other.radius, one.radius)
        else:
            one_s, other_s = body.surfaces[left], body.surfaces[right]
            np.testing.assert_allclose(other_s.vertices, one_s.vertices * MIRROR, atol=SIDES_MM, err_msg=left)


def test_a_table_break_to_the_left_is_the_mirror_image_of_one_to_the_right() -> None:
    left, right = body_of("broken left"), body_of("broken right")
    names = mirrored_pairs(left) + [other_side(n) for n in mirrored_pairs(left)]
    for name in names:
        there = other_side(name)
        if name in left.centrelines:
            here, other = left.centrelines[name].points, right.centrelines[there].points
        else:
            here, other = left.surfaces[name].vertices, right.surfaces[there].vertices
        np.testing.assert_allclose(other, here * MIRROR, atol=SIDES_MM, err_msg=name)


def test_midline_bones_and_discs_are_their_own_mirror_image() -> None:
    body = body_of("alder")
    for name in [n for n in body.structures if n in ("sacrum", "skin") or n.startswith(("disc_", "l", "t1"))]:
        if side_of(name) or name in body.centrelines:
            continue
        vertices = body.surfaces[name].vertices
        away, _ = cKDTree(vertices).query(vertices * MIRROR)
        assert away.max() < 1e-3, name


@pytest.mark.parametrize("scale", [0.5, 1.6])
def test_psoas_grows_by_its_section_area(scale: float) -> None:
    """Cut level by level across the middle of the muscle: area by its own closed outline."""
    usual, other = body_of("alder"), body_of("slight" if scale == 0.5 else "small, bulky")
    size = (other.specimen.stature_mm or 1690.0) / 1690.0
    for level in ("L2-3", "L3-4", "L4-5"):
        areas = []
        for body, by in ((usual, 1.0), (other, size)):
            height = float(body.landmarks[f"disc_{level_key(level)}_centre"][2])
            areas.append(section_area(body, "psoas_major_left", height) / by**2)
        assert areas[1] / areas[0] == pytest.approx(scale, rel=0.12), level


def section_area(body: Body, name: str, height_mm: float) -> float:
    """Area of a surface's horizontal section, by Green's theorem over the faces it cuts."""
    corners = body.surfaces[name].triangles()
    above = corners[..., 2] > height_mm
    total = 0.0
    for triangle, up in zip(corners, above, strict=True):
        if up.all() or not up.any():
            continue
        cut = []
        for i in range(3):
            a, b = triangle[i], triangle[(i + 1) % 3]
            if up[i] != up[(i + 1) % 3]:
                share = (height_mm - a[2]) / (b[2] - a[2])
                cut.append((a + share * (b - a), up[i]))
        (p, p_down), (q, _) = cut
        start, stop = (q, p) if p_down else (p, q)
        total += 0.5 * float(start[0] * stop[1] - start[1] * stop[0])
    return abs(total)


def test_bones_only_move_and_scale() -> None:
    usual = body_of("alder").surfaces
    for name in ("supine", "prone", "broken left", "slight"):
        for bone in ("l3", "hip_left", "sacrum", "rib_12_right", "femur_left"):
            assert body_of(name).surfaces[bone].volume() == pytest.approx(usual[bone].volume(), rel=1e-4), (name, bone)
    size = 1450.0 / 1690.0
    for bone in ("l3", "hip_left"):
        assert body_of("small, bulky").surfaces[bone].volume() == pytest.approx(
            size**3 * usual[bone].volume(), rel=1e-4
        )


def test_soft_parts_keep_most_of_their_volume_when_the_body_bends() -> None:
    usual = body_of("alder").surfaces
    for name in ("prone", "broken left"):
        for part in ("psoas_major_left", "psoas_major_right", "iliacus_left", "quadratus_lumborum_left", "skin"):
            assert body_of(name).surfaces[part].volume() == pytest.approx(usual[part].volume(), rel=0.35), (name, part)


def test_lying_on_the_side_kidneys_and_the_upper_ureter_fall_forward_together() -> None:
    side, back = body_of("alder"), body_of("supine")
    fall = back.surfaces["kidney_left"].vertices[:, 1] - side.surfaces["kidney_left"].vertices[:, 1]
    assert fall.min() > 5.0
    assert np.ptp(fall) < 1e-3
    ureters = [b.centrelines["ureter_left"].points[:, 1] for b in (back, side)]
    assert ureters[0][0] - ureters[1][0] == pytest.approx(float(fall[0]), abs=1e-3)
    assert ureters[0][-1] == pytest.approx(float(ureters[1][-1]), abs=1e-3)


def test_lying_on_the_back_the_plexus_lies_further_forward() -> None:
    side, back = body_of("alder"), body_of("supine")
    deep = {"femoral_left": "l3_4", "obturator_left": "l3_4", "l3_ramus_left": "l3_4", "genitofemoral_left": "l2_3"}
    for nerve, disc in deep.items():  # at the L3-4 disc the genitofemoral nerve has come to the front of psoas
        here, there = (b.centrelines[nerve].points for b in (side, back))
        near = int(np.abs(here[:, 2] - side.landmarks[f"disc_{disc}_centre"][2]).argmin())
        assert 1.0 < here[near, 1] - there[near, 1] < 11.0, nerve
    for nerve in ("dural_sac", "sympathetic_trunk_left", "subcostal_left"):
        np.testing.assert_allclose(back.centrelines[nerve].points, side.centrelines[nerve].points, atol=1e-3)


def changed(variant: str) -> set[str]:
    """Ids whose line a variant alone moves, adds or takes away."""
    usual, other = body_of("alder").centrelines, build(Specimen(variants=frozenset({variant}))).centrelines
    moved = {n for n in usual if n in other and not np.array_equal(usual[n].points, other[n].points)}
    shifted = {n for n in moved if usual[n].points.shape != other[n].points.shape}
    far = {n for n in moved - shifted if np.abs(usual[n].points - other[n].points).max() > 1e-4}
    return shifted | far | (set(usual) ^ set(other))


@pytest.mark.parametrize(
    ("variant", "want"),
    [
        ("accessory_obturator_left", {"accessory_obturator_left"}),
        ("t12_share_right", {"t12_share_right"}),
        ("lfcn_lateral_to_asis_right", {"lateral_femoral_cutaneous_right", "l3_lateral_femoral_cutaneous_right"}),
        (
            "genitofemoral_split_left",
            {
                "genitofemoral_left",
                "l1_genitofemoral_left",
                "genitofemoral_genital_left",
                "genitofemoral_femoral_left",
            },
        ),
    ],
)
def test_a_variant_of_one_side_changes_what_it_names_on_that_side_only(variant: str, want: set[str]) -> None:
    assert changed(variant) == want


def test_a_high_division_of_the_aorta_changes_vessels_only() -> None:
    found = changed("aorta_divides_high")
    assert {"aorta", "common_iliac_artery_left", "common_iliac_artery_right"} <= found
    assert {body_of("alder").structures[n].kind for n in found} == {"vessel"}
    high = build(Specimen(variants=frozenset({"aorta_divides_high"})))
    divides = high.centrelines["aorta"].points[-1, 2]
    assert divides > body_of("alder").centrelines["aorta"].points[-1, 2] + 10.0
    assert divides > high.landmarks["disc_l3_4_centre"][2], "at the L3-4 disc or higher"
