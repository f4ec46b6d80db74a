"""Relations 7 to 15: courses outside psoas. From memory of standard handbooks unless a source is named."""

from itertools import pairwise

import numpy as np
import pytest

from meshes.gauges.courses import along_rib
from meshes.gauges.space import Depth, angle_deg
from tests.relations.geometry import BACKWARD, DOWN, FORWARD, UP, Side, tightest_radius, turn_deg

#: Surfaces are built to about half a millimetre each.
SURFACE_MM = 1.0
WALL_NERVES = ("subcostal", "iliohypogastric", "ilioinguinal")


def _on_quadratus(side: Side, nerve: str) -> np.ndarray:
    """Points of a nerve in front of quadratus, lateral to psoas."""
    points = side.points(nerve)
    near = (side.depth("quadratus_lumborum", points) < 5.0) & (side.depth("psoas_major", points) > 0.0)
    return np.asarray(points[near])


def test_subcostal_runs_15_to_30_mm_below_rib_12(side: Side) -> None:
    """7, from memory of standard handbooks: in front of quadratus, before it leaves the rib."""
    gaps = along_rib(side.body, "subcostal", side.side)
    points = _on_quadratus(side, "subcostal")
    beside = Depth(side.body.surfaces[side.name("rib_12")])(points[side.out(points) > 42.0])
    assert (beside >= 15.0).all()
    assert (beside <= 30.0).all()
    assert gaps.max() <= 50.0


@pytest.mark.parametrize("nerve", WALL_NERVES)
def test_wall_nerves_cross_the_front_of_quadratus(side: Side, nerve: str) -> None:
    """7 and 8, from memory of standard handbooks: on the muscle, not half sunk into it."""
    points = _on_quadratus(side, nerve)
    assert len(points) > 15
    assert (side.depth("quadratus_lumborum", points) > -SURFACE_MM).all()
    assert np.mean([side.hits("quadratus_lumborum", p, BACKWARD) for p in points[::3]]) > 0.6
    assert not any(side.hits("quadratus_lumborum", p + 3.0 * FORWARD, FORWARD) for p in points[::3])


@pytest.mark.parametrize("nerve", ["subcostal", "iliohypogastric"])
def test_the_kidney_lies_in_front_of_them(side: Side, nerve: str) -> None:
    """7 and 8, from memory of standard handbooks: subcostal and iliohypogastric behind it."""
    points = side.points(nerve)
    points = points[side.out(points) < 90.0]
    hidden = [p for p in points[::2] if side.hits("kidney", p, FORWARD)]
    assert hidden
    assert not any(side.hits("kidney", p, BACKWARD) for p in points[::2])


@pytest.mark.parametrize("nerve", WALL_NERVES)
def test_wall_nerves_run_between_transversus_and_internal_oblique(side: Side, nerve: str) -> None:
    """7 and 8, from memory of standard handbooks: superficial to the one, deep to the other, sunk into neither."""
    end = None
    if nerve == "subcostal":
        line = side.line(nerve)
        inside = side.depth("internal_oblique", line.points) < 3.0
        end = float(line.arc[np.flatnonzero(inside)[-1]])
    points = side.between_layers(nerve, "transversus_abdominis", "internal_oblique", end)
    # Its way through either muscle is slanting: the stretch between them begins where it has left the one.
    out = np.flatnonzero(side.depth("transversus_abdominis", points) > 0.0)[0]
    entering = side.depth("internal_oblique", points[out:]) < -SURFACE_MM
    last = out + (np.flatnonzero(entering)[0] if nerve != "subcostal" and entering.any() else len(points))
    points = points[out:last]
    assert len(points) > 40
    assert (side.depth("transversus_abdominis", points) > -SURFACE_MM).all()
    assert (side.depth("internal_oblique", points) > -SURFACE_MM).all()
    assert np.median(side.depth("transversus_abdominis", points)) < 4.0


def test_subcostal_lateral_branch_crosses_the_crest_60_mm_behind_the_asis(side: Side) -> None:
    """7, Chou 2004: 60 mm or more behind the ASIS."""
    points = side.points("subcostal_lateral_cutaneous")
    at = points[int(np.argmin(side.depth("hip", points)))]
    assert np.linalg.norm(at - side.mark("asis")) >= 60.0
    assert at[1] > side.mark("asis")[1]
    assert side.depth("hip", at[None])[0] < 25.0


