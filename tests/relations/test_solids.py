"""Relations 16, 17, 19 to 22: muscle, bone, vessel, wall. From memory of standard handbooks unless named."""

import numpy as np
import pytest

from meshes.structures import level_key
from tests.relations.geometry import FORWARD, Side, seen_crossing

#: Surfaces are built to about half a millimetre each.
SURFACE_MM = 1.0
TOUCH_MM = 3.0
PSOAS_LEVELS = ("L1-2", "L2-3", "L3-4", "L4-5", "L5-S1")


@pytest.mark.parametrize("part", ["t12", "l1", "l2", "l3", "l4", "l5"])
def test_psoas_arises_from_the_bodies(side: Side, part: str) -> None:
    """16, from memory of standard handbooks: sides of T12 to L5; it touches them and does not pass through them."""
    assert -SURFACE_MM < side.gap("psoas_major", part) < TOUCH_MM


@pytest.mark.parametrize("level", ["T12-L1", "L1-2", "L2-3", "L3-4", "L4-5"])
def test_psoas_arises_from_the_discs(side: Side, level: str) -> None:
    """16, from memory of standard handbooks (Bogduk 1992: T12-L1 to L4-5)."""
    assert -SURFACE_MM < side.gap("psoas_major", f"disc_{level_key(level)}") < TOUCH_MM


@pytest.mark.parametrize("vertebra", ["l1", "l2", "l3", "l4", "l5"])
def test_psoas_arises_from_the_transverse_processes(side: Side, vertebra: str) -> None:
    """16, from memory of standard handbooks (Bogduk 1992: the medial three quarters of their front)."""
    pedicle, tip = side.mark(f"pedicle_{vertebra}"), side.mark(f"transverse_process_tip_{vertebra}")
    process = pedicle + np.linspace(0.3, 0.9, 7)[:, None] * (tip - pedicle)
    assert side.depth("psoas_major", process).min() < 10.0


def test_psoas_and_iliacus_reach_the_lesser_trochanter(side: Side) -> None:
    """16, from memory of standard handbooks."""
    trochanter = side.mark("lesser_trochanter")[None]
    assert side.depth("psoas_major", trochanter)[0] < 8.0
    assert side.depth("iliacus", trochanter)[0] < 15.0
    assert side.gap("psoas_major", "femur") < TOUCH_MM


def test_psoas_is_largest_at_l4_5(side: Side) -> None:
    """16, from memory of standard handbooks; sections are horizontal, as in imaging."""
    areas = {level: side.cut_at("psoas_major", float(side.discs[level].origin[2])).area for level in PSOAS_LEVELS}
    assert max(areas, key=lambda level: areas[level]) == "L4-5"
    assert areas["L1-2"] < areas["L2-3"] < areas["L3-4"] < areas["L4-5"]


def test_psoas_stands_off_the_disc_at_l5_s1(side: Side) -> None:
    """16, from memory of standard handbooks: 5 to 10 mm, with vessels and nerves in the hollow between."""
    assert 5.0 <= side.gap("psoas_major", "disc_l5_s1") <= 10.0


@pytest.mark.parametrize("course", ["obturator", "lumbosacral_trunk", "common_iliac_vein"])
def test_the_hollow_at_l5_s1_holds_vessels_obturator_and_trunk(side: Side, course: str) -> None:
    """16, from memory of standard handbooks: between the L5-S1 disc, the ala and psoas."""
    points = side.points(course)
    height = float(side.discs["L5-S1"].origin[2])
    near = points[np.abs(points[:, 2] - height) < 15.0]
    inner = float(side.out(side.cut_at("psoas_major", height).points).min())
    between = near[(side.out(near) < inner + 15.0) & (side.depth("psoas_major", near) > -SURFACE_MM)]
    assert len(between)
    assert (side.depth("disc_l5_s1", between) > 0.0).all()


def test_quadratus_runs_from_crest_and_iliolumbar_ligament_to_rib_12(side: Side) -> None:
    """16, from memory of standard handbooks."""
    for part in ("hip", "rib_12"):
        assert -SURFACE_MM < side.gap("quadratus_lumborum", part) < TOUCH_MM
    assert side.gap("quadratus_lumborum", "iliolumbar_ligament") < 2.0 * TOUCH_MM


