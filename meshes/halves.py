"""Solids that are the mirror image of themselves: built on the left, reflected, closed along the midplane."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.fields import Field, as_surface, contour, smoothed, thinned
from meshes.mending import edges_of, mended, shared_by
from meshes.surfaces import Faces, Surface
from meshes.tolerances import MIDPLANE_WEIGHT


def symmetric_surface(half: Field, smooth_passes: int = 20, keep_share: float = 1.0) -> Surface:
    """The closed surface of a field that covers only the left, exactly mirror symmetric.

    half : a field whose first plane is the midplane (`is_half`)
    Smoothed as a whole, so that no seam shows; thinned on the left, so that both sides have the same faces.
    """
    left = as_surface(contour(half))
    whole = reflected(left.vertices, left.faces)
    smooth = as_surface(smoothed(as_poly(whole), smooth_passes))
    count = len(left.vertices)
    vertices = smooth.vertices[:count].copy()
    vertices[left.vertices[:, 0] == 0.0, 0] = 0.0
    fine = as_poly(Surface(vertices, left.faces.copy()))
    while True:  # thinning may pinch a thin plate shut beyond mending: then less of it is done
        surface = mended(_reflected_thin(as_surface(thinned(fine, keep_share, MIDPLANE_WEIGHT)), half.spacing))
        if keep_share >= 1.0 or surface.is_closed():
            return surface
        keep_share *= 1.2


def _reflected_thin(thin: Surface, spacing: float) -> Surface:
    """A thinned left half, its open edge back on the midplane, with its mirror image."""
    vertices = thin.vertices.copy()
    rim = _open_edges(thin.faces)
    vertices[np.unique(rim[(np.abs(vertices[rim, 0]) < 0.5 * spacing).all(axis=1)]), 0] = 0.0
    return reflected(*_without_chords(vertices, thin.faces.copy()))


def reflected(vertices: Array, faces: Faces) -> Surface:
    """A left half that is open at the midplane, joined with its mirror image; the left's vertices stay first."""
    rim = _rim(vertices, faces)
    twin = np.arange(len(vertices))
    twin[~rim] = len(vertices) + np.arange(int((~rim).sum()))
    both = np.concatenate([vertices, vertices[~rim] * np.array([-1.0, 1.0, 1.0])])
    return Surface(both, np.concatenate([faces, twin[faces][:, ::-1]]).astype(np.int32))


def _open_edges(faces: Faces) -> Faces:
    """Edges (e, 2) that only one face has."""
    edges = edges_of(faces)
    out: Faces = edges[shared_by(edges)[1] == 1]
    return out


def _rim(vertices: Array, faces: Faces) -> NDArray[np.bool_]:
    """Which vertices lie on the open edge in the midplane."""
    rim = np.zeros(len(vertices), dtype=bool)
    rim[_open_edges(faces).ravel()] = True
    rim &= vertices[:, 0] == 0.0
    return rim


def _without_chords(vertices: Array, faces: Faces) -> tuple[Array, Faces]:
    """Split each inner edge that joins two rim points: reflected, four faces would share it.

    The new point stands off the midplane by a share of the edge's length.
    """
    rim = _rim(vertices, faces)
    while True:
        edges = edges_of(faces)
        where, shared = shared_by(edges)
        chords = np.flatnonzero(rim[edges].all(axis=1) & (shared == 2))
        if not len(chords):
            return vertices, faces
        pair = np.flatnonzero(where == where[chords[0]])
        vertices, faces = _split(vertices, faces, edges[pair[0]], [int(k) for k in pair % len(faces)])
        rim = np.append(rim, False)


def _split(vertices: Array, faces: Faces, edge: Faces, sides: list[int]) -> tuple[Array, Faces]:
    """Put a point on an edge (2,) that two faces (2,) share."""
    new = len(vertices)
    a, b = vertices[edge[0]], vertices[edge[1]]
    tip = [int(np.setdiff1d(faces[f], edge)[0]) for f in sides]
    aside = np.array([0.1 * float(np.linalg.norm(b - a)), 0.0, 0.0])
    point = 0.5 * (a + b) + np.minimum(aside, vertices[tip, 0].max() * 0.3 + 1e-3)
    kept = np.delete(faces, sides, axis=0)
    halves = [np.where(faces[side] == corner, new, faces[side]) for side in sides for corner in edge]
    return np.concatenate([vertices, point[None]]), np.concatenate([kept, np.array(halves)]).astype(np.int32)


def as_poly(surface: Surface) -> Any:
    """A surface as a vtkPolyData."""
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

    points, cells, poly = vtkPoints(), vtkCellArray(), vtkPolyData()
    points.SetData(numpy_to_vtk(np.ascontiguousarray(surface.vertices), deep=True))
    offsets = np.arange(0, 3 * len(surface.faces) + 1, 3, dtype=np.int64)
    ids = surface.faces.astype(np.int64).ravel()
    cells.SetData(numpy_to_vtkIdTypeArray(offsets, deep=True), numpy_to_vtkIdTypeArray(ids, deep=True))
    poly.SetPoints(points)
    poly.SetPolys(cells)
    return poly
