"""Numbers in the sentences of the cards: each is true of the average adult, and none is told unmeasured.

The figures are those of the tables' own sources, which build the body: this asks whether words and shape agree.
"""

import re
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from meshes.reference import all_courses
from meshes.story import story
from tests.relations.geometry import Side
from tests.relations.test_courses import _deep_ring, _on_quadratus

#: "About" says no more than this share.
ABOUT = 0.25
LFCN = "lateral_femoral_cutaneous"
#: What is a number that can be measured: a length, an angle, or a share of one.
NUMBER = (
    r"(?:about )?(?:a (?:quarter|fifth|half)|(?:more than )?\d+(?: to \d+)? (?:mm|degrees)|\d+ %|a few millimetres)"
    r"|dorsal third"
)


def _around(figure: float) -> tuple[float, float]:
    return figure * (1.0 - ABOUT), figure * (1.0 + ABOUT)


def _below_rib(side: Side) -> float:
    """From rib 12 to where the nerve leaves the outer border of quadratus."""
    return float(side.depth("rib_12", _on_quadratus(side, "subcostal")[-1:])[0])


def _below_rib_tip(side: Side) -> float:
    """Where the nerve is furthest from the midline, below the tip of rib 12."""
    points = side.points("subcostal")
    return float(side.mark("rib_12_tip")[2] - points[int(np.argmax(side.out(points))), 2])


def _behind_asis(side: Side) -> float:
    points = side.points("subcostal_lateral_cutaneous")
    return float(np.linalg.norm(points[int(np.argmin(side.depth("hip", points)))] - side.mark("asis")))


def _pierces(side: Side) -> tuple[float, float]:
    """Where the iliohypogastric nerve passes internal oblique: medial to the ASIS, and below it."""
    point, asis = side.pierces("iliohypogastric", "internal_oblique"), side.mark("asis")
    return float(side.out(asis) - side.out(point)), float(asis[2] - point[2])


def _above_ligament(side: Side) -> float:
    """The genital branch at the deep ring, from the middle of the ligament as seen from in front."""
    points, ring = side.points("genitofemoral_genital")[:, [0, 2]], _deep_ring(side)[[0, 2]]
    middle = 0.5 * (side.mark("asis") + side.mark("pubic_tubercle"))[[0, 2]]
    return float(np.linalg.norm(points[int(np.argmin(np.linalg.norm(points - ring, axis=1)))] - middle))


def _share_of_ligament(side: Side) -> float:
    asis, tubercle = side.mark("asis"), side.mark("pubic_tubercle")
    line = tubercle - asis
    return float((side.ligament(LFCN) - asis) @ line / (line @ line))


def _front_edge(side: Side) -> float:
    """The front edge of the femoral nerve at the L4-5 disc, as a share of its depth from the back."""
    line, frame = side.line("femoral"), side.discs["L4-5"]
    local = frame.local(line.points)
    at = int(np.argmin(np.abs(local[:, 2])))
    disc = side.cut("disc_l4_5", frame).points[:, 1]
    return float((disc.max() - local[at, 1] + line.radius[at]) / (disc.max() - disc.min()))


def _below_ligament(side: Side) -> float:
    return side.line("femoral").length - side.ligament_mm("femoral")


def _canal_lateral(side: Side) -> float:
    end = side.line("obturator").points[-1:]
    return float(side.out(end)[0] - side.out(side.mark("pubic_tubercle")))


def _canal_straight(side: Side) -> float:
    return float(np.linalg.norm(side.line("obturator").points[-1] - side.mark("pubic_tubercle")))


def _medial_to_joint(side: Side) -> float:
    joint = side.mark("sacroiliac_front")
    return float(side.out(joint) - side.out(side.at_height("lumbosacral_trunk", float(joint[2]))))


def _medial_to_psoas(side: Side) -> float:
    """The sympathetic trunk at the L4-5 disc."""
    point = side.at_height("sympathetic_trunk", float(side.mark("disc_l4_5_centre")[2]))
    return float(side.depth("psoas_major", point[None])[0])


def _rib_deg(side: Side) -> float:
    step = side.mark("rib_12_tip") - side.mark("rib_12_head")
    return float(np.degrees(np.arctan2(-step[2], abs(step[0]))))


