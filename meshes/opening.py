"""The canal opened from in front: bodies of vertebrae lifted off, the vertebrae cut through their pedicles."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from meshes.errors import unknown_word
from meshes.tables import ANATOMY, check_keys, cited, read_toml, require

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.curves import Array
    from meshes.nearby import Flags
    from meshes.surfaces import Surface

#: The word for what is lifted: the bodies of the vertebrae with what goes with them.
BODIES = "vertebral_bodies"
#: A corner this near to the plane of the cut lies in it, mm.
_IN_PLANE_MM = 1e-6


@dataclass(frozen=True)
class Cut:
    """A plane through the middle of named landmarks, across the back axis of a frame."""

    through: tuple[str, ...]
    frame: str


@dataclass(frozen=True)
class Opening:
    """What lifting the bodies does.

    lifted : ids that go away whole
    cuts   : id -> the cut in front of which it goes away
    """

    lifted: frozenset[str]
    cuts: Mapping[str, Cut]

    def __contains__(self, structure_id: str) -> bool:
        return structure_id in self.lifted or structure_id in self.cuts


@cache
def opening() -> Opening:
    """dissection.toml. Raises FurcalError naming file and place."""
    path = ANATOMY / "dissection.toml"
    table = read_toml(path)
    check_keys(table, (BODIES,), str(path))
    where = f"{path}, [{BODIES}]"
    row = require(table, BODIES, str(path))
    check_keys(row, ("lifted", "opened", "through", "frame", "says", "source"), where)
    cited(row, where)
    through, frame = require(row, "through", where), str(require(row, "frame", where))
    cuts = {
        str(v): Cut(tuple(str(name).replace("{v}", v) for name in through), frame.replace("{v}", v))
        for v in require(row, "opened", where)
    }
    return Opening(frozenset(str(name) for name in require(row, "lifted", where)), cuts)


def cut_plane(body: Body, structure_id: str) -> tuple[Array, Array]:
    """Where a structure is cut: a point (3,), mm, and the unit normal (3,), to the back.

    Raises FurcalError for a structure that is not cut, and for a landmark or frame that the body lacks.
    """
    import numpy as np

    cuts = opening().cuts
    if structure_id not in cuts:
        raise unknown_word(structure_id, cuts, "opened structure")
    cut = cuts[structure_id]
    if cut.frame not in body.landmarks.frames:
        raise unknown_word(cut.frame, body.landmarks.frames, "frame", "dissection.toml")
    point: Array = np.mean([body.landmarks[name] for name in cut.through], axis=0)
    return point, body.landmarks.frames[cut.frame].axes[1]


def opened(body: Body, structure_id: str) -> Surface:
    """What is left of a structure behind its cut: a closed surface, the cut face with it.

    The cut is vtkClipClosedSurface's: unlike a plain cut it closes what it opens. Raises FurcalError, see `cut_plane`.
    """
    import numpy as np
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkCommonDataModel import vtkPlane, vtkPlaneCollection
    from vtkmodules.vtkFiltersGeneral import vtkClipClosedSurface

    from meshes.halves import as_poly
    from meshes.surfaces import Surface

    point, back = cut_plane(body, structure_id)
    plane, planes, clip = vtkPlane(), vtkPlaneCollection(), vtkClipClosedSurface()
    plane.SetOrigin(*point)
    plane.SetNormal(*back)
    planes.AddItem(plane)
    clip.SetClippingPlanes(planes)
    clip.SetInputData(as_poly(body.surfaces[structure_id]))
    clip.SetTolerance(_IN_PLANE_MM)
    clip.Update()
    poly = clip.GetOutput()
    faces = vtk_to_numpy(poly.GetPolys().GetConnectivityArray()).reshape(-1, 3).astype(np.int32)
    return Surface(vtk_to_numpy(poly.GetPoints().GetData()).astype(np.float64), faces)


def cut_faces(body: Body, structure_id: str, surface: Surface) -> Flags:
    """Which faces (f,) of an opened surface are its cut: all three corners lie in the plane."""
    import numpy as np

    point, back = cut_plane(body, structure_id)
    off: Array = np.abs((surface.vertices - point) @ back)
    in_plane: Flags = off < 10.0 * _IN_PLANE_MM
    faces: Flags = np.all(in_plane[surface.faces], axis=1)
    return faces
