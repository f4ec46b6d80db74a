"""A specimen: one person, as a small set of choices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from meshes.errors import FurcalError, unknown_word
from meshes.structures import POSTURES, SIDES
from meshes.tables import check_keys, number, read_toml

SEXES = ("female", "male")
#: Every variant a specimen may have. Those with a side are written with _left / _right in a file.
SIDED_VARIANTS = ("accessory_obturator", "genitofemoral_split", "lfcn_lateral_to_asis", "t12_share")
MIDLINE_VARIANTS = ("aorta_divides_high",)
VARIANTS = tuple(f"{v}_{s}" for v in SIDED_VARIANTS for s in SIDES) + MIDLINE_VARIANTS
RANGES = {"stature_mm": (1400.0, 2100.0), "table_break_deg": (0.0, 40.0), "psoas_scale": (0.5, 1.6)}
KEYS = ("name", "sex", "stature_mm", "posture", "table_break_deg", "up", "psoas_scale", "seed", "variants")


@dataclass(frozen=True)
class Specimen:
    """What makes one person's body, before it is built. Defaults are *Alder*, the average adult.

    up : which side is up when lying on the side; empty means the docked side
    """

    name: str = "Alder"
    sex: str = ""
    stature_mm: float = 0.0
    posture: str = "side_lying"
    table_break_deg: float = 0.0
    up: str = ""
    psoas_scale: float = 1.0
    seed: int | None = None
    variants: frozenset[str] = field(default_factory=frozenset)

    def facing_up(self, side: str) -> Specimen:
        """The same person with the docked side up, where the file leaves it open and it matters."""
        if self.up or self.posture != "side_lying" or self.table_break_deg == 0.0:
            return self
        return replace(self, up=side)


ALDER = Specimen()
