"""Muscles, abdominal wall and skin as they are built: closed, apart from each other and from bone, as large as drawn.

The figures are those that the tables build from (named beside them); how they lie to one another is tested with the
relations.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest

from meshes.body import Body
from meshes.curves import Array
from meshes.gauges.discs import muscle_area
from meshes.gauges.sections import section
from meshes.gauges.space import Depth
from meshes.landmarks import Frame
from meshes.nearby import crossings
from meshes.reference import ends
from meshes.surfaces import Surface

PAIRED = (
    "psoas_major", "iliacus", "quadratus_lumborum", "erector_spinae",
    "transversus_abdominis", "internal_oblique", "external_oblique",
)  # fmt: skip
CRURA = ("diaphragm_crus_left", "diaphragm_crus_right")
LEFT = (*(f"{name}_left" for name in PAIRED), *CRURA)
WALL = ("external_oblique", "internal_oblique", "transversus_abdominis")
HARD = (
    "t11", "t12", "l1", "l2", "l3", "l4", "l5", "sacrum", "hip_left", "femur_left", "rib_11_left", "rib_12_left",
    "disc_t11_12", "disc_t12_l1", "disc_l1_2", "disc_l2_3", "disc_l3_4", "disc_l4_5", "disc_l5_s1",
)  # fmt: skip
#: Smoothing and thinning move a surface by up to this much, mm, against the field it was taken from.
SURFACE_MM = 0.3
#: One corner of an edge where three solids meet may be rounded off further, mm.
CORNER_MM = 0.6
MIRROR = np.array([-1.0, 1.0, 1.0])


Inside = Callable[[str, str], Array]


@pytest.fixture(scope="module")
def inside(alder: Body) -> Inside:
    """Signed distances, mm, of one part's corners to another part, negative within it; only of corners near it."""
    found: dict[str, Depth] = {}

    def measure(name: str, other: str) -> Array:
        points, shell = alder.surfaces[name].vertices, alder.surfaces[other].vertices
        near = ((points > shell.min(axis=0) - 1.0) & (points < shell.max(axis=0) + 1.0)).all(axis=1)
        if not near.any():
            return np.array([np.inf])
        if other not in found:
            found[other] = Depth(alder.surfaces[other])
        return found[other](points[near])

    return measure


def pieces(surface: Surface) -> int:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    a, b = surface.faces[:, [0, 1, 2]].ravel(), surface.faces[:, [1, 2, 0]].ravel()
    n = len(surface.vertices)
    return int(connected_components(coo_array((np.ones(len(a)), (a, b)), shape=(n, n)), directed=False)[0])


@pytest.mark.parametrize("name", [*LEFT, "skin", "kidney_left", "kidney_right"])
def test_each_is_one_closed_piece_that_looks_outwards(alder: Body, name: str) -> None:
    surface = alder.surfaces[name]
    assert surface.is_closed()
    assert surface.volume() > 0
    assert pieces(surface) == 1


@pytest.mark.parametrize("name", LEFT)
def test_faces_stay_within_what_a_window_can_turn(alder: Body, name: str) -> None:
    assert 2000 < len(alder.surfaces[name].faces) < 7000


@pytest.mark.parametrize("name", PAIRED)
def test_the_right_one_is_the_mirror_image(alder: Body, name: str) -> None:
    left, right = alder.surfaces[f"{name}_left"], alder.surfaces[f"{name}_right"]
    assert np.abs(left.vertices * MIRROR - right.vertices).max() < 1e-9
    assert np.array_equal(left.faces[:, ::-1], right.faces)


def test_the_skin_is_its_own_mirror_image(alder: Body) -> None:
    from scipy.spatial import cKDTree

    points = alder.surfaces["skin"].vertices
    assert cKDTree(points).query(points * MIRROR)[0].max() < 1e-3


@pytest.mark.parametrize(("name", "other"), list(itertools.permutations(LEFT, 2)))
def test_no_muscle_runs_into_another(inside: Inside, name: str, other: str) -> None:
    assert inside(name, other).min() > -SURFACE_MM


@pytest.mark.parametrize("name", LEFT)
@pytest.mark.parametrize("other", HARD)
def test_no_muscle_runs_into_bone_or_disc(inside: Inside, name: str, other: str) -> None:
    assert inside(name, other).min() > -SURFACE_MM
    into = inside(other, name)
    assert into.min() > -CORNER_MM
    assert (into < -SURFACE_MM).sum() <= 3


