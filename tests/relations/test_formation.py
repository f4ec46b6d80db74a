"""Relations 1 to 3: how the plexus is formed. From memory of standard handbooks unless a source is named."""

import numpy as np
import pytest

from meshes.body import Body
from meshes.gauges.space import angle_deg, through_plane
from meshes.gauges.vertebrae import canal_width
from meshes.structures import SIDES
from tests.relations.geometry import DOWN, Side

LUMBAR = ("l1", "l2", "l3", "l4", "l5")
DISC_BELOW = {"l1": "disc_l1_2", "l2": "disc_l2_3", "l3": "disc_l3_4", "l4": "disc_l4_5"}
#: Where the ramus divides just above the disc, its divisions cross it.
FURTHER = {
    "l1": ("iliohypogastric", "ilioinguinal"),
    **{v: (f"{v}_posterior_division", f"{v}_anterior_division") for v in ("l2", "l3", "l4")},
}
ROOTS = {
    "subcostal": "T12",
    "iliohypogastric": "L1",
    "ilioinguinal": "L1",
    "genitofemoral": "L1-L2",
    "lateral_femoral_cutaneous": "L2-L3",
    "femoral": "L2-L4",
    "obturator": "L2-L4",
    "furcal": "L4",
    "lumbosacral_trunk": "L4-L5",
}


@pytest.mark.parametrize("vertebra", ["t12", *LUMBAR])
def test_a_root_begins_inside_the_side_of_the_dural_sac_and_leaves_it_downwards(side: Side, vertebra: str) -> None:
    """From memory of standard handbooks: in a sleeve of the dura, wider at the sac, at an acute angle to it."""
    sac, root = side.body.centrelines["dural_sac"], side.line(f"{vertebra}_root")
    middle = np.array([sac.nearest(point) for point in root.points])
    away, thick = root.points - sac.at(middle), np.interp(middle, sac.arc, sac.radius)
    assert np.linalg.norm(away[0]) + root.radius[0] < thick[0]
    assert side.out(away[0]) > 0.5 * thick[0]
    leaves = int(np.argmax(np.linalg.norm(away, axis=1) > thick))
    along = sac.at(middle[leaves] + 2.0) - sac.at(middle[leaves] - 2.0)
    assert 2.0 < angle_deg(along, root.points[leaves + 1] - root.points[leaves - 1]) < 30.0
    assert root.radius[0] > 1.1 * root.radius[leaves] > 1.1 * root.radius.min()


@pytest.mark.parametrize("vertebra", LUMBAR)
def test_a_nerve_leaves_below_its_own_pedicle_in_the_upper_part_of_the_foramen(side: Side, vertebra: str) -> None:
    """1, from memory of standard handbooks: every lumbar nerve leaves the canal below the pedicle of its vertebra."""
    pedicle = side.mark(f"pedicle_{vertebra}")
    points = side.points(f"{vertebra}_ganglion")
    point = points[int(np.argmin(np.abs(side.out(points) - side.out(pedicle))))]
    roof = pedicle[2] - _wall(side, vertebra, pedicle, DOWN)
    below = LUMBAR[LUMBAR.index(vertebra) + 1] if vertebra != "l5" else "sacrum"
    floor = point[2] - side.first_hit(below, point, DOWN)
    assert point[2] < roof
    assert np.isfinite(floor)
    assert (roof - point[2]) / (roof - floor) < 0.5


def _wall(side: Side, part: str, inside: np.ndarray, direction: np.ndarray) -> float:
    """From a point inside bone to the face it leaves by, mm."""
    return side.first_hit(part, inside, direction)


@pytest.mark.parametrize("vertebra", LUMBAR[:4])
def test_a_nerve_reaches_the_disc_below_10_to_20_mm_to_the_side(side: Side, vertebra: str) -> None:
    """1, from memory of standard handbooks: the L2 root crosses the L2-3 disc, 10 to 20 mm lateral of the canal."""
    frame = side.body.landmarks.frames[DISC_BELOW[vertebra]]
    reached = []
    for name in (f"{vertebra}_ramus", *FURTHER[vertebra]):
        line = side.line(name)
        reached += [frame.local(line.at(arc)) for arc in through_plane(line, frame)]
    assert reached
    sideways = min(side.sign * float(p[0]) for p in reached) - canal_width(side.body, vertebra) / 2.0
    assert 10.0 <= sideways <= 20.0


@pytest.mark.parametrize(("nerve", "roots"), ROOTS.items())
def test_nerves_come_from_their_roots(side: Side, nerve: str, roots: str) -> None:
    """2, from memory of standard handbooks; LFCN from L2-3 (some handbooks print L2-4)."""
    assert side.body.structures[side.name(nerve)].roots == roots


