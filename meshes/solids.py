"""Table parts -> one closed solid.

A solid is a list of parts, joined in order. Shapes:

    ball   one point with `radius`
    sweep  balls along a smooth line through `points`, each an anchor with `radius`
    sheet  balls over a smooth net: `rows`, a list of lists of anchors with `radius`
    loft   `sections` along a path: anchors with `half_width`, `half_depth`, optional `power` (2 ellipse, 4 boxy);
           planes of the sections lie in the anchor's part (`plane = "frame"`; `lean` of a section tips it so many
           degrees to the front) or across the path (`plane = "path"`). Its outline: `hollow` mm dents the back in the
           middle and leaves the depth there as it is, `taper` narrows the back by a share of the width. Its ends are
           flat; `sink` hollows both by so many mm, `rim` is the share of the radius that stays flat. A section with
           `outline = NAME` in place of an anchor takes centre and half sizes from the landmarks NAME_inner, _outer,
           _front and _back; `turn` swings its outer end so many degrees to the back
    plate  a smooth net of `rows` of anchors, `radius` thick on both sides of it: flat muscles

Part words: `carve = true` takes the shape away; `blend` mm of fillet; `both = true` also on the other side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from meshes.anchors import ANCHOR_KEYS, Reader, left_name, resolve
from meshes.curves import Array, spline
from meshes.errors import FurcalError, unknown_word
from meshes.fields import Box, Field, Values, carve, draw_balls, draw_measured, empty_field, join, left_half
from meshes.landmarks import Landmarks
from meshes.lofts import Loft, loft_distance
from meshes.nets import Net, dense_net
from meshes.spine import rotation
from meshes.tables import Table, check_keys, cited, number, require
from meshes.tolerances import BALL_SPACING, FIELD_BAND_MM, LOFT_STEP_MM

SHAPES = {"ball": "points", "sweep": "points", "sheet": "rows", "loft": "sections", "plate": "rows"}
PLANES = ("frame", "path")
OUTLINE = ("inner", "outer", "front", "back")
PART_KEYS = (
    "shape", "says", "carve", "blend", "both", "plane", "sink", "rim", "hollow", "taper", "points", "rows", "sections",
    "source", "closed", "only",
)  # fmt: skip
SECTION_KEYS = (*ANCHOR_KEYS, "half_width", "half_depth", "power", "lean", "turn", "outline", "says", "source")
POINT_KEYS = (*ANCHOR_KEYS, "radius", "says", "source")
MIRROR = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True)
class Balls:
    """Balls that draw one part: centres (n, 3), radii (n,), mm."""

    centres: Array
    radii: Array


@dataclass(frozen=True)
class Part:
    """One drawn part of a solid."""

    drawing: Balls | Loft | Net
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
        drawing = _drawing(row, shape, landmarks, place, read)
        blend = read(row.get("blend", 0.0), f"{place}, blend")
        parts.append(Part(drawing, bool(row.get("carve", False)), blend))
        if row.get("both", False):
            parts.append(Part(_mirrored(drawing), bool(row.get("carve", False)), blend))
    return parts


def _drawing(row: Table, shape: str, landmarks: Landmarks, where: str, read: Reader) -> Balls | Loft | Net:
    if shape == "loft":
        return _loft(row, landmarks, where, read)
    if shape == "plate":
        return dense_net(_net(row, landmarks, where, read))
    return _balls(row, shape, landmarks, where, read)


def _net(row: Table, landmarks: Landmarks, where: str, read: Reader) -> Array:
    rows = require(row, "rows", where)
    lines = [_controls(r, landmarks, f"{where}, row {i}", read) for i, r in enumerate(rows, start=1)]
    if len({len(line) for line in lines}) != 1 or len(lines) < 2 or len(lines[0]) < 2:
        raise FurcalError(f"{where}: a net needs two or more rows of two or more points, all of one length.")
    return np.stack(lines)


def _controls(points: Sequence[Table], landmarks: Landmarks, where: str, read: Reader) -> Array:
    rows = []
    for index, row in enumerate(points, start=1):
        place = f"{where}, point {index}"
        check_keys(row, POINT_KEYS, place)
        rows.append([*resolve(row, landmarks, place, read), _size(row, "radius", place, read)])
    if not rows:
        raise FurcalError(f"{where}: name one or more points.")
    return np.array(rows)


def _size(row: Table, key: str, where: str, read: Reader) -> float:
    value = read(require(row, key, where), f"{where}, {key}")
    if value <= 0.0:
        raise FurcalError(f"{where}, {key}: {value:g} is not more than 0.")
    return value


def _balls(row: Table, shape: str, landmarks: Landmarks, where: str, read: Reader) -> Balls:
    given = require(row, SHAPES[shape], where)
    if shape == "sheet":
        dense = _dense_net(_net(row, landmarks, where, read))
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
    return _thinned(np.stack(columns))


def _thinned(dense: Array) -> Array:
    """Balls (n, 4) of a dense net (r, c, 4), without those that bigger neighbours make needless.

    The net is as close as its thinnest place asks for; where it is thick every 2nd, 4th .. ball is close enough.
    """
    step = max(float(np.linalg.norm(np.diff(dense[..., :3], axis=k), axis=-1).max()) for k in (0, 1))
    spare = BALL_SPACING * np.maximum(dense[..., 3], 0.1) / max(step, 1e-9)
    stride = 2 ** np.floor(np.log2(np.maximum(spare, 1.0))).astype(int)
    i, j = np.indices(stride.shape)
    last = [n - 1 for n in stride.shape]
    keep = ((i % stride == 0) | (i == last[0])) & ((j % stride == 0) | (j == last[1]))
    out: Array = dense[keep]
    return out


def _loft(row: Table, landmarks: Landmarks, where: str, read: Reader) -> Loft:
    sections = require(row, "sections", where)
    controls, axes = [], []
    for index, section in enumerate(sections, start=1):
        place = f"{where}, section {index}"
        check_keys(section, SECTION_KEYS, place)
        centre, half, turned = _section(section, landmarks, place, read)
        controls.append([*centre, *half, read(section.get("power", 2.0), f"{place}, power")])
        axes.append(turned)
    if len(controls) < 2:
        raise FurcalError(f"{where}: a loft needs two or more sections.")
    plane = str(row.get("plane", PLANES[0]))
    if plane not in PLANES:
        raise unknown_word(plane, PLANES, "plane", where)
    length = float(np.linalg.norm(np.diff(np.array(controls)[:, :3], axis=0), axis=1).sum())
    per_gap = int(np.clip(np.ceil(length / LOFT_STEP_MM / (len(controls) - 1)), 1, 12))
    dense = spline(np.array(controls), per_gap * (len(controls) - 1) + 1)
    shape = {k: read(row.get(k, 0.0), f"{where}, {k}") for k in ("sink", "rim", "hollow", "taper")}
    return Loft(
        dense[:, :3],
        _dense_axes(np.array(axes), np.array(controls), dense, plane),
        np.maximum(dense[:, 3:5], 0.2),
        np.maximum(dense[:, 5], 1.2),
        **shape,
    )


def _section(section: Table, landmarks: Landmarks, where: str, read: Reader) -> tuple[Array, Array, Array]:
    """Centre (3,), half sizes (2,) and axes (3, 3) of one section."""
    if "outline" in section:
        name = left_name(f"{section['outline']}_inner", landmarks, where)
        inner, outer, front, back = (landmarks[name.replace("_inner", f"_{word}")] for word in OUTLINE)
        centre = (inner + outer + front + back) / 4.0
        half = np.array([np.linalg.norm(outer - inner), np.linalg.norm(back - front)]) / 2.0
    else:
        centre = resolve(section, landmarks, where, read)
        name = left_name(str(section["at"] if "at" in section else section["between"][0]), landmarks, where)
        half = np.array([_size(section, k, where, read) for k in ("half_width", "half_depth")])
    axes = landmarks.frames[landmarks.frame_of[name]].axes
    if "lean" in section:
        axes = rotation(read(section["lean"], f"{where}, lean")) @ axes
    if "turn" in section:
        angle = np.radians(read(section["turn"], f"{where}, turn"))
        left, back = (
            np.cos(angle) * axes[0] + np.sin(angle) * axes[1],
            np.cos(angle) * axes[1] - np.sin(angle) * axes[0],
        )
        axes = np.stack([left, back, axes[2]])
    return centre, half, axes


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


def _mirrored(drawing: Balls | Loft | Net) -> Balls | Loft | Net:
    if isinstance(drawing, Net):
        return drawing.mirrored()
    if isinstance(drawing, Balls):
        return Balls(drawing.centres * MIRROR, drawing.radii)
    return replace(drawing, centres=drawing.centres * MIRROR, axes=drawing.axes * MIRROR)


def _reach(drawing: Balls | Loft | Net) -> tuple[Array, Array]:
    if isinstance(drawing, Net):
        return drawing.reach()
    if isinstance(drawing, Balls):
        pad = drawing.radii[:, None]
    else:
        pad = np.linalg.norm(drawing.half, axis=1)[:, None] + max(0.0, -drawing.sink)
    return (drawing.centres - pad).min(axis=0), (drawing.centres + pad).max(axis=0)


def draw(field: Field, drawing: Balls | Loft | Net) -> tuple[Box, Values]:
    """One part on the field's grid: the box of grid points that it reaches, and its distance there, mm."""
    low, high = _reach(drawing)
    box = field.box(low, high)
    if isinstance(drawing, Balls):
        return box, draw_balls(field, box, drawing.centres, drawing.radii)
    if isinstance(drawing, Net):
        return box, draw_measured(field, box, drawing.distance())
    return box, draw_measured(field, box, lambda points: loft_distance(drawing, points))