def test_muscles_of_the_two_sides_do_not_meet_but_for_the_crura(alder: Body) -> None:
    for name in PAIRED:
        assert alder.surfaces[f"{name}_left"].vertices[:, 0].min() > 0.5


@pytest.mark.parametrize(("level", "area"), [("L1-2", 396), ("L2-3", 855), ("L3-4", 1119), ("L4-5", 1352)])
def test_psoas_has_its_section_area(alder: Body, level: str, area: float) -> None:
    """Within 1 SD below the mean of Ivanac 2026, as the landmarks say; in the plane of the disc."""
    assert muscle_area(alder, "psoas_major", level) == pytest.approx(area, rel=0.03)


@pytest.mark.parametrize(("vertebra", "area"), [("l2", 418), ("l3", 594), ("l4", 723)])
def test_quadratus_has_its_section_area(alder: Body, vertebra: str, area: float) -> None:
    """Ivanac 2026 at the discs, half way between them at the bodies."""
    inner, outer = (alder.landmarks[f"quadratus_{vertebra}_{word}_left"] for word in ("inner", "outer"))
    frame = Frame((inner + outer) / 2.0, alder.landmarks.frames[vertebra].axes)
    assert section(alder.surfaces["quadratus_lumborum_left"], frame).area == pytest.approx(area, rel=0.03)


@pytest.mark.parametrize(
    "part", ["l1", "l2", "l3", "l4", "l5", "disc_l1_2", "disc_l2_3", "disc_l3_4", "disc_l4_5", "femur_left"]
)
def test_psoas_lies_against_what_it_arises_from_and_goes_to(inside: Inside, part: str) -> None:
    assert inside("psoas_major_left", part).min() < 1.0


@pytest.mark.parametrize("vertebra", ["l1", "l2", "l3", "l4", "l5"])
def test_psoas_reaches_the_front_of_the_transverse_processes(alder: Body, vertebra: str) -> None:
    """Bogduk 1992: the medial three quarters of their front."""
    pedicle = alder.landmarks[f"pedicle_{vertebra}_left"]
    process = pedicle + np.linspace(0.4, 0.8, 9)[:, None] * (
        alder.landmarks[f"transverse_process_tip_{vertebra}_left"] - pedicle
    )
    muscle = alder.surfaces["psoas_major_left"].vertices
    near = muscle[np.linalg.norm(muscle[:, None] - process[None], axis=2).min(axis=1) < 15.0]
    assert Depth(alder.surfaces[vertebra])(near).min() < 1.0


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("iliacus", "hip_left"), ("iliacus", "femur_left"), ("iliacus", "psoas_major_left"),
        ("quadratus_lumborum", "hip_left"), ("quadratus_lumborum", "rib_12_left"), ("quadratus_lumborum", "l1"),
        ("quadratus_lumborum", "l2"), ("quadratus_lumborum", "l3"), ("quadratus_lumborum", "l4"),
        ("erector_spinae", "sacrum"), ("erector_spinae", "l3"), ("erector_spinae", "rib_12_left"),
        ("transversus_abdominis", "hip_left"), ("internal_oblique", "hip_left"), ("external_oblique", "hip_left"),
        ("transversus_abdominis", "rib_12_left"), ("internal_oblique", "rib_12_left"),
        ("external_oblique", "rib_11_left"), ("external_oblique", "rib_12_left"),
    ],
)  # fmt: skip
def test_each_lies_against_its_attachments(inside: Inside, name: str, part: str) -> None:
    assert inside(f"{name}_left", part).min() < 1.0


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(("rib", "covered_mm"), [("rib_11", 55.0), ("rib_12", 62.0)])
def test_the_lowest_ribs_run_in_front_of_erector_spinae(alder: Body, rib: str, covered_mm: float, side: str) -> None:
    """None of it in front of a rib, and all of the rib's back under it from the neck to the angle (from memory)."""
    muscle, points = alder.surfaces[f"erector_spinae_{side}"], alder.surfaces[f"{rib}_{side}"].vertices
    out = np.abs(points[:, 0])
    for point in points[out > 30.0][::2]:
        assert not (crossings(muscle, point, np.array([0.0, -1.0, 0.0]))[0] > 0.0).any(), point
    for point in points[(out > 30.0) & (out < covered_mm)][::2]:
        assert (crossings(muscle, point, np.array([0.0, 1.0, 0.0]))[0] > 0.0).any(), point


def test_the_muscle_of_the_back_is_lifted_with_the_wall(alder: Body) -> None:
    """Not with the retroperitoneum, in which no muscle of the back lies."""
    assert {alder.structures[f"erector_spinae_{side}"].layer for side in ("left", "right")} == {"transversus"}


