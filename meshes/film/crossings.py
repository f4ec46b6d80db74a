"""Where the rays of a film go into and out of closed triangle surfaces.

Every triangle is laid on the detector row by row. In a row of pixel centres an edge stands at one column, found from
its upper end and its slope alone, so that the two triangles at an edge always agree on it; a triangle covers the
columns from one of its edges up to, not including, the other. Whatever the rounding, the ins and outs of a closed
surface therefore cancel at every pixel.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array, Indices
from meshes.errors import FurcalError
from meshes.film.beam import Beam
from meshes.surfaces import Surface
from meshes.threads import one_thread

Keys = NDArray[np.int64]

#: Triangles that are worked on at a time: their numbers stay in the processor's cache.
CHUNK = 1 << 14
#: Lowest bits of a key: the material (3 bits) and whether the ray goes out (1 bit).
CODE_BITS = 4
#: A corner's word: row | doubtful column | column | corner's own number.
_COLUMN, _DOUBT, _ROW = 28, 42, 43
_NUMBER = np.int64((1 << _COLUMN) - 1)
_COLUMNS = np.int64(((1 << _DOUBT) - 1) ^ ((1 << _COLUMN) - 1))
#: Columns by which rounding may misplace an edge; corners nearer to a pixel centre than that are in doubt.
_SLACK = 1e-6


@dataclass(frozen=True)
class Ready:
    """Surfaces made ready for any number of beams: what does not depend on where the film is taken from.

    vertices : (n, 3) float, mm, of all surfaces
    corners  : (3, f) int, vertices of all triangles, one row a corner
    spans    : (material, first, last + 1) triangles of each material; the material counts from 0
    """

    vertices: Array
    corners: Indices
    spans: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True)
class Crossings:
    """All crossings of all rays, sorted by pixel, then depth.

    keys  : (k,) int64, pixel | depth in steps | material | out
    steps : bits of the depth
    step_mm : what one step is in mm along the detector's normal
    nearest_mm : the depth at step 0
    """

    keys: Keys
    steps: int
    step_mm: float
    nearest_mm: float
    shape: tuple[int, int]

    def pixel(self) -> Keys:
        """Pixel (k,), row by row, of each crossing."""
        return self.keys >> (self.steps + CODE_BITS)

    def depth_mm(self) -> Array:
        """Depth (k,), mm, of each crossing along the detector's normal."""
        steps = (self.keys >> CODE_BITS) & ((1 << self.steps) - 1)
        out: Array = steps.astype(np.float64) * self.step_mm + self.nearest_mm
        return out

    def material(self) -> Keys:
        """Material (k,) of each crossing."""
        return (self.keys >> 1) & 7

    def sign(self) -> Keys:
        """+1 (k,) where a ray goes in, -1 where it goes out."""
        return 1 - 2 * (self.keys & 1)


def ready(parts: Sequence[tuple[int, Surface]]) -> Ready:
    """Surfaces, each with its material (0 to 6), as one list of triangles."""
    ordered = sorted(parts, key=lambda part: part[0])
    starts = np.cumsum([0] + [len(surface.vertices) for _, surface in ordered]).tolist()
    faces = [surface.faces.T.astype(np.intp) + start for (_, surface), start in zip(ordered, starts, strict=False)]
    spans: dict[int, tuple[int, int]] = {}
    first = 0
    for material, surface in ordered:
        begin = spans.get(material, (first, first))[0]
        first += len(surface.faces)
        spans[material] = (begin, first)
    none = not ordered
    return Ready(
        np.zeros((0, 3)) if none else np.concatenate([surface.vertices for _, surface in ordered]),
        np.zeros((3, 0), dtype=np.intp) if none else np.ascontiguousarray(np.concatenate(faces, axis=1)),
        tuple((material, *span) for material, span in spans.items()),
    )


def merged(*several: Ready) -> Ready:
    """Several lists of triangles as one."""
    starts = np.cumsum([0] + [len(one.vertices) for one in several[:-1]]).tolist()
    before = np.cumsum([0] + [one.corners.shape[1] for one in several[:-1]]).tolist()
    return Ready(
        np.concatenate([one.vertices for one in several]),
        np.concatenate([one.corners + start for one, start in zip(several, starts, strict=True)], axis=1),
        tuple((m, a + b, z + b) for one, b in zip(several, before, strict=True) for m, a, z in one.spans),
    )


