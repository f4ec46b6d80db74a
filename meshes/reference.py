"""The reference body: the average adult, as the tables are written, left side and midline only.

Tables -> landmarks -> solids and settled courses. Slow (seconds), so it is kept on disk by a hash of its tables.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

import numpy as np

from meshes import store
from meshes.courses import Course, cut_at_ends, draw_course, order, read_courses
from meshes.curves import Array, Centreline
from meshes.errors import FurcalError
from meshes.fields import Field
from meshes.posture import reference_landmarks
from meshes.settle import Surroundings, settle
from meshes.solidtable import Solid, SolidRow, build_row, mirrored_field, read_solids
from meshes.structures import Structure
from meshes.surfaces import Surface
from meshes.tables import ANATOMY, number, read_toml, require
from meshes.tolerances import INSIDE_PARENT_MM, OWN_WITHIN_MM, ROOM_MOST_MM, ROOM_STEP_MM, UNDER_SURFACE_MM

#: Solids are built in this order, so that a later one can keep clear of an earlier one.
SOLID_TABLES = ("bones_spine.toml", "bones_pelvis.toml", "muscles.toml", "wall.toml", "viscera.toml")
COURSE_TABLES = ("vessels.toml", "nerves.toml")
Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class RefSolid:
    """One solid of the left side or the midline; `rides` names the rigid part that carries a bone, else empty."""

    structure: Structure
    paired: bool
    rides: str
    surface: Surface


@dataclass(frozen=True)
class RefCourse:
    """One course of the left side or the midline.

    when      : variant in which this course replaces the usual one of the same id; empty for the usual one
    variant   : variant without which the course is not there at all
    in_psoas  : (m,) 1 where it runs well inside psoas, 0 outside; at its ends that of what it hangs on
    room_mm   : (m,) how far forward psoas lets it move until it comes close under the front of the muscle; at its ends
                that of what it hangs on
    """

    structure: Structure
    paired: bool
    when: str
    variant: str
    line: Centreline
    in_psoas: Array
    room_mm: Array


@dataclass(frozen=True)
class Reference:
    """Everything a specimen is carried from."""

    solids: tuple[RefSolid, ...]
    courses: tuple[RefCourse, ...]


def reference(progress: Progress | None = None) -> Reference:
    """The reference body, from the cache or built anew. progress(share 0..1, words) is called on the way."""
    name = f"reference-{store.tables_hash()}"
    kept = store.load(name)
    if kept is None:
        kept = _packed(build_reference(progress or _silent))
        store.save(name, *kept)
    return _unpacked(*kept)  # what was just built, too: rounded as it is kept, it is the same ever after


def _silent(_share: float, _words: str) -> None:
    return None


def solid_rows() -> list[SolidRow]:
    """Every solid of all tables, in building order."""
    return [row for table in SOLID_TABLES for row in read_solids(ANATOMY / table)]


@cache
def all_courses() -> dict[str, Course]:
    """Every course of all tables by bare id."""
    found: dict[str, Course] = {}
    for table in COURSE_TABLES:
        found |= read_courses(ANATOMY / table, reference_landmarks())
    return found


def ends() -> dict[str, float]:
    """Heights, mm, of the flat cuts at the ends of the body."""
    path = ANATOMY / "ends.toml"
    table = read_toml(path)
    return {key: number(require(table, key, str(path)), f"{path}, {key}") for key in ("top_mm", "bottom_mm")}


def build_reference(progress: Progress) -> Reference:
    """Build everything from the tables."""
    # Every table is read before anything is built: a mistake in the last one is told at once.
    landmarks, cuts, rows, courses = reference_landmarks(), ends(), solid_rows(), all_courses()
    built: dict[str, Solid] = {}
    for index, row in enumerate(rows):
        progress(0.92 * index / len(rows), row.structure.name)
        built[row.structure.id] = build_row(row, landmarks, built, cuts)
    progress(0.92, "nerves and vessels")
    settled = tuple(_settled_courses(courses, _surroundings(built)))
    progress(1.0, "ready")
    return Reference(tuple(_ref_solid(solid) for solid in built.values()), settled)


def _ref_solid(solid: Solid) -> RefSolid:
    row = solid.row
    default = row.structure.id if row.structure.id in reference_landmarks().frames else "pelvis"
    rides = str(row.header.get("rides", default if row.structure.kind == "bone" else ""))
    if rides and rides not in reference_landmarks().frames:
        raise FurcalError(f"{row.where}, rides: unknown part {rides!r}.")
    return RefSolid(row.structure, row.paired, rides, solid.surface)


def _surroundings(built: Mapping[str, Solid]) -> Surroundings:
    solids: dict[str, Field] = {}
    hard: list[Field] = []
    for solid in built.values():
        structure = solid.row.structure
        solids[structure.id.removesuffix("_left") if solid.row.paired else structure.id] = solid.field
        if structure.kind in ("bone", "disc"):
            hard.append(solid.field)
            if solid.row.paired:
                hard.append(mirrored_field(solid.field))
    return Surroundings(solids, hard)


def _settled_courses(courses: Mapping[str, Course], around: Surroundings) -> list[RefCourse]:
    """All courses, each also in every variant that changes it or what it hangs on."""
    done: dict[tuple[str, str], RefCourse] = {}
    for name in order(courses):
        course = courses[name]
        for when in ("", *_variants_of(course, courses)):
            parent, target = (done.get((n, when), done.get((n, ""))) for n in (course.parent, course.target))
            way = course.when.get(when, course.way)
            drawn = draw_course(course, way, parent.line if parent else None, target.line if target else None)
            line = cut_at_ends(settle(drawn, around, name), ends())
            moves = np.column_stack([_in_psoas(line, around), _room_in_psoas(line, around)])
            for hung, from_end in ((parent, line.arc), (target, line.length - line.arc)):
                if hung:
                    own = np.clip((from_end - INSIDE_PARENT_MM) / OWN_WITHIN_MM, 0.0, 1.0)[:, None]
                    moves = own * moves + (1.0 - own) * _beside(hung, line.points)
            depth, room = np.ascontiguousarray(moves.T)
            done[name, when] = RefCourse(course.structure, course.paired, when, course.variant, line, depth, room)
    return list(done.values())


def _beside(course: RefCourse, points: Array) -> Array:
    """How well inside psoas a course runs, and its room there, (n, 2), where it is nearest to each point (n, 3)."""
    a, step = course.line.points[:-1], np.diff(course.line.points, axis=0)
    share = np.einsum("nmj,mj->nm", points[:, None] - a, step) / np.einsum("mj,mj->m", step, step)
    share = np.clip(share, 0.0, 1.0)
    nearest = np.linalg.norm(a + share[..., None] * step - points[:, None], axis=2).argmin(axis=1)
    at = nearest + share[np.arange(len(points)), nearest]
    rows = np.arange(len(course.in_psoas))
    return np.column_stack([np.interp(at, rows, values) for values in (course.in_psoas, course.room_mm)])


def _variants_of(course: Course, courses: Mapping[str, Course]) -> list[str]:
    """Variants that change a course itself, or one that it leaves or joins."""
    found = list(course.when)
    for other in (course.parent, course.target):
        if other:
            found += [v for v in _variants_of(courses[other], courses) if v not in found]
    return found


def _in_psoas(line: Centreline, around: Surroundings) -> Array:
    from scipy.ndimage import gaussian_filter1d

    if "psoas_major" not in around.solids:
        return np.zeros(len(line.points))
    depth = -around.solids["psoas_major"].at(line.points)
    out: Array = gaussian_filter1d(np.clip(depth / line.radius, 0.0, 1.0), 2.0, mode="nearest")
    return out


def _room_in_psoas(line: Centreline, around: Surroundings) -> Array:
    """How far forward (m,), mm, each sample can move and stay well inside psoas, or as deep in it as it lies."""
    if "psoas_major" not in around.solids:
        return np.zeros(len(line.points))
    steps = np.arange(0.0, ROOM_MOST_MM + ROOM_STEP_MM, ROOM_STEP_MM)
    ahead = line.points[:, None] - steps[:, None] * np.array([0.0, 1.0, 0.0])
    depth = -around.solids["psoas_major"].at(ahead.reshape(-1, 3)).reshape(len(line.points), -1)
    spare = depth - np.minimum(line.radius + UNDER_SURFACE_MM, depth[:, 0])[:, None]
    last = len(steps) - 1 - (spare[:, ::-1] >= 0.0).argmax(axis=1)
    row, after = np.arange(len(last)), np.minimum(last + 1, len(steps) - 1)
    here, beyond = spare[row, last], np.maximum(-spare[row, after], 1e-9)
    out: Array = steps[last] + (after - last) * ROOM_STEP_MM * here / (here + beyond)
    return out


def _packed(built: Reference) -> tuple[dict[str, Any], store.Arrays]:
    words: dict[str, Any] = {"solids": [], "courses": []}
    arrays: store.Arrays = {}
    for i, s in enumerate(built.solids):
        words["solids"].append({"structure": asdict(s.structure), "paired": s.paired, "rides": s.rides})
        arrays[f"s{i}v"], arrays[f"s{i}f"] = s.surface.vertices.astype(np.float32), s.surface.faces
    for i, c in enumerate(built.courses):
        entry = {"structure": asdict(c.structure), "paired": c.paired, "when": c.when, "variant": c.variant}
        entry["flat"] = c.line.flat
        words["courses"].append(entry)
        arrays[f"c{i}"] = np.column_stack([c.line.points, c.line.radius, c.in_psoas, c.room_mm])
    return words, arrays


def _unpacked(words: dict[str, Any], arrays: store.Arrays) -> Reference:
    solids = tuple(
        RefSolid(
            Structure(**w["structure"]), w["paired"], w["rides"],
            Surface(arrays[f"s{i}v"].astype(np.float64), arrays[f"s{i}f"]),
        )
        for i, w in enumerate(words["solids"])
    )  # fmt: skip
    courses = []
    for i, w in enumerate(words["courses"]):
        rows = arrays[f"c{i}"]
        line = Centreline(np.ascontiguousarray(rows[:, :3]), np.ascontiguousarray(rows[:, 3]), tuple(w["flat"]))
        structure, moves = Structure(**w["structure"]), (rows[:, 4], rows[:, 5])
        courses.append(RefCourse(structure, w["paired"], w["when"], w["variant"], line, *moves))
    return Reference(solids, tuple(courses))