def test_subcostal_ends_midway_between_navel_and_pubis(side: Side) -> None:
    """7, from memory of standard handbooks; the navel stands about the L3-4 disc."""
    end = side.line("subcostal").points[-1]
    navel, pubis = side.mark("disc_l3_4_centre")[2], side.mark("symphysis_top")[2]
    assert 0.3 < (end[2] - pubis) / (navel - pubis) < 0.7
    assert side.out(end) < 45.0


def test_iliohypogastric_and_ilioinguinal_run_parallel_25_mm_apart(side: Side) -> None:
    """8, from memory of standard handbooks (25 mm: Surg Endosc 2020): obliquely down and out across quadratus."""
    upper, lower = _on_quadratus(side, "iliohypogastric"), _on_quadratus(side, "ilioinguinal")
    directions = [points[-1] - points[0] for points in (upper, lower)]
    assert angle_deg(*directions) < 20.0
    for step in directions:
        assert side.sign * step[0] > 0.0
        assert step[2] < 0.0
    shared = np.linspace(
        max(side.out(upper).min(), side.out(lower).min()), min(side.out(upper).max(), side.out(lower).max()), 7
    )
    for across in shared:
        heights = [p[int(np.argmin(np.abs(side.out(p) - across))), 2] for p in (upper, lower)]
        assert 15.0 < heights[0] - heights[1] < 40.0


def test_iliohypogastric_pierces_transversus_above_the_crest(side: Side) -> None:
    """8, Reinpold 2015."""
    point = side.pierces("iliohypogastric", "transversus_abdominis")
    bone = side.vertices("hip")
    near = bone[np.hypot(*(bone[:, :2] - point[:2]).T) < 15.0]
    assert len(near)
    assert point[2] > near[:, 2].max()


@pytest.mark.parametrize("nerve", ["iliohypogastric", "ilioinguinal"])
def test_both_pierce_transversus_lateral_to_the_asis(side: Side, nerve: str) -> None:
    """8, Reinpold 2015."""
    point = side.pierces(nerve, "transversus_abdominis")
    assert side.out(point) > side.out(side.mark("asis"))


@pytest.mark.parametrize("nerve", ["iliohypogastric", "ilioinguinal"])
def test_both_perforate_internal_oblique_medial_to_and_below_the_asis_above_the_ligament(
    side: Side, nerve: str
) -> None:
    """8, from memory of standard handbooks."""
    point = side.pierces(nerve, "internal_oblique")
    assert side.out(point) < side.out(side.mark("asis"))
    assert point[2] < side.mark("asis")[2]
    assert side.below_ligament(point[None])[0] < 0.0


def test_iliohypogastric_has_a_lateral_branch_behind_that_of_subcostal(side: Side) -> None:
    """8, from memory of standard handbooks: over the crest."""
    crossings = {}
    for nerve in ("subcostal_lateral_cutaneous", "iliohypogastric_lateral_cutaneous"):
        points = side.points(nerve)
        crossings[nerve] = points[int(np.argmin(side.depth("hip", points)))]
        assert points[-1, 2] < crossings[nerve][2] < points[0, 2]
    assert crossings["iliohypogastric_lateral_cutaneous"][1] > crossings["subcostal_lateral_cutaneous"][1]


@pytest.mark.parametrize("nerve", WALL_NERVES)
def test_no_stretch_of_a_wall_nerve_hangs_beyond_the_wall(side: Side, nerve: str) -> None:
    """From memory of dissection: held by flat muscle or its aponeurosis to the end; ilioinguinal as far as its ring."""
    line = side.line(nerve)
    from_mm = side.body.centrelines[side.name(nerve)].nearest(side.pierces(nerve, "transversus_abdominis"))
    points = line.at(np.append(np.arange(from_mm, line.length, 2.0), line.length))
    points = points[points[:, 2] > side.mark("pubic_tubercle")[2] + 15.0]
    wall = ("transversus_abdominis", "internal_oblique", "external_oblique")
    assert np.min([side.depth(muscle, points) for muscle in wall], axis=0).max() < 1.5


@pytest.mark.parametrize("parent", ["subcostal", "iliohypogastric"])
def test_lateral_branches_leave_at_an_acute_angle_and_turn_down_gently(side: Side, parent: str) -> None:
    """From memory of dissection: no hairpin where they leave; close to muscle and bone on their way down."""
    line, branch = side.line(parent), side.line(f"{parent}_lateral_cutaneous")
    leaves = line.nearest(branch.points[0])
    assert angle_deg(line.at(leaves + 12.0) - line.at(leaves), branch.at(22.0) - branch.at(0.0)) < 30.0
    assert tightest_radius(branch, 5.0, branch.length - 5.0) > 12.0
    assert angle_deg(branch.at(20.0) - branch.at(0.0), branch.points[-1] - branch.at(20.0)) < 100.0
    free = branch.at(np.arange(25.0, branch.length, 2.0))
    near = np.minimum(side.depth("hip", free), side.depth("external_oblique", free))
    assert near.max() < 30.0


