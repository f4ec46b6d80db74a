"""Tables of solids (bones, discs, ligaments, muscles, viscera, skin) -> structures, fields and surfaces.

A solid's header: `name`, `latin`, `says`, the one to four sentences of its card, with their
`source`; `kind`, `layer`, `group`; `paired` (written once, for the left side); `for`, a list
of levels that one template serves (`{v}` stands for the level in every text, `{joint_above}` and `{joint_below}` for
the joints of a vertebra, l2_3, `{V}` for the level as it is read, and `says` has the sentences of each level, `rest`
those of the others; "0.5 upper_width_mm + 2" for a factor times that level's own quantity); `spacing_mm` of
the grid, `band_mm` of its distances, `soften_mm`, `keep_share` of the faces; `symmetric` makes the right the exact
mirror image of the left; `clear_of`, ids or kinds of solids already built, to stay `gap_mm` away from, `thin_mm`
to lie on them no thicker than that, smoothly over steps of theirs finer than `bridge_mm`; `one_piece` drops the crumbs
that this leaves; `ends = true` cuts it flat at the ends of the body, `ends_beyond_mm` outside them: a shell's lid must
not lie in one plane with what it covers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from meshes.anchors import Reader
from meshes.errors import FurcalError, unknown_word
from meshes.fields import Field, both_halves, to_surface
from meshes.halves import symmetric_surface
from meshes.landmarks import Landmarks
from meshes.solids import keep_clear, keep_largest, keep_near, level_reader, read_parts, soften, solid_field
from meshes.spine import joint_names, quantities
from meshes.structures import KINDS, SIDES, Structure, structure_from
from meshes.surfaces import Surface
from meshes.tables import Table, check_keys, cited, number, read_toml, require
from meshes.tolerances import FIELD_BAND_MM

HEADER_KEYS = (
    "name", "latin", "names", "latins", "kind", "layer", "group", "paired", "for", "quantities", "spacing_mm",
    "band_mm", "symmetric", "soften_mm", "keep_share", "clear_of", "gap_mm", "thin_mm", "bridge_mm", "one_piece",
    "ends", "ends_beyond_mm", "rides", "says", "source", "part",
)  # fmt: skip


@dataclass(frozen=True)
class SolidRow:
    """One solid as its table gives it, template words filled in.

    structure : that of the left side or the midline
    """

    structure: Structure
    paired: bool
    header: Table
    parts: Sequence[Table]
    read: Reader
    where: str


@dataclass(frozen=True)
class Solid:
    """One built solid of the left side or the midline."""

    row: SolidRow
    field: Field
    surface: Surface


def read_solids(path: Path) -> list[SolidRow]:
    """Every solid of one table, in order. Raises FurcalError naming file, solid and key."""
    rows: list[SolidRow] = []
    for key, header in read_toml(path).items():
        where = f"{path}, [{key}]"
        if not isinstance(header, dict):
            raise FurcalError(f"{where}: expected a table.")
        check_keys(header, HEADER_KEYS, where)
        rows += _from_template(key, header, where) if "for" in header else [_row(key, header, where, number)]
    return rows


def _from_template(key: str, header: Table, where: str) -> Iterator[SolidRow]:
    for level in header["for"]:
        row = filled(header, str(level))
        for word in ("name", "latin"):
            row[word] = require(require(header, f"{word}s", where), level, f"{where}, {word}s")
        if isinstance(row.get("says"), dict):
            row["says"] = row["says"].get(level) or require(row["says"], "rest", f"{where}, says")
        row["part"] = [p for p in row.get("part", []) if level in p.pop("only", [level])]
        reader = level_reader(quantities(), str(row.get("quantities", level)))
        yield _row(_text(key, str(level)), row, f"{where}, {level}", reader)


def _text(text: str, level: str) -> str:
    for word, name in joint_names(level).items():
        text = text.replace(word, name)
    return text.replace("{v}", level).replace("{V}", level.upper())


def filled(value: Any, level: str) -> Any:
    """The same table with the level's name in place of {v}, and its joints' in place of {joint_above/below}."""
    if isinstance(value, str):
        return _text(value, level)
    if isinstance(value, list):
        return [filled(v, level) for v in value]
    if isinstance(value, dict):
        return {k: filled(v, level) for k, v in value.items()}
    return value


def _row(key: str, header: Table, where: str, read: Reader) -> SolidRow:
    paired = bool(header.get("paired", False))
    structure = structure_from(f"{key}_left" if paired else key, header, where)
    if "says" in header:
        cited(header, where)
    parts = require(header, "part", where)
    if all(part.get("carve", False) for part in parts):
        raise FurcalError(f"{where}: no part draws anything.")
    return SolidRow(structure, paired, header, parts, read, where)


def build_row(row: SolidRow, landmarks: Landmarks, others: Mapping[str, Solid], ends: Mapping[str, float]) -> Solid:
    """Build one solid; `others` are those already built, `ends` the heights, mm, of the body's flat cuts."""
    header = row.header

    def value(key: str, default: float) -> float:
        return number(header.get(key, default), f"{row.where}, {key}")

    symmetric, band = bool(header.get("symmetric", False)), value("band_mm", FIELD_BAND_MM)
    spacing = value("spacing_mm", 1.5)
    if spacing <= 0.0:
        raise FurcalError(f"{row.where}, spacing_mm: {spacing:g} is not more than 0.")
    field = solid_field(read_parts(row.parts, landmarks, row.where, row.read), spacing, band, half=symmetric)
    if value("soften_mm", 0.0) > 0:
        field = soften(field, value("soften_mm", 0.0))
    gap, near = value("gap_mm", 0.4), list(_neighbours(row, others))
    if "thin_mm" in header:
        keep_near(field, near, gap + value("thin_mm", 0.0), value("bridge_mm", 0.0))
    keep_clear(field, [(other, gap) for other in near])
    if header.get("one_piece", False):
        keep_largest(field)
    if header.get("ends", False):
        cut_ends(field, ends, value("ends_beyond_mm", 0.0))
    if symmetric:
        return Solid(row, both_halves(field), symmetric_surface(field, keep_share=value("keep_share", 0.5)))
    return Solid(row, field, to_surface(field, keep_share=value("keep_share", 0.5)))


