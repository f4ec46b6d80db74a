"""Distance fields on a regular grid: drawn from balls and lofts, joined, carved, read and turned into surfaces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.surfaces import Surface

Values = NDArray[np.float32]


@dataclass
class Field:
    """A narrow-band signed distance, negative inside.

    origin  : (3,) mm, place of values[0, 0, 0]
    spacing : mm between grid points
    values  : (nx, ny, nz) float32, mm, clipped to +-band
    band    : mm
    """

    origin: Array
    spacing: float
    values: Values
    band: float

    def grid(self) -> Array:
        """Grid points (nx, ny, nz, 3), mm."""
        axes = [self.origin[k] + self.spacing * np.arange(self.values.shape[k]) for k in range(3)]
        return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)

    def at(self, points: Array) -> Array:
        """Signed distance (n,), mm, at points (n, 3); +band outside the grid."""
        from scipy.ndimage import map_coordinates

        index = ((np.asarray(points) - self.origin) / self.spacing).T
        out: Array = map_coordinates(self.values, index, order=1, mode="constant", cval=self.band)
        return out

    def gradient_at(self, points: Array) -> Array:
        """Unit direction (n, 3) in which the distance grows."""
        h = self.spacing
        steps = [self.at(points + h * axis) - self.at(points - h * axis) for axis in np.eye(3)]
        slope = np.stack(steps, axis=1)
        out: Array = slope / np.maximum(np.linalg.norm(slope, axis=1, keepdims=True), 1e-9)
        return out


def empty_field(low: Array, high: Array, spacing: float, band: float) -> Field:
    """A field that is outside everywhere, covering the box from `low` to `high` (3,) mm with a margin."""
    margin = band + 2 * spacing
    start = np.floor((low - margin) / spacing) * spacing
    shape = np.ceil((high + margin - start) / spacing).astype(int) + 1
    return Field(start, spacing, np.full(tuple(shape), band, dtype=np.float32), band)


def draw_balls(field: Field, centres: Array, radii: Array) -> Values:
    """Distance (nx, ny, nz) to the union of balls: centres (n, 3), radii (n,), mm; +band away from them."""
    out = np.full_like(field.values, field.band)
    h = field.spacing
    for centre, radius in zip((centres - field.origin) / h, radii, strict=True):
        reach = radius / h + field.band / h
        low = np.maximum(np.ceil(centre - reach).astype(int), 0)
        high = np.minimum(np.floor(centre + reach).astype(int) + 1, out.shape)
        if np.any(high <= low):
            continue
        x, y, z = (np.arange(low[k], high[k], dtype=np.float32) - np.float32(centre[k]) for k in range(3))
        squared = x[:, None, None] ** 2 + y[None, :, None] ** 2 + z[None, None, :] ** 2
        block = out[low[0] : high[0], low[1] : high[1], low[2] : high[2]]
        np.minimum(block, np.sqrt(squared) * np.float32(h) - np.float32(radius), out=block)
    return np.maximum(out, -field.band)


def join(a: Values, b: Values, blend_mm: float) -> Values:
    """Union of two distances; a fillet of size `blend_mm` where they meet (quadratic smooth minimum)."""
    low = np.minimum(a, b)
    if blend_mm <= 0:
        return low
    h = np.maximum(blend_mm - np.abs(a - b), 0.0) / blend_mm
    out: Values = (low - h * h * blend_mm * 0.25).astype(np.float32)
    return out


def carve(a: Values, b: Values, blend_mm: float = 0.0) -> Values:
    """What is in `a` and not in `b`."""
    return -join(-a, b, blend_mm)


def to_surface(field: Field, smooth_passes: int = 20, keep_share: float = 1.0) -> Surface:
    """The closed surface at distance zero, smoothed without shrinking and thinned to a share of its faces."""
    from vtkmodules.util.numpy_support import numpy_to_vtk
    from vtkmodules.vtkCommonDataModel import vtkImageData
    from vtkmodules.vtkFiltersCore import vtkFlyingEdges3D, vtkWindowedSincPolyDataFilter

    values = field.values.copy()
    for axis in range(3):  # an open edge of the grid would leave a hole
        edge: list[Any] = [slice(None)] * 3
        for index in (0, -1):
            edge[axis] = index
            values[tuple(edge)] = np.maximum(values[tuple(edge)], field.spacing)
    image = vtkImageData()
    image.SetDimensions(*values.shape)
    image.SetOrigin(*field.origin)
    image.SetSpacing(field.spacing, field.spacing, field.spacing)
    image.GetPointData().SetScalars(numpy_to_vtk(values.ravel(order="F"), deep=True))
    contour = vtkFlyingEdges3D()
    contour.SetInputData(image)
    contour.SetValue(0, 0.0)
    contour.ComputeNormalsOff()
    contour.ComputeGradientsOff()
    smooth = vtkWindowedSincPolyDataFilter()
    smooth.SetInputConnection(contour.GetOutputPort())
    smooth.SetNumberOfIterations(smooth_passes)
    smooth.SetPassBand(0.08)
    smooth.BoundarySmoothingOff()
    smooth.NonManifoldSmoothingOn()
    smooth.NormalizeCoordinatesOn()
    smooth.Update()
    return _as_surface(_thinned(smooth.GetOutput(), keep_share))


def _thinned(poly: Any, keep_share: float) -> Any:
    if keep_share >= 1.0:
        return poly
    from vtkmodules.vtkFiltersCore import vtkQuadricDecimation

    thin = vtkQuadricDecimation()
    thin.SetInputData(poly)
    thin.SetTargetReduction(1.0 - keep_share)
    thin.VolumePreservationOn()
    thin.Update()
    return thin.GetOutput()


def _as_surface(poly: Any) -> Surface:
    from vtkmodules.util.numpy_support import vtk_to_numpy

    vertices = vtk_to_numpy(poly.GetPoints().GetData()).astype(np.float64)
    faces = vtk_to_numpy(poly.GetPolys().GetConnectivityArray()).reshape(-1, 3).astype(np.int32)
    used, index = np.unique(faces, return_inverse=True)
    surface = Surface(np.ascontiguousarray(vertices[used]), index.reshape(-1, 3).astype(np.int32))
    if surface.volume() < 0:
        surface = Surface(surface.vertices.copy(), np.ascontiguousarray(surface.faces[:, ::-1]))
    return surface
