"""The surfaces of a body with fewer triangles: light enough for a page on a phone, about 100 thousand for all of it.

Tubes are made anew around their middle lines, so that they stay round; all else is thinned by vtkQuadricDecimation.
Nothing is measured on them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from meshes.body import Body
from meshes.curves import Centreline
from meshes.halves import as_poly
from meshes.surfaces import Surface, tube

#: Share of the triangles that is kept, by kind and group, then by kind.
#: Muscles that nerves lie on keep most: a nerve thinner than what they lose would sink into them.
KEPT = {"muscle wall": 0.48, "muscle": 0.42, "bone": 0.21, "skin": 0.45, "viscus": 0.22}
KEPT_ELSE = 0.30
#: A surface with no more triangles than this stays as it is, and none gets fewer.
SMALL = 500
#: Tubes: at most this many of the samples of a middle line are passed over, where it stays this near to it, mm.
PASSED, STRAY_MM = 5, 0.12
#: A tube of that radius and more has the larger number of corners, mm.
THICK_MM, CORNERS, CORNERS_THICK = 3.0, 8, 12


def thinned(body: Body, name: str) -> Surface:
    """The surface of one structure with fewer triangles."""
    line = body.centrelines.get(name)
    if line is not None:
        return slim(line)
    structure, surface = body.structures[name], body.surfaces[name]
    share = KEPT.get(f"{structure.kind} {structure.group}", KEPT.get(structure.kind, KEPT_ELSE))
    return decimated(surface, max(SMALL, round(share * len(surface.faces))))


def with_thinned(body: Body, name: str, surface: Surface) -> Body:
    """The body with another surface for one structure, to cut it as the body's own is cut."""
    return replace(body, surfaces={**body.surfaces, name: surface})


def slim(line: Centreline) -> Surface:
    """A round tube around a middle line, with rings only where it bends."""
    keep = _rings(line)
    corners = CORNERS_THICK if float(line.radius.max()) >= THICK_MM else CORNERS
    return tube(replace(line, points=line.points[keep], radius=line.radius[keep]), sides=corners, cap_rings=2)


def decimated(surface: Surface, faces: int) -> Surface:
    """The surface with about so many faces; itself where it has no more."""
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkFiltersCore import vtkQuadricDecimation

    if len(surface.faces) <= faces:
        return surface
    thin = vtkQuadricDecimation()
    thin.SetInputData(as_poly(surface))
    thin.SetTargetReduction(1.0 - faces / len(surface.faces))
    thin.VolumePreservationOn()
    thin.Update()
    poly = thin.GetOutput()
    kept = vtk_to_numpy(poly.GetPolys().GetConnectivityArray()).reshape(-1, 3)
    used, inverse = np.unique(kept, return_inverse=True)
    points = vtk_to_numpy(poly.GetPoints().GetData())[used].astype(np.float64)
    return Surface(points, inverse.reshape(-1, 3).astype(np.int32))


def _rings(line: Centreline) -> list[int]:
    """Which samples carry a ring: the first, the last, and as few between as keep the line where it is."""
    points, radius, last = line.points, line.radius, len(line.points) - 1
    keep = [0]
    while keep[-1] < last:
        start = keep[-1]
        best = start + 1
        for end in range(start + 2, min(start + 1 + PASSED, last) + 1):
            share = np.linspace(0.0, 1.0, end - start + 1)[1:-1]
            chord = points[start] + share[:, None] * (points[end] - points[start])
            stray = np.linalg.norm(points[start + 1 : end] - chord, axis=1)
            swell = np.abs(radius[start + 1 : end] - radius[start] - share * (radius[end] - radius[start]))
            if max(stray.max(), swell.max()) > STRAY_MM:
                break
            best = end
        keep.append(best)
    return keep