def _depth_in_psoas(nerve: str) -> Callable[[Side], float]:
    """How far forward a nerve comes inside psoas before it leaves it, as a share of the depth of the muscle."""

    def share(side: Side) -> float:
        points = side.points(nerve)
        inside = points[side.depth("psoas_major", points) < 0.0]
        muscle = [side.cut_at("psoas_major", float(p[2])).points[:, 1] for p in inside[::3]]
        return max(float((y.max() - p[1]) / (y.max() - y.min())) for p, y in zip(inside[::3], muscle, strict=True))

    return share


#: Structure, the words around the number, how it is measured, and between which bounds the words are true.
TOLD: list[tuple[str, str, Callable[[Side], float], tuple[float, float]]] = [
    ("subcostal", "the outer border of the muscle 15 to 30 mm below rib 12", _below_rib, (15.0, 30.0)),
    ("subcostal", "midaxillary line about 40 mm below the level of the tip", _below_rib_tip, _around(40.0)),
    ("subcostal_lateral_cutaneous", "the crest more than 60 mm behind the ASIS", _behind_asis, (60.0, np.inf)),
    ("iliohypogastric", "20 to 30 mm medial to the ASIS", lambda side: _pierces(side)[0], (20.0, 30.0)),
    ("iliohypogastric", "and about 10 mm below it", lambda side: _pierces(side)[1], _around(10.0)),
    ("iliohypogastric", "its dorsal third", _depth_in_psoas("iliohypogastric"), (0.0, 1.0 / 3.0 + 0.01)),
    ("ilioinguinal", "the dorsal third of the muscle", _depth_in_psoas("ilioinguinal"), (0.0, 1.0 / 3.0 + 0.01)),
    (LFCN, "the dorsal third of psoas", _depth_in_psoas(LFCN), (0.0, 1.0 / 3.0 + 0.01)),
    ("genitofemoral_genital", "about 12 mm above the middle of the inguinal ligament", _above_ligament, _around(12.0)),
    (LFCN, "about a fifth of the way to the pubic tubercle", _share_of_ligament, _around(0.2)),
    ("femoral", "about a quarter of the disc's depth from the back", _front_edge, _around(0.25)),
    ("femoral", "fans out about 20 mm below the ligament", _below_ligament, _around(20.0)),
    ("obturator", "about 17 mm lateral to the pubic tubercle", _canal_lateral, _around(17.0)),
    ("obturator", "30 mm from it in a straight line", _canal_straight, _around(30.0)),
    ("lumbosacral_trunk", "about 10 mm medial to the sacroiliac joint", _medial_to_joint, _around(10.0)),
    ("sympathetic_trunk", "a few millimetres medial to psoas", _medial_to_psoas, (1.0, 7.0)),
    ("rib_12", "at about 45 degrees", _rib_deg, _around(45.0)),
]


@pytest.mark.parametrize(("structure", "words", "measured", "bounds"), TOLD, ids=[f"{t[0]}: {t[1]}" for t in TOLD])
def test_a_number_that_is_told_is_true_of_the_body(
    side: Side, structure: str, words: str, measured: Callable[[Side], float], bounds: tuple[float, float]
) -> None:
    assert words in " ".join(story(side.body.structures[side.name(structure)]).sentences)
    assert bounds[0] <= measured(side) <= bounds[1]


def _numbers(side: Side) -> Iterator[tuple[str, str]]:
    """Every structure without its side, and every number of its card in any specimen."""
    for name, structure in side.body.structures.items():
        bare = name.removesuffix(f"_{side.side}")
        course = all_courses().get(bare)
        for variants in (set(), *({variant} for variant in (course.when if course else ()))):
            for found in re.findall(NUMBER, " ".join(story(structure, variants).sentences)):
                yield bare, found


def test_no_number_is_told_unmeasured(side: Side) -> None:
    found = set(_numbers(side))
    other = "_right" if side.side == "left" else "_left"
    assert len(found) >= len(TOLD)
    for name, number in found:
        if not name.endswith(other):
            assert any(name == told and number in words for told, words, *_ in TOLD), (name, number)