def crossings(body: Ready, beam: Beam) -> Crossings:
    """All crossings of the beam's rays with the surfaces."""
    pixel_bits = int(beam.width * beam.height).bit_length()
    steps = 63 - CODE_BITS - pixel_bits
    with one_thread():
        col, row, depth = beam.on_detector(body.vertices)
    nearest = float(depth.min()) if len(depth) else 1.0
    if beam.source_mm is not None and nearest <= 0.0:
        raise FurcalError("A part of the body lies behind the source: move the source further from the centre.")
    reach = float(depth.max()) - nearest if len(depth) else 0.0
    step_mm = max(reach, 1e-6) / (2**steps - 2)
    # Along an edge or a triangle on the detector it is 1 / depth that changes evenly when rays fan out.
    even = (depth - nearest) / step_mm if beam.source_mm is None else 1.0 / depth
    sheet = _Sheet(col, row, even, _words(col, row, beam), beam, steps, step_mm, nearest)
    found = [keys for m, a, z in body.spans for keys in _keys_of(sheet, body.corners, m, a, z)]
    keys = np.concatenate(found) if found else np.zeros(0, dtype=np.int64)
    keys.sort()
    return Crossings(keys, steps, step_mm, nearest, (beam.height, beam.width))


@dataclass(frozen=True)
class _Sheet:
    """Corners laid on the detector: column, row (n,), pixels; what changes evenly with them; each corner's word."""

    col: Array
    row: Array
    even: Array
    words: Keys
    beam: Beam
    steps: int
    step_mm: float
    nearest: float


def _words(col: Array, row: Array, beam: Beam) -> Keys:
    """Each corner's word (n,): first row of pixel centres at or below it, first column at or right of it, its number.

    Both stop at the picture's rims. Words sort by row, and triangles whose corners share a row or a column (none of
    them in doubt) cover no pixel centre.
    """
    rows = np.ceil(np.clip(row, -1.0, beam.height)).clip(0.0)
    low = np.ceil(np.clip(col - _SLACK, -1.0, beam.width)).clip(0.0)
    high = np.ceil(np.clip(col + _SLACK, -1.0, beam.width)).clip(0.0)
    out: Keys = rows.astype(np.int64) << _ROW
    out |= (low != high).astype(np.int64) << _DOUBT
    out |= high.astype(np.int64) << _COLUMN
    out |= np.arange(len(col))
    return out


def _keys_of(sheet: _Sheet, corners: Indices, material: int, first: int, last: int) -> Iterator[Keys]:
    for start in range(first, last, CHUNK):
        a, b, c = corners[:, start : min(start + CHUNK, last)]
        keys = _chunk(sheet, sheet.words.take(a), sheet.words.take(b), sheet.words.take(c), material)
        if len(keys):
            yield keys


def _chunk(sheet: _Sheet, a: Keys, b: Keys, c: Keys, material: int) -> Keys:
    """Keys of all crossings with triangles whose corners have the words a, b, c (f,)."""
    differ = (a ^ b) | (a ^ c)
    doubt = (a | b | c) & np.int64(1 << _DOUBT)
    kept = np.flatnonzero((differ >= (1 << _ROW)) & (((differ & _COLUMNS) | doubt) != 0))
    if not len(kept):
        return kept
    a, b, c = a.take(kept), b.take(kept), c.take(kept)
    odd = (a > b) ^ (b > c) ^ (a > c)
    low, high = np.minimum(a, b), np.maximum(a, b)
    top, foot = np.minimum(low, c), np.maximum(high, c)
    middle = np.maximum(low, np.minimum(high, c))
    return _fill(sheet, top, middle, foot, odd, material)


