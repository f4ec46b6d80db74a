"""How much of the beam each material takes, and how thick the cortex of each kind of bone is; attenuation.toml.

Coefficients are total, with coherent scatter: what a narrow beam loses by Beer-Lambert, I = I0 exp(-sum mu t).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

from meshes.errors import FurcalError, shown, unknown_word
from meshes.tables import ANATOMY, Table, check_keys, number, read_toml, require
from meshes.told import grounds, table, text

ATTENUATION = ANATOMY / "attenuation.toml"
#: Shares of a mixture are written with three digits each.
SHARES_OFF = 0.002


@dataclass(frozen=True)
class Material:
    """One material or mixture.

    energies_kev : ascending, without an absorption edge between the first and the last
    mass_cm2_g   : mass attenuation coefficient at each of them
    """

    id: str
    name: str
    density_g_cm3: float
    energies_kev: tuple[float, ...]
    mass_cm2_g: tuple[float, ...]
    sources: tuple[str, ...]
    basis: str

    def mass_at(self, energy_kev: float) -> float:
        """Mass attenuation coefficient, cm2/g. Raises FurcalError for an energy outside the table.

        One polynomial through all points of the table on logarithmic axes: straight lines between them would lie up
        to 1.8 % too high (cortical bone, 69 keV).
        """
        low, high = self.energies_kev[0], self.energies_kev[-1]
        if not low <= energy_kev <= high:  # a nan is in no range
            raise FurcalError(f"energy {shown(energy_kev)} keV: must lie between {low:g} and {high:g} keV.")
        x = [math.log(e / low) for e in self.energies_kev]
        at = math.log(energy_kev / low)
        log_mass = 0.0
        for i, mass in enumerate(self.mass_cm2_g):
            weight = math.prod((at - x[j]) / (x[i] - x[j]) for j in range(len(x)) if j != i)
            log_mass += weight * math.log(mass)
        return math.exp(log_mass)

    def linear_per_mm_at(self, energy_kev: float) -> float:
        """Linear attenuation coefficient, 1/mm. Raises FurcalError for an energy outside the table."""
        return self.mass_at(energy_kev) * self.density_g_cm3 / 10.0


@dataclass(frozen=True)
class Bone:
    """One kind of bone: a cortex of even thickness, and what is inside it (an id of a material)."""

    id: str
    name: str
    cortex_mm: float
    inside: str
    sources: tuple[str, ...]
    basis: str


@dataclass(frozen=True)
class Metal:
    """What wires and portals are made of (an id of a material).

    wall_mm       : of a portal
    thick_from_mm : a nerve whose tube has this radius somewhere gets a wire of two gauges
    """

    material: str
    wall_mm: float
    thick_from_mm: float


@dataclass(frozen=True)
class Attenuation:
    """attenuation.toml: materials and mixtures, and kinds of bone, by id, and the metal."""

    materials: Mapping[str, Material]
    bones: Mapping[str, Bone]
    metal: Metal


def linear_per_mm(material: str, energy_kev: float) -> float:
    """Linear attenuation coefficient, 1/mm, of a material or mixture. Raises FurcalError for an unknown word."""
    known = attenuation().materials
    if material not in known:
        raise unknown_word(material, known, "material")
    return known[material].linear_per_mm_at(energy_kev)


@cache
def attenuation() -> Attenuation:
    """attenuation.toml."""
    return read_attenuation(ATTENUATION)


def read_attenuation(path: Path) -> Attenuation:
    """A table of this kind. Raises FurcalError naming file and place."""
    rows = read_toml(path)
    check_keys(rows, ("energies_kev", "material", "mixture", "bone", "metal"), str(path))
    energies = _numbers(rows, "energies_kev", str(path))
    if any(a >= b for a, b in pairwise(energies)) or len(energies) < 2 or energies[0] <= 0.0:
        raise FurcalError(f"{path}, energies_kev: expected two or more energies, from low to high.")
    materials: dict[str, Material] = {}
    for id, row, where in _rows(rows, "material", path):
        materials[id] = _material(id, row, energies, where)
    pure = dict(materials)
    for id, row, where in _rows(rows, "mixture", path):
        if id in pure:
            raise FurcalError(f"{where}: {id!r} is a material already; choose another id.")
        materials[id] = _mixture(id, row, pure, where)
    bones = {id: _bone(id, row, materials, where) for id, row, where in _rows(rows, "bone", path)}
    return Attenuation(materials, bones, _metal(rows, materials, path))


def _metal(rows: Table, materials: Mapping[str, Material], path: Path) -> Metal:
    where = f"{path}, [metal]"
    row = table(require(rows, "metal", str(path)), where)
    check_keys(row, ("material", "wall_mm", "thick_from_mm", "source", "basis"), where)
    grounds(row, where)
    material = require(row, "material", where)
    if material not in materials:
        raise unknown_word(material, materials, "material", where)
    return Metal(material, _above_zero(row, "wall_mm", where), _above_zero(row, "thick_from_mm", where))


def _rows(rows: Table, kind: str, path: Path) -> list[tuple[str, Table, str]]:
    of_kind = table(require(rows, kind, str(path)), f"{path}, [{kind}]")
    return [(id, table(row, f"{path}, [{kind}.{id}]"), f"{path}, [{kind}.{id}]") for id, row in of_kind.items()]


def _material(id: str, row: Table, energies: tuple[float, ...], where: str) -> Material:
    check_keys(row, ("name", "density_g_cm3", "mass_cm2_g", "source", "basis"), where)
    mass = _numbers(row, "mass_cm2_g", where)
    if len(mass) != len(energies):
        raise FurcalError(f"{where}, mass_cm2_g: expected {len(energies)} coefficients, one for each energy.")
    if min(mass) <= 0.0 or any(a <= b for a, b in pairwise(mass)):
        raise FurcalError(f"{where}, mass_cm2_g: must be above 0 and fall with energy (no absorption edge between).")
    density = _above_zero(row, "density_g_cm3", where)
    return Material(id, text(row, "name", where), density, energies, mass, *grounds(row, where))


def _mixture(id: str, row: Table, pure: Mapping[str, Material], where: str) -> Material:
    check_keys(row, ("name", "density_g_cm3", "parts", "source", "basis"), where)
    parts = table(require(row, "parts", where), f"{where}, parts")
    for part in parts:
        if part not in pure:
            raise unknown_word(part, pure, "material", f"{where}, parts")
    shares = {part: _above_zero(parts, part, f"{where}, parts") for part in parts}
    if abs(sum(shares.values()) - 1.0) > SHARES_OFF:
        raise FurcalError(f"{where}, parts: the shares by mass add up to {sum(shares.values()):g} and should to 1.")
    columns = zip(*(pure[part].mass_cm2_g for part in shares), strict=True)
    total = sum(shares.values())
    mass = tuple(sum(w * m for w, m in zip(shares.values(), column, strict=True)) / total for column in columns)
    energies = pure[next(iter(shares))].energies_kev
    density = _above_zero(row, "density_g_cm3", where)
    return Material(id, text(row, "name", where), density, energies, mass, *grounds(row, where))


def _bone(id: str, row: Table, materials: Mapping[str, Material], where: str) -> Bone:
    check_keys(row, ("name", "cortex_mm", "inside", "source", "basis", "note"), where)
    inside = require(row, "inside", where)
    if inside not in materials:
        raise unknown_word(inside, materials, "material", f"{where}, inside")
    cortex = _above_zero(row, "cortex_mm", where)
    return Bone(id, text(row, "name", where), cortex, inside, *grounds(row, where))


def _above_zero(row: Table, key: str, where: str) -> float:
    value = number(require(row, key, where), f"{where}, {key}")
    if value <= 0.0:
        raise FurcalError(f"{where}, {key}: must be above 0, found {shown(value)}.")
    return value


def _numbers(row: Table, key: str, where: str) -> tuple[float, ...]:
    values = require(row, key, where)
    if not isinstance(values, list):
        raise FurcalError(f"{where}, {key}: expected a list of numbers.")
    return tuple(number(value, f"{where}, {key}") for value in values)
