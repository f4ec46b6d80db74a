"""A specimen: one person, as a small set of choices."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from meshes.errors import FurcalError, shown, unknown_word
from meshes.structures import POSTURES, SIDES
from meshes.tables import ANATOMY, check_keys, number, read_toml

SEXES = ("female", "male")
#: Every variant a specimen may have. Those with a side are written with _left / _right in a file.
SIDED_VARIANTS = ("accessory_obturator", "genitofemoral_split", "lfcn_lateral_to_asis", "t12_share")
MIDLINE_VARIANTS = ("aorta_divides_high",)
VARIANTS = tuple(f"{v}_{s}" for v in SIDED_VARIANTS for s in SIDES) + MIDLINE_VARIANTS
RANGES = {"stature_mm": (1400.0, 2100.0), "table_break_deg": (0.0, 40.0), "psoas_scale": (0.5, 1.6)}
SEED_END = 10**18
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


def load(path: Path) -> Specimen:
    """A specimen from a TOML file; every key is optional.

    Raises FurcalError naming file, key and the legal words or range.
    """
    return from_table(read_toml(path), str(path))


def from_table(table: Mapping[str, Any], where: str) -> Specimen:
    """A specimen from the keys of a file. Keys that are not given are drawn when there is a `seed`."""
    check_keys(table, KEYS, where)
    given: dict[str, Any] = {}
    for key in table:
        given[key] = _READ[key](table[key], f"{where}, {key}")
    if given.get("up") and given.get("posture", "side_lying") != "side_lying":
        raise FurcalError(f'{where}, up: goes with posture = "side_lying" only.')
    if given.get("table_break_deg") and given.get("posture", "side_lying") != "side_lying":
        raise FurcalError(f'{where}, table_break_deg: goes with posture = "side_lying" only.')
    if given.get("seed") is not None:
        return replace(drawn(given["seed"], given.get("sex", "")), **given)
    return Specimen(**{"name": Path(where).stem, **given})


def _text(value: object, where: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise FurcalError(f"{where}: expected a text, found {shown(value)}.")
    return value


def _word(legal: tuple[str, ...], what: str) -> Callable[[object, str], str]:
    def read(value: object, where: str) -> str:
        if value not in legal:
            raise unknown_word(value, legal, what, where)
        return str(value)

    return read


def _ranged(key: str) -> Callable[[object, str], float]:
    low, high = RANGES[key]

    def read(value: object, where: str) -> float:
        if isinstance(value, str):
            raise FurcalError(f"{where}: expected a number, found {shown(value)}.")
        result = number(value, where)
        if not low <= result <= high:
            raise FurcalError(f"{where}: {result:g} is outside {low:g} to {high:g}.")
        return result

    return read


def _seed(value: object, where: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < SEED_END:
        raise FurcalError(f"{where}: expected a whole number from 0 up, of 18 digits at most, found {shown(value)}.")
    return value


def _variants(value: object, where: str) -> frozenset[str]:
    if not isinstance(value, dict):
        raise FurcalError(f"{where}: expected a table of variants, each true or false.")
    for key, on in value.items():
        if key not in VARIANTS:
            raise unknown_word(key, VARIANTS, "variant", where)
        if not isinstance(on, bool):
            raise FurcalError(f"{where}, {key}: expected true or false, found {shown(on)}.")
    return frozenset(k for k, on in value.items() if on)


_READ: dict[str, Callable[[object, str], Any]] = {
    "name": _text,
    "sex": _word(SEXES, "sex"),
    "stature_mm": _ranged("stature_mm"),
    "posture": _word(POSTURES, "posture"),
    "table_break_deg": _ranged("table_break_deg"),
    "up": _word(SIDES, "side"),
    "psoas_scale": _ranged("psoas_scale"),
    "seed": _seed,
    "variants": _variants,
}


def drawn(seed: int, sex: str = "") -> Specimen:
    """A specimen drawn by seed: sex, stature, psoas bulk and variants as often as `variants.toml` says.

    sex : where it is known; the stature is drawn from its own
    """
    import numpy as np

    draw = np.random.default_rng(seed)
    table = read_toml(ANATOMY / "variants.toml")
    any_sex = SEXES[int(draw.integers(2))]
    sex = sex or any_sex
    spread = table["spread"]
    stature = draw.normal(spread[f"{sex}_stature_mm"], spread["stature_sd_mm"])
    psoas = np.exp(draw.normal(0.0, spread["psoas_log_sd"]))
    variants = {name for name in VARIANTS if draw.random() < share_of(name, table)}
    return Specimen(
        name=f"seed {seed}",
        sex=sex,
        stature_mm=round(float(np.clip(stature, *RANGES["stature_mm"]))),
        psoas_scale=round(float(np.clip(psoas, *RANGES["psoas_scale"])), 3),
        seed=seed,
        variants=frozenset(variants),
    )


def share_of(variant: str, table: Mapping[str, Any]) -> float:
    """How often a variant is met, 0 to 1, per side where it has sides."""
    name = variant.removesuffix("_left").removesuffix("_right")
    return number(table[name]["share"], f"variants.toml, {name}, share")
