"""What is near a point: against closed form, and against trimesh's own look at every triangle."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.around import inside, neighbours
from meshes.body import Body
from meshes.contact import Ready
from meshes.curves import Array
from meshes.structures import other_side
from meshes.tolerances import AROUND_MM
from tests.contact.bodies import PSOAS_HALF, PSOAS_LEFT, made_up_body

MADE_UP = Ready.of(made_up_body())
MIRROR = np.array([-1.0, 1.0, 1.0])


@pytest.fixture(scope="module")
def ready(alder: Body) -> Ready:
    return Ready.of(alder)


def by_id(ready: Ready, point: Array, within: float = AROUND_MM) -> dict[str, float]:
    found = neighbours(ready, point, within)
    distances = [n.distance_mm for n in found]
    assert distances == sorted(distances)
    assert len({n.structure.id for n in found}) == len(found)
    return {n.structure.id: n.distance_mm for n in found}


def naive_solid(body: Body, name: str, point: Array) -> float:
    """Distance to a surface by all of its triangles; negative where the solid angle they fill says inside."""
    corners = body.surfaces[name].triangles()
    nearest = trimesh.triangles.closest_point(corners, np.tile(point, (len(corners), 1)))
    distance = float(np.linalg.norm(nearest - point, axis=1).min())
    a, b, c = np.moveaxis(corners - point, 1, 0)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    other = (
        la * lb * lc
        + np.einsum("ij,ij->i", a, b) * lc
        + np.einsum("ij,ij->i", b, c) * la
        + np.einsum("ij,ij->i", c, a) * lb
    )
    winding = np.arctan2(volume, other).sum() / (2.0 * np.pi)
    held = winding > 0.5 and body.structures[name].kind != "skin"
    return -distance if held else distance


def naive_tube(body: Body, name: str, point: Array) -> float:
    """Distance to a tube by many balls along its middle line."""
    line = body.centrelines[name]
    arc = np.linspace(0.0, line.length, 20 * len(line.points))
    return float((np.linalg.norm(line.at(arc) - point, axis=1) - np.interp(arc, line.arc, line.radius)).min())


def test_inside_a_muscle_by_its_shape_and_a_nerve_in_it_by_its_line() -> None:
    point = np.array([PSOAS_LEFT, 0.0, 55.0])
    found = by_id(MADE_UP, point)
    assert found["psoas_major_left"] == pytest.approx(-min(PSOAS_HALF), rel=0.01)
    a, b = np.array([40.0, 12.0, 80.0]), np.array([45.0, 4.0, 38.0])
    along = (b - a) / np.linalg.norm(b - a)
    away = np.linalg.norm(np.cross(point - a, along))
    assert found["femoral_left"] == pytest.approx(away - 3.0, abs=1e-3)
    assert "femoral_right" not in found


def test_what_holds_the_point_is_listed_however_deep_it_lies() -> None:
    found = by_id(MADE_UP, np.array([PSOAS_LEFT, 0.0, 55.0]), 1.0)
    assert found["psoas_major_left"] < -10.0
    assert all(distance <= 1.0 for distance in found.values())


def test_skin_counts_by_its_surface_alone() -> None:
    assert "skin" not in by_id(MADE_UP, np.zeros(3))
    assert by_id(MADE_UP, np.array([145.0, 0.0, 50.0]))["skin"] == pytest.approx(5.0, abs=0.2)
    assert by_id(MADE_UP, np.array([155.0, 0.0, 50.0]))["skin"] == pytest.approx(5.0, abs=0.2)


def test_far_from_the_body_there_is_nothing() -> None:
    for far in (np.array([0.0, 0.0, 5000.0]), np.array([0.0, -5000.0, 0.0])):
        assert neighbours(MADE_UP, far) == []


@settings(max_examples=25)
@given(st.tuples(st.floats(-110.0, 110.0), st.floats(-70.0, 80.0), st.floats(-140.0, 160.0)))
def test_every_structure_and_every_distance_as_a_look_at_all_triangles_finds_them(
    alder: Body, ready: Ready, at: tuple[float, float, float]
) -> None:
    point = np.array(at)
    found = by_id(ready, point)
    low = {n: s.vertices.min(axis=0) for n, s in alder.surfaces.items()}
    high = {n: s.vertices.max(axis=0) for n, s in alder.surfaces.items()}
    for name in alder.structures:
        gap = np.maximum(np.maximum(low[name] - point, point - high[name]), 0.0)
        if np.linalg.norm(gap) > AROUND_MM + 1.0:
            assert name not in found
            continue
        tube = name in alder.centrelines
        naive = naive_tube(alder, name, point) if tube else naive_solid(alder, name, point)
        # Balls stand apart by a twentieth of a step of the middle line.
        close = 0.02 if tube else 1e-6
        if naive <= AROUND_MM - close:
            assert found[name] == pytest.approx(naive, abs=close), name
        elif naive > AROUND_MM + close:
            assert name not in found


@settings(max_examples=25)
@given(st.tuples(st.floats(-110.0, 110.0), st.floats(-70.0, 80.0), st.floats(-140.0, 160.0)))
def test_the_nearest_point_is_as_far_as_it_says_and_on_the_surface(
    alder: Body, ready: Ready, at: tuple[float, float, float]
) -> None:
    point = np.array(at)
    for n in neighbours(ready, point):
        assert np.linalg.norm(n.nearest_mm - point) == pytest.approx(abs(n.distance_mm), abs=1e-6)
        if n.structure.id in alder.centrelines:
            assert naive_tube(alder, n.structure.id, n.nearest_mm) <= 0.02


@settings(max_examples=25)
@given(st.tuples(st.floats(-110.0, 110.0), st.floats(-70.0, 80.0), st.floats(-140.0, 160.0)))
def test_the_mirror_image_of_a_point_has_the_mirror_image_of_its_neighbours(
    alder: Body, ready: Ready, at: tuple[float, float, float]
) -> None:
    point = np.array(at)
    kinds = ("nerve", "bone", "disc", "ligament", "muscle", "skin")
    here, there = (
        {
            n: d
            for n, d in by_id(ready, p).items()
            if alder.structures[n].kind in kinds and not n.startswith("diaphragm_crus")
        }
        for p in (point, point * MIRROR)
    )
    # What lies just within reach on one side may lie just out of it on the other, by rounding.
    edge = {n for n, d in here.items() if d > AROUND_MM - 1e-3}
    assert {other_side(n) for n in here.keys() - edge} <= there.keys()
    for name in here.keys() - edge:
        assert there[other_side(name)] == pytest.approx(here[name], abs=1e-3), name


def test_a_point_on_either_side_of_a_face_is_in_or_out() -> None:
    for x, held in ((79.99, False), (80.01, True), (99.99, True), (100.01, False)):
        assert ("hip_left" in inside(MADE_UP, np.array([x, 0.3, 0.7]), ["hip_left"])) is held
