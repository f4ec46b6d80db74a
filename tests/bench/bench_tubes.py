"""All tubes of the body against a general library's tube filter, around the same lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray, vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkFiltersCore import vtkTriangleFilter, vtkTubeFilter

from meshes.curves import Centreline
from meshes.surfaces import Surface, tubes
from tests.bench.results import Ratio, seconds
from tests.bench.subject import subject

SIDES = 12
#: Both make rings of 12 sides across the same lines; how they turn a ring at a sharp bend may differ a little.
SAME_VOLUME = 0.002


def as_polylines(lines: Mapping[str, Centreline]) -> vtkPolyData:
    """All lines and their radii as the library takes them, in one piece."""
    points, cells, poly = vtkPoints(), vtkCellArray(), vtkPolyData()
    rows = np.concatenate([line.points for line in lines.values()])
    radius = np.concatenate([line.radius for line in lines.values()])
    points.SetData(numpy_to_vtk(np.ascontiguousarray(rows), deep=True))
    starts = np.cumsum([0] + [len(line.radius) for line in lines.values()])
    cells.SetData(
        numpy_to_vtkIdTypeArray(starts.astype(np.int64), deep=True),
        numpy_to_vtkIdTypeArray(np.arange(len(rows), dtype=np.int64), deep=True),
    )
    poly.SetPoints(points)
    poly.SetLines(cells)
    scalars = numpy_to_vtk(np.ascontiguousarray(radius), deep=True)
    scalars.SetName("radius")
    poly.GetPointData().SetScalars(scalars)
    return poly


def library_tubes(poly: vtkPolyData) -> vtkTubeFilter:
    """The library's tubes of all lines, capped, as the strips that it makes."""
    tube = vtkTubeFilter()
    tube.SetInputData(poly)
    tube.SetNumberOfSides(SIDES)
    tube.SetVaryRadiusToVaryRadiusByAbsoluteScalar()
    tube.CappingOn()
    tube.Update()
    return tube


def as_surface(tube: vtkTubeFilter) -> Surface:
    """The library's strips cut into triangles; not timed."""
    triangles = vtkTriangleFilter()
    triangles.SetInputConnection(tube.GetOutputPort())
    triangles.Update()
    poly = triangles.GetOutput()
    vertices = vtk_to_numpy(poly.GetPoints().GetData()).astype(np.float64)
    return Surface(vertices, vtk_to_numpy(poly.GetPolys().GetConnectivityArray()).reshape(-1, 3).astype(np.int32))


def bench_tubes() -> Sequence[Ratio]:
    """All nerves, tube-shaped vessels and viscera; compared with flat ends, as the library makes them."""
    lines = subject().centrelines
    poly = as_polylines(lines)
    ours_s = seconds(lambda: tubes(lines, SIDES))
    theirs_s = seconds(lambda: library_tubes(poly))
    flat = tubes({n: Centreline(x.points.copy(), x.radius.copy(), (True, True)) for n, x in lines.items()}, SIDES)
    theirs = as_surface(library_tubes(poly))
    off = abs(sum(surface.volume() for surface in flat.values()) / abs(theirs.volume()) - 1.0)
    closed = all(surface.is_closed() for surface in tubes(lines, SIDES).values())
    how = f"{sum(len(s.faces) for s in flat.values())} triangles, volumes {100.0 * off:.3f} % apart"
    how += (
        f"; as they come ours are {'closed' if closed else 'OPEN'}, theirs {'closed' if theirs.is_closed() else 'open'}"
    )
    agrees = closed and off < SAME_VOLUME
    return [Ratio(f"{len(lines)} tubes, against vtkTubeFilter", ours_s, theirs_s, 3.0, agrees, how)]
