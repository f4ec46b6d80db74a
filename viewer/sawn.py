"""The cut face of a sawn bone: its own corners, so that its edge stays crisp, and its own spongy picture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from meshes.surfaces import Surface, joined
from viewer.polydata import reduced

Array = NDArray[np.float64]
#: One tile of the picture stands for this much of the cut, mm: more than any cut is high, see `PLAIN`.
TILE_MM = 36.0
TEXELS = 256
#: From one trabecula to the next, mm.
APART_MM = 0.82
#: Cell of the light copy, mm: finer than that of whole bones, for a pedicle is slender.
LIGHT_MM = 3.0
#: Corner of the picture that is left white, texels: what is not cut points into its middle and keeps its colour. The
#: middle of a cut lies on the middle of a tile, so that the cut passes between white corners.
PLAIN = 6
#: What the colour of bone is multiplied with on the cut: between the trabeculae, and on them.
MARROW, TRABECULA = (0.66, 0.44, 0.36), (0.97, 0.84, 0.72)


def sawn(surface: Surface, cut: NDArray[np.bool_]) -> tuple[Surface, Array]:
    """The surface with the corners of its cut faces (f,) doubled, and texture coordinates (v, 2), in tiles."""
    corners, inverse = np.unique(surface.faces[cut], return_inverse=True)
    faces = surface.faces.copy()
    faces[cut] = len(surface.vertices) + inverse.reshape(-1, 3)
    on_cut = surface.vertices[corners]
    across = np.linalg.svd(on_cut - on_cut.mean(axis=0), full_matrices=False)[2][:2]
    plain = np.full((len(surface.vertices), 2), 0.5 * PLAIN / TEXELS)
    texture = np.concatenate([plain, _middled(on_cut @ across.T) / TILE_MM + 0.5])
    return Surface(np.concatenate([surface.vertices, on_cut]), faces), texture


def _middled(points: Array) -> Array:
    out: Array = points - (points.min(axis=0) + points.max(axis=0)) / 2.0
    return out


def lightly_sawn(surface: Surface, cut: NDArray[np.bool_]) -> tuple[Surface, Array]:
    """The same for a light copy: the cut stays as it is, with its edge; what is behind it is drawn together."""
    corners, inverse = np.unique(surface.faces[cut], return_inverse=True)
    edge = np.isin(np.arange(len(surface.vertices)), corners)
    behind, _ = reduced(Surface(surface.vertices, surface.faces[~cut]), LIGHT_MM, edge)
    face = Surface(surface.vertices[corners], inverse.reshape(-1, 3).astype(np.int32))
    return sawn(joined([behind, face]), np.arange(len(behind.faces) + len(face.faces)) >= len(behind.faces))


def spongy_texture() -> NDArray[np.uint8]:
    """A tile of spongy bone (h, w, 3) that repeats without a seam; the same one every time."""
    noise = np.random.default_rng(11).normal(size=(TEXELS, TEXELS))
    around = np.fft.fftfreq(TEXELS) * TEXELS
    far = np.hypot(around[:, None], around[None, :])
    many = TILE_MM / APART_MM
    smooth = np.fft.ifft2(np.fft.fft2(noise) * np.exp(-(((far / many - 1.0) / 0.36) ** 2))).real
    share = np.clip(0.5 + 0.55 * smooth / smooth.std(), 0.0, 1.0)[..., None]
    picture = np.array(MARROW) * (1.0 - share) + np.array(TRABECULA) * share
    picture[:PLAIN, :PLAIN] = 1.0
    tile: NDArray[np.uint8] = np.round(255.0 * picture).astype(np.uint8)
    return tile
