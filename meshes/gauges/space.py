"""Distances, crossings and stretches: the small geometry that measuring a built body needs."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array, Centreline
from meshes.landmarks import Frame
from meshes.surfaces import Surface

#: The body's own axes at its origin: horizontal planes, +x left, +y back, +z up.
UPRIGHT = Frame(np.zeros(3), np.eye(3))


class Depth:
    """Signed distance to closed surfaces: negative inside, mm. The union is meant where there are several."""

    def __init__(self, *surfaces: Surface) -> None:
        self._parts = [_implicit(surface) for surface in surfaces]

    def __call__(self, points: Array) -> Array:
        """Signed distance (…,), mm, of points (…, 3)."""
        flat = np.ascontiguousarray(points.reshape(-1, 3))
        out: Array = np.min([_evaluate(part, flat) for part in self._parts], axis=0).reshape(points.shape[:-1])
        return out

    def nearest(self, points: Array) -> Array:
        """The nearest points (n, 3), mm, on the first of the surfaces."""
        found = np.empty((len(points), 3))
        for row, point in enumerate(np.ascontiguousarray(points)):
            closest = [0.0, 0.0, 0.0]
            self._parts[0].EvaluateFunctionAndGetClosestPoint(point.tolist(), closest)
            found[row] = closest
        return found


def _implicit(surface: Surface) -> Any:
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
    from vtkmodules.vtkFiltersCore import vtkImplicitPolyDataDistance

    points = vtkPoints()
    points.SetData(numpy_to_vtk(np.ascontiguousarray(surface.vertices), deep=True))
    starts = np.arange(0, 3 * len(surface.faces) + 1, 3, dtype=np.int64)
    corners = surface.faces.astype(np.int64).ravel()
    cells = vtkCellArray()
    cells.SetData(numpy_to_vtkIdTypeArray(starts, deep=True), numpy_to_vtkIdTypeArray(corners, deep=True))
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetPolys(cells)
    distance = vtkImplicitPolyDataDistance()
    distance.SetInput(data)
    return distance


def _evaluate(distance: Any, points: Array) -> Array:
    from vtkmodules.util.numpy_support import numpy_to_vtk, vtk_to_numpy
    from vtkmodules.vtkCommonCore import vtkDoubleArray

    out = vtkDoubleArray()
    distance.FunctionValue(numpy_to_vtk(points, deep=True), out)
    result: Array = np.asarray(vtk_to_numpy(out), dtype=np.float64).copy()
    return result


def runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Stretches (first, last) of True in a row of flags, ends included."""
    padded = np.concatenate([[False], flags, [False]]).astype(np.int8)
    starts, stops = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1) - 1
    return list(zip(starts.tolist(), stops.tolist(), strict=True))


def crossing_share(a: float, b: float) -> float:
    """Where between two values of unlike sign zero lies: 0 at the first, 1 at the second."""
    return a / (a - b)


def through_plane(line: Centreline, frame: Frame) -> Array:
    """Arc lengths (k,), mm, where a line crosses the plane of a frame's left and back axes."""
    height = frame.local(line.points)[:, 2]
    at = np.flatnonzero((height[:-1] > 0.0) != (height[1:] > 0.0))
    share = height[at] / (height[at] - height[at + 1])
    out: Array = line.arc[at] + share * (line.arc[at + 1] - line.arc[at])
    return out


def dense(line: Centreline, step_mm: float = 0.5) -> tuple[Array, Array]:
    """Arc lengths (m,) and points (m, 3), mm, evenly along a line."""
    arc = np.linspace(0.0, line.length, max(int(np.ceil(line.length / step_mm)), 1) + 1)
    return arc, line.at(arc)


def bend_deg(line: Centreline, from_mm: float, to_mm: float, reach_mm: float = 4.0) -> float:
    """Angle, degrees, between the directions at two arc lengths, each taken over `reach_mm` on both sides."""
    a = line.at(from_mm + reach_mm) - line.at(from_mm - reach_mm)
    b = line.at(to_mm + reach_mm) - line.at(to_mm - reach_mm)
    return angle_deg(a, b)


def angle_deg(a: Array, b: Array) -> float:
    """Angle between two directions (3,), degrees."""
    cosine = float(a @ b) / float(np.linalg.norm(a) * np.linalg.norm(b))
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def nearest(points: Array, others: Array) -> tuple[int, int, float]:
    """Indices and distance, mm, of the closest pair of two sets of points (n, 3), (k, 3)."""
    from scipy.spatial import cKDTree

    distance, index = cKDTree(others).query(points)
    best = int(np.argmin(distance))
    return best, int(index[best]), float(distance[best])


def extreme(surfaces: Iterable[Surface], direction: Array) -> Array:
    """The vertex (3,), mm, of some surfaces that reaches furthest along a direction."""
    vertices = np.concatenate([s.vertices for s in surfaces])
    out: Array = vertices[int(np.argmax(vertices @ direction))]
    return out
