"""Closing a surface again where thinning has pinched it: the torn faces are cut out and the hole is filled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from meshes.surfaces import Faces, Surface

Indices = NDArray[np.int64]
#: Cut and fill at most so often; one round heals nearly every pinch.
ROUNDS = 8


def edges_of(faces: Faces) -> Faces:
    """Directed edges (3 f, 2), in the order of corners 01, 12, 20."""
    return np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])


def shared_by(edges: Faces) -> tuple[Indices, Indices]:
    """For each directed edge: the number of its undirected edge (n,), and how many faces share that (n,)."""
    count = int(edges.max()) + 1
    keys = edges.min(axis=1).astype(np.int64) * count + edges.max(axis=1)
    _, where, times = np.unique(keys, return_inverse=True, return_counts=True)
    return where.astype(np.int64), times[where].astype(np.int64)


def mended(surface: Surface) -> Surface:
    """The surface with every edge that not exactly two faces share cut out, and the holes filled from their middle.

    What cannot be closed in a few rounds is given back as far as it came: ask `is_closed`.
    """
    for _ in range(ROUNDS):
        if surface.is_closed():
            break
        surface = _filled(*_cut_out(surface))
    return surface


def _cut_out(surface: Surface) -> tuple[Surface, Faces]:
    """Take away every face at a torn edge's ends; also the edges (e, 2) of the holes, as the missing faces had them."""
    edges = edges_of(surface.faces)
    _, shared = shared_by(edges)
    torn = np.unique(edges[(shared != 2) | _doubled(edges)])
    faces = surface.faces[~np.isin(surface.faces, torn).any(axis=1)]
    kept = edges_of(faces)
    _, shared = shared_by(kept)
    return Surface(surface.vertices, faces), kept[shared == 1][:, ::-1]


def _doubled(edges: Faces) -> NDArray[np.bool_]:
    """Directed edges that stand more than once: two faces share them, but turn against each other."""
    _, where, times = np.unique(edges, axis=0, return_inverse=True, return_counts=True)
    out: NDArray[np.bool_] = times[where.ravel()] > 1
    return out


def _filled(surface: Surface, rims: Faces) -> Surface:
    vertices, faces = [surface.vertices], [surface.faces]
    count = len(surface.vertices)
    for loop in _loops(rims):
        vertices.append(surface.vertices[sorted(loop)].mean(axis=0)[None])
        turned = np.roll(loop, -1)
        faces.append(np.stack([loop, turned, np.full(len(loop), count)], axis=1).astype(np.int32))
        count += 1
    return _without_strays(np.concatenate(vertices), np.concatenate(faces))


def _loops(rims: Faces) -> list[Indices]:
    """Chain directed edges into closed loops of vertices; where two loops touch, either may be followed."""
    after: dict[int, list[int]] = {}
    for start, end in rims.tolist():
        after.setdefault(start, []).append(end)
    loops = []
    while after:
        first = here = next(iter(after))
        loop = []
        while here in after:
            loop.append(here)
            onward = after[here].pop()
            if not after[here]:
                del after[here]
            here = onward
            if here == first:
                break
        if len(loop) > 2:
            loops.append(np.array(loop))
    return loops


def _without_strays(vertices: NDArray[np.float64], faces: Faces) -> Surface:
    used, index = np.unique(faces, return_inverse=True)
    return Surface(np.ascontiguousarray(vertices[used]), index.reshape(-1, 3).astype(np.int32))
