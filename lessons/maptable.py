"""Reads the body map's tables: the drawing with its named surface points, and the skin patches anchored to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from lessons.mapchains import XY, Chain, along, flat, joined
from meshes.errors import FurcalError, shown, unknown_word
from meshes.structures import SIDES
from meshes.tables import ANATOMY, Table, check_keys, cited, number, read_toml, require

#: Two layers that answer two questions, with the table of patches.toml that holds each.
LAYERS = MappingProxyType({"nerves": "patch", "dermatomes": "dermatome"})
T = TypeVar("T")


@dataclass(frozen=True)
class Line:
    """A line of the drawing within its outline; one on the midline is drawn once."""

    name: str
    points: tuple[XY, ...]
    midline: bool


@dataclass(frozen=True)
class View:
    """One face of the body: half of it where it is mirrored.

    outline : its written points, from the top down and round
    points  : named surface points
    gutter  : x where the numbers of names stand, down to `gutter_end`
    """

    name: str
    mirror: bool
    outline: tuple[XY, ...]
    lines: tuple[Line, ...]
    points: Mapping[str, XY]
    gutter: float
    gutter_end: float

    @property
    def whole(self) -> list[XY]:
        """The outline, with its mirror image where only one half is written."""
        left = list(self.outline)
        return left + [(-x, y) for x, y in reversed(left[:-1])] if self.mirror else left


@dataclass(frozen=True)
class Part:
    """A view as a figure draws it. way: 1 where its x runs to the reader's right, else -1."""

    view: str
    side: str
    way: int


@dataclass(frozen=True)
class Figure:
    """Views that are drawn over each other at one place of the page, with the letters of the sides and a note."""

    title: str
    at: float
    title_dx: float
    marks: Mapping[str, XY]
    note: str
    note_at: XY
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class Patch:
    """An area of skin. nerve: the one that serves it, empty for a dermatome. pieces: closed chains by view."""

    id: str
    name: str
    words: str
    nerve: str
    variable: bool
    source: tuple[str, ...]
    pieces: Mapping[str, tuple[Chain, ...]]


@dataclass(frozen=True)
class KeyPoint:
    """Where the standard touches a dermatome."""

    view: str
    place: XY
    words: str


@dataclass(frozen=True)
class Drawing:
    """All of it. page: left, top, width, height in drawing units."""

    page: tuple[float, float, float, float]
    unit_mm: float
    figures: tuple[Figure, ...]
    views: Mapping[str, View]
    layers: Mapping[str, Mapping[str, Patch]]
    keys: Mapping[str, KeyPoint]


@cache
def drawing() -> Drawing:
    """The drawing of the package."""
    return read_drawing(ANATOMY / "map")


def read_drawing(folder: Path) -> Drawing:
    """Read outline.toml and patches.toml of a folder. Raises FurcalError naming file and place."""
    file = folder / "outline.toml"
    table = read_toml(file)
    check_keys(table, ("unit_mm", "page", "figure", "view"), str(file))
    views = {name: _view(name, row, f"{file}, [view.{name}]") for name, row in _rows(table, "view", str(file))}
    figures = tuple(_figure(row, views, f"{file}, [figure.{n}]") for n, row in _rows(table, "figure", str(file)))
    left, top, width, height = _numbers(require(table, "page", str(file)), 4, f"{file}, page")
    unit_mm = number(require(table, "unit_mm", str(file)), f"{file}, unit_mm")
    layers, keys = _skin(folder / "patches.toml", views)
    return Drawing((left, top, width, height), unit_mm, figures, views, layers, keys)


def _skin(file: Path, views: Mapping[str, View]) -> tuple[dict[str, dict[str, Patch]], dict[str, KeyPoint]]:
    table = read_toml(file)
    check_keys(table, (*LAYERS.values(), "key"), str(file))
    layers = {
        layer: {i: _patch(i, row, views, f"{file}, [{kind}.{i}]") for i, row in _rows(table, kind, str(file))}
        for layer, kind in LAYERS.items()
    }
    keys = {}
    for i, row in _rows(table, "key", str(file)):
        where = f"{file}, [key.{i}]"
        if i not in layers["dermatomes"]:
            raise unknown_word(i, layers["dermatomes"], "dermatome", where)
        check_keys(row, ("words", "view", "place", "source"), where)
        cited(row, where)
        view = _named(views, require(row, "view", where), "view", where)
        spot = place(require(row, "place", where), view.points, f"{where}, place")
        keys[i] = KeyPoint(view.name, spot, str(require(row, "words", where)))
    return layers, keys


# --- rows


def _view(name: str, row: Table, where: str) -> View:
    check_keys(row, ("mirror", "source", "gutter", "gutter_end", "outline", "line", "point"), where)
    cited(row, where)
    lines = []
    for k, line in enumerate(row.get("line", []), start=1):
        at = f"{where}, line {k}"
        check_keys(line, ("name", "midline", "points"), at)
        spots = _spots(require(line, "points", at), f"{at}, points")
        lines.append(Line(str(require(line, "name", at)), spots, _flag(line, "midline", at)))
    written = _table(require(row, "point", where), f"{where}, point")
    return View(
        name,
        _flag(row, "mirror", where),
        _spots(require(row, "outline", where), f"{where}, outline"),
        tuple(lines),
        _points(written, f"{where}, point"),
        number(require(row, "gutter", where), f"{where}, gutter"),
        number(require(row, "gutter_end", where), f"{where}, gutter_end"),
    )


