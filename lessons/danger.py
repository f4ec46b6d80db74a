"""What an approach puts in danger, as far as it speaks for one candidate before another.

The tables of the approaches name nerves layer by layer and level by level. A candidate gains where one of its places is
one in which a layer puts its nerve in danger, and as much again where the level's own row names it too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from lessons.sites import Site, also_known_as
from meshes.errors import unknown_word
from meshes.risk import Stage, approach_risk, of_level
from meshes.supply import supply
from meshes.tables import ANATOMY, check_keys, cited, read_toml, require

#: What a candidate gains by its layer, and by its level; together less than one finding that is left unexplained.
LAYER, LEVEL = 0.3, 0.3


@dataclass(frozen=True)
class Danger:
    """What a candidate gains, at which of its places, and why in words."""

    bonus: float = 0.0
    places: tuple[str, ...] = ()
    says: str = ""


def of(site: Site, after: str, level: str) -> Danger:
    """The danger in which an operation put a candidate; none where no approach is named."""
    if not after:
        return Danger()
    approach, nerves = approach_risk()[after], _nerves_of(site)
    layers = [stage for stage in approach.stages if nerves & set(_named(stage, level))]
    met = {place for stage in layers for place in _places(stage)}
    places = tuple(place for place in site.places if place in met)
    if not places:
        return Danger()
    named = any(nerves & set(row.at_risk) for row in approach.at if row.level == level)
    names = "; ".join(stage.name for stage in layers if set(_places(stage)) & set(places))
    where = f" at {level}" if named else ""
    return Danger(LAYER + (LEVEL if named else 0.0), places, f"at risk in the {after} approach{where}: {names}")


def _nerves_of(site: Site) -> set[str]:
    """The ids by which the tables may name a candidate."""
    together = supply().compounds.get(site.id)
    ganglion = site.id.replace("_root", "_ganglion")
    return {site.id, ganglion, also_known_as(site.id), *(together.of if together else ())}


def _named(stage: Stage, level: str) -> Iterator[str]:
    """Ids that a layer names, those included that the level makes of its words."""
    for word in stage.at_risk:
        yield from of_level(word, level) if level else (word,)


def _places(stage: Stage) -> Iterator[str]:
    for structure in stage.crosses:
        yield from _met_in().get(structure, ())


@cache
def _met_in() -> dict[str, tuple[str, ...]]:
    """What an approach crosses -> the places of nerves' ways that are met there."""
    path = ANATOMY / "differential.toml"
    rows = require(read_toml(path), "met_in", str(path))
    for name, row in rows.items():
        where = f"{path}, [met_in.{name}]"
        check_keys(row, ("places", "source"), where)
        cited(row, where)
        for place in require(row, "places", where):
            if place not in supply().sites:
                raise unknown_word(place, supply().sites, "place", where)
    return {name: tuple(row["places"]) for name, row in rows.items()}
