"""Surfaces as VTK meshes: smooth normals, texture coordinates, and a light copy for while something moves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

from meshes.normals import across, at_corners, unit
from meshes.surfaces import Surface

Array = NDArray[np.float64]

#: A cut that turns by more than this is an edge, degrees.
CREASE_DEG = 50.0


def creased(surface: Surface, crease_deg: float = CREASE_DEG) -> tuple[Surface, NDArray[np.intp]]:
    """The surface with the rim of its flat cuts doubled, so that a cut stays crisp; and where each vertex came from.

    A face whose normal leaves the smooth normal of one of its corners by more than the angle gets that corner anew.
    """
    bent, origin, _ = _creased(surface, crease_deg)
    return bent, origin


def _creased(surface: Surface, crease_deg: float) -> tuple[Surface, NDArray[np.intp], Array]:
    """As `creased`, with the unit normals (v, 3) of what comes out."""
    count = len(surface.vertices)
    looks = across(surface.vertices, surface.faces)
    smooth = at_corners(surface.faces, looks, count)
    flat = unit(looks)
    along = [np.einsum("fj,fj->f", flat, smooth[surface.faces[:, k]]) for k in range(3)]
    bent = np.stack(along, axis=1) < np.cos(np.radians(crease_deg))
    if not bent.any():
        return surface, np.arange(count), smooth
    face, corner = np.nonzero(bent)
    direction = np.round(flat[face] * 2.0).astype(np.int64) @ np.array([1, 16, 256])
    vertex = surface.faces[face, corner]
    keys, inverse = np.unique(np.stack([vertex, direction], axis=1), axis=0, return_inverse=True)
    faces = surface.faces.copy()
    faces[face, corner] = count + inverse.ravel()
    origin = np.concatenate([np.arange(count), keys[:, 0]])
    doubled = Surface(np.ascontiguousarray(surface.vertices[origin]), faces)
    return doubled, origin, at_corners(faces, looks, len(origin))


@dataclass(frozen=True)
class Shape:
    """What a mesh is made of, ready to be handed to VTK, and no object of VTK's: any thread may make it.

    points, normals : (v, 3)
    faces           : (f, 3)
    texture         : (v, 2) texture coordinates, or None
    share           : (v,) scalar to colour by, 0..1, or None
    """

    points: NDArray[np.float32]
    faces: NDArray[np.int64]
    normals: NDArray[np.float32]
    texture: NDArray[np.float32] | None = None
    share: NDArray[np.float32] | None = None


def shape_of(surface: Surface, texture: Array | None = None, share: Array | None = None) -> Shape:
    """A surface with normals, the rims of its flat cuts crisp. texture, share : as of a `Shape`, by its vertices"""
    bent, origin, normals = _creased(surface, CREASE_DEG)
    return Shape(
        np.ascontiguousarray(bent.vertices, dtype=np.float32),
        np.ascontiguousarray(bent.faces, dtype=np.int64),
        np.ascontiguousarray(normals, dtype=np.float32),
        None if texture is None else np.ascontiguousarray(texture[origin], dtype=np.float32),
        None if share is None else np.ascontiguousarray(share[origin], dtype=np.float32),
    )


def as_polydata(shape: Shape) -> vtkPolyData:
    """The mesh of a shape, for the thread that draws alone.

    While that one takes away what VTK no longer needs it holds a lock of VTK's that every other thread would wait for,
    and calls back into Python, which that other thread may hold: neither would ever go on.
    """
    mesh = vtkPolyData()
    points = vtkPoints()
    points.SetData(numpy_to_vtk(shape.points, deep=True))
    mesh.SetPoints(points)
    polys = vtkCellArray()
    polys.SetData(3, numpy_to_vtkIdTypeArray(shape.faces.ravel(), deep=True))
    mesh.SetPolys(polys)
    data = mesh.GetPointData()
    data.SetNormals(numpy_to_vtk(shape.normals, deep=True))
    if shape.texture is not None:
        data.SetTCoords(numpy_to_vtk(shape.texture, deep=True))
    if shape.share is not None:
        data.SetScalars(numpy_to_vtk(shape.share, deep=True))
    return mesh


def polydata(surface: Surface, texture: Array | None = None, share: Array | None = None) -> vtkPolyData:
    """The mesh of a surface; arguments as of `shape_of`."""
    return as_polydata(shape_of(surface, texture, share))


def reduced(
    surface: Surface, cell_mm: float, keep: NDArray[np.bool_] | None = None
) -> tuple[Surface, NDArray[np.intp]]:
    """A light copy: vertices that share a cell of a grid become one; and which vertex stands for each.

    keep : (v,) vertices that stay by themselves, or None

    Quick and good enough while something moves; never measured on.
    """
    cell = np.floor((surface.vertices - surface.vertices.min(axis=0)) / cell_mm).astype(np.int64)
    span = cell.max(axis=0) + 1
    key = (cell[:, 0] * span[1] + cell[:, 1]) * span[2] + cell[:, 2]
    if keep is not None:
        key[keep] = key.max() + 1 + np.arange(np.count_nonzero(keep))
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    group = group.ravel()
    size = np.bincount(group)
    middle = np.stack([np.bincount(group, surface.vertices[:, k]) / size for k in range(3)], axis=1)
    faces = group[surface.faces]
    kept = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return Surface(np.ascontiguousarray(middle), np.ascontiguousarray(faces[kept], dtype=np.int32)), first