def _neighbours(row: SolidRow, others: Mapping[str, Solid]) -> Iterator[Field]:
    """Fields to stay clear of: a word is a kind, or an id (a paired one without its side means both sides)."""
    for word in row.header.get("clear_of", []):
        found = [s for s in others.values() if word in (s.row.structure.kind, s.row.structure.id, _bare(s))]
        if not found and word not in KINDS:
            raise unknown_word(word, [_bare(s) for s in others.values()], "solid", f"{row.where}, clear_of")
        for solid in found:
            yield solid.field
            if solid.row.paired:
                yield mirrored_field(solid.field)


def _bare(solid: Solid) -> str:
    name = solid.row.structure.id
    return name.removesuffix("_left") if solid.row.paired else name


def mirrored_field(field: Field) -> Field:
    """The same distances on the other side."""
    width = (field.values.shape[0] - 1) * field.spacing
    origin = np.array([-field.origin[0] - width, field.origin[1], field.origin[2]])
    return Field(origin, field.spacing, np.ascontiguousarray(field.values[::-1]), field.band)


def cut_ends(field: Field, ends: Mapping[str, float], beyond_mm: float = 0.0) -> None:
    """Cut a field flat at the body's upper and lower end (heights in mm)."""
    z = field.origin[2] + field.spacing * np.arange(field.values.shape[2])
    beyond = (np.maximum(z - ends["top_mm"], ends["bottom_mm"] - z) - beyond_mm).astype(np.float32)
    field.values = np.maximum(field.values, np.clip(beyond, -field.band, field.band)[None, None, :])


def both_sides(solid: Solid) -> dict[str, tuple[Structure, Surface]]:
    """id -> structure and surface: one entry, or two where the solid is paired."""
    structure = solid.row.structure
    out = {structure.id: (structure, solid.surface)}
    if solid.row.paired:
        name = structure.id.removesuffix("_left") + "_right"
        fields = {**structure.__dict__, "id": name, "side": SIDES[1]}
        out[name] = (Structure(**fields), solid.surface.mirrored())
    return out
