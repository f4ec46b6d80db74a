"""Table parts -> one closed solid.

A solid is a list of parts, joined in order. Shapes:

    ball   one point with `radius`
    sweep  balls along a smooth line through `points`, each an anchor with `radius`
    sheet  balls over a smooth net: `rows`, a list of lists of anchors with `radius`
    loft   `sections` along a path: anchors with `half_width`, `half_depth`, optional `power` (2 ellipse, 4 boxy);
           planes of the sections lie in the anchor's part (`plane = "frame"`) or across the path (`plane = "path"`);
           `sink` hollows both ends by so many mm

Part words: `carve = true` takes the shape away; `blend` mm of fillet; `both = true` also on the other side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from meshes.anchors import ANCHOR_KEYS, Reader, left_name, resolve
from meshes.curves import Array, spline
from meshes.errors import unknown_word
from meshes.fields import Field, Values, carve, draw_balls, empty_field, join, to_surface
from meshes.landmarks import Landmarks
from meshes.surfaces import Surface
from meshes.tables import Table, check_keys, cited, number, require
from meshes.tolerances import BALL_SPACING, FIELD_BAND_MM

SHAPES = {"ball": "points", "sweep": "points", "sheet": "rows", "loft": "sections"}
PART_KEYS = (
    "shape", "says", "carve", "blend", "both", "plane", "sink", "points", "rows", "sections", "source", "closed", "only",
)  # fmt: skip
SECTION_KEYS = (*ANCHOR_KEYS, "half_width", "half_depth", "power", "says", "source")
POINT_KEYS = (*ANCHOR_KEYS, "radius", "says", "source")
MIRROR = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True)
class Balls:
    """Balls that draw one part: centres (n, 3), radii (n,), mm."""

    centres: Array
    radii: Array


@dataclass(frozen=True)
class Loft:
    """Dense sections of one part: centres (n, 3), axes (n, 3, 3) rows width/depth/along, half sizes (n, 2), power (n,)."""

    centres: Array
    axes: Array
    half: Array
    power: Array
    sink: float


@dataclass(frozen=True)
class Part:
    """One drawn part of a solid."""

    drawing: Balls | Loft
    takes_away: bool
    blend: float


def read_parts(rows: Sequence[Table], landmarks: Landmarks, where: str, read: Reader = number) -> list[Part]:
    """Parts of a solid from its table rows. Raises FurcalError naming the part."""
    parts: list[Part] = []
    for index, row in enumerate(rows, start=1):
        place = f"{where}, part {index}"
        check_keys(row, PART_KEYS, place)
        cited(row, place)
        shape = str(require(row, "shape", place))
        if shape not in SHAPES:
            raise unknown_word(shape, SHAPES, "shape", place)
        drawing = _loft(row, landmarks, place, read) if shape == "loft" else _balls(row, shape, landmarks, place, read)
        blend = read(row.get("blend", 0.0), f"{place}, blend")
        parts.append(Part(drawing, bool(row.get("carve", False)), blend))
        if row.get("both", False):
            parts.append(Part(_mirrored(drawing), bool(row.get("carve", False)), blend))
    return parts


def _controls(points: Sequence[Table], landmarks: Landmarks, where: str, read: Reader) -> Array:
    rows = []
    for index, row in enumerate(points, start=1):
        place = f"{where}, point {index}"
        check_keys(row, POINT_KEYS, place)
        rows.append([*resolve(row, landmarks, place, read), read(require(row, "radius", place), f"{place}, radius")])
    return np.array(rows)


def _balls(row: Table, shape: str, landmarks: Landmarks, where: str, read: Reader) -> Balls:
    given = require(row, SHAPES[shape], where)
    if shape == "sheet":
        net = np.stack([_controls(r, landmarks, f"{where}, row {i}", read) for i, r in enumerate(given, start=1)])
        dense = _dense_net(net)
    else:
        dense = _controls(given, landmarks, where, read)
        if bool(row.get("closed", False)):
            dense = np.concatenate([dense, dense[:1]])
        if len(dense) > 1:
            dense = _dense_line(dense)
    return Balls(dense[:, :3], np.maximum(dense[:, 3], 0.1))


def _samples(lengths: float, radius: float) -> int:
    return max(2, int(np.ceil(lengths / max(BALL_SPACING * radius, 0.5))) + 1)


def _dense_line(controls: Array) -> Array:
    length = float(np.linalg.norm(np.diff(controls[:, :3], axis=0), axis=1).sum())
    return spline(controls, _samples(length, float(controls[:, 3].min())))


def _dense_net(net: Array) -> Array:
    """Net (r, c, 4) -> dense balls (n, 4): splines along the rows, then across them."""
    radius = float(net[..., 3].min())
    across = max(float(np.linalg.norm(np.diff(row[:, :3], axis=0), axis=1).sum()) for row in net)
    along = max(float(np.linalg.norm(np.diff(net[:, j, :3], axis=0), axis=1).sum()) for j in range(net.shape[1]))
    rows = np.stack([spline(row, _samples(across, radius)) for row in net])
    columns = [spline(rows[:, j], _samples(along, radius)) for j in range(rows.shape[1])]
    return np.concatenate(columns)


def _loft(row: Table, landmarks: Landmarks, where: str, read: Reader) -> Loft:
    sections = require(row, "sections", where)
    controls, axes = [], []
    for index, section in enumerate(sections, start=1):
        place = f"{where}, section {index}"
        check_keys(section, SECTION_KEYS, place)
        size = [read(require(section, k, place), f"{place}, {k}") for k in ("half_width", "half_depth")]
        power = read(section.get("power", 2.0), f"{place}, power")
        controls.append([*resolve(section, landmarks, place, read), *size, power])
        axes.append(_section_axes(section, landmarks, place))
    dense = spline(np.array(controls), 12 * (len(controls) - 1) + 1)
    return Loft(
        dense[:, :3],
        _dense_axes(np.array(axes), np.array(controls), dense, str(row.get("plane", "frame"))),
        np.maximum(dense[:, 3:5], 0.2),
        np.maximum(dense[:, 5], 1.2),
        read(row.get("sink", 0.0), f"{where}, sink"),
    )


def _section_axes(section: Table, landmarks: Landmarks, where: str) -> Array:
    name = section["at"] if "at" in section else section["between"][0]
    return landmarks.frames[landmarks.frame_of[left_name(str(name), landmarks, where)]].axes


def _dense_axes(axes: Array, controls: Array, dense: Array, plane: str) -> Array:
    """Axes (n, 3, 3) of dense sections: width, depth, along the path."""
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(controls[:, :3], axis=0), axis=1))])
    fine = np.linspace(0.0, arc[-1], len(dense))
    left = np.stack([np.interp(fine, arc, axes[:, 0, k]) for k in range(3)], axis=1)
    if plane == "path":
        along = np.gradient(dense[:, :3], axis=0)
    else:
        along = np.stack([np.interp(fine, arc, axes[:, 2, k]) for k in range(3)], axis=1)
        forward = np.einsum("ij,ij->i", along, np.gradient(dense[:, :3], axis=0)).sum()
        along = along * np.sign(forward)
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    left = left - along * np.einsum("ij,ij->i", left, along)[:, None]
    left = left / np.linalg.norm(left, axis=1, keepdims=True)
    return np.stack([left, np.cross(along, left), along], axis=1)


def _mirrored(drawing: Balls | Loft) -> Balls | Loft:
    if isinstance(drawing, Balls):
        return Balls(drawing.centres * MIRROR, drawing.radii)
    axes = drawing.axes * MIRROR
    return Loft(drawing.centres * MIRROR, axes, drawing.half, drawing.power, drawing.sink)


def _reach(drawing: Balls | Loft) -> tuple[Array, Array]:
    if isinstance(drawing, Balls):
        pad = drawing.radii[:, None]
    else:
        pad = np.linalg.norm(drawing.half, axis=1)[:, None] + max(0.0, -drawing.sink)
    return (drawing.centres - pad).min(axis=0), (drawing.centres + pad).max(axis=0)


def draw(field: Field, drawing: Balls | Loft) -> Values:
    """Distance (nx, ny, nz), mm, of one part on the field's grid."""
    if isinstance(drawing, Balls):
        return draw_balls(field, drawing.centres, drawing.radii)
    return draw_loft(field, drawing)


