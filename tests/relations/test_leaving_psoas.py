"""Relations 4 to 6: where nerves leave psoas. From memory of standard handbooks unless a source is named."""

import numpy as np
import pytest

from tests.relations.geometry import FORWARD, Side, seen_crossing

LATERAL = ("iliohypogastric", "ilioinguinal", "lateral_femoral_cutaneous", "femoral")
#: Surfaces are built to about half a millimetre each.
SURFACE_MM = 1.0


def test_lateral_border_from_above_down(side: Side) -> None:
    """4, from memory of standard handbooks: iliohypogastric, ilioinguinal, LFCN, femoral."""
    heights = [float(side.leaves(nerve)[2]) for nerve in LATERAL]
    assert heights == sorted(heights, reverse=True)


@pytest.mark.parametrize("nerve", LATERAL)
def test_they_leave_by_the_lateral_border(side: Side, nerve: str) -> None:
    """4, from memory of standard handbooks."""
    point = side.leaves(nerve)
    assert side.out(point) > side.out(side.cut_at("psoas_major", point[2]).centroid)


def test_genitofemoral_leaves_by_the_front(side: Side) -> None:
    """4, from memory of standard handbooks."""
    point = side.leaves("genitofemoral")
    muscle = side.cut_at("psoas_major", point[2]).points[:, 1]
    assert point[1] < muscle.min() + (muscle.max() - muscle.min()) / 3.0
    assert not side.hits("psoas_major", point + 2.0 * FORWARD, FORWARD)


def test_obturator_leaves_by_the_medial_border_near_the_brim(side: Side) -> None:
    """4 and 6, from memory of standard handbooks: between the middle of L5 and the brim."""
    point = side.leaves("obturator")
    assert side.out(point) < side.out(side.cut_at("psoas_major", point[2]).centroid)
    assert side.mark("arcuate_line")[2] < point[2] < side.mark("body_l5_centre")[2]


def test_accessory_obturator_leaves_by_the_medial_border(larch_side: Side) -> None:
    """4, from memory of standard handbooks."""
    point = larch_side.leaves("accessory_obturator")
    assert larch_side.out(point) < larch_side.out(larch_side.cut_at("psoas_major", point[2]).centroid)


def test_subcostal_never_enters_psoas(side: Side) -> None:
    """4, from memory of standard handbooks."""
    line = side.line("subcostal")
    assert (side.depth("psoas_major", line.points) > line.radius).all()


def test_femoral_is_hidden_in_psoas_down_to_l5_s1(side: Side) -> None:
    """5, from memory of standard handbooks: inside psoas it cannot be seen from in front."""
    frame = side.discs["L5-S1"]
    points = side.points("femoral")
    inside = points[frame.local(points)[:, 2] > 0.0]
    assert (side.depth("psoas_major", inside) < 0.0).all()
    assert all(side.hits("psoas_major", point, FORWARD) for point in inside[::5])


def test_femoral_is_well_inside_psoas_at_l4_5(side: Side) -> None:
    """5, from memory of standard handbooks: the whole nerve, not only its middle."""
    line, frame = side.line("femoral"), side.discs["L4-5"]
    at = int(np.argmin(np.abs(frame.local(line.points)[:, 2])))
    assert side.depth("psoas_major", line.points[at : at + 1])[0] < -float(line.radius[at])


def test_below_l5_s1_femoral_lies_in_the_groove_between_psoas_and_iliacus(side: Side) -> None:
    """5, from memory of standard handbooks: under the iliac fascia, both muscles close by."""
    line = side.line("femoral")
    points = side.after("femoral")
    points = points[side.below_ligament(points) < 0.0]
    reach = float(line.radius.max()) + 4.0
    for muscle in ("psoas_major", "iliacus"):
        depth = side.depth(muscle, points)
        assert (depth > -SURFACE_MM - float(line.radius.max())).all()
        assert np.median(depth) < reach


def test_obturator_passes_behind_the_common_iliac_vessels(side: Side) -> None:
    """6, from memory of standard handbooks. Where the vessels have already divided, their branches are meant."""
    nerve = side.points("obturator")
    for vessel in ("common_iliac_artery", "common_iliac_vein"):
        on_nerve, on_vessel = seen_crossing(nerve, side.points(vessel), (0, 2))
        assert on_nerve[1] > on_vessel[1]


@pytest.mark.parametrize("course", ["internal_iliac_artery", "internal_iliac_vein", "ureter"])
def test_obturator_runs_lateral_to_the_internal_iliac_vessels_and_the_ureter(side: Side, course: str) -> None:
    """6, from memory of standard handbooks: from the brim down."""
    brim = side.mark("sacroiliac_front")[2]
    nerve, other = side.points("obturator"), side.points(course)
    nerve = nerve[nerve[:, 2] < brim]
    low, high = max(nerve[:, 2].min(), other[:, 2].min()), min(nerve[:, 2].max(), other[:, 2].max())
    assert low < high
    for height in np.arange(low, high, 4.0):
        assert side.out(side.at_height("obturator", height)) > side.out(side.at_height(course, height))


def test_obturator_runs_on_the_side_wall_below_the_arcuate_line_medial_to_the_socket(side: Side) -> None:
    """6, from memory of standard handbooks; a straight line from brim to canal would cut the acetabulum."""
    points = side.points("obturator")
    wall = points[points[:, 2] < side.mark("arcuate_line")[2] - 5.0]
    depth = side.depth("hip", wall)
    assert len(wall) > 30
    assert (depth > 0.0).all()
    assert depth.max() < 12.0
    beside = wall[np.abs(wall[:, 2] - side.mark("hip_centre")[2]) < 25.0]
    assert len(beside)
    assert (side.out(beside) < side.out(side.mark("hip_centre")) - 20.0).all()


def test_trunk_lies_on_the_ala_medial_to_obturator(side: Side) -> None:
    """6 and 14, from memory of standard handbooks: on bone, medial to the obturator nerve."""
    line = side.line("lumbosacral_trunk")
    on_ala = line.points[(line.arc > 0.2 * line.length) & (line.arc < 0.8 * line.length)]
    gap = side.depth("sacrum", on_ala) - float(line.radius.max())
    assert (gap > -SURFACE_MM).all()
    assert gap.max() < 3.0
    for point in on_ala:
        nerve = side.points("obturator")
        if nerve[:, 2].min() < point[2] < nerve[:, 2].max():
            assert side.out(point) < side.out(side.at_height("obturator", float(point[2])))


def test_trunk_crosses_the_brim_10_mm_medial_to_the_sacroiliac_joint(side: Side) -> None:
    """6, Ebraheim 1997 as quoted in the literature: about 10 mm at the brim."""
    joint = side.mark("sacroiliac_front")
    point = side.at_height("lumbosacral_trunk", float(joint[2]))
    assert side.out(joint) - side.out(point) == pytest.approx(10.0, abs=3.0)


def test_iliolumbar_ligament_is_the_landmark_of_the_trunk(side: Side) -> None:
    """14, from memory of standard handbooks: from the L5 process to the crest, the trunk in front and medial below."""
    assert side.gap("iliolumbar_ligament", "l5") < 2.0
    assert side.gap("iliolumbar_ligament", "hip") < 2.0
    band = side.vertices("iliolumbar_ligament")
    trunk = side.points("lumbosacral_trunk")
    assert trunk[:, 2].max() < band[:, 2].max()
    assert side.out(trunk).max() < side.out(band).max()
    assert trunk[:, 1].min() < band[:, 1].min()
    assert side.depth("iliolumbar_ligament", trunk).min() < 30.0
