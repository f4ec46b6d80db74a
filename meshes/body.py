"""The body as a value. (The chain from tables to body is built here.)"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from meshes.curves import Centreline
from meshes.landmarks import Landmarks
from meshes.specimen import Specimen
from meshes.structures import Structure
from meshes.surfaces import Surface


@dataclass(frozen=True)
class Body:
    """One specimen, built.

    structures  : id -> Structure, every part of the body in a fixed order
    surfaces    : id -> closed Surface, mm, for every structure
    centrelines : id -> Centreline for every nerve and for tube-shaped vessels and viscera
    landmarks   : named points, mm, and the rigid frames of vertebrae and pelvis
    """

    specimen: Specimen
    landmarks: Landmarks
    structures: Mapping[str, Structure]
    surfaces: Mapping[str, Surface]
    centrelines: Mapping[str, Centreline]

    def ids(self, kind: str) -> list[str]:
        """Ids of all structures of one kind, in order."""
        return [s.id for s in self.structures.values() if s.kind == kind]
