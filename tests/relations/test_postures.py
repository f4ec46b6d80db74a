"""Relations that hold however the patient lies, though a posture carries the plexus inside psoas."""

import pytest

from meshes.body import load_body
from meshes.specimen import Specimen
from meshes.structures import POSTURES, SIDES
from tests.relations.geometry import Side

#: Surfaces are built to about half a millimetre each.
SURFACE_MM = 1.0


@pytest.mark.parametrize("posture", POSTURES)
@pytest.mark.parametrize("which", SIDES)
def test_genitofemoral_lies_on_psoas_in_every_posture(posture: str, which: str) -> None:
    """10, from memory of standard handbooks; it leaves by the L3-4 disc (Clin Anat 2023), however the patient lies.

    Where it leaves as two nerves, each of them lies in the muscle or on it.
    """
    for variants in ((), (f"genitofemoral_split_{which}",)):
        side = Side(load_body(Specimen(posture=posture, variants=frozenset(variants))), which)
        for nerve in ("genitofemoral_genital", "genitofemoral_femoral") if variants else ("genitofemoral",):
            assert abs(side.leaves(nerve)[2] - side.mark("disc_l3_4_centre")[2]) < 10.0, nerve
            points = side.after(nerve)
            depth = side.depth("psoas_major", points[points[:, 2] > side.mark("psoas_brim_front")[2]])
            assert (depth > -SURFACE_MM).all(), nerve
            assert depth.max() < 2.0, nerve