def solid_field(parts: Sequence[Part], spacing: float, band: float = FIELD_BAND_MM, *, half: bool = False) -> Field:
    """The field of a solid drawn from its parts, in order; `half` covers only the left, from the midplane on."""
    boxes = [_reach(p.drawing) for p in parts if not p.takes_away]
    low, high = np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0)
    field = empty_field(low, high, spacing, band)
    if half:
        field = left_half(field)
    for part in parts:
        box, drawn = draw(field, part.drawing)
        if drawn.size:
            merge = carve if part.takes_away else join
            field.values[box] = merge(field.values[box], drawn, part.blend)
    return field


def keep_clear(field: Field, others: Sequence[tuple[Field, float]]) -> None:
    """Take away from a field what comes nearer than the gap, mm, to each of the other solids."""
    for other, gap in others:
        box, near = other.on_grid_of(field)
        field.values[box] = np.maximum(field.values[box], gap - near)


def keep_near(field: Field, others: Sequence[Field], reach_mm: float, bridge_mm: float = 0.0) -> None:
    """Take away from a field what lies further than the reach, mm, from all of the other solids.

    bridge_mm : over edges and steps of theirs that are finer than this it lies smoothly
    """
    nearest = np.full_like(field.values, field.band)
    for other in others:
        box, near = other.on_grid_of(field)
        nearest[box] = np.minimum(nearest[box], near)
    if bridge_mm > 0.0:
        nearest = soften(replace(field, values=nearest), bridge_mm).values
    field.values = np.maximum(field.values, nearest - np.float32(reach_mm))


