"""Nerves that run otherwise in some people are cords as well: they bend in round bows, from memory of dissection."""

import numpy as np
import pytest

from meshes.body import Body, load_body
from meshes.gauges.space import angle_deg
from meshes.specimen import Specimen
from meshes.structures import SIDES

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