def test_subcostal_rounds_the_flank_without_a_corner(side: Side) -> None:
    """From memory of dissection: it slopes down all the way, with the curve of the wall."""
    line = side.line("subcostal")
    from_mm = line.nearest(side.pierces("subcostal", "transversus_abdominis"))
    assert tightest_radius(line, from_mm + 15.0, line.length - 6.0) > 25.0


def test_ilioinguinal_has_no_lateral_branch(side: Side) -> None:
    """8, from memory of standard handbooks."""
    assert side.name("ilioinguinal_lateral_cutaneous") not in side.body.structures


def test_iliohypogastric_ends_above_the_pubis(side: Side) -> None:
    """8, from memory of standard handbooks."""
    end = side.line("iliohypogastric").points[-1]
    assert end[2] > side.mark("symphysis_top")[2] + 20.0
    assert side.out(end) < side.out(side.mark("asis")) / 2.0


def test_ilioinguinal_enters_the_canal_between_the_oblique_layers_not_by_the_deep_ring(side: Side) -> None:
    """8, from memory of standard handbooks."""
    line = side.line("ilioinguinal")
    points = side.between_layers("ilioinguinal", "internal_oblique", "", line.length)[6:]  # past the perforation itself
    canal = points[(side.below_ligament(points) < 0.0) & (side.out(points) > side.out(side.mark("pubic_tubercle")) + 8)]
    assert len(canal) > 30
    assert (side.depth("internal_oblique", canal) > -SURFACE_MM).all()
    assert (side.depth("external_oblique", canal) > -SURFACE_MM).all()
    assert np.linalg.norm(points - _deep_ring(side), axis=1).min() > 5.0


def test_ilioinguinal_ends_through_the_superficial_ring(side: Side) -> None:
    """8, from memory of standard handbooks: just above and lateral of the pubic tubercle, then down to the groin."""
    tubercle = side.mark("pubic_tubercle")
    points = side.points("ilioinguinal")
    ring = points[int(np.argmin(np.linalg.norm(points - (tubercle + np.array([0.0, -8.0, 12.0])), axis=1)))]
    assert abs(side.out(ring) - side.out(tubercle)) < 12.0
    assert 5.0 < ring[2] - tubercle[2] < 25.0
    assert points[-1, 2] < tubercle[2]


def _deep_ring(side: Side) -> np.ndarray:
    """12 mm above the middle of the inguinal ligament (from memory of standard handbooks)."""
    ring: np.ndarray = (side.mark("asis") + side.mark("pubic_tubercle")) / 2.0 + np.array([0.0, 0.0, 12.0])
    return ring


def test_lfcn_does_not_lie_on_quadratus(side: Side) -> None:
    """9, from memory of standard handbooks."""
    assert side.depth("quadratus_lumborum", side.after("lateral_femoral_cutaneous")).min() > 5.0


def test_lfcn_crosses_iliacus_under_its_fascia(side: Side) -> None:
    """9, from memory of standard handbooks: on the muscle over several centimetres."""
    points = side.after("lateral_femoral_cutaneous")
    points = points[side.below_ligament(points) < 0.0]
    depth = side.depth("iliacus", points)
    assert (depth > -SURFACE_MM).all()
    assert (depth < 4.0).sum() > 40


def test_lfcn_passes_just_medial_to_the_asis(side: Side) -> None:
    """9, a finger-breadth medial is common practice; here: medial, by less than two."""
    step = side.out(side.mark("asis")) - side.out(side.ligament("lateral_femoral_cutaneous"))
    assert 0.0 < step < 40.0


def test_lfcn_turns_at_the_ligament(side: Side) -> None:
    """9, from memory of standard handbooks: by 70 to 90 degrees, with a radius of about 10 mm."""
    line, at = side.line("lateral_femoral_cutaneous"), side.ligament_mm("lateral_femoral_cutaneous")
    bend = max(turn_deg(line, at + shift, 10.0) for shift in np.arange(-10.0, 11.0, 1.0))
    assert 70.0 <= bend <= 90.0
    assert tightest_radius(line, at - 20.0, at + 20.0) == pytest.approx(10.0, abs=4.0)


def test_lfcn_runs_down_the_front_outer_thigh(side: Side) -> None:
    """9, from memory of standard handbooks."""
    end, hip = side.line("lateral_femoral_cutaneous").points[-1], side.mark("hip_centre")
    assert side.out(end) > side.out(hip)
    assert end[1] < hip[1]


