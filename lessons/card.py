"""What is told of one structure, and of what is near a point, in plain sentences."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass

import numpy as np

from lessons.readout import capital, named, small
from meshes.around import Neighbour
from meshes.branches import branches_of, roots_of
from meshes.curves import Array
from meshes.story import story
from meshes.structures import LAYER_WORDS, Structure, segments
from meshes.tolerances import AROUND_MM

#: A point is on a surface where it would read "0.0 mm".
_ON_MM = 0.05
#: A direction is told when at least this share of the way goes along it.
_COUNTS = 0.4
#: How many nerves, vessels and viscera beyond reach are told.
BEYOND = 3


@dataclass(frozen=True)
class Card:
    """One structure.

    title    : its name with its side
    facts    : short sentences
    course   : its course, or how it is built, in prose
    sources  : citations, and words for what has none
    branches : ids of what leaves it directly, and of what it ends in
    """

    title: str
    latin: str
    facts: tuple[str, ...]
    course: str
    sources: tuple[str, ...]
    branches: tuple[str, ...]


def card_of(structure: Structure, present: Container[str], variants: Container[str] = frozenset()) -> Card:
    """The card of a structure.

    present  : ids that the body has
    variants : those of the specimen
    Raises FurcalError for a structure that the body does not have.
    """
    told = story(structure, variants)
    return Card(
        capital(named(structure)),
        structure.latin,
        tuple(_facts(structure, present)),
        " ".join(told.sentences),
        tuple(source.text for source in told.sources),
        branches_of(structure.id, present),
    )


def _facts(structure: Structure, present: Container[str]) -> Iterable[str]:
    own = segments(structure.roots)
    if own:
        yield f"{structure.roots_are or ('Roots' if len(own) > 1 else 'Root')}: {', '.join(own)}."
        more = [s for s in _segments_met(structure, present) if s not in own]
        if more:
            yield f"In this body it receives a contribution from {', '.join(more)} as well."
    if structure.side:
        yield f"Paired; this is the {structure.side} one."
    yield f"Layer of the dissection: {LAYER_WORDS[structure.layer]}."
    if structure.half_width_mm:
        thick = f" and {2.0 * structure.half_thickness_mm:g} mm thick" if structure.half_thickness_mm else ""
        width = f"{2.0 * structure.half_width_mm:g} mm wide{thick}"
        yield f"Flat, {width}; drawn as a round tube of the same section area."


def _segments_met(structure: Structure, present: Container[str]) -> list[str]:
    """Segments whose roots lead to a nerve in this body."""
    roots = [name for name in roots_of(structure.id, present) if "_root" in name]
    return [name.partition("_root")[0].upper() for name in roots]


def around(neighbours: Iterable[Neighbour]) -> list[Neighbour]:
    """What is told of a point: all within reach, and the next nerves, vessels or viscera beyond; nearest first."""
    found = sorted(neighbours, key=lambda n: n.distance_mm)
    near = [n for n in found if n.distance_mm <= AROUND_MM]
    beyond = [n for n in found if n.distance_mm > AROUND_MM and n.structure.kind in ("nerve", "vessel", "viscus")]
    return near + beyond[:BEYOND]


def around_text(neighbours: Iterable[Neighbour], point_mm: Array) -> list[str]:
    """One row for each neighbour of a point (3,), with the way to it.

    "femoral nerve, left: 3.2 mm lateral and in front", "inside psoas major, left, 6 mm deep".
    """
    return [_row(n, point_mm) for n in neighbours]


def _row(neighbour: Neighbour, point_mm: Array) -> str:
    name, distance = small(named(neighbour.structure)), neighbour.distance_mm
    if abs(distance) < _ON_MM:
        return f"on the surface of {name}"
    if distance > 0.0:
        return f"{name}: {distance:.1f} mm {_way(neighbour.nearest_mm - point_mm, float(point_mm[0]))}"
    return f"inside {name}, {-distance:.{0 if distance < -1.0 else 1}f} mm deep"


def _way(step: Array, x_mm: float) -> str:
    """A direction (3,) from a point at `x_mm` in the trade's words: the strongest one, and the next if it counts."""
    outwards = float(step[0]) * (1.0 if x_mm >= 0.0 else -1.0)
    parts = [
        (abs(outwards), "lateral" if outwards > 0.0 else "medial"),
        (abs(float(step[1])), "behind" if step[1] > 0.0 else "in front"),
        (abs(float(step[2])), "above" if step[2] > 0.0 else "below"),
    ]
    parts.sort(key=lambda part: -part[0])
    size = float(np.linalg.norm(step))
    return " and ".join(word for share, word in parts[:2] if share >= _COUNTS * size) or parts[0][1]