def test_quadratus_is_wider_below(alder: Body) -> None:
    muscle = alder.surfaces["quadratus_lumborum_left"]
    heights = [float(alder.landmarks[f"body_{v}_centre"][2]) for v in ("l1", "l2", "l3", "l4")]
    width = []
    for height in heights:
        points = section(muscle, Frame(np.array([0.0, 0.0, height]), np.eye(3))).points
        width.append(float(np.ptp(points[:, 0])))
    assert width == sorted(width)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("height", range(60, 101, 8))
@pytest.mark.parametrize("back", range(-70, -19, 10))
def test_from_the_side_the_wall_is_met_layer_by_layer(alder: Body, side: str, height: int, back: int) -> None:
    """Each layer is entered and left once before the next one; a thin plane of fascia between two, no gap."""
    start, inwards = np.array([0.0, back, height]), np.array([-1.0 if side == "right" else 1.0, 0.0, 0.0])
    skin = crossings(alder.surfaces["skin"], start, inwards)[0][-1]
    met = [crossings(alder.surfaces[f"{name}_{side}"], start, inwards)[0] for name in WALL]
    assert [len(depths) for depths in met] == [2, 2, 2]
    fat = skin - met[0][1]
    assert 5.0 < fat < 30.0
    for outer, inner in itertools.pairwise(met):
        assert 0.1 < outer[0] - inner[1] < 2.0


def test_external_oblique_ends_in_front_of_the_others(alder: Body) -> None:
    """A free back edge from rib 12 to about the middle of the crest; none behind."""
    tip, crest = alder.landmarks["rib_12_tip_left"], alder.landmarks["iliac_crest_top_left"]
    points = alder.surfaces["external_oblique_left"].vertices
    low = points[points[:, 2] < crest[2] + 25.0]
    assert low[:, 1].max() < crest[1] + 3.0
    assert points[:, 1].max() < tip[1] + 12.0


def test_everything_lies_within_the_skin(alder: Body) -> None:
    """At least 2 mm, but for the flat cuts; nerves of the skin end in it."""
    skin = Depth(alder.surfaces["skin"])
    top, bottom = alder.surfaces["skin"].vertices[:, 2].max(), alder.surfaces["skin"].vertices[:, 2].min()
    for name, structure in alder.structures.items():
        if structure.kind in ("skin", "nerve"):
            continue
        points = alder.surfaces[name].vertices
        points = points[(points[:, 2] < top - 3.0) & (points[:, 2] > bottom + 3.0)]
        assert skin(points).max() < -2.0, name


@pytest.mark.parametrize("name", ["erector_spinae_left", *CRURA, "skin"])
def test_what_goes_on_above_is_cut_flat(alder: Body, name: str) -> None:
    """Smoothing lifts the rim of a cut by less than half a millimetre; the skin's lid stands 0.3 mm beyond the cut."""
    top = ends()["top_mm"] + (0.3 if name == "skin" else 0.0)
    height = alder.surfaces[name].vertices[:, 2]
    assert height.max() == pytest.approx(top, abs=0.5)
    assert (height > top - 1.0).sum() > 20


def test_the_lid_of_the_skin_does_not_lie_in_one_plane_with_the_cuts_below_it(alder: Body) -> None:
    skin = alder.surfaces["skin"].vertices[:, 2]
    for name in ("erector_spinae_left", *CRURA, "aorta", "femoral_artery_left"):
        height = alder.surfaces[name].vertices[:, 2]
        assert skin.max() > height.max() + 0.1
        assert skin.min() < height.min() - 0.1 or height.min() > -200.0


def test_the_skin_has_the_outline_of_a_lying_adult(alder: Body) -> None:
    """Waist of ANSUR II at the navel, women to men 300-326 across and 213-238 deep, standing: within 15 mm of these."""
    skin = alder.surfaces["skin"]
    navel = float(alder.landmarks["disc_l4_5_centre"][2])
    points = section(skin, Frame(np.array([0.0, 0.0, navel]), np.eye(3))).points
    across, deep = float(np.ptp(points[:, 0])), float(np.ptp(points[:, 1]))
    assert 285.0 < across < 341.0
    assert 198.0 < deep < 253.0
    for name in ("l1", "l2", "l3", "l4", "l5"):
        tip = alder.landmarks[f"spinous_tip_{name}"]
        fat = crossings(skin, tip, np.array([0.0, 1.0, 0.0]))[0][-1]
        assert 5.0 < fat < 20.0, name
