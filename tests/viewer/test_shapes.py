"""Meshes for drawing: normals, creases, light copies, fibres."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.normals import vertex_normals
from meshes.surfaces import Surface
from tests.viewer.synthetic import ball, can
from viewer.fibres import TILE_MM, bundle_coordinates, end_share, fibre_texture, sheet_coordinates
from viewer.polydata import creased, polydata, reduced

halves = st.tuples(st.floats(5.0, 60.0), st.floats(5.0, 60.0), st.floats(5.0, 60.0))


@given(halves)
def test_normals_of_an_ellipsoid_are_those_of_its_formula(half: tuple[float, float, float]) -> None:
    surface = ball((3.0, -2.0, 1.0), half)
    gradient = (surface.vertices - np.array([3.0, -2.0, 1.0])) / np.array(half) ** 2
    gradient /= np.linalg.norm(gradient, axis=1, keepdims=True)
    # Coarse rings on a flat ellipsoid bend the mesh by some degrees against the smooth shape.
    assert (np.einsum("ij,ij->i", gradient, vertex_normals(surface)) > 0.9).all()


def test_a_flat_cut_keeps_a_crisp_rim_and_smooth_shapes_are_left_alone() -> None:
    smooth, origin = creased(ball((0, 0, 0), (30, 30, 30)))
    assert len(origin) == len(smooth.vertices) == len(ball((0, 0, 0), (30, 30, 30)).vertices)
    cylinder = can((40.0, 30.0), 0.0, 100.0)
    bent, origin = creased(cylinder)
    assert bent.vertices == pytest.approx(cylinder.vertices[origin])
    normals = vertex_normals(bent)
    top = np.isclose(bent.vertices[:, 2], 100.0)
    slope = np.abs(normals[top, 2])
    assert ((slope > 0.99) | (slope < 0.75)).all()
    assert (slope > 0.99).sum() > 72


@settings(max_examples=20)
@given(st.floats(3.0, 15.0))
def test_a_light_copy_stays_within_a_cell_of_its_surface(cell_mm: float) -> None:
    surface = ball((0, 0, 0), (40, 30, 50), rings=40)
    light, stands_for = reduced(surface, cell_mm)
    assert len(stands_for) == len(light.vertices)
    assert light.faces.max() < len(light.vertices)
    assert len(light.faces) <= len(surface.faces)
    assert (np.linalg.norm(light.vertices - surface.vertices[stands_for], axis=1) < cell_mm * np.sqrt(3)).all()
    assert light.volume() == pytest.approx(surface.volume(), rel=0.04 * cell_mm)


def test_a_mesh_carries_what_it_was_given() -> None:
    surface = can((40.0, 30.0), 0.0, 100.0)
    count = len(surface.vertices)
    mesh = polydata(surface, np.zeros((count, 2)), np.linspace(0, 1, count))
    assert mesh.GetNumberOfPolys() == len(surface.faces)
    assert mesh.GetPointData().GetNormals().GetNumberOfTuples() == mesh.GetNumberOfPoints()
    assert mesh.GetPointData().GetTCoords().GetNumberOfComponents() == 2
    assert mesh.GetPointData().GetScalars().GetRange() == (0.0, 1.0)


def test_fibres_of_a_spindle_run_along_it_and_draw_together_at_its_ends() -> None:
    surface = ball((10, 0, 0), (20, 15, 120), rings=60)
    coordinates = bundle_coordinates(surface)
    around = np.arctan2(surface.vertices[:, 1] / 15.0, (surface.vertices[:, 0] - 10.0) / 20.0)
    middle = np.abs(surface.vertices[:, 2]) < 90.0
    for angle in (0.3, 1.2, -2.0):
        line = middle & (np.abs(np.angle(np.exp(1j * (around - angle)))) < 0.07)
        assert line.sum() > 20
        along = coordinates[line].std(axis=0).max()
        across = coordinates[middle].std(axis=0).min()
        assert along < 0.2 * across


@pytest.mark.parametrize("lean", [-50.0, 0.0, 50.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_fibres_of_a_sheet_lean_as_asked_on_both_sides(lean: float, sign: float) -> None:
    angle = np.linspace(0.4, 2.6, 60)
    points = np.array([[sign * 100 * np.sin(a), -100 * np.cos(a), z] for a in angle for z in (-20.0, 0.0, 20.0)])
    surface = Surface(np.ascontiguousarray(points), np.array([[0, 1, 2]], dtype=np.int32))
    across = sheet_coordinates(surface, lean)[:, 0] * TILE_MM
    # Step to the front along the fibre: towards smaller angles, and up by the tangent of the lean.
    centre_y = points[:, 1].mean()
    forward = -np.abs(np.arctan2(points[:, 0], -(points[:, 1] - centre_y)))
    fit = np.linalg.lstsq(np.column_stack([forward, points[:, 2], np.ones(len(points))]), across, rcond=None)[0]
    radius = float(np.median(np.hypot(points[:, 0], points[:, 1] - centre_y)))
    assert fit[0] / radius == pytest.approx(-np.sin(np.radians(lean)), abs=1e-6)
    assert fit[1] == pytest.approx(np.cos(np.radians(lean)), abs=1e-6)


def test_the_share_of_length_runs_from_head_to_foot() -> None:
    share = end_share(ball((0, 0, 0), (10, 10, 100)))
    height = ball((0, 0, 0), (10, 10, 100)).vertices[:, 2]
    assert share == pytest.approx((height.max() - height) / np.ptp(height), abs=0.02)


def test_the_texture_repeats_without_a_seam_and_is_subtle() -> None:
    picture = fibre_texture().astype(float)
    inner = np.abs(np.diff(picture, axis=1)).mean()
    assert np.abs(picture[:, 0] - picture[:, -1]).mean() < 1.5 * inner
    assert np.abs(picture[0] - picture[-1]).mean() < 1.5 * np.abs(np.diff(picture, axis=0)).mean()
    assert picture.min() > 150
    assert 10 < picture.std() < 30