def test_lfcn_crosses_no_other_nerve_on_iliacus(side: Side) -> None:
    """9, from memory of standard handbooks: from psoas to the ligament."""
    points = side.after("lateral_femoral_cutaneous")[8:]
    points = points[side.below_ligament(points) < -6.0]
    for name in side.body.ids("nerve"):
        if name.endswith(side.side) and "femoral_cutaneous" not in name:
            assert Depth(side.body.surfaces[name])(points).min() > 3.0, name


def test_genitofemoral_descends_on_the_front_of_psoas(side: Side) -> None:
    """10, from memory of standard handbooks: beneath its fascia, nothing of the muscle in front of it."""
    points = side.after("genitofemoral")
    depth = side.depth("psoas_major", points)
    assert (depth > -SURFACE_MM).all()
    assert depth.max() < 4.0
    assert not any(side.hits("psoas_major", p + 2.0 * FORWARD, FORWARD) for p in points[::3])


def test_genitofemoral_splits_above_the_ligament(side: Side) -> None:
    """10, from memory of standard handbooks."""
    assert side.below_ligament(side.line("genitofemoral").points[-1:])[0] < -10.0


@pytest.mark.parametrize("branch", ["genitofemoral_genital", "genitofemoral_femoral"])
def test_branches_of_genitofemoral_run_on_in_front_of_psoas(side: Side, branch: str) -> None:
    """10, from memory of standard handbooks: neither dips into the muscle or behind it on the way to the ligament."""
    points = side.points(branch)
    assert side.depth("psoas_major", points).min() > side.line(branch).radius[0]
    above = points[side.below_ligament(points) < 0.0]
    assert not any(side.hits("psoas_major", p + 2.0 * FORWARD, FORWARD) for p in above[::3])


def test_genitofemoral_forks_once_and_its_branches_draw_apart(side: Side) -> None:
    """10, from memory of standard handbooks; the genital branch turns round towards its canal and does not hook."""
    genital, femoral = side.line("genitofemoral_genital"), side.line("genitofemoral_femoral")
    apart = [np.linalg.norm(genital.at(at) - femoral.at(at)) for at in range(5, 90, 5)]
    assert apart == sorted(apart)
    assert apart[8] > 4.0
    assert tightest_radius(genital, 10.0, genital.length - 10.0) > 14.0
    out = side.out(genital.points)
    assert (np.diff(np.sign(np.diff(out))) != 0).sum() <= 1


def test_genital_branch_passes_the_deep_ring(side: Side) -> None:
    """10, from memory of standard handbooks: 12 mm above the middle of the ligament, behind its plane."""
    points = side.points("genitofemoral_genital")
    near = points[int(np.argmin(np.hypot(*(points - _deep_ring(side))[:, [0, 2]].T)))]
    assert np.hypot(*(near - _deep_ring(side))[[0, 2]]) < 8.0
    assert side.below_ligament(near[None])[0] < 0.0


def test_femoral_passes_deep_to_the_ligament_18_mm_behind_the_straight_line(side: Side) -> None:
    """11, the two distances of limbs_2020 taken together: some 18 mm behind the line from ASIS to tubercle."""
    point, asis, tubercle = side.ligament("femoral"), side.mark("asis"), side.mark("pubic_tubercle")
    along = (tubercle - asis) / np.linalg.norm(tubercle - asis)
    off = (point - asis) - ((point - asis) @ along) * along
    assert np.linalg.norm(off) == pytest.approx(18.0, abs=6.0)
    assert off[1] > 10.0


def test_femoral_lies_on_the_front_outer_part_of_iliopsoas_lateral_to_the_artery_that_lies_on_psoas(
    side: Side,
) -> None:
    """11, from memory of standard handbooks."""
    nerve = side.ligament("femoral")
    both = np.minimum(side.depth("psoas_major", nerve[None]), side.depth("iliacus", nerve[None]))[0]
    assert -SURFACE_MM - side.radius("femoral") < both < side.radius("femoral") + 4.0
    artery = side.at_height("femoral_artery", float(nerve[2]) - 4.0)
    assert side.out(artery) + 5.0 < side.out(nerve)
    assert side.depth("psoas_major", artery[None])[0] < side.radius("femoral_artery") + 6.0
    assert side.hits("psoas_major", artery, BACKWARD)


