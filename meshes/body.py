"""From a specimen to its body: the whole chain.

tables -> landmarks -> solids and courses (the reference body) -> carried to the specimen -> surfaces -> body
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

import numpy as np

from meshes import store
from meshes.carry import Warp, bone_mover, forward_shift, is_reference, soft_mover
from meshes.curves import Array, Centreline
from meshes.landmarks import Landmarks
from meshes.posture import landmarks_for, plexus_forward_mm, reference_landmarks, viscera_forward_mm
from meshes.reference import Progress, RefCourse, Reference, RefSolid, reference
from meshes.specimen import Specimen
from meshes.structures import SIDES, Structure, other_side
from meshes.surfaces import Surface, tubes

MIRROR = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True, eq=False)
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


def build(specimen: Specimen, progress: Progress | None = None) -> Body:
    """The body of a specimen. Raises FurcalError for a table that cannot be used."""
    ref = reference(progress)
    soft = (lambda points: points) if is_reference(specimen) else soft_mover(specimen, _bones(ref))
    structures, surfaces = _solids(ref, specimen, soft)
    lines = _courses(ref, specimen, soft)
    centrelines = {structure.id: line for structure, line in lines}
    structures |= {structure.id: structure for structure, _ in lines}
    surfaces |= tubes(centrelines)
    return Body(specimen, landmarks_for(specimen), structures, surfaces, centrelines)


def load_body(specimen: Specimen, progress: Progress | None = None) -> Body:
    """The same body, from the cache when it has been built before."""
    name = f"body-{store.tables_hash()}-{store.key_of(_words(specimen))}"
    kept = store.load(name)
    if kept is None:
        kept = _packed(build(specimen, progress))
        store.save(name, *kept)
    return _unpacked(specimen, *kept)  # what was just built, too: rounded as it is kept, it is the same ever after


def _bones(ref: Reference) -> Iterator[tuple[str, Surface]]:
    """Rigid part and surface of every bone that is wide enough to carry soft tissue off its landmarks."""
    for solid in ref.solids:
        if solid.structure.kind == "bone" and solid.rides not in (solid.structure.id, ""):
            yield from ((solid.rides, surface) for _, surface in _sides(solid))


def _solids(ref: Reference, specimen: Specimen, soft: Warp) -> tuple[dict[str, Structure], dict[str, Surface]]:
    structures: dict[str, Structure] = {}
    surfaces: dict[str, Surface] = {}
    still = is_reference(specimen)
    for solid in ref.solids:
        for structure, surface in _sides(solid):
            structures[structure.id] = structure
            if not still:
                move = bone_mover(solid.rides, specimen) if solid.rides else soft
                surface = surface.moved(move(surface.vertices))
            surfaces[structure.id] = _fallen(structure, surface, specimen)
    return structures, surfaces


def _fallen(structure: Structure, surface: Surface, specimen: Specimen) -> Surface:
    """Viscera that the posture lets fall forward."""
    forward = viscera_forward_mm(specimen).get(structure.id.removesuffix("_left").removesuffix("_right"))
    return surface if not forward else surface.moved(surface.vertices + np.array([0.0, -forward, 0.0]))


def _followed(structure: Structure, line: Centreline, specimen: Specimen) -> Centreline:
    """A tube that hangs on a viscus follows it at its start, and no more from a share of its length on."""
    fall = viscera_forward_mm(specimen)
    forward = fall.get(structure.id.removesuffix("_left").removesuffix("_right"))
    if not forward:
        return line
    fade = np.clip(1.0 - line.arc / (fall["ureter_follows_to"] * line.length), 0.0, 1.0)
    return line.moved(line.points - (forward * fade * fade * (3.0 - 2.0 * fade))[:, None] * np.array([0.0, 1.0, 0.0]))


def _sides(solid: RefSolid) -> Iterator[tuple[Structure, Surface]]:
    yield solid.structure, solid.surface
    if solid.paired:
        yield other(solid.structure), solid.surface.mirrored()


def other(structure: Structure) -> Structure:
    """The same structure of the right side."""
    return replace(structure, id=other_side(structure.id), side=SIDES[1])


def _courses(ref: Reference, specimen: Specimen, soft: Warp) -> list[tuple[Structure, Centreline]]:
    forward = plexus_forward_mm(specimen)
    out = []
    for course, side in _present(ref, specimen):
        points = course.line.points
        if course.structure.kind == "nerve":
            points = forward_shift(points, course.in_psoas, forward, reference_landmarks(), course.room_mm)
        if side == "right":
            points = points * MIRROR
        structure = other(course.structure) if side == "right" else course.structure
        moved = course.line.moved(soft(points))
        out.append((structure, _followed(structure, moved, specimen)))
    return out


def _present(ref: Reference, specimen: Specimen) -> Iterator[tuple[RefCourse, str]]:
    """The courses that this specimen has, each with its side: the variant's own course where there is one."""
    for course in ref.courses:
        if course.when:
            continue
        for side in SIDES if course.paired else ("",):
            if course.variant and not _has(specimen, course.variant, side):
                continue
            own = [
                c for c in ref.courses
                if c.when and c.structure.id == course.structure.id and _has(specimen, c.when, side)
            ]  # fmt: skip
            yield (own[0] if own else course), side


def _has(specimen: Specimen, variant: str, side: str) -> bool:
    return bool({variant, f"{variant}_{side}"} & specimen.variants)


def _words(specimen: Specimen) -> dict[str, Any]:
    """What shapes the body: everything but the specimen's name and seed."""
    words = {f.name: getattr(specimen, f.name) for f in fields(specimen) if f.name not in ("name", "seed")}
    words["variants"] = sorted(specimen.variants)
    return words


def _packed(body: Body) -> tuple[dict[str, Any], store.Arrays]:
    arrays: store.Arrays = {}
    for i, name in enumerate(body.structures):
        line = body.centrelines.get(name)
        if line is not None:
            arrays[f"c{i}"] = np.column_stack([line.points, line.radius])
        else:
            arrays[f"v{i}"] = body.surfaces[name].vertices.astype(np.float32)
            arrays[f"f{i}"] = body.surfaces[name].faces
    flat = {name: line.flat for name, line in body.centrelines.items()}
    return {"structures": [asdict(s) for s in body.structures.values()], "flat": flat}, arrays


def _unpacked(specimen: Specimen, words: dict[str, Any], arrays: store.Arrays) -> Body:
    structures = {w["id"]: Structure(**w) for w in words["structures"]}
    surfaces: dict[str, Surface] = {}
    lines: dict[str, Centreline] = {}
    for i, name in enumerate(structures):
        if f"c{i}" in arrays:
            lines[name] = _line(arrays[f"c{i}"], words["flat"][name])
        else:
            surfaces[name] = Surface(arrays[f"v{i}"].astype(np.float64), arrays[f"f{i}"])
    surfaces |= tubes(lines)
    return Body(specimen, landmarks_for(specimen), structures, {n: surfaces[n] for n in structures}, lines)


def _line(rows: Array, flat: Sequence[bool]) -> Centreline:
    return Centreline(np.ascontiguousarray(rows[:, :3]), np.ascontiguousarray(rows[:, 3]), (flat[0], flat[1]))