@dataclass(frozen=True)
class _Edge:
    """Edges (n,) on their way down the rows: what they are in the first row below their upper end, and gain a row."""

    col: Array
    col_gain: Array
    even: Array
    even_gain: Array

    def col_at(self, pick: Indices, rows: Indices) -> Array:
        """Columns (s,) of picked edges, so many rows below their first."""
        return self.col.take(pick) + rows * self.col_gain.take(pick)

    def even_at(self, pick: Indices, rows: Indices) -> Array:
        """What changes evenly (s,), of picked edges so many rows below their first."""
        return self.even.take(pick) + rows * self.even_gain.take(pick)


def _fill(sheet: _Sheet, top: Keys, middle: Keys, foot: Keys, odd: NDArray[np.bool_], material: int) -> Keys:
    """Keys of triangles given by their corners' words (f,), in order down the rows; odd: the order turns them over.

    The long edge runs from top to foot. Above the middle corner the short one is top to middle, then middle to foot.
    """
    ends = [word & _NUMBER for word in (top, middle, foot)]
    rows = [word >> _ROW for word in (top, middle, foot)]
    x, y, z = ([values.take(end) for end in ends] for values in (sheet.col, sheet.row, sheet.even))
    edges = []
    for upper, lower in ((0, 1), (1, 2), (0, 2)):
        # An edge that stands in no row may have no height: its numbers are never read.
        share = 1.0 / np.where(rows[lower] > rows[upper], y[lower] - y[upper], 1.0)
        lead = rows[upper] - y[upper]
        dx, dz = (x[lower] - x[upper]) * share, (z[lower] - z[upper]) * share
        edges.append(_Edge(x[upper] + lead * dx, dx, z[upper] + lead * dz, dz))
    short = _Edge(*(np.concatenate([getattr(edge, f) for edge in edges[:2]]) for f in _Edge.__dataclass_fields__))
    counts = np.concatenate([rows[1] - rows[0], rows[2] - rows[1]])
    half, down = _counted(counts)
    face = np.where(half < len(top), half, half - len(top))
    below = down + (half != face) * (rows[1] - rows[0]).take(face)
    x0, x1 = short.col_at(half, down), edges[2].col_at(face, below)
    c0, c1 = (np.clip(np.ceil(x), 0.0, sheet.beam.width) for x in (x0, x1))
    kept = np.flatnonzero(c0 != c1)
    half, down, face, below = (whole.take(kept) for whole in (half, down, face, below))
    x0, x1, c0, c1 = (real.take(kept) for real in (x0, x1, c0, c1))
    z0, z1 = short.even_at(half, down), edges[2].even_at(face, below)
    # Where the ceilings differ, so do x0 and x1, and `col` lies between them: no division by 0, no overshoot.
    col, gain = np.minimum(c0, c1), (z1 - z0) / (x1 - x0)
    pixel = (rows[0].take(face) + below) * sheet.beam.width + col.astype(np.int64)
    # Read from the other side, every triangle runs the other way round.
    code = ((c1 < c0) ^ odd.take(face) ^ sheet.beam.from_behind) | (material << 1)
    base = (pixel << (sheet.steps + CODE_BITS)) | code
    return _runs(sheet, base, np.abs(c1 - c0).astype(np.int64), z0 + (col - x0) * gain, gain)


def _runs(sheet: _Sheet, base: Keys, counts: Keys, even: Array, gain: Array) -> Keys:
    """Keys (k,) of runs of pixels (s,): the key of each run's first pixel without depth, and what changes evenly."""
    run, right = _counted(counts)
    depth = even.take(run) + right * gain.take(run)
    if sheet.beam.source_mm is not None:
        depth = (1.0 / depth - sheet.nearest) * (1.0 / sheet.step_mm)
    np.clip(depth + 0.5, 0.0, 2.0**sheet.steps - 1.0, out=depth)
    keys: Keys = base.take(run)
    keys += right << (sheet.steps + CODE_BITS)
    keys += depth.astype(np.int64) << CODE_BITS
    return keys


def _counted(counts: Keys) -> tuple[Indices, Indices]:
    """0 0 0 1 1 2 ... as often as the counts (n,) say, and 0 1 2 0 1 0 ... beside it."""
    each = np.repeat(np.arange(len(counts)), counts)
    return each, np.arange(len(each)) - (np.cumsum(counts) - counts).take(each)
