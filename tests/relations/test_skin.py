"""The body map's areas of skin: where they lie on the drawing, beside what, and that the drawing is of a person."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from lessons.mapchains import XY, Chain, crossings, flat, inside
from lessons.maptable import View, drawing

DRAWING = drawing()
VIEWS, NERVES, DERMATOMES = DRAWING.views, DRAWING.layers["nerves"], DRAWING.layers["dermatomes"]
PIECES = [
    pytest.param(VIEWS[view], chain, id=f"{patch.id}-{view}-{k}")
    for layer in DRAWING.layers.values()
    for patch in layer.values()
    for view, chains in patch.pieces.items()
    for k, chain in enumerate(chains)
]
#: Same surface point, different views: the foot is drawn as seen from a little above, ribs and perineum are rounded.
LOOSE = {"mtp1", "mtp3", "mtp5", "toe5", "heel", "perineum", "rib_lowest"}


def rim(view: View) -> Chain:
    return flat(view.whole)


def beyond(chain: Chain, point: XY) -> float:
    """How far a point lies outside a closed chain, drawing units."""
    return 0.0 if inside(chain, point) else min(math.dist(point, q) for q in chain)


def front(patch: str, view: str = "front") -> Chain:
    (chain,) = NERVES[patch].pieces[view]
    return chain


def between(a: XY, b: XY, share: float = 0.5) -> XY:
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def middle_of_thigh(y: float) -> float:
    """x of the middle of the left thigh at a height, front view."""
    edge = rim(VIEWS["front"])
    xs = [x for x in crossings(edge, [q[1] for q in edge], y) if x > 0.0]
    assert len(xs) == 2
    return sum(xs) / 2.0


def crosses(a: XY, b: XY, c: XY, d: XY) -> bool:
    def turn(p: XY, q: XY, r: XY) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return turn(a, b, c) * turn(a, b, d) < -1e-12 and turn(c, d, a) * turn(c, d, b) < -1e-12


# --- the drawing


@pytest.mark.parametrize("view", VIEWS.values(), ids=VIEWS)
def test_surface_points_and_lines_lie_on_the_body(view: View) -> None:
    edge = rim(view)
    assert {name: d for name, p in view.points.items() if (d := beyond(edge, p)) > 0.6} == {}
    assert {line.name for line in view.lines if max(beyond(edge, p) for p in line.points) > 0.8} == set()


def test_a_surface_point_has_one_height_in_every_view() -> None:
    for name in {name for view in VIEWS.values() for name in view.points} - {"toe1"}:
        heights = [view.points[name][1] for view in VIEWS.values() if name in view.points]
        assert max(heights) - min(heights) < (3.2 if name in LOOSE else 1.4), name


def test_the_drawing_has_an_adults_proportions() -> None:
    # Common practice in figure drawing, no source: crotch near half of the height, knee joint a little over a quarter.
    height = 100.0 / 0.65
    sole, points = 101.0, VIEWS["front"].points
    assert 0.45 < (sole - points["perineum"][1]) / height < 0.51
    assert 0.24 < (sole - points["femoral_condyle_medial"][1]) / height < 0.30


# --- every area


@pytest.mark.parametrize(("view", "chain"), PIECES)
def test_an_area_lies_on_the_body_and_never_crosses_itself_or_the_midline(view: View, chain: Chain) -> None:
    edge = rim(view)
    assert max(beyond(edge, p) for p in chain) < 0.35
    if view.mirror:
        assert min(x for x, _ in chain) > -0.05
    sides = [(a, b) for a, b in zip(chain, chain[1:] + chain[:1], strict=True) if math.dist(a, b) > 1e-9]
    for i, (a, b) in enumerate(sides):
        for c, d in sides[i + 2 :]:
            assert not crosses(a, b, c, d), (a, c)
    area = abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(chain, chain[1:] + chain[:1], strict=True))) / 2.0
    assert area > 1.5


def test_every_area_is_marked_as_construction() -> None:
    for patch in NERVES.values():
        assert patch.source == ("judgement",)
        assert patch.nerve
    for patch in DERMATOMES.values():
        assert patch.source == ("from_memory",)
        assert not patch.nerve


# --- dermatomes


def key_points() -> dict[str, tuple[str, XY]]:
    """Where the standard touches, written here from the published words.

    International Standards for Neurological Classification of Spinal Cord Injury, key sensory points, as a public
    restatement has them (T12 to L3), and Spinal Cord 2016, "Sensitivity of the foot key points" (L4, L5, S1).
    """
    f, outer = VIEWS["front"].points, VIEWS["outer"].points
    t12 = between(f["asis"], f["pubic_tubercle"])  # midpoint of the inguinal ligament
    l2 = between(t12, f["femoral_condyle_medial"])  # half way from there to the medial femoral condyle
    return {
        "T12": ("front", t12),
        "L1": ("front", between(t12, l2)),  # midway between the points of T12 and L2
        "L2": ("front", l2),
        "L3": ("front", f["femoral_condyle_medial"]),
        "L4": ("front", f["malleolus_medial"]),
        "L5": ("front", f["mtp3"]),  # dorsum of the foot at the third metatarsophalangeal joint
        "S1": ("outer", outer["heel_lateral"]),  # lateral aspect of the calcaneus
    }


@pytest.mark.parametrize("level", DERMATOMES)
def test_a_key_point_lies_in_its_own_dermatome_and_no_other(level: str) -> None:
    view, spot = key_points()[level]
    held = {i for i, patch in DERMATOMES.items() if any(inside(c, spot) for c in patch.pieces.get(view, ()))}
    assert held == {level}


def test_the_dots_stand_where_the_standard_touches() -> None:
    assert set(DRAWING.keys) == set(DERMATOMES)
    for level, (view, spot) in key_points().items():
        key = DRAWING.keys[level]
        assert key.view == view
        assert math.dist(key.place, spot) < 0.5


@pytest.mark.parametrize("view", VIEWS.values(), ids=VIEWS)
def test_dermatomes_share_borders_but_no_skin(view: View) -> None:
    chains = [c for patch in DERMATOMES.values() for c in patch.pieces.get(view.name, ())]
    spots = [(0.5 * i + 0.011, 0.8 * k + 0.013) for i in range(-30, 70) for k in range(-5, 132)]
    held = [sum(inside(c, spot) for c in chains) for spot in spots]
    assert sum(n > 0 for n in held) > 150
    assert sum(n > 1 for n in held) < 0.01 * sum(n > 0 for n in held)


# --- skin of nerves, as the textbooks have it in words (from memory; the areas overlap in life)


def test_areas_of_the_thigh_follow_each_other_from_inside_outwards() -> None:
    def across(chain: Chain) -> float:
        return sum(x for x, _ in chain) / len(chain)

    rows = ["obturator", "femoral_medial", "femoral_intermediate", "lfcn_anterior"]
    assert all(across(front(a)) < across(front(b)) for a, b in pairwise(rows))
    assert across(front("ilioinguinal")) < across(front("genitofemoral_femoral"))
    for x, y in front("lfcn_anterior"):
        assert not 30.0 < y < 56.0 or x > middle_of_thigh(y)
    for x, y in front("femoral_medial") + front("obturator"):
        assert not 30.0 < y < 56.0 or x < middle_of_thigh(y)


def test_areas_end_where_the_words_say() -> None:
    f, inner = VIEWS["front"].points, VIEWS["inner"].points
    lfcn = [y for _, y in front("lfcn_anterior")]
    assert f["asis"][1] < min(lfcn) < f["asis"][1] + 40.0 / DRAWING.unit_mm
    assert abs(max(lfcn) - f["patella_centre"][1]) < 2.0
    assert inside(front("saphenous"), f["malleolus_medial"])
    assert inside(front("saphenous", "inner"), inner["malleolus_medial"])
    assert not inside(front("saphenous"), f["mtp3"])
    assert max(x for x, _ in front("saphenous", "inner")) < inner["toe1"][0] - 2.0  # ends at the ball of the great toe
    assert inside(front("lumbosacral_l5"), f["mtp3"])
    assert max(y for _, y in front("subcostal_lateral", "outer")) < VIEWS["outer"].points["greater_trochanter"][1] + 1.5


def test_key_points_lie_in_the_skin_of_the_nerves_that_carry_their_roots() -> None:
    # Femoral nerve L2-L4: front of the thigh and, by the saphenous, inner leg; S1: outer border of the foot.
    points = key_points()
    assert any(inside(front(i), points["L2"][1]) for i in ("femoral_medial", "femoral_intermediate"))
    assert inside(front("saphenous"), points["L4"][1])
    assert inside(front("lumbosacral_l5"), points["L5"][1])
    assert inside(front("foot_outer", "outer"), points["S1"][1])


def test_skin_of_the_lumbosacral_trunk_and_of_s1_part_on_the_foot() -> None:
    for view in ("front", "outer"):
        for spot in front("foot_outer", view):
            assert not inside(front("lumbosacral_l5", view), spot) or beyond_edge(front("lumbosacral_l5", view), spot)


def beyond_edge(chain: Chain, spot: XY) -> bool:
    """Whether a point lies within a third of a unit of the chain itself."""
    return min(math.dist(spot, q) for q in chain) < 0.35


def test_only_the_obturator_area_is_variable() -> None:
    # Skin branch of the obturator nerve: absent in most; textbook words, from memory.
    assert {i for layer in DRAWING.layers.values() for i, patch in layer.items() if patch.variable} == {"obturator"}