def keep_largest(field: Field) -> None:
    """Take away from a field every piece but the largest."""
    from scipy.ndimage import label

    pieces, count = label(field.values < 0)
    if count > 1:
        largest = int(np.argmax(np.bincount(pieces.ravel())[1:])) + 1
        field.values[(pieces > 0) & (pieces != largest)] = field.spacing


def soften(field: Field, sigma_mm: float) -> Field:
    """The same field with its finest ripples taken out."""
    from scipy.ndimage import gaussian_filter

    modes = ("mirror" if field.is_half else "nearest", "nearest", "nearest")
    return replace(field, values=gaussian_filter(field.values, sigma_mm / field.spacing, mode=modes))


def level_reader(table: Mapping[tuple[str, str], float], part: str) -> Reader:
    """A reader that also takes words like "0.5 upper_width_mm": a factor times a quantity of one vertebra.

    Several stand joined by " + " or " - ", plain numbers among them: "0.5 canal_width_mm + 3".
    """

    def term(text: str, where: str) -> float:
        factor, _, quantity = text.strip().partition(" ")
        if not quantity:
            return number(factor, where)
        if (part, quantity) not in table:
            raise unknown_word(quantity, sorted({q for p, q in table if p == part}), "quantity", where)
        return number(factor, where) * table[part, quantity]

    def read(value: Any, where: str) -> float:
        if not isinstance(value, str):
            return number(value, where)
        return sum(term(text, where) for text in value.replace(" - ", " + -").split(" + "))

    return read
