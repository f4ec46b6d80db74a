"""Tubes are watertight whatever their line; volumes and areas meet their closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from meshes.curves import Centreline, frames
from meshes.surfaces import Surface, joined, ring_faces, tube, tubes
from tests.meshes.lines import MIRROR, centrelines, straight

CUBE = trimesh.creation.box(extents=(2.0, 3.0, 4.0))


def cube() -> Surface:
    return Surface(np.array(CUBE.vertices, dtype=np.float64), np.array(CUBE.faces, dtype=np.int32))


def ngon_share(sides: int) -> float:
    """Area of a regular polygon against its circle."""
    return float(sides * np.sin(2.0 * np.pi / sides) / (2.0 * np.pi))


def capsule_volume(length: float, radius: float, sides: int, cap_rings: int) -> float:
    """Volume of a prism over a polygon with ends of stacked frusta, by their closed forms."""
    angle = np.linspace(0.0, np.pi / 2.0, cap_rings + 1)
    wide, high = radius * np.cos(angle), radius * np.sin(angle)
    wide[-1] = 0.0
    cap = (np.pi / 3.0 * np.diff(high) * (wide[:-1] ** 2 + wide[:-1] * wide[1:] + wide[1:] ** 2)).sum()
    return ngon_share(sides) * float(np.pi * radius**2 * length + 2.0 * cap)


@given(centrelines(), st.integers(3, 16), st.integers(1, 5))
def test_a_tube_around_any_line_is_closed(line: Centreline, sides: int, cap_rings: int) -> None:
    surface = tube(line, sides, cap_rings)
    assert surface.is_closed()
    rings = len(line.points) + 2 * (cap_rings - 1)
    assert len(surface.vertices) == rings * sides + 2
    assert len(surface.faces) == 2 * rings * sides
    assert np.isfinite(surface.vertices).all()
    assert set(surface.faces.ravel()) == set(range(len(surface.vertices)))


@given(centrelines(samples=20))
def test_a_general_library_finds_every_tube_watertight_too(line: Centreline) -> None:
    surface = tube(line)
    mesh = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 2
    assert surface.volume() == pytest.approx(float(mesh.volume), rel=1e-6, abs=1e-6)
    assert surface.area() == pytest.approx(float(mesh.area), rel=1e-9)


@given(
    st.integers(0, 2**32 - 1),
    st.floats(0.2, 10.0),
    st.floats(1.0, 200.0),
    st.integers(3, 24),
    st.integers(1, 6),
    st.integers(2, 9),
)
def test_a_straight_tube_has_its_volume_and_looks_outwards(
    seed: int, radius: float, length: float, sides: int, cap_rings: int, samples: int
) -> None:
    draw = np.random.default_rng(seed)
    way = draw.normal(size=3)
    start = draw.normal(0.0, 100.0, 3)
    line = straight(start, start + length * way / np.linalg.norm(way), radius, samples)
    surface = tube(line, sides, cap_rings)
    assert surface.volume() == pytest.approx(capsule_volume(length, radius, sides, cap_rings), rel=1e-6)


def test_finer_tubes_come_to_the_volume_and_area_of_a_capsule() -> None:
    surface = tube(straight(np.zeros(3), np.array([0.0, 0.0, 50.0]), 4.0, 3), sides=256, cap_rings=64)
    assert surface.volume() == pytest.approx(np.pi * 16.0 * 50.0 + 4.0 / 3.0 * np.pi * 64.0, rel=3e-4)
    assert surface.area() == pytest.approx(2.0 * np.pi * 4.0 * 50.0 + 4.0 * np.pi * 16.0, rel=3e-4)


@pytest.mark.parametrize(("ring", "radius"), [(30.0, 3.0), (60.0, 8.0), (20.0, 1.0)])
def test_a_bent_tube_has_the_volume_of_its_section_times_its_length(ring: float, radius: float) -> None:
    """Pappus: a section swept along a curve, whose centre stays on the curve, fills area times length."""
    angle = np.linspace(0.0, np.pi, 721)
    points = np.stack([ring * np.cos(angle), ring * np.sin(angle), 0.0 * angle], axis=1)
    surface = tube(Centreline(points, np.full(721, radius)), sides=64, cap_rings=32)
    want = np.pi * radius**2 * np.pi * ring + 4.0 / 3.0 * np.pi * radius**3
    assert surface.volume() == pytest.approx(want, rel=3e-3)


def test_a_tapering_tube_has_the_volume_of_a_frustum() -> None:
    line = Centreline(np.linspace([0.0, 0.0, 0.0], [0.0, 60.0, 0.0], 61), np.linspace(5.0, 2.0, 61))
    surface = tube(line, sides=128, cap_rings=48)
    frustum = np.pi * 60.0 / 3.0 * (25.0 + 10.0 + 4.0)
    assert surface.volume() == pytest.approx(frustum + 2.0 / 3.0 * np.pi * (125.0 + 8.0), rel=1e-3)


@given(centrelines())
def test_every_ring_stands_across_the_line_at_its_radius(line: Centreline) -> None:
    sides, cap_rings = 12, 3
    surface = tube(line, sides, cap_rings)
    body = surface.vertices[(cap_rings - 1) * sides :][: len(line.points) * sides].reshape(-1, sides, 3)
    spokes = body - line.points[:, None]
    np.testing.assert_allclose(np.linalg.norm(spokes, axis=2), line.radius[:, None] * np.ones(sides), rtol=1e-6)
    tangents = frames(line.points.T, np.array([0]))[0].T
    assert np.abs(np.einsum("msj,mj->ms", spokes, tangents)).max() < 1e-6 * line.radius.max()
    for end, cut in ((0, surface.vertices[: (cap_rings - 1) * sides]), (-1, surface.vertices[-sides * 2 - 2 : -2])):
        away = np.linalg.norm(cut - line.points[end], axis=1)
        np.testing.assert_allclose(away, line.radius[end], rtol=1e-6)
    poles = surface.vertices[-2:] - line.points[[0, -1]]
    np.testing.assert_allclose(
        poles, np.array([-1.0, 1.0])[:, None] * line.radius[[0, -1], None] * tangents[[0, -1]], atol=1e-6
    )


@given(st.lists(centrelines(), min_size=2, max_size=5))
def test_tubes_made_together_are_those_made_alone(lines: list[Centreline]) -> None:
    named = {f"n{i}": line for i, line in enumerate(lines)}
    together = tubes(named)
    assert list(together) == list(named)
    for name, line in named.items():
        alone = tube(line)
        np.testing.assert_array_equal(together[name].faces, alone.faces)
        np.testing.assert_allclose(together[name].vertices, alone.vertices, atol=1e-9)


def test_no_lines_make_no_tubes() -> None:
    assert tubes({}) == {}


@given(centrelines(samples=20))
def test_a_mirrored_surface_is_closed_looks_outwards_and_comes_back(line: Centreline) -> None:
    surface = tube(line)
    other = surface.mirrored()
    assert other.is_closed()
    assert other.volume() == pytest.approx(surface.volume(), rel=1e-9, abs=1e-6)
    np.testing.assert_array_equal(other.vertices, surface.vertices * MIRROR)
    np.testing.assert_array_equal(other.mirrored().vertices, surface.vertices)
    np.testing.assert_array_equal(other.mirrored().faces, surface.faces)


@given(centrelines(samples=20), st.sampled_from([4, 8, 12]))
def test_the_tube_of_a_mirrored_line_has_the_mirrored_vertices(line: Centreline, sides: int) -> None:
    """Only the diagonals of its walls run the other way."""
    ours, theirs = tube(line.mirrored(), sides), tube(line, sides).mirrored()
    rings = np.stack([s.vertices[:-2].reshape(-1, sides, 3) for s in (ours, theirs)])
    away = np.linalg.norm(rings[0][:, :, None] - rings[1][:, None], axis=3)
    assert away.min(axis=2).max() < 1e-6 * line.radius.max()
    assert away.min(axis=1).max() < 1e-6 * line.radius.max()
    np.testing.assert_allclose(ours.vertices[-2:], theirs.vertices[-2:], atol=1e-9)


def test_a_box_has_its_volume_and_area() -> None:
    assert cube().volume() == pytest.approx(24.0)
    assert cube().area() == pytest.approx(52.0)
    assert cube().moved(cube().vertices * 2.0).volume() == pytest.approx(192.0)
    assert cube().triangles().shape == (12, 3, 3)


def test_a_hole_a_turned_face_and_a_doubled_face_are_not_closed() -> None:
    faces = cube().faces
    assert cube().is_closed()
    turned = faces.copy()
    turned[0] = turned[0, ::-1]
    for broken in (faces[1:], turned, np.concatenate([faces, faces[:1]])):
        assert not Surface(cube().vertices.copy(), broken.copy()).is_closed()
    inside_out = Surface(cube().vertices.copy(), np.ascontiguousarray(faces[:, ::-1]))
    assert inside_out.is_closed()
    assert inside_out.volume() == pytest.approx(-24.0)


def test_parts_joined_keep_their_volumes_and_stay_closed() -> None:
    far = cube().moved(cube().vertices + 10.0)
    both = joined([cube(), far])
    assert both.is_closed()
    assert both.volume() == pytest.approx(48.0)
    assert both.area() == pytest.approx(104.0)
    np.testing.assert_array_equal(both.triangles()[12:], far.triangles())


@given(st.integers(2, 30), st.integers(3, 30))
def test_rings_and_poles_make_one_closed_skin(rings: int, sides: int) -> None:
    faces = ring_faces(rings, sides)
    vertices = np.random.default_rng(0).normal(size=(rings * sides + 2, 3))
    assert Surface(vertices, faces.copy()).is_closed()
    assert len(vertices) - 3 * len(faces) // 2 + len(faces) == 2


def test_a_surface_cannot_be_written_on() -> None:
    with pytest.raises(ValueError, match="read-only"):
        cube().vertices[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        ring_faces(4, 5)[0] = 1
