"""Courses of nerves and vessels: table ways -> control points -> settled centrelines.

A course reads like the textbook sentence: waypoints, each an anchor in words, with a `says` phrase. Header keys:

    name latin kind layer roots group   as in a structure; `group` of a nerve: "plexus", "wall", "root", "other"
    paired                              written once, for the left side
    for                                 levels that one template serves ({v}, {below})
    from, leaves                        the course leaves this one, at this share of its length (1 = its end)
    to, joins                           the course ends in that one, at that share of its length (0 = its start)
    variant                             only there when the specimen has this variant
    half_width_mm, half_thickness_mm    of a flat nerve; its waypoints' radius is that of the circle of equal area
    way                                 the waypoints; when.VARIANT.way replaces them in a specimen with the variant

A waypoint also says what it lies `on` (a solid's id, with `gap_mm`), `under` (close to it) or `inside`: between two
waypoints that name the same solid the line is settled onto its surface, drawn close to it or kept within it.
Everywhere it keeps clear of bone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from meshes.anchors import ANCHOR_KEYS, Reader, resolve
from meshes.curves import Array, Centreline, Indices, spline
from meshes.errors import FurcalError, unknown_word
from meshes.landmarks import Landmarks
from meshes.solidtable import filled
from meshes.specimen import MIDLINE_VARIANTS, SIDED_VARIANTS
from meshes.spine import spine_table
from meshes.structures import Structure, structure_from
from meshes.tables import Table, check_keys, cited, number, read_toml, require
from meshes.tolerances import COURSE_SAMPLES_MAX, COURSE_STEP_MM, END_REACH_MM, INSIDE_PARENT_MM, SQUARE_WITHIN_MM

HEADER_KEYS = (
    "name", "latin", "names", "latins", "kind", "layer", "roots", "group", "paired", "for", "from", "leaves",
    "to", "joins", "roots_are", "variant", "way", "when", "half_width_mm", "half_thickness_mm",
)  # fmt: skip
WAY_KEYS = (*ANCHOR_KEYS, "radius", "says", "source", "on", "under", "inside", "gap_mm")


@dataclass(frozen=True)
class Waypoint:
    """One waypoint of the left side or the midline."""

    point: Array
    radius: float
    on: str = ""
    under: str = ""
    inside: str = ""
    gap_mm: float = 0.5
    says: str = ""
    source: str = ""


@dataclass(frozen=True)
class Course:
    """One course as its table gives it. `structure` is that of the left side or the midline."""

    structure: Structure
    paired: bool
    way: Sequence[Waypoint]
    parent: str = ""
    leaves: float = 1.0
    target: str = ""
    joins: float = 0.0
    variant: str = ""
    when: Mapping[str, Sequence[Waypoint]] = field(default_factory=dict)


def read_courses(path: Path, landmarks: Landmarks) -> dict[str, Course]:
    """Every course of one table by its bare id (no side). Raises FurcalError naming file, course and waypoint."""
    courses: dict[str, Course] = {}
    for key, header in read_toml(path).items():
        where = f"{path}, [{key}]"
        check_keys(header, HEADER_KEYS, where)
        for name, row, place, read in _expanded(key, header, where):
            if name in courses:
                raise FurcalError(f"{place}: {name} stands twice.")
            courses[name] = _course(name, row, landmarks, place, read)
    for name, course in courses.items():
        for other in (course.parent, course.target):
            if other and other not in courses:
                raise unknown_word(other, courses, "course", f"{path}, [{name}]")
    return courses


def _expanded(key: str, header: Table, where: str) -> Iterator[tuple[str, Table, str, Reader]]:
    if "for" not in header:
        yield key, header, where, number
        return
    for level in header["for"]:
        row = filled(header, level)
        for word in ("name", "latin"):
            row[word] = require(require(header, f"{word}s", where), level, f"{where}, {word}s")
        row["roots"] = level.upper()
        reader = _reader(spine_table().values, level)
        yield key.replace("{v}", level), row, f"{where}, {level}", reader


def _reader(values: Mapping[tuple[str, str], float], level: str) -> Reader:
    from meshes.solids import level_reader

    return level_reader(values, level)


def _course(name: str, row: Table, landmarks: Landmarks, where: str, read: Reader) -> Course:
    paired = bool(row.get("paired", False))
    structure = structure_from(f"{name}_left" if paired else name, row, where)
    ways = {w: _way(rows, landmarks, place, read) for w, (rows, place) in _ways(row, where).items()}
    return Course(
        structure, paired, ways.pop(""),
        str(row.get("from", "")), _share(row, "leaves", 1.0, where),
        str(row.get("to", "")), _share(row, "joins", 0.0, where),
        _variant(row["variant"], where) if "variant" in row else "", ways,
    )  # fmt: skip


def _ways(row: Table, where: str) -> dict[str, tuple[Sequence[Table], str]]:
    """Variant, empty for the usual way -> the rows of its waypoints, and where they stand."""
    ways = {"": (row.get("way", []), where)}
    for word, other in row.get("when", {}).items():
        place = f"{where}, when {word}"
        ways[_variant(word, where)] = (require(other, "way", place), place)
    for rows, place in ways.values():
        if len(rows) + ("from" in row) + ("to" in row) < 2:
            raise FurcalError(f"{place}: name two waypoints, or one and another course to leave or join.")
    return ways


def _variant(word: str, where: str) -> str:
    legal = (*SIDED_VARIANTS, *MIDLINE_VARIANTS)
    if word not in legal:
        raise unknown_word(word, legal, "variant", where)
    return word


def _share(row: Table, key: str, default: float, where: str) -> float:
    value = number(row.get(key, default), f"{where}, {key}")
    if not 0.0 <= value <= 1.0:
        raise FurcalError(f"{where}, {key}: {value:g} is outside 0 to 1.")
    return value


def _way(rows: Sequence[Table], landmarks: Landmarks, where: str, read: Reader) -> list[Waypoint]:
    way = []
    for index, row in enumerate(rows, start=1):
        place = f"{where}, waypoint {index}"
        check_keys(row, WAY_KEYS, place)
        cited(row, place)
        radius = read(require(row, "radius", place), f"{place}, radius")
        if radius <= 0.0:
            raise FurcalError(f"{place}, radius: {radius:g} is not more than 0.")
        way.append(
            Waypoint(
                resolve(row, landmarks, place, read),
                radius,
                str(row.get("on", "")),
                str(row.get("under", "")),
                str(row.get("inside", "")),
                read(row.get("gap_mm", 0.5), f"{place}, gap_mm"),
                str(row.get("says", "")),
                str(row["source"]),
            )
        )
    return way


@dataclass(frozen=True)
class Drawn:
    """A course before it is settled: samples and, per sample, the waypoints on either side of it."""

    line: Centreline
    before: Indices
    way: Sequence[Waypoint]
    fixed_start: bool
    fixed_end: bool


def draw_course(course: Course, way: Sequence[Waypoint], parent: Centreline | None, target: Centreline | None) -> Drawn:
    """Samples of a course through its waypoints, begun inside its parent and ended inside its target."""
    controls = [[*w.point, w.radius] for w in way]
    lead = 0
    if parent is not None:
        start = course.leaves * parent.length
        thin = min(controls[0][3] if controls else np.inf, float(np.interp(start, parent.arc, parent.radius)))
        lead = 2 if start >= INSIDE_PARENT_MM else 1
        starts = [max(start - INSIDE_PARENT_MM, 0.0), start][-lead:]
        controls = [[*parent.at(s), thin] for s in starts] + controls
    if target is not None:
        end = course.joins * target.length
        thin = controls[-1][3]
        ends = [end, min(end + INSIDE_PARENT_MM, target.length)]
        controls += [[*target.at(s), thin] for s in ends]
    rows = np.array(controls, dtype=np.float64)
    length = float(np.linalg.norm(np.diff(rows[:, :3], axis=0), axis=1).sum())
    samples = int(np.clip(np.ceil(length / COURSE_STEP_MM), 16, COURSE_SAMPLES_MAX)) + 1
    dense = spline(rows, samples)
    line = Centreline(np.ascontiguousarray(dense[:, :3]), np.maximum(np.ascontiguousarray(dense[:, 3]), 0.2))
    nearest = [int(np.argmin(np.linalg.norm(line.points - w.point, axis=1))) for w in way]
    before = np.searchsorted(np.maximum.accumulate(np.array(nearest, dtype=int)), np.arange(samples), side="right") - 1
    return Drawn(line, before, way, parent is not None, target is not None)


def cut_at_ends(line: Centreline, ends: Mapping[str, float]) -> Centreline:
    """The line cut flat where it leaves the body by the heights top_mm and bottom_mm, and turned square to the cut.

    An end within a few millimetres of a height is meant to lie on it.
    """
    rows, start = _cut(np.column_stack([line.points, line.radius]), ends)
    rows, end = _cut(rows[::-1], ends)
    rows = rows[::-1]
    rows[:, 2] = np.clip(rows[:, 2], ends["bottom_mm"], ends["top_mm"])
    return Centreline(np.ascontiguousarray(rows[:, :3]), np.ascontiguousarray(rows[:, 3]), (start, end))


def _cut(rows: Array, ends: Mapping[str, float]) -> tuple[Array, bool]:
    """Points and radii (m, 4) from where they enter the body on, and whether they are cut there."""
    rows = rows.copy()
    beyond = np.maximum(rows[:, 2] - ends["top_mm"], ends["bottom_mm"] - rows[:, 2])
    if beyond[0] < -END_REACH_MM:
        return rows, False
    if beyond[0] > 0.0:
        inside = max(int(np.argmax(beyond <= 0.0)), 1)
        share = beyond[inside - 1] / (beyond[inside - 1] - beyond[inside])
        rows[inside - 1] += share * (rows[inside] - rows[inside - 1])
        rows = np.delete(rows[inside - 1 :], 1, axis=0) if share > 0.5 else rows[inside - 1 :]
    rows[0, 2] = min((ends["top_mm"], ends["bottom_mm"]), key=lambda height: abs(height - rows[0, 2]))
    away = np.linalg.norm(rows[:, :3] - rows[0, :3], axis=1)
    ease = np.clip(away / SQUARE_WITHIN_MM, 0.0, 1.0)
    rows[:, :2] = rows[0, :2] + (rows[:, :2] - rows[0, :2]) * (ease * ease * (3.0 - 2.0 * ease))[:, None]
    return rows, True


def order(courses: Mapping[str, Course]) -> list[str]:
    """Ids so that every course comes after those it leaves or joins. Raises FurcalError on a circle."""
    done: list[str] = []

    def visit(name: str, above: tuple[str, ...]) -> None:
        if name in above:
            raise FurcalError(f"courses: {' -> '.join((*above, name))} runs in a circle.")
        if name in done:
            return
        course = courses[name]
        for other in (course.parent, course.target):
            if other:
                visit(other, (*above, name))
        done.append(name)

    for name in courses:
        visit(name, ())
    return done