def test_iliolumbar_ligament_ends_within_the_hip_bone_all_round(side: Side) -> None:
    """14, from memory: grown to the bone, and 31.7 mm free (Surg Radiol Anat 2023, which built it)."""
    band, tip = side.vertices("iliolumbar_ligament"), side.mark("transverse_process_tip_l5")
    outermost = band[int(np.argmax(np.linalg.norm(band - tip, axis=1)))]
    along = (outermost - tip) / np.linalg.norm(outermost - tip)
    share = (band - tip) @ along
    start, end = band[share < share.min() + 1.0], band[share > share.max() - 1.0]
    assert side.depth("hip", end).max() < SURFACE_MM
    middle = start.mean(axis=0) + np.linspace(0.0, 1.0, 400)[:, None] * (end.mean(axis=0) - start.mean(axis=0))
    free = middle[(side.depth("hip", middle) > 0.0) & (side.depth("l5", middle) > 0.0)]
    assert np.linalg.norm(free[-1] - free[0]) == pytest.approx(31.7, abs=2.0)


@pytest.mark.parametrize("vertebra", ["l1", "l2", "l3", "l4"])
def test_quadratus_reaches_the_transverse_processes(side: Side, vertebra: str) -> None:
    """16, from memory of standard handbooks: tips of L1 to L4."""
    assert side.depth("quadratus_lumborum", side.mark(f"transverse_process_tip_{vertebra}")[None])[0] < 8.0


@pytest.mark.parametrize("level", ["L2-3", "L3-4", "L4-5"])
def test_quadratus_lies_lateral_to_psoas(side: Side, level: str) -> None:
    """16, from memory of standard handbooks."""
    height = float(side.discs[level].origin[2])
    quadratus, psoas = side.cut_at("quadratus_lumborum", height), side.cut_at("psoas_major", height)
    assert side.out(quadratus.centroid) > side.out(psoas.centroid)
    assert quadratus.gap(psoas) > 0.0


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("quadratus_lumborum", "psoas_major"),
        ("iliacus", "psoas_major"),
        ("quadratus_lumborum", "iliacus"),
        ("transversus_abdominis", "internal_oblique"),
        ("internal_oblique", "external_oblique"),
        ("psoas_major", "hip"),
        ("iliacus", "hip"),
        ("quadratus_lumborum", "hip"),
        ("transversus_abdominis", "hip"),
    ],
)
def test_muscles_touch_without_overlap(side: Side, first: str, second: str) -> None:
    """16, from memory of standard handbooks: no muscle passes through another, or through bone."""
    assert min(side.gap(first, second), side.gap(second, first)) > -SURFACE_MM


def test_iliacus_fills_the_iliac_fossa(side: Side) -> None:
    """16, from memory of standard handbooks: it lies against the bone between crest and arcuate line."""
    muscle = side.vertices("iliacus")
    fossa = muscle[muscle[:, 2] > side.mark("arcuate_line")[2]]
    assert np.mean(side.depth("hip", fossa) < 2.0) > 0.25
    assert fossa[:, 2].max() > side.mark("iliac_crest_top")[2] - 15.0


def test_the_line_over_the_crests_crosses_l4_or_the_l4_5_disc(side: Side) -> None:
    """17, from memory of standard handbooks (McGaugh 2007 and others agree)."""
    top = float(side.vertices("hip")[:, 2].max())
    point = np.array([0.0, side.mark("disc_l4_5_centre")[1], top])
    upper_l4, lower_disc = 3.62, 4.65
    assert upper_l4 < side.level(point) < lower_disc


def test_aorta_left_and_vena_cava_right_of_the_midline(side: Side) -> None:
    """19, from memory of standard handbooks: beside L1 to L3."""
    for vertebra in ("l1", "l2", "l3"):
        height = float(side.mark(f"body_{vertebra}_centre")[2])
        assert side.at_height("aorta", height)[0] > 0.0
        assert side.at_height("inferior_vena_cava", height)[0] < 0.0


def test_the_aorta_divides_at_l4(side: Side) -> None:
    """19, from memory of standard handbooks."""
    assert 3.5 < side.level(side.line("aorta").points[-1]) < 4.5