def test_femoral_fans_out_20_mm_below_the_ligament(side: Side) -> None:
    """11, limbs_2020: the trunk is about 20 mm long below the ligament."""
    trunk, passes = side.line("femoral"), side.ligament_mm("femoral")
    assert trunk.length - passes == pytest.approx(20.0, abs=6.0)
    for branch in ("saphenous", "femoral_anterior_cutaneous", "femoral_muscular"):
        start = side.line(branch).points[0]
        leaves = float(trunk.arc[int(np.argmin(np.linalg.norm(trunk.points - start, axis=1)))]) - passes
        assert leaves == pytest.approx(20.0, abs=12.0)


def test_obturator_leaves_by_the_canal_at_the_top_of_the_foramen(side: Side) -> None:
    """12, from memory of standard handbooks: under the superior ramus, within the foramen."""
    points = side.points("obturator")
    canal = side.mark("obturator_canal")
    through = points[int(np.argmin(np.linalg.norm(points - canal, axis=1)))]
    assert np.linalg.norm(through - canal) < 5.0
    assert side.first_hit("hip", through, (UP + FORWARD) / np.sqrt(2.0)) < 15.0
    assert side.depth("hip", points).min() > 0.0
    rim = [side.first_hit("hip", through, direction) for direction in _across_foramen(side)]
    assert np.isfinite(rim).all()
    top, bottom = rim[: len(rim) // 2], rim[len(rim) // 2 :]
    assert np.mean(top) < np.mean(bottom)


def _across_foramen(side: Side) -> list[np.ndarray]:
    """Directions in the plane of the obturator foramen (tubercle, tuberosity, hip centre): upper half, then lower."""
    tubercle, tuberosity, hip = (side.mark(m) for m in ("pubic_tubercle", "ischial_tuberosity", "hip_centre"))
    normal = np.cross(tuberosity - tubercle, hip - tubercle)
    across = np.cross(UP, normal)
    across /= np.linalg.norm(across)
    along = np.cross(normal, across)
    along *= np.sign(along[2]) / np.linalg.norm(along)
    turn = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False) + np.pi / 16.0
    return [np.cos(a) * across + np.sin(a) * along for a in turn]


def test_obturator_branches_pass_in_front_of_and_behind_adductor_brevis(side: Side) -> None:
    """12, from memory of standard handbooks; the muscle's place lies between them."""
    for below in (25.0, 35.0, 45.0, 60.0):
        height = float(side.mark("obturator_canal")[2]) - below
        front, back = (side.at_height(f"obturator_{which}", height) for which in ("anterior", "posterior"))
        assert back[1] - front[1] > 6.0


def test_accessory_obturator_passes_over_the_superior_ramus(larch_side: Side) -> None:
    """13, from memory of standard handbooks: over the pecten, never through the foramen."""
    side = larch_side
    points = side.points("accessory_obturator")
    over = [p for p in points if side.first_hit("hip", p, DOWN) < 8.0 and not side.hits("hip", p, UP)]
    assert over
    assert side.depth("hip", points).min() > 0.0
    assert np.linalg.norm(points - side.mark("obturator_canal"), axis=1).min() > 10.0


def test_accessory_obturator_lies_medial_to_femoral_and_lateral_to_obturator(larch_side: Side) -> None:
    """13, from memory of standard handbooks: where it crosses the ramus."""
    side = larch_side
    points = side.points("accessory_obturator")
    at = points[int(np.argmin(side.depth("hip", points)))]
    assert side.out(side.mark("obturator_canal")) < side.out(at) < side.out(side.ligament("femoral"))


def test_order_across_the_inguinal_ligament(side: Side) -> None:
    """15, from memory of standard handbooks: lateral to medial."""
    nerves = [side.ligament(n) for n in ("lateral_femoral_cutaneous", "femoral", "genitofemoral_femoral")]
    vessels = [side.at_height(v, float(nerves[-1][2]) - 3.0) for v in ("femoral_artery", "femoral_vein")]
    across = [float(side.out(p)) for p in (*nerves, *vessels)]
    assert across == sorted(across, reverse=True)
    assert min(a - b for a, b in pairwise(across)) > 2.0


def test_no_nerve_has_a_corner(side: Side) -> None:
    """From memory of dissection: cords under little tension turn round, none by 60 degrees within a centimetre."""
    for nerve in (n for n in side.body.ids("nerve") if n.endswith(f"_{side.side}")):
        line = side.body.centrelines[nerve]
        for at in np.arange(5.0, line.length - 5.0, 1.0):
            here = line.at(at)
            assert angle_deg(here - line.at(at - 5.0), line.at(at + 5.0) - here) < 60.0, f"{nerve}, {here.round()}"
