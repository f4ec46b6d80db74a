"""Distance fields on a regular grid: drawn from balls and lofts, joined, carved, read and turned into surfaces."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.mending import mended
from meshes.surfaces import Surface

Values = NDArray[np.float32]
Box = tuple[slice, slice, slice]


@dataclass
class Field:
    """A narrow-band signed distance, negative inside.

    origin  : (3,) mm, place of values[0, 0, 0]
    spacing : mm between grid points
    values  : (nx, ny, nz) float32, mm, clipped to +-band
    band    : mm
    is_half : covers only the left, from the midplane (values[0]) on; the other side is its mirror image
    """

    origin: Array
    spacing: float
    values: Values
    band: float
    is_half: bool = False

    def grid(self, box: Box | None = None) -> Array:
        """Grid points (nx, ny, nz, 3), mm; only those of a box where one is given."""
        axes = [self.origin[k] + self.spacing * np.arange(self.values.shape[k]) for k in range(3)]
        if box is not None:
            axes = [line[cut] for line, cut in zip(axes, box, strict=True)]
        return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)

    def box(self, low: Array, high: Array) -> Box:
        """Grid points of the box from `low` to `high` (3,), mm, with the band round it; may be empty."""
        start = np.ceil((low - self.band - self.origin) / self.spacing - 1e-6).astype(int)
        stop = np.floor((high + self.band - self.origin) / self.spacing + 1e-6).astype(int) + 1
        ends = zip(np.maximum(start, 0), np.maximum(np.minimum(stop, self.values.shape), 0), strict=True)
        x, y, z = (slice(int(a), max(int(a), int(b))) for a, b in ends)
        return x, y, z

    def on_grid_of(self, other: Field) -> tuple[Box, Values]:
        """The box of another field's grid that this one covers, and this one's distance there."""
        size = self.spacing * (np.array(self.values.shape) - 1)
        low, high = self.origin, self.origin + size
        box = other.box(low + other.band, high - other.band)
        shift = (other.origin - self.origin) / self.spacing
        if self.spacing != other.spacing or np.abs(shift - np.round(shift)).max() > 1e-6:
            points = other.grid(box)
            return box, self.at(points.reshape(-1, 3)).reshape(points.shape[:3]).astype(np.float32)
        whole = np.round(shift).astype(int)
        x, y, z = (slice(cut.start + s, cut.stop + s) for cut, s in zip(box, whole, strict=True))
        return box, self.values[x, y, z]

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


def left_half(field: Field) -> Field:
    """The part of a field from the midplane to the left."""
    first = int(np.round(-field.origin[0] / field.spacing))
    origin = np.array([0.0, *field.origin[1:]])
    return Field(origin, field.spacing, np.ascontiguousarray(field.values[first:]), field.band, is_half=True)


def both_halves(half: Field) -> Field:
    """A field that covers only the left, with its mirror image on the right."""
    origin = np.array([-half.spacing * (len(half.values) - 1), *half.origin[1:]])
    return Field(origin, half.spacing, np.concatenate([half.values[:0:-1], half.values]), half.band)


def draw_balls(field: Field, box: Box, centres: Array, radii: Array) -> Values:
    """Distance on a box of the grid to the union of balls: centres (n, 3), radii (n,), mm; +band away from them."""
    h = field.spacing
    start = np.array([cut.start for cut in box])
    out = np.full([cut.stop - cut.start for cut in box], field.band, dtype=np.float32)
    for centre, radius in zip((centres - field.origin) / h - start, radii, strict=True):
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


def draw_measured(field: Field, box: Box, measure: Callable[[Array], Array]) -> Values:
    """Distance on a box of the grid to a shape that `measure`s it, points (n, 3) -> (n,), mm; clipped to the band.

    The function is asked at the middle of blocks of 4 x 4 x 4 first; blocks that lie wholly beyond the band, or wholly
    inside it, are not looked at again. It may be off by a fifth away from its surface.
    """
    h, side = field.spacing, 4
    start = np.array([cut.start for cut in box])
    shape = np.array([cut.stop - cut.start for cut in box])
    out = np.full(tuple(shape), field.band, dtype=np.float32)
    if not out.size:
        return out
    block = side * np.stack(np.meshgrid(*(np.arange(-(-n // side)) for n in shape), indexing="ij"), -1).reshape(-1, 3)
    middle = measure(field.origin + h * (start + block + (side - 1) / 2.0))
    near = np.abs(middle) < field.band + 1.2 * h * np.sqrt(3.0) * (side - 1) / 2.0
    cell = np.stack(np.meshgrid(*(np.arange(side),) * 3, indexing="ij"), -1).reshape(1, -1, 3)
    for rows, exact in ((block[near], True), (block[~near & (middle < 0)], False)):
        index = (rows[:, None, :] + cell).reshape(-1, 3)
        index = index[(index < shape).all(axis=1)]
        if len(index):
            values = measure(field.origin + h * (start + index)) if exact else np.full(len(index), -field.band)
            out[tuple(index.T)] = np.clip(values, -field.band, field.band)
    return out


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
    fine = smoothed(contour(field), smooth_passes)
    while True:  # thinning may pinch a thin plate shut beyond mending: then less of it is done
        surface = mended(as_surface(thinned(fine, keep_share)))
        if keep_share >= 1.0 or surface.is_closed():
            return surface
        keep_share *= 1.2


def contour(field: Field) -> Any:
    """The polygons at distance zero; open only at the midplane of a half field."""
    from vtkmodules.util.numpy_support import numpy_to_vtk
    from vtkmodules.vtkCommonDataModel import vtkImageData
    from vtkmodules.vtkFiltersCore import vtkFlyingEdges3D

    values = field.values.copy()
    for axis in range(3):  # an open edge of the grid would leave a hole
        edge: list[Any] = [slice(None)] * 3
        for index in (-1,) if field.is_half and axis == 0 else (0, -1):
            edge[axis] = index
            values[tuple(edge)] = np.maximum(values[tuple(edge)], field.spacing)
    image = vtkImageData()
    image.SetDimensions(*values.shape)
    image.SetOrigin(*field.origin)
    image.SetSpacing(field.spacing, field.spacing, field.spacing)
    image.GetPointData().SetScalars(numpy_to_vtk(values.ravel(order="F"), deep=True))
    edges = vtkFlyingEdges3D()
    edges.SetInputData(image)
    edges.SetValue(0, 0.0)
    edges.ComputeNormalsOff()
    edges.ComputeGradientsOff()
    edges.Update()
    return edges.GetOutput()


def smoothed(poly: Any, passes: int) -> Any:
    """Polygons with the steps of the grid taken out, without shrinking."""
    from vtkmodules.vtkFiltersCore import vtkWindowedSincPolyDataFilter

    smooth = vtkWindowedSincPolyDataFilter()
    smooth.SetInputData(poly)
    smooth.SetNumberOfIterations(passes)
    smooth.SetPassBand(0.08)
    smooth.BoundarySmoothingOff()
    smooth.NonManifoldSmoothingOn()
    smooth.NormalizeCoordinatesOn()
    smooth.Update()
    return smooth.GetOutput()


def thinned(poly: Any, keep_share: float, edge_weight: float | None = None) -> Any:
    """Polygons thinned to a share of their faces; `edge_weight` holds an open edge the more the higher it is."""
    if keep_share >= 1.0:
        return poly
    from vtkmodules.vtkFiltersCore import vtkQuadricDecimation

    thin = vtkQuadricDecimation()
    thin.SetInputData(poly)
    thin.SetTargetReduction(1.0 - keep_share)
    thin.VolumePreservationOn()
    if edge_weight is not None:
        thin.SetBoundaryWeightFactor(edge_weight)
    thin.Update()
    return thin.GetOutput()


def as_surface(poly: Any) -> Surface:
    """Polygons as a surface whose faces look outwards."""
    from vtkmodules.util.numpy_support import vtk_to_numpy

    vertices = vtk_to_numpy(poly.GetPoints().GetData()).astype(np.float64)
    faces = vtk_to_numpy(poly.GetPolys().GetConnectivityArray()).reshape(-1, 3).astype(np.int32)
    used, index = np.unique(faces, return_inverse=True)
    surface = Surface(np.ascontiguousarray(vertices[used]), index.reshape(-1, 3).astype(np.int32))
    if surface.volume() < 0:
        surface = Surface(surface.vertices.copy(), np.ascontiguousarray(surface.faces[:, ::-1]))
    return surface