def test_the_veins_join_right_in_front_of_l5(side: Side) -> None:
    """19, from memory of standard handbooks; the left common iliac vein crosses L5 to get there."""
    end = min(side.line("inferior_vena_cava").points[[0, -1]], key=lambda p: float(p[2]))
    assert end[0] < 0.0
    assert 4.4 < side.level(end) < 5.5
    vein = side.body.centrelines["common_iliac_vein_left"].points
    assert vein[:, 0].min() < 0.0 < vein[:, 0].max()
    crossing = vein[int(np.argmin(np.abs(vein[:, 0])))]
    assert 4.4 < side.level(crossing) < 5.6
    assert side.hits("l5", crossing, np.array([0.0, 1.0, 0.0])) or side.hits(
        "disc_l5_s1", crossing, np.array([0.0, 1.0, 0.0])
    )


@pytest.mark.parametrize("vessel", ["common_iliac_artery", "common_iliac_vein"])
def test_common_iliac_vessels_reach_the_medial_side_of_psoas(side: Side, vessel: str) -> None:
    """19, from memory of standard handbooks."""
    line = side.line(vessel)
    end = max(line.points[[0, -1]], key=lambda p: float(side.out(p)))
    assert side.out(end) < side.out(side.cut_at("psoas_major", float(end[2])).centroid)
    assert side.depth("psoas_major", end[None])[0] < side.radius(vessel) + 10.0


def test_external_iliac_artery_follows_psoas_to_the_mid_inguinal_point(side: Side) -> None:
    """19, from memory of standard handbooks: half way from ASIS to the symphysis."""
    points = side.points("external_iliac_artery")
    middle = (side.mark("asis") + side.mark("symphysis_top")) / 2.0
    end = min(points[[0, -1]], key=lambda p: float(p[2]))
    assert np.hypot(*(end - middle)[[0, 2]]) < 15.0
    assert np.median(side.depth("psoas_major", points)) < side.radius("external_iliac_artery") + 8.0


def test_sympathetic_trunk_on_the_front_side_of_the_bodies_at_the_medial_edge_of_psoas(side: Side) -> None:
    """20, from memory of standard handbooks."""
    for vertebra in ("l2", "l3", "l4"):
        centre = side.mark(f"body_{vertebra}_centre")
        point = side.at_height("sympathetic_trunk", float(centre[2]))
        assert point[1] < centre[1]
        assert 10.0 < side.out(point) < 28.0
        assert side.depth(vertebra, point[None])[0] < side.radius("sympathetic_trunk") + 6.0
        assert side.out(point) < side.out(side.cut_at("psoas_major", float(point[2])).centroid)
        assert side.depth("psoas_major", point[None])[0] < 12.0


def test_right_sympathetic_trunk_lies_behind_the_vena_cava(side: Side) -> None:
    """20, from memory of standard handbooks."""
    if side.side == "left":
        height = float(side.mark("body_l3_centre")[2])
        assert abs(side.at_height("sympathetic_trunk", height)[0] - side.at_height("aorta", height)[0]) > 5.0
        return
    for vertebra in ("l2", "l3"):
        height = float(side.mark(f"body_{vertebra}_centre")[2])
        trunk, cava = side.at_height("sympathetic_trunk", height), side.at_height("inferior_vena_cava", height)
        assert trunk[1] > cava[1]
        assert abs(trunk[0] - cava[0]) < side.radius("inferior_vena_cava") + 4.0


def test_ureter_lies_on_psoas(side: Side) -> None:
    """20, from memory of standard handbooks: beside L4 and L5, below either kidney."""
    points = side.points("ureter")
    high, low = side.mark("disc_l3_4_centre")[2], side.mark("body_l5_centre")[2]
    beside = points[(points[:, 2] < high) & (points[:, 2] > low)]
    depth = side.depth("psoas_major", beside)
    assert (depth > 0.0).all()
    assert np.median(depth) < 8.0


def test_ureter_crosses_the_iliac_artery_where_it_divides(side: Side) -> None:
    """20, from memory of standard handbooks: in front of the vessel, touching it but not within it."""
    line, fork = side.line("ureter"), side.line("common_iliac_artery")
    here = line.at(line.nearest(fork.points[-1]))
    assert here[1] < fork.points[-1][1]
    assert np.linalg.norm(here - fork.points[-1]) < float(fork.radius[-1]) + side.radius("ureter")
    for vessel in (name for name in side.body.ids("vessel") if name.endswith(f"_{side.side}")):
        assert (side.depth(vessel, line.points) > line.radius).all(), vessel


