"""Surfaces as the page holds them: whole numbers, as steps from one to the next, squeezed; equal ones once."""

from __future__ import annotations

import base64
import hashlib
import zlib
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.surfaces import Surface
from viewer.polydata import creased

#: So many whole numbers stand for one tile of a texture.
PER_TILE = 512
#: The most corners of one mesh: their numbers have 16 bits.
MOST = 65536


@dataclass
class Store:
    """The meshes of a page: `rows` and `squeezed` go into it as they stand, and its `read.js` takes them apart."""

    rows: list[dict[str, Any]] = field(default_factory=list)
    known: dict[str, int] = field(default_factory=dict)
    triangles: int = 0
    _held: list[bytes] = field(default_factory=list)
    _length: int = 0

    def add(self, surface: Surface, texture: Array | None = None, share: Array | None = None) -> int:
        """The number of a mesh; that of an equal one where there is one.

        texture : (v, 2) texture coordinates, in tiles, or None
        share   : (v,) how much of it is tendon, 0..1, or None
        """
        row, held = packed(surface, texture, share)
        key = hashlib.sha256(repr(sorted(row.items())).encode() + held).hexdigest()
        if key not in self.known:
            self.known[key] = len(self.rows)
            self.rows.append({**row, "at": self._length})
            self._held.append(held)
            self._length += len(held)
            self.triangles += int(row["faces"])
        return self.known[key]

    def squeezed(self) -> str:
        """The bytes of all meshes, one after the other, by zlib, as base64."""
        return base64.b64encode(zlib.compress(b"".join(self._held), 9)).decode()


def packed(surface: Surface, texture: Array | None = None, share: Array | None = None) -> tuple[dict[str, Any], bytes]:
    """One mesh: its flat cuts kept crisp by doubled corners; the page works out normals.

    The bytes are, one after the other and as `_steps` writes them: x, y and z of the corners, both texture coordinates,
    and the faces' corners; then the share, as it is. What is not there takes no room.
    """
    bent, origin = creased(surface)
    assert len(bent.vertices) <= MOST, "a mesh of the page has too many corners; thin it"
    # Corners in the order in which faces come to them, so that one is near to the next.
    used, first = np.unique(bent.faces.ravel(), return_index=True)
    order = used[np.argsort(first, kind="stable")]
    number = np.zeros(len(bent.vertices), dtype=np.int64)
    number[order] = np.arange(len(order))
    vertices, origin = bent.vertices[order], origin[order]
    low = vertices.min(axis=0)
    step = max(float((vertices.max(axis=0) - low).max()) / (MOST - 1), 1e-6)
    columns = list(np.round((vertices - low) / step).astype(np.int64).T)
    if texture is not None:
        columns += list(np.clip(np.round(texture[origin] * PER_TILE), -32768, 32767).astype(np.int64).T)
    held = [_steps(column) for column in (*columns, number[bent.faces].ravel())]
    if share is not None:
        held.append(np.round(share[origin] * 255.0).astype(np.uint8).tobytes())
    row = {
        "corners": len(vertices),
        "faces": len(bent.faces),
        "low": [round(float(x), 4) for x in low],
        "step": step,
        "texture": texture is not None,
        "share": share is not None,
    }
    return row, b"".join(held)


def _steps(values: NDArray[np.int64]) -> bytes:
    """Each value as its step from the one before, of 16 bits: all low bytes first, then all high ones."""
    # Modulo 2^16 every step is one between -32768 and 32767; small ones, whatever their sign, become small numbers.
    steps = (np.diff(values, prepend=0) + 32768) % 65536 - 32768
    turned = np.where(steps < 0, -2 * steps - 1, 2 * steps).astype(np.uint16)
    return (turned & 255).astype(np.uint8).tobytes() + (turned >> 8).astype(np.uint8).tobytes()
