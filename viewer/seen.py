"""What of the body can be seen in a drawn picture, asked of its depth."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkFloatArray
from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

from meshes.structures import Structure
from meshes.surfaces import Surface
from viewer.actors import stem
from viewer.cameras import Array, Eye, projected
from viewer.labels import SAMPLES, Anchor, label_name, priority, seen_sample

#: A point this far behind what is drawn still counts as seen: half a coarse triangle, and the skin of a nerve, mm.
SLACK_MM = 1.5


def drawn_depth(window: vtkRenderWindow, renderer: vtkRenderer) -> Array:
    """Distance from the eye along its line of sight of what is drawn: (height, width) mm, first row on top.

    See-through things do not count. Where nothing is drawn it is the far end of the view.
    """
    width, height = window.GetSize()
    values = vtkFloatArray()
    window.GetZbufferData(0, 0, width - 1, height - 1, values)
    z = vtk_to_numpy(values).reshape(height, width)[::-1].astype(np.float64)
    camera = renderer.GetActiveCamera()
    near, far = camera.GetClippingRange()
    if camera.GetParallelProjection():
        flat: Array = near + z * (far - near)
        return flat
    out: Array = near * far / (far - z * (far - near))
    return out


def anchors(
    ids: Iterable[str],
    surfaces: Mapping[str, Surface],
    structures: Mapping[str, Structure],
    eye: Eye,
    depth: Array,
    marked: Mapping[str, str],
    size: tuple[int, int] | None = None,
    between: tuple[float, float] = (0.0, 1.0),
) -> list[Anchor]:
    """A place to point at for every structure that can be seen.

    depth  : (height, width) mm from the eye, as `drawn_depth` gives it
    marked : id -> what to add to its name
    size   : pixels of the picture the anchors are for; that of `depth` when not given
    between: shares of the width between which it must be seen
    """
    shape = (depth.shape[1], depth.shape[0])
    scale = (size or shape)[0] / shape[0]
    towards = eye.axes()[2]
    nerves = {stem(s.id) for s in structures.values() if s.kind == "nerve"}
    out = []
    for name in ids:
        structure = structures.get(name)
        if structure is None:
            continue
        vertices = surfaces[name].vertices
        samples = vertices[:: max(1, len(vertices) // SAMPLES)]
        away = (eye.position - samples) @ towards
        pixels = projected(samples, eye, shape)
        best = seen_sample(pixels, away - SLACK_MM, depth, shape, between)
        if best is not None:
            x, y = (float(v) * scale for v in pixels[best])
            rank, note = priority(structure, nerves), marked.get(name, "")
            out.append(Anchor(name, label_name(structure), x, y, rank, name in marked, float(away[best]), note))
    return out