def test_accessory_obturator_comes_from_l3_and_l4(larch_side: Side) -> None:
    """2, from memory of standard handbooks."""
    assert larch_side.body.structures[larch_side.name("accessory_obturator")].roots == "L3-L4"


@pytest.mark.parametrize(
    ("branch", "parent", "target"),
    [
        *((f"{v}_posterior_division", f"{v}_ramus", "femoral") for v in ("l2", "l3", "l4")),
        *((f"{v}_anterior_division", f"{v}_ramus", "obturator") for v in ("l2", "l3", "l4")),
        ("furcal", "l4_ramus", "lumbosacral_trunk"),
        ("l1_genitofemoral", "l1_ramus", "genitofemoral"),
        ("l3_lateral_femoral_cutaneous", "l3_ramus", "lateral_femoral_cutaneous"),
    ],
)
def test_divisions_join_without_a_gap(side: Side, branch: str, parent: str, target: str) -> None:
    """2, from memory: femoral from posterior, obturator from anterior divisions of L2-4; trunk by the furcal share."""
    points = side.points(branch)
    assert side.depth(parent, points[:1])[0] < 0.0
    assert side.depth(target, points[-1:])[0] < 0.0


@pytest.mark.parametrize(
    ("nerve", "first"),
    [
        ("femoral", "l2_posterior_division"),
        ("obturator", "l2_anterior_division"),
        ("lumbosacral_trunk", "l5_ramus"),
    ],
)
def test_a_nerve_grows_out_of_what_forms_it_without_a_step(side: Side, nerve: str, first: str) -> None:
    """2, from memory: bundles lie together and nothing ends; neither end of a tube shows beside the other tube."""
    line, other = side.line(nerve), side.line(first)
    begins, ends = side.vertices(nerve), side.vertices(first)
    start = begins[(begins - line.points[0]) @ (line.points[1] - line.points[0]) < 1e-6]
    end = ends[(ends - other.points[-1]) @ (other.points[-1] - other.points[-2]) > -1e-6]
    assert len(start) > 30
    assert len(end) > 30
    assert side.depth(first, start).max() < 0.0
    assert side.depth(nerve, end).max() < 0.0


@pytest.mark.parametrize(
    ("nerve", "parent"),
    [
        ("subcostal", "t12_ramus"),
        ("iliohypogastric", "l1_ramus"),
        ("ilioinguinal", "l1_ramus"),
        ("genitofemoral", "l2_ramus"),
        ("lateral_femoral_cutaneous", "l2_ramus"),
        ("saphenous", "femoral"),
        ("obturator_anterior", "obturator"),
        ("obturator_posterior", "obturator"),
        ("genitofemoral_genital", "genitofemoral"),
        ("genitofemoral_femoral", "genitofemoral"),
        ("subcostal_lateral_cutaneous", "subcostal"),
        ("iliohypogastric_lateral_cutaneous", "iliohypogastric"),
    ],
)
def test_branches_leave_their_parent_without_a_gap_and_away_from_the_spine(side: Side, nerve: str, parent: str) -> None:
    """2, from memory: branches leave at acute angles, pointing away from the spine."""
    line, trunk = side.line(nerve), side.line(parent)
    assert side.depth(parent, line.points[:1])[0] < 0.0
    at = float(trunk.arc[int(np.argmin(np.linalg.norm(trunk.points - line.points[0], axis=1)))])
    on, off = trunk.at(min(at + 4.0, trunk.length)) - trunk.at(max(at - 4.0, 0.0)), line.at(6.0) - line.at(0.0)
    assert on @ off > 0.0


@pytest.mark.parametrize("side_name", SIDES)
def test_the_trunk_takes_all_of_l5(alder: Body, side_name: str) -> None:
    """2, from memory: the lumbosacral trunk takes all of L5 besides the furcal share of L4."""
    side = Side(alder, side_name)
    assert side.depth("lumbosacral_trunk", side.points("l5_ramus")[-1:])[0] < 0.0


@pytest.mark.parametrize(
    "branch", [f"{v}_{which}_division" for v in ("l2", "l3", "l4") for which in ("posterior", "anterior")]
)
def test_the_plexus_is_formed_inside_psoas_in_front_of_the_transverse_processes(side: Side, branch: str) -> None:
    """3, from memory of standard handbooks."""
    points = side.points(branch)
    assert (side.depth("psoas_major", points[len(points) // 3 :]) < 0.0).all()
    for vertebra in ("l2", "l3", "l4", "l5"):
        frame = side.body.landmarks.frames[vertebra]
        local = frame.local(points)
        beside = local[np.abs(local[:, 2]) < 18.0]
        process = frame.local(side.mark(f"transverse_process_tip_{vertebra}"))
        assert (beside[:, 1] < process[1]).all()