def test_ureter_keeps_to_the_side_wall_and_turns_medially_at_the_ischial_spine(side: Side) -> None:
    """20, from memory of standard handbooks: in front of the internal iliac artery, close to the wall.

    Ureters less than 50 mm apart above the spines count as drawn to the midline, from memory of radiology.
    """
    points, spine = side.points("ureter"), float(side.mark("ischial_spine")[2])
    pelvic = points[points[:, 2] < side.line("common_iliac_artery").points[-1][2]]
    widest = int(np.argmax(side.out(pelvic)))
    assert spine < pelvic[widest, 2] < spine + 25.0
    assert (side.out(pelvic[pelvic[:, 2] > spine]) > 25.0).all()
    wall = pelvic[(pelvic[:, 2] > spine) & (pelvic[:, 2] < side.mark("arcuate_line")[2] - 5.0)]
    assert side.depth("hip", wall).max() < 25.0
    artery = side.points("internal_iliac_artery")
    for point in (p for p in pelvic[:widest] if p[2] > artery[:, 2].min()):
        beside = side.at_height("internal_iliac_artery", float(point[2]))
        assert point[1] < beside[1]
        assert side.depth("internal_iliac_artery", point[None])[0] < 15.0
    medially = side.out(pelvic[widest:])
    assert (np.diff(medially) < 0.0).all()


def test_kidneys_beside_t12_to_l3_the_right_one_lower(side: Side) -> None:
    """20, from memory of standard handbooks."""
    kidney = side.vertices("kidney")
    spine = side.mark("disc_l2_3_centre")[0:2]
    lower, upper = (side.level(np.array([*spine, z])) for z in (kidney[:, 2].min(), kidney[:, 2].max()))
    half_lower = 0.5 if side.side == "right" else 0.0
    assert 2.0 < lower - half_lower < 3.5
    assert -1.0 < upper - half_lower < 0.5
    left, right = (side.body.surfaces[f"kidney_{name}"].vertices[:, 2].mean() for name in ("left", "right"))
    assert 5.0 < left - right < 25.0


def test_wall_from_outside_in(side: Side) -> None:
    """21, from memory: skin, external oblique, internal oblique, transversus, then psoas and the disc."""
    level = side.mark("disc_l3_4_centre")
    start = np.array([side.sign * 200.0, side.mark("iliac_tubercle")[1], level[2] + 15.0])
    inwards = np.array([-side.sign, 0.0, 0.0])
    order = ["skin", "external_oblique", "internal_oblique", "transversus_abdominis"]
    met = [side.first_hit(part, start, inwards) for part in order]
    assert met == sorted(met)
    assert np.isfinite(met).all()
    on_disc = np.array([side.sign * 200.0, *level[1:]])
    deep = [side.first_hit(part, on_disc, inwards) for part in ("skin", "psoas_major", "disc_l3_4")]
    assert deep == sorted(deep)


def test_external_oblique_has_a_free_back_edge(side: Side) -> None:
    """21, from memory of standard handbooks: three layers are not present all round."""
    height = float(side.mark("disc_l3_4_centre")[2]) + 10.0
    back = {
        part: float(side.cut_at(part, height).points[:, 1].max())
        for part in ("external_oblique", "internal_oblique", "transversus_abdominis")
    }
    assert back["external_oblique"] < back["transversus_abdominis"] - 5.0


def test_the_three_nerves_lie_closest_together_between_l3_4_and_s1_seen_from_the_side(side: Side) -> None:
    """22 (weak), from memory of standard handbooks: femoral, obturator and LFCN."""
    spread = {}
    low = float(side.mark("iliopubic_eminence")[2])
    for height in np.arange(float(side.mark("disc_l3_4_centre")[2]) - 4.0, low, -4.0):
        depths = [side.at_height(n, height)[1] for n in ("femoral", "obturator", "lateral_femoral_cutaneous")]
        spread[float(height)] = max(depths) - min(depths)
    closest = min(spread, key=lambda h: spread[h])
    assert side.mark("sacrum_s3")[2] < closest < side.mark("disc_l3_4_centre")[2]
    assert spread[closest] < 12.0


def test_seen_from_in_front_obturator_crosses_behind_psoas(side: Side) -> None:
    """16 and 6, from memory of standard handbooks: above the brim psoas hides the nerve from in front."""
    point, _ = seen_crossing(side.points("obturator"), side.points("femoral"), (0, 2))
    assert side.hits("psoas_major", point, FORWARD)