def draw_loft(field: Field, loft: Loft) -> Values:
    """Distance to a loft, exact to first order near its surface; flat (or hollowed) ends."""
    low, high = _reach(loft)
    start = np.maximum(np.floor((low - field.band - field.origin) / field.spacing).astype(int), 0)
    stop = np.minimum(np.ceil((high + field.band - field.origin) / field.spacing).astype(int) + 1, field.values.shape)
    out = np.full_like(field.values, field.band)
    box = tuple(slice(a, b) for a, b in zip(start, stop, strict=True))
    axes = [field.origin[k] + field.spacing * np.arange(start[k], stop[k]) for k in range(3)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    out[box] = np.clip(loft_distance(loft, points.reshape(-1, 3)).reshape(points.shape[:3]), -field.band, field.band)
    return out


def loft_distance(loft: Loft, points: Array) -> Array:
    """Signed distance (n,), mm, of points (n, 3)."""
    heights = np.stack([(points - c) @ a[2] for c, a in zip(loft.centres, loft.axes, strict=True)])
    upper = np.clip(np.argmax(heights < 0, axis=0), 1, len(heights) - 1)
    upper[(heights >= 0).all(axis=0)] = len(heights) - 1
    lower = upper - 1
    column = np.arange(len(points))
    h0, h1 = heights[lower, column], heights[upper, column]
    share = np.clip(h0 / np.where(np.abs(h0 - h1) < 1e-9, 1e-9, h0 - h1), 0.0, 1.0)[:, None]
    mix = lambda values: values[lower] * (1 - share) + values[upper] * share  # noqa: E731 - five uses, one line
    offset = points - mix(loft.centres)
    a = np.einsum("ij,ij->i", offset, mix(loft.axes[:, 0]))
    b = np.einsum("ij,ij->i", offset, mix(loft.axes[:, 1]))
    half, power = mix(loft.half), mix(loft.power[:, None])[:, 0]
    radial, side = _superellipse(a, b, half, power)
    bulge = loft.sink * np.maximum(1.0 - radial**2, 0.0)
    ends = np.maximum(heights[-1], -heights[0]) + bulge
    outside = np.hypot(np.maximum(side, 0.0), np.maximum(ends, 0.0))
    out: Array = np.where((side > 0) & (ends > 0), outside, np.maximum(side, ends))
    return out


def _superellipse(a: Array, b: Array, half: Array, power: Array) -> tuple[Array, Array]:
    """Radial measure (1 on the outline) and first-order distance of local points to a superellipse."""
    u, v = np.abs(a) / half[:, 0], np.abs(b) / half[:, 1]
    total = np.maximum(u**power + v**power, 1e-12)
    radial = total ** (1.0 / power)
    slope = total ** (1.0 / power - 1.0)
    gradient = slope * np.hypot(u ** (power - 1.0) / half[:, 0], v ** (power - 1.0) / half[:, 1])
    deepest = half.min(axis=1)
    distance = (radial - 1.0) / np.maximum(gradient, 1.0 / (4.0 * deepest))
    return radial, np.maximum(distance, -deepest)


def solid_field(parts: Sequence[Part], spacing: float) -> Field:
    """The field of a solid drawn from its parts, in order."""
    boxes = [_reach(p.drawing) for p in parts if not p.takes_away]
    field = empty_field(np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0), spacing, FIELD_BAND_MM)
    for part in parts:
        drawn = draw(field, part.drawing)
        field.values = carve(field.values, drawn, part.blend) if part.takes_away else join(field.values, drawn, part.blend)
    return field


