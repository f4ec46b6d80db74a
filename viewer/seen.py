"""What of the body can be seen in a drawn picture, asked of its depth."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkFloatArray
from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

from lessons.view import View
from meshes.body import Body
from meshes.structures import Structure
from viewer.actors import stem
from viewer.bore import Bore
from viewer.cameras import Array, Eye, projected
from viewer.labels import SAMPLES, Anchor, is_enough, is_small, label_name, point_at, priority, seen_samples

#: A point this far behind what is drawn still counts as seen: half a coarse triangle, and the skin of a nerve, mm.
SLACK_MM = 1.5
#: Priority of what is seen in the ring of the portal that one looks down: before that of all else.
IN_RING = -1


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


def drawn_between(depth: Array) -> tuple[float, float]:
    """The shares of the width between which something is drawn; all of it when that cannot be told."""
    used = np.flatnonzero((depth < depth.max() - SLACK_MM).any(axis=0))
    return (float(used[0] / depth.shape[1]), float((used[-1] + 1) / depth.shape[1])) if len(used) else (0.0, 1.0)


def anchors(
    ids: Iterable[str],
    body: Body,
    eye: Eye,
    depth: Array,
    view: View,
    marked: Mapping[str, str],
    size: tuple[int, int] | None = None,
    between: tuple[float, float] = (0.0, 1.0),
    holds: Callable[[str, Array], NDArray[np.bool_]] | None = None,
    bore: Bore | None = None,
) -> list[Anchor]:
    """A place to point at for every structure that can be seen, the most important first.

    depth  : (height, width) mm from the eye, as `drawn_depth` gives it
    view   : what is traced, and the language of the names
    marked : id -> what to add to its name
    size   : pixels of the picture the anchors are for; that of `depth` when not given
    between: shares of the width between which it must be seen
    holds  : which points (n, 3), mm, of a structure are there, where some of it is taken away; `Scene.holds`
    bore   : the channel that one looks down: what is seen in it is named before the rest, and pointed at there
    """
    shape = (depth.shape[1], depth.shape[0])
    scale = (size or shape)[0] / shape[0]
    towards = eye.axes()[2]
    out: list[Anchor] = []
    taken: list[tuple[float, float]] = []
    for plain in ranked(ids, body.structures, view, marked):
        vertices = body.surfaces[plain.id].vertices
        length = float(np.ptp(vertices, axis=0).max())
        if not plain.marked and is_small(body.structures[plain.id], length, 2.0 * eye.half_height_mm):
            continue
        kind = body.structures[plain.id].kind
        if bore is not None and (plain.marked or kind in ("bone", "disc")):
            vertices = _in_picture(vertices, eye, shape)  # of a large one, or one that hardly shows, enough is sampled
        samples = vertices[:: max(1, len(vertices) // SAMPLES)]
        if holds is not None:
            samples = samples[holds(plain.id, samples)]
        away = (eye.position - samples) @ towards
        pixels = projected(samples, eye, shape)
        seen: NDArray[np.bool_] = seen_samples(pixels, away - SLACK_MM, depth, shape, between)
        if plain.traced and not seen.any():  # rather under the columns of names than not at all
            seen = seen_samples(pixels, away - SLACK_MM, depth, shape)
        if kind == "nerve" and plain.id in view.highlighted and not seen.any():
            seen = _inside(pixels, shape)  # a lit nerve shines through whatever covers it
        sure = plain.traced or (bore is not None and plain.marked)
        if bore is not None:
            in_ring = seen.copy()
            in_ring[seen] = bore.surrounds(samples[seen])
            if is_enough(in_ring, sure):
                plain, seen = replace(plain, priority=IN_RING), in_ring
        if is_enough(seen, sure):
            best = np.flatnonzero(seen)[point_at(pixels[seen], taken, shape)]
            x, y = (float(v) for v in pixels[best])
            taken.append((x, y))
            out.append(replace(plain, x=x * scale, y=y * scale, away_mm=float(away[best])))
    return out


def _in_picture(vertices: Array, eye: Eye, shape: tuple[int, int]) -> Array:
    out: Array = vertices[_inside(projected(vertices, eye, shape), shape)]
    return out


def _inside(pixels: Array, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Which pixels (n, 2) lie in the picture (n,)."""
    x, y = pixels[:, 0], pixels[:, 1]
    out: NDArray[np.bool_] = (x >= 0.0) & (x < shape[0]) & (y >= 0.0) & (y < shape[1])
    return out


def ranked(
    ids: Iterable[str], structures: Mapping[str, Structure], view: View, marked: Mapping[str, str]
) -> list[Anchor]:
    """What may be named, before it is known where: the most important first."""
    nerves = {stem(s.id) for s in structures.values() if s.kind == "nerve"}
    found = []
    for name in ids:
        structure = structures.get(name)
        if structure is not None:
            words, rank = label_name(structure, view.language), priority(structure, nerves)
            # Of a trace its roots and ganglia are lit, not named: they would crowd out the nerve itself.
            traced = name in view.highlighted and structure.group != "root"
            heavy = name in marked and not view.highlighted
            chosen = name in view.named
            if view.named and not (chosen or traced or name in marked):
                continue
            sure = traced or chosen
            found.append(Anchor(name, words, 0.0, 0.0, rank, traced or heavy, 0.0, marked.get(name, ""), sure))
    return sorted(found, key=lambda a: a.rank)