def _points(written: Table, where: str) -> dict[str, XY]:
    """Named points; one may be a share of the way between two that are written as numbers."""
    points: dict[str, XY] = {}
    for later in (False, True):
        for name, value in written.items():
            if isinstance(value, Mapping) is later:
                at = f"{where}.{name}"
                points[name] = place(value, points, at) if later else _pair(value, at)
    return points


def _figure(row: Table, views: Mapping[str, View], where: str) -> Figure:
    check_keys(row, ("title", "at", "title_dx", "marks", "note", "note_at", "draws"), where)
    parts = []
    for k, draw in enumerate(require(row, "draws", where), start=1):
        at = f"{where}, draws {k}"
        check_keys(draw, ("view", "side", "x"), at)
        view, side = _named(views, require(draw, "view", at), "view", at), require(draw, "side", at)
        if side not in (*SIDES, "both"):
            raise unknown_word(side, (*SIDES, "both"), "side", at)
        parts.append(Part(view.name, side, 1 if number(require(draw, "x", at), at) > 0 else -1))
    letters = _table(require(row, "marks", where), f"{where}, marks")
    return Figure(
        str(require(row, "title", where)),
        number(require(row, "at", where), f"{where}, at"),
        number(row.get("title_dx", 0.0), f"{where}, title_dx"),
        {letter: _pair(spot, f"{where}, marks") for letter, spot in letters.items()},
        str(row.get("note", "")),
        _pair(row.get("note_at", [0.0, 0.0]), f"{where}, note_at"),
        tuple(parts),
    )


def _patch(i: str, row: Table, views: Mapping[str, View], where: str) -> Patch:
    check_keys(row, ("nerve", "name", "words", "variable", "source", "seen"), where)
    pieces: dict[str, tuple[Chain, ...]] = {}
    for key, vertices in _table(require(row, "seen", where), f"{where}, seen").items():
        at = f"{where}, seen.{key}"
        view = _named(views, key.split("_")[0], "view", at)
        pieces[view.name] = (*pieces.get(view.name, ()), polygon(vertices, view, at))
    words, name = str(require(row, "words", where)), str(require(row, "name", where))
    return Patch(i, name, words, str(row.get("nerve", "")), _flag(row, "variable", where), cited(row, where), pieces)


# --- places


def polygon(vertices: Sequence[Any], view: View, where: str) -> Chain:
    """A patch as a closed chain: smooth between its free vertices, on the outline where it says `edge`."""
    if not isinstance(vertices, list) or len(vertices) < 2:
        raise FurcalError(f"{where}: expected a list of vertices, found {shown(vertices)}.")
    rim = flat(view.outline)
    stretches: list[tuple[bool, Chain]] = []
    for k, vertex in enumerate(vertices, start=1):
        at = f"{where}, vertex {k}"
        if "edge" in _table(vertex, at):
            check_keys(vertex, ("edge",), at)
            ends = vertex["edge"]
            if not isinstance(ends, list) or len(ends) != 2:
                raise FurcalError(f"{at}: `edge` takes two vertices, found {shown(ends)}.")
            start, end = (place(e, view.points, at) for e in ends)
            stretches.append((True, along(rim, start, end)))
        else:
            stretches.append((False, [place(vertex, view.points, at)]))
    return joined(stretches)


def place(vertex: Any, points: Mapping[str, XY], where: str) -> XY:
    """Where a vertex lies: `at` a named point or a `share` of the way `from` one `to` another, moved by dx, dy."""
    row = _table(vertex, where)
    if "at" in row:
        check_keys(row, ("at", "dx", "dy"), where)
        x, y = _named(points, row["at"], "surface point", where)
    else:
        check_keys(row, ("from", "to", "share", "dx", "dy"), where)
        (ax, ay), (bx, by) = (_named(points, require(row, k, where), "surface point", where) for k in ("from", "to"))
        share = number(require(row, "share", where), f"{where}, share")
        x, y = ax + share * (bx - ax), ay + share * (by - ay)
    return x + number(row.get("dx", 0.0), f"{where}, dx"), y + number(row.get("dy", 0.0), f"{where}, dy")


# --- cells


def _rows(table: Table, key: str, where: str) -> list[tuple[str, Table]]:
    rows = _table(require(table, key, where), f"{where}, [{key}]")
    return [(name, _table(row, f"{where}, [{key}.{name}]")) for name, row in rows.items()]


def _table(value: Any, where: str) -> Table:
    if not isinstance(value, Mapping):
        raise FurcalError(f"{where}: expected a table, found {shown(value)}.")
    return value


def _named(things: Mapping[str, T], name: object, what: str, where: str) -> T:
    if not isinstance(name, str) or name not in things:
        raise unknown_word(name, sorted(things), what, where)
    return things[name]


def _flag(row: Table, key: str, where: str) -> bool:
    value = row.get(key, False)
    if not isinstance(value, bool):
        raise FurcalError(f"{where}, {key}: expected true or false, found {shown(value)}.")
    return value


def _numbers(value: Any, count: int, where: str) -> list[float]:
    if not isinstance(value, list) or len(value) != count:
        raise FurcalError(f"{where}: expected {count} numbers, found {shown(value)}.")
    return [number(v, where) for v in value]


def _pair(value: Any, where: str) -> XY:
    x, y = _numbers(value, 2, where)
    return x, y


def _spots(value: Any, where: str) -> tuple[XY, ...]:
    if not isinstance(value, list) or len(value) < 2:
        raise FurcalError(f"{where}: expected a list of points, found {shown(value)}.")
    return tuple(_pair(spot, where) for spot in value)
