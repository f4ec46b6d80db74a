"""Solids for tests, straight from their rows."""

from __future__ import annotations

from collections.abc import Sequence

from meshes.anchors import Reader
from meshes.fields import Field, to_surface
from meshes.landmarks import Landmarks
from meshes.solids import keep_clear, read_parts, soften, solid_field
from meshes.surfaces import Surface
from meshes.tables import Table, number


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