def keep_clear(field: Field, others: Sequence[tuple[Field, float]]) -> None:
    """Take away from a field what comes nearer than the gap, mm, to each of the other solids."""
    for other, gap in others:
        near = other.at(field.grid().reshape(-1, 3)).reshape(field.values.shape).astype(np.float32)
        field.values = np.maximum(field.values, gap - near)


def soften(field: Field, sigma_mm: float) -> Field:
    """The same field with its finest ripples taken out."""
    from scipy.ndimage import gaussian_filter

    return Field(field.origin, field.spacing, gaussian_filter(field.values, sigma_mm / field.spacing), field.band)


def build_solid(
    rows: Sequence[Table],
    landmarks: Landmarks,
    where: str,
    *,
    spacing: float,
    soften_mm: float = 0.0,
    keep_share: float = 1.0,
    clear_of: Sequence[tuple[Field, float]] = (),
    read: Reader = number,
) -> tuple[Field, Surface]:
    """Field and surface of one solid from its table rows, on the left side or in the midline."""
    field = solid_field(read_parts(rows, landmarks, where, read), spacing)
    if soften_mm > 0:
        field = soften(field, soften_mm)
    keep_clear(field, clear_of)
    return field, to_surface(field, keep_share=keep_share)


def level_reader(table: Mapping[tuple[str, str], float], part: str) -> Reader:
    """A reader that also takes words like "0.5 upper_width_mm": a factor times a quantity of one vertebra."""

    def read(value: Any, where: str) -> float:
        if not isinstance(value, str) or " " not in value:
            return number(value, where)
        factor, quantity = value.split(maxsplit=1)
        if (part, quantity) not in table:
            raise unknown_word(quantity, sorted({q for p, q in table if p == part}), "quantity", where)
        return number(factor, where) * table[part, quantity]

    return read
