"""Nerves that run otherwise in some people: cords all the same, which bend in round bows, from memory of dissection."""

import numpy as np
import pytest

from meshes.body import Body, load_body
from meshes.gauges.space import angle_deg
from meshes.specimen import Specimen
from meshes.structures import SIDES
from tests.relations.geometry import Side

#: Between three points of a nerve this far apart, mm, it bends by this much at the most, degrees.
STEP_MM, ROUND_DEG = 8.0, 17.0


@pytest.fixture(scope="module")
def yew() -> Body:
    return load_body(Specimen(name="Yew", variants=frozenset(f"lfcn_lateral_to_asis_{side}" for side in SIDES)))


@pytest.mark.parametrize("side", SIDES)
def test_lfcn_sweeps_over_iliacus_to_the_crest_in_one_bow(yew: Body, side: str) -> None:
    line, asis = yew.centrelines[f"lateral_femoral_cutaneous_{side}"], yew.landmarks[f"asis_{side}"]
    crossing = line.nearest(asis)
    leaves = next(at for at in np.arange(0.0, line.length) if line.at(at)[2] < yew.landmarks["disc_l4_5_centre"][2])
    for at in np.arange(leaves, crossing - STEP_MM, 1.0):
        here = line.at(at)
        bend = angle_deg(here - line.at(at - STEP_MM), line.at(at + STEP_MM) - here)
        assert bend < ROUND_DEG, f"{at:.0f} mm, {here.round()}"
    assert abs(line.at(crossing)[0]) > abs(asis[0]), "it passes lateral to the ASIS"


def test_accessory_obturator_runs_between_femoral_and_obturator_down_to_the_ramus(larch_side: Side) -> None:
    """13, Turgut 2017: lateral to the obturator and medial to the femoral nerve on all of 12 sides.

    From where the obturator nerve has left psoas down to the ramus, at every height; in front of it as well, as in
    the 91 sides of a series in the Indian Journal of Anatomy (2019).
    """
    side = larch_side
    points = side.points("accessory_obturator")
    over = points[int(np.argmin(side.depth("hip", points))), 2]
    for height in np.arange(over, side.leaves("obturator")[2], 2.0):
        here, obturator = (side.at_height(n, float(height)) for n in ("accessory_obturator", "obturator"))
        assert side.out(obturator) < side.out(here) < side.out(side.at_height("femoral", float(height))), here.round()
        assert here[1] < obturator[1], here.round()


def test_accessory_obturator_passes_behind_the_vein_and_through_no_vessel(larch_side: Side) -> None:
    """13, from memory of standard handbooks: on the bone deep to pectineus, which the femoral vein lies on."""
    side = larch_side
    line = side.line("accessory_obturator")
    for vessel in (name for name in side.body.ids("vessel") if name.endswith(f"_{side.side}")):
        assert (side.depth(vessel, line.points) > line.radius).all(), vessel
    at = line.points[int(np.argmin(side.depth("hip", line.points)))]
    assert at[1] > side.at_height("femoral_vein", float(at[2]))[1]
