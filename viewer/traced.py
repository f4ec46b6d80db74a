"""What is known of the structure that is traced: found once, when it is first asked for, and kept while it is traced.

A flight along a nerve asks for every picture, a refresh for every step of a gesture.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lessons.card import Card, card_of
from lessons.readout import capital, named
from meshes.around import inside
from meshes.body import Body
from meshes.branches import way_to
from meshes.contact import Ready
from meshes.curves import Array, Centreline
from meshes.places import Place, places_of
from meshes.structures import Structure
from viewer.flight import evenly


@dataclass(frozen=True, eq=False)
class Traced:
    """One structure of one body."""

    id: str
    body: Body

    @property
    def structure(self) -> Structure:
        """The structure itself."""
        return self.body.structures[self.id]

    @property
    def line(self) -> Centreline | None:
        """Its own middle line, where it is a tube."""
        return self.body.centrelines.get(self.id)

    @cached_property
    def card(self) -> Card:
        """What is told of it."""
        return card_of(self.structure, self.body.structures, self.body.specimen.variants)

    @cached_property
    def branch_names(self) -> dict[str, str]:
        """Id -> name of each branch on its card."""
        return {i: capital(named(self.body.structures[i])) for i in self.card.branches}

    @cached_property
    def places(self) -> tuple[Place, ...]:
        """The places along it; none for what is no nerve."""
        return places_of(self.body, self.id) if self.structure.kind == "nerve" else ()

    @cached_property
    def way(self) -> Array:
        """The way from the root to its end as evenly spaced points (n, 3), mm; empty without a way."""
        pieces = []
        for part in way_to(self.id, self.body.structures):
            line = self.body.centrelines.get(part.id)
            if line is not None:
                share = line.arc / line.length
                pieces.append(line.points[(share >= part.begin - 1e-9) & (share <= part.end + 1e-9)])
        points = np.concatenate(pieces) if pieces else np.zeros((0, 3))
        return evenly(points) if len(points) > 1 else np.zeros((0, 3))

    @cached_property
    def _parts(self) -> tuple[str, ...]:
        parts = (part.id for part in way_to(self.id, self.body.structures))
        return tuple(i for i in parts if i in self.body.centrelines)

    def passing(self, ready: Ready, point: Array) -> str:
        """Which part of the way a point (3,) lies on, and which muscle it runs through there."""
        lines, structures = self.body.centrelines, self.body.structures
        on = min(self._parts, key=lambda i: float(np.linalg.norm(lines[i].points - point, axis=1).min()))
        muscles = inside(ready, point, self.body.ids("muscle"))
        return ", ".join([capital(structures[on].name), *(f"inside {structures[i].name}" for i in sorted(muscles))])
