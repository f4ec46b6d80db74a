"""Layers along a portal, against solids whose borders are known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.body import Body
from meshes.curves import Array
from meshes.layers import Layer, Span, joined, layers_along, planes, stretches_along
from meshes.nearby import Nearby
from meshes.portal import Portal, place
from meshes.specimen import Specimen
from meshes.structures import Structure
from meshes.surfaces import Surface
from meshes.surfaces import joined as one_surface
from tests.contact.bodies import box, ellipsoid, made_up_body

BODY = made_up_body()
NEARBY = Nearby(BODY.surfaces)
X = np.array([1.0, 0.0, 0.0])


def listed(**options: Any) -> list[Layer]:
    words: dict[str, Any] = {"level": "L3-4", "side": "left", "approach": "lateral", "at": 0.5, "radius_mm": 11.0}
    return list(layers_along(BODY, place(BODY, **(words | options)), NEARBY))


def told(layers: list[Layer], by: str) -> list[tuple[str, float, float]]:
    return [(x.id, round(x.from_mm, 6), round(x.to_mm, 6)) for x in layers if x.by == by]


def spans_of(rows: Iterable[tuple[Any, ...]]) -> Array:
    """The last two columns of rows: (n, 2)."""
    return np.array([row[-2:] for row in rows])


def spans_along(portal: Portal, nearby: Nearby) -> dict[str, list[list[Span]]]:
    """Id -> for the axis and each rim ray its stretches."""
    found = stretches_along(portal, nearby)
    out: dict[str, list[list[Span]]] = {}
    for owner, ray, a, b in zip(found.owner, found.ray, found.from_mm, found.to_mm, strict=True):
        out.setdefault(nearby.ids[owner], [[] for _ in range(33)])[ray].append((float(a), float(b)))
    return out


def portal_along_x(start: float, end: float, radius: float = 5.0) -> Portal:
    """A portal on the x axis, running towards -x."""
    return Portal(
        "L3-4", "left", "lateral", 0.5, "II", radius, 0.0, 0.0, 0.0, start * X, end * X, -X
    )  # fmt: skip


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_whole_way_to_the_disc_in_order(side: str) -> None:
    way = [
        ("skin", 0.0, 0.0),
        ("subcutaneous_fat", 0.0, 21.7),
        (f"external_oblique_{side}", 21.7, 29.7),
        (f"internal_oblique_{side}", 29.9, 39.7),
        (f"transversus_abdominis_{side}", 39.7, 49.7),
        ("transversalis_fascia", 49.7, 49.7),
        ("retroperitoneal_fat", 49.7, 90.9),
        ("psoas_fascia", 90.9, 90.9),
        (f"psoas_major_{side}", 90.9, 124.6),
        ("retroperitoneal_fat", 124.6, 125.3),
        ("disc_l2_3", 125.3, 125.3),
    ]
    found = told(listed(side=side, radius_mm=0.01, at=0.4, level="L2-3"), "axis")
    assert [x[0] for x in found] == [x[0] for x in way]
    assert spans_of(found) == pytest.approx(spans_of(way), abs=0.3)


def test_layers_meet_where_the_solids_meet() -> None:
    layers = listed(at=0.5)
    by_id = {x.id: x for x in layers}
    assert by_id["external_oblique_left"].from_mm == pytest.approx(150.0 - 128.0)
    assert by_id["external_oblique_left"].to_mm == pytest.approx(150.0 - 120.0)
    assert by_id["transversus_abdominis_left"].to_mm == pytest.approx(150.0 - 100.0)
    assert by_id["transversalis_fascia"].from_mm == by_id["transversus_abdominis_left"].to_mm
    assert by_id["psoas_fascia"].from_mm == by_id["psoas_major_left"].from_mm == pytest.approx(150.0 - 59.0)
    assert by_id["disc_l3_4"] == Layer("disc_l3_4", "disc l3 4", 125.0, 125.0, "axis")


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["lateral", "oblique", "posterolateral", "anterior"]),
    st.sampled_from(["T12-L1", "L1-2", "L2-3", "L3-4", "L4-5", "L5-S1"]),
    st.sampled_from(["left", "right"]),
    st.floats(0.05, 0.95),
    st.floats(-15.0, 15.0),
    st.floats(0.0, 25.0),
)
def test_the_list_is_ordered_starts_at_the_skin_and_leaves_no_gap(
    approach: str, level: str, side: str, at: float, tilt: float, depth: float
) -> None:
    portal = place(BODY, level, side, approach, at, 8.0, depth, tilt, -tilt)
    layers = layers_along(BODY, portal, NEARBY)
    starts = [x.from_mm for x in layers]
    assert starts == sorted(starts)
    assert layers[0].id == "skin"
    assert all(0.0 <= x.from_mm <= x.to_mm <= portal.length_mm + 1e-9 for x in layers)
    covered = joined((x.from_mm, x.to_mm) for x in layers if x.by == "axis")
    gaps = [b[0] - a[1] for a, b in pairwise(covered)]
    border = portal.length_mm - depth
    assert all(gap <= 0.5 for gap, a in zip(gaps, covered, strict=False) if a[1] < border)
    disc = next(x for x in layers if x.id == portal.disc)
    assert disc.from_mm <= border + 1e-9
    assert disc.to_mm >= border - 1e-9


def test_past_the_border_the_disc_has_the_depth_asked_for() -> None:
    disc = next(x for x in listed(depth_mm=12.0) if x.id == "disc_l3_4")
    assert [disc.from_mm, disc.to_mm] == pytest.approx([125.0, 137.0])


def test_what_only_the_rim_meets_is_told_as_rim() -> None:
    layers = listed(level="L1-2")
    rib = next(x for x in layers if x.id == "rib_12_left")
    assert rib.by == "rim"
    assert 50.0 < rib.from_mm < rib.to_mm < 90.0
    assert {x.by for x in layers if x.id == "psoas_major_left"} == {"axis"}


def test_the_fascia_of_a_muscle_met_by_the_rim_is_met_by_the_rim() -> None:
    layers = listed(approach="posterolateral", level="L4-5", at=0.0, radius_mm=4.0)
    fascia = next(x for x in layers if x.id == "psoas_fascia")
    psoas = next(x for x in layers if x.id == "psoas_major_left")
    assert (fascia.by, fascia.from_mm) == ("rim", psoas.from_mm)


def test_fat_behind_the_back_muscles_is_retroperitoneal_where_no_flat_muscle_is_met() -> None:
    fat = [
        x.id for x in listed(approach="posterolateral", level="L4-5", at=0.0, radius_mm=4.0) if x.id.endswith("_fat")
    ]
    assert fat == ["subcutaneous_fat", "retroperitoneal_fat"]


def made_of(parts: dict[str, Surface]) -> tuple[Body, Nearby]:
    """A body of nothing but these solids, in a ball of skin."""
    surfaces = {"skin": ellipsoid((0, 0, 0), (150, 150, 150)), "disc_l3_4": box((-5, -5, -5), (5, 5, 5)), **parts}
    structures = {n: Structure(n, n, n, "muscle") for n in surfaces}
    body = Body(Specimen(), BODY.landmarks, structures, surfaces, {})
    return body, Nearby(surfaces)


def test_fat_between_the_muscles_of_the_wall_is_neither_outside_nor_inside() -> None:
    body, nearby = made_of(
        {
            "external_oblique_left": box((110, -50, -50), (120, 50, 50)),
            "transversus_abdominis_left": box((80, -50, -50), (100, 50, 50)),
        }
    )
    assert told(list(layers_along(body, portal_along_x(150, 5), nearby)), "axis") == [
        ("skin", 0.0, 0.0),
        ("subcutaneous_fat", 0.0, 30.0),
        ("external_oblique_left", 30.0, 40.0),
        ("intermuscular_fat", 40.0, 50.0),
        ("transversus_abdominis_left", 50.0, 70.0),
        ("transversalis_fascia", 70.0, 70.0),
        ("retroperitoneal_fat", 70.0, 145.0),
        ("disc_l3_4", 145.0, 145.0),
    ]


def test_where_no_wall_is_met_fat_is_parted_where_the_wall_is_nearest() -> None:
    body, nearby = made_of({"external_oblique_left": box((90, 30, -50), (120, 50, 50))})
    fat = [x for x in layers_along(body, portal_along_x(150, 5), nearby) if x.id.endswith("_fat")]
    assert [x.id for x in fat] == ["subcutaneous_fat", "retroperitoneal_fat"]
    assert fat[0].to_mm == fat[1].from_mm
    assert 30.0 <= fat[0].to_mm <= 60.0


def test_behind_a_bone_no_fat_is_subcutaneous() -> None:
    body, _ = made_of({"external_oblique_left": box((20, 30, -50), (50, 50, 50))})
    surfaces = {**body.surfaces, "hip_left": box((90, -20, -20), (110, 20, 20))}
    body = replace(body, surfaces=surfaces, structures={n: Structure(n, n, n, "bone") for n in surfaces})
    fat = [
        (x.id, x.from_mm, x.to_mm)
        for x in layers_along(body, portal_along_x(150, 5), Nearby(surfaces))
        if "fat" in x.id
    ]
    assert [x[0] for x in fat] == ["subcutaneous_fat", "retroperitoneal_fat"]
    assert spans_of(fat) == pytest.approx(np.array([(0.0, 40.0), (60.0, 145.0)]))


def test_overlapping_and_nested_solids_keep_their_own_borders() -> None:
    _, nearby = made_of(
        {
            "a": box((40, -20, -20), (90, 20, 20)),
            "b": box((60, -20, -20), (110, 20, 20)),
            "inside_a": box((45, -3, -3), (50, 3, 3)),
            "of_two_parts": one_surface([box((20, -9, -9), (34, 9, 9)), box((30, -9, -9), (38, 9, 9))]),
        }
    )
    spans = spans_along(portal_along_x(150, 5), nearby)
    way = {"a": (60.0, 110.0), "b": (40.0, 90.0), "inside_a": (100.0, 105.0), "of_two_parts": (112.0, 130.0)}
    assert {n for n, of in spans.items() if of[0]} == set(way)
    for name, span in way.items():
        assert spans_of(spans[name][0]) == pytest.approx(np.array([span]))


def test_a_solid_that_reaches_past_the_end_is_cut_there_and_one_behind_the_skin_at_the_skin() -> None:
    _, nearby = made_of({"deep": box((-60, -20, -20), (60, 20, 20)), "shallow": box((140, -9, -9), (170, 9, 9))})
    spans = spans_along(portal_along_x(150, 5), nearby)
    assert spans_of(spans["deep"][0]) == pytest.approx(np.array([(90.0, 145.0)]))
    assert spans_of(spans["shallow"][0]) == pytest.approx(np.array([(0.0, 10.0)]))


centres = st.tuples(st.floats(20, 100), st.floats(-30, 30), st.floats(-30, 30))
halves = st.tuples(*[st.floats(4, 30)] * 3)


def chord(centre: Array, half: Array, ray: Array) -> tuple[float, float] | None:
    """Depths at which a line along -x from x = 150, across at `ray` (y, z), enters and leaves an ellipsoid."""
    rest = 1.0 - (((ray - centre[1:]) / half[1:]) ** 2).sum()
    if rest <= 0.0:
        return None
    reach = float(half[0] * np.sqrt(rest))
    return float(150.0 - centre[0] - reach), float(150.0 - centre[0] + reach)


@settings(max_examples=80, deadline=None)
@given(centres, halves, st.floats(0.5, 15.0))
def test_rays_through_an_ellipsoid_also_where_they_graze_it(
    centre: tuple[float, ...], half: tuple[float, ...], radius: float
) -> None:
    rings = 40
    nearby = Nearby({"ball": ellipsoid(centre, half, rings)})
    c, h = np.array(centre), np.array(half)
    inner = h * np.cos(np.pi / (rings + 1)) ** 2
    found = spans_along(portal_along_x(150, -20, radius), nearby).get("ball", [[]] * 33)
    angle = np.linspace(0.0, 2.0 * np.pi, 32, endpoint=False)
    # The first axis across leans to the head, the second is direction x first: (0, 0, 1) and -x x z = y.
    rays = np.concatenate([np.zeros((1, 2)), radius * np.stack([np.sin(angle), np.cos(angle)], axis=1)])
    for ray, spans in zip(rays, found, strict=True):
        most, least = chord(c, h, ray), chord(c, inner, ray)
        if most is None:
            assert spans == []
        if least is not None:
            assert most is not None
            ((a, b),) = spans
            assert most[0] - 1e-6 <= a <= least[0] + 1e-6
            assert least[1] - 1e-6 <= b <= most[1] + 1e-6


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(10, 140), st.integers(1, 40)), min_size=1, max_size=5),
    st.sampled_from([0.0, 5.0, 10.0]),
)
def test_boxes_whose_edges_the_rays_run_along(slabs: list[tuple[int, int]], half: float) -> None:
    """The axis runs in the shared edge of two rows of faces, rim rays along the boxes' own edges."""
    nearby = Nearby(
        {
            f"slab_{i}": box((x - w, -half - 5, -half - 5), (x, half + 5, half + 5), 5.0)
            for i, (x, w) in enumerate(slabs)
        }
    )
    spans = spans_along(portal_along_x(150, 5, radius=half + 5.0), nearby)
    for i, (x, w) in enumerate(slabs):
        assert spans_of(spans[f"slab_{i}"][0]) == pytest.approx(np.array([(150.0 - x, min(150.0 - x + w, 145.0))]))
        assert all(len(ray) <= 1 for ray in spans[f"slab_{i}"])


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)).map(lambda p: (float(min(p)), float(max(p))))))
def test_joined_stretches_cover_the_same_points_and_stay_apart(spans: list[tuple[float, float]]) -> None:
    out = joined(spans)
    for x in np.arange(-0.25, 31.0, 0.5):
        assert any(a <= x <= b for a, b in out) == any(a <= x <= b for a, b in spans)
    assert all(a[1] < b[0] for a, b in pairwise(out))


def test_planes_name_every_place_of_fat_and_fascia_the_list_uses() -> None:
    assert set(planes().fat) == {"outside", "within", "inside"}
    assert {p.id for p in planes().fasciae} == {"transversalis_fascia", "psoas_fascia"}
