"""Our muscle paths against points of two open torso models: one lineage, so one witness.

torso_points.csv: right side, millimetres out of the midline, to the front and up, as the packages myo-sim 0.2.4
(Apache-2.0, torso part MIT) and pose2sim 0.10.49 (BSD-3) give them, each in its own origin. Only what does not depend
on origin and lean is compared: distances from the midline, spacing, order. The tables are not fitted to them.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from meshes.body import Body
from meshes.gauges.discs import psoas_border
from meshes.gauges.pelvis import quadratus_attachment
from tests.relations.geometry import Side

LEVELS = ("L1-2", "L2-3", "L3-4", "L4-5")


def _points() -> dict[str, list[np.ndarray]]:
    """point -> (out, front, up) of each model; what a model does not give is nan."""
    found: dict[str, list[np.ndarray]] = {}
    path = Path(__file__).with_name("torso_points.csv")
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            place = np.array([float(row[k] or "nan") for k in ("out_mm", "front_mm", "up_mm")])
            found.setdefault(row["point"], []).append(place)
    return found


POINTS = _points()


def _out(prefix: str) -> list[float]:
    return [float(place[0]) for point, places in POINTS.items() if point.startswith(prefix) for place in places]


@pytest.fixture(params=("left", "right"))
def side(request: pytest.FixtureRequest, alder: Body) -> Side:
    return Side(alder, request.param)


@pytest.mark.parametrize(("upper", "lower"), [("L1-2", "L2-3"), ("L2-3", "L3-4"), ("L3-4", "L4-5"), ("L4-5", "L5-S1")])
def test_discs_are_spaced_as_the_joints(alder: Body, upper: str, lower: str) -> None:
    """Within 10 % of the models' joints, which stand 31 to 36 mm apart."""
    names = [f"joint_{level.lower().replace('-', '_')}" for level in (upper, lower)]
    theirs = [float(np.linalg.norm(a - b)) for a, b in zip(POINTS[names[0]], POINTS[names[1]], strict=True)]
    discs = [alder.landmarks[name.replace("joint", "disc") + "_centre"] for name in names]
    ours = float(np.linalg.norm(discs[0] - discs[1]))
    assert 0.9 * min(theirs) < ours < 1.1 * max(theirs)


@pytest.mark.parametrize("level", LEVELS)
def test_psoas_arises_19_to_28_mm_from_the_midline(side: Side, level: str) -> None:
    origins = [out for out in _out("psoas_l") if out]
    assert (min(origins), max(origins)) == (19.0, 28.3)
    assert min(origins) <= psoas_border(side.body, level, "inner", side.side) <= max(origins)


def test_psoas_swings_out_on_its_way_to_the_brim(side: Side) -> None:
    """Theirs by some 50 mm from its origins to the brim; ours by at least three fifths of that."""
    theirs = min(_out("psoas_brim")) - float(np.mean(_out("psoas_l")))
    brim = side.cut_at("psoas_major", float(side.mark("iliopubic_eminence")[2]))
    ours = float(side.out(brim.centroid)) - psoas_border(side.body, "L3-4", "inner", side.side)
    assert ours > 0.6 * theirs


def test_quadratus_tapers_from_crest_to_rib(side: Side) -> None:
    crest, rib = float(np.mean(_out("quadratus_crest"))), float(np.mean(_out("quadratus_rib")))
    ours = [quadratus_attachment(side.body, to, side.side) for to in ("hip+iliolumbar_ligament", "rib_12")]
    assert ours[0] > ours[1]
    assert ours[1] == pytest.approx(rib, abs=12.0)
    assert crest > rib


def test_quadratus_is_as_long_as_theirs(side: Side) -> None:
    """From the middle of its crest to the middle of its rib: as long as their fibres, inner to outer, within 5 mm."""
    theirs = [
        float(np.linalg.norm(a - b))
        for fibre in (1, 2, 3)
        for a, b in zip(POINTS[f"quadratus_crest_{fibre}"], POINTS[f"quadratus_rib_{fibre}"], strict=True)
    ]
    muscle = side.vertices("quadratus_lumborum")
    low, high = (muscle[side.depth(bone, muscle) < 3.0].mean(axis=0) for bone in ("hip", "rib_12"))
    assert min(theirs) - 5.0 < float(np.linalg.norm(high - low)) < max(theirs) + 5.0


def test_the_crest_stands_just_above_the_l4_5_joint(alder: Body) -> None:
    """Theirs: the outer crest point of quadratus 3 to 8 mm above the joint; ours: crest 0 to 15 above the disc."""
    theirs = [float((a - b)[2]) for a, b in zip(POINTS["quadratus_crest_3"], POINTS["joint_l4_5"], strict=True)]
    assert min(theirs) > 0.0
    ours = float(alder.surfaces["hip_left"].vertices[:, 2].max() - alder.landmarks["disc_l4_5_centre"][2])
    assert 0.0 < ours < 15.0
