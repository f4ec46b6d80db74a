"""How far each ray of a film runs through each material.

A place belongs to one material only: where solids overlap, the material of higher rank takes it; two solids of one
material count once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.errors import unknown_word
from meshes.film.beam import Beam
from meshes.film.crossings import CODE_BITS, Crossings, Keys, Ready, crossings, ready
from meshes.surfaces import Surface

#: Materials by rank, the highest last: what fills the skin; muscles and whatever else is soft; hollows; between a
#: bone's outer and inner surface; inside its inner surface, in the spine and in the pelvis; wires and portal.
MATERIALS = ("fat", "soft", "air", "cortex", "spongy_spine", "spongy_pelvis", "metal")
#: Bits in which the solids of one material that a ray is in are counted (at most 127 at one place).
_FIELD = 8


def solids(parts: Sequence[tuple[str, Surface]]) -> Ready:
    """Closed surfaces, each with its material's name, made ready for any number of beams.

    Raises FurcalError for an unknown material.
    """
    for name, _ in parts:
        if name not in MATERIALS:
            raise unknown_word(name, MATERIALS, "material")
    return ready([(MATERIALS.index(name), surface) for name, surface in parts])


def lengths(body: Ready, beam: Beam) -> dict[str, Array]:
    """Path length (h, w), mm, through each of MATERIALS along the ray of every pixel."""
    return lengths_of(crossings(body, beam), beam)


def lengths_of(found: Crossings, beam: Beam) -> dict[str, Array]:
    """Path lengths (h, w), mm, from crossings that are found already."""
    pixels = beam.width * beam.height
    if not len(found.keys):
        return {name: np.zeros((beam.height, beam.width)) for name in MATERIALS}
    rank = ranks(found)
    # Behind a ray's last crossing the rank is 0: what lies between two pixels is nobody's.
    gap = np.diff(found.keys >> CODE_BITS).astype(np.float64)
    inside = np.flatnonzero(rank[:-1])
    rank = rank.take(inside)
    # Material by material, not pixel by pixel: each picture then lies in one piece.
    place = (found.pixel().take(inside)) + (rank - 1) * pixels
    total = np.bincount(place, gap.take(inside), minlength=pixels * len(MATERIALS))
    pictures = total.reshape(len(MATERIALS), beam.height, beam.width) * (found.step_mm * beam.stretch())
    return dict(zip(MATERIALS, pictures, strict=True))


def ranks(found: Crossings) -> NDArray[np.int64]:
    """What the ray is in behind each crossing (k,): 1 + the material's number, 0 for none."""
    worth = np.zeros(1 << CODE_BITS, dtype=np.int64)
    for m in range(len(MATERIALS)):
        worth[2 * m : 2 * m + 2] = 1 << (_FIELD * m), -(1 << (_FIELD * m))
    # One sum counts all materials at once, each in its own bits.
    state = np.cumsum(worth.take(found.keys & ((1 << CODE_BITS) - 1)))
    rank = np.zeros(len(state), dtype=np.int64)
    for m in range(len(MATERIALS)):
        rank += state >= (1 << (_FIELD * m))
    _mend(rank, state)
    return rank


def _mend(rank: Keys, state: Keys) -> None:
    """Count anew where a material's count is under 0, as where a sharp bend turns a tube inside out.

    There the count borrows from the next material's bits. A count under 0 is as good as none.
    """
    half = 1 << (_FIELD - 1)
    level = sum(half << (_FIELD * m) for m in range(len(MATERIALS)))
    raised = state + level
    under = np.flatnonzero((raised & level) != level)
    raised = raised.take(under)
    mended = np.zeros(len(under), dtype=np.int64)
    for m in range(len(MATERIALS)):
        mended[((raised >> (_FIELD * m)) & (2 * half - 1)) > half] = m + 1
    rank[under] = mended


def weighed(paths: Mapping[str, Array], weight: Mapping[str, float]) -> Array:
    """Sum (h, w) of the path lengths, each times its material's number; materials without one count nothing."""
    shape = next(iter(paths.values())).shape
    total = np.zeros(shape)
    for name, path in paths.items():
        if weight.get(name, 0.0):
            total += weight[name] * path
    return total
