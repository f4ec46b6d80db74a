"""A nerve in stretches, one tone after the other, so that the places of its way can be told apart in the field."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from vtkmodules.util.numpy_support import numpy_to_vtk, vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkLookupTable
from vtkmodules.vtkCommonDataModel import vtkPolyData

from meshes.curves import Centreline
from viewer.actors import mixed
from viewer.palette import OKABE_ITO, RGB

#: The other tone: the nerve's own colour moved towards this one by a share.
OTHER, SHARE = OKABE_ITO["blue"], 0.6


def toned(mesh: vtkPolyData, line: Centreline, edges_mm: Sequence[float]) -> None:
    """Give each point of a tube the number, 0 or 1 by turns, of the stretch that it lies in.

    edges_mm : arc lengths at which one stretch ends and the next begins; none takes the numbers away
    """
    data = mesh.GetPointData()
    if not edges_mm:
        data.SetScalars(None)
        return
    points = vtk_to_numpy(mesh.GetPoints().GetData())
    gaps = points[:, None, :] - line.points[None, :, :]
    arc = line.arc[np.argmin(np.einsum("ijk,ijk->ij", gaps, gaps), axis=1)]
    numbers = np.searchsorted(np.asarray(edges_mm), arc) % 2
    data.SetScalars(numpy_to_vtk(numbers.astype(np.float32), deep=True))


def tones(colour: RGB) -> vtkLookupTable:
    """A nerve's colour and the other tone."""
    table = vtkLookupTable()
    table.SetNumberOfTableValues(2)
    for i, (r, g, b) in enumerate((colour, mixed(colour, OTHER, SHARE))):
        table.SetTableValue(i, r / 255.0, g / 255.0, b / 255.0, 1.0)
    return table
