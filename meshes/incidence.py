"""How often a deficit has been reported after an approach: ranges of published series, never a pooled guess of ours.

A row gathers series that count the same thing at about the same time. Its range is that of its own series.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from meshes.errors import FurcalError
from meshes.reference import all_courses
from meshes.structures import APPROACHES, LEVELS
from meshes.tables import ANATOMY, Table, check_keys, number, read_toml, require
from meshes.told import KEYS, Told, tables, text, told_in, word, words
from meshes.tolerances import PER_CENT_ROUNDING

INCIDENCE = ANATOMY / "incidence.toml"
#: What else hurts the same nerves in the same operations.
GRAFTS = ("crest_graft_anterior", "crest_graft_posterior")
#: examined: each patient was; survey: complications that were reported; pooled: several series; series: one.
KINDS = ("examined", "survey", "pooled", "series")
SURVEYED = "as reported in surveys"
WHENS = ("any", "early", "transient", "at six weeks", "at one year", "lasting", "permanent", SURVEYED)
_ROW_KEYS = ("approach", "deficit", "level", "when", "nerves", "low", "high", "series", "note")
_SERIES_KEYS = ("per_cent", "n", "of", "printed", "kind", *KEYS)


@dataclass(frozen=True)
class Series:
    """One published figure, in per cent; low and high are the same unless the source itself gives a range.

    n, of   : so many of so many patients, None where not printed
    printed : the per cent that the source prints where it is not n / of
    """

    low: float
    high: float
    n: int | None
    of: int | None
    printed: float | None
    kind: str
    told: Told

    @property
    def denominator(self) -> str:
        """Of how many, in words."""
        if self.of is None:
            return "number of patients not printed"
        return f"of {self.of}" if self.n is None else f"{self.n} of {self.of}"


@dataclass(frozen=True)
class Incidence:
    """How often one deficit was reported after one approach.

    level    : where the series counted that level alone, else empty
    nerves   : ids without side
    low, high : per cent, the lowest and the highest of the series
    """

    approach: str
    deficit: str
    level: str
    when: str
    nerves: tuple[str, ...]
    low: float
    high: float
    series: tuple[Series, ...]
    note: str

    @property
    def source(self) -> str:
        """Source keys of all its series, as a table writes them."""
        return "+".join(dict.fromkeys(key for one in self.series for key in one.told.sources))


@dataclass(frozen=True)
class NotFound:
    """A rate that was looked for: after which approach, of which nerves (ids without side) alone."""

    approach: str
    nerves: tuple[str, ...]
    told: Told


@dataclass(frozen=True)
class Reported:
    """The table: its rows, what was looked for in vain, and the caution that stands beside every range."""

    rows: tuple[Incidence, ...]
    not_found: tuple[NotFound, ...]
    caution: str

    def after(self, approach: str, level: str) -> tuple[Incidence, ...]:
        """The rows of an approach: those of all levels, and those of this level alone."""
        return tuple(row for row in self.rows if row.approach == approach and row.level in ("", level))


@cache
def reported() -> Reported:
    """incidence.toml."""
    return read_incidence(INCIDENCE)


def read_incidence(path: Path) -> Reported:
    """A table of this kind. Raises FurcalError naming file and row."""
    table = read_toml(path)
    check_keys(table, ("caution", "row", "not_found"), str(path))
    rows: dict[tuple[str, ...], Incidence] = {}
    for row, where in tables(table, "row", str(path)):
        one = _incidence(row, where)
        key = (one.approach, one.deficit, one.level, one.when)
        if key in rows:
            raise FurcalError(f"{where}: {one.approach}, {one.deficit}, {one.when} stands twice.")
        rows[key] = one
    missed = tuple(_not_found(row, where) for row, where in tables(table, "not_found", str(path)))
    return Reported(tuple(rows.values()), missed, text(table, "caution", str(path)))


def _not_found(row: Table, where: str) -> NotFound:
    check_keys(row, ("approach", "nerves", *KEYS), where)
    approach = word(row, "approach", (*APPROACHES, *GRAFTS), where)
    return NotFound(approach, words(row, "nerves", tuple(all_courses()), where), told_in(row, where))


def _incidence(row: Table, where: str) -> Incidence:
    check_keys(row, _ROW_KEYS, where)
    series = tuple(_series(one, place) for one, place in tables(row, "series", where))
    low, high = (number(require(row, key, where), f"{where}, {key}") for key in ("low", "high"))
    if not series:
        raise FurcalError(f"{where}: a range needs its series.")
    found = min(one.low for one in series), max(one.high for one in series)
    if found != (low, high):
        raise FurcalError(f"{where}: low and high are {low:g} and {high:g}, its series {found[0]:g} and {found[1]:g}.")
    when = word(row, "when", WHENS, where)
    if len({one.kind == "survey" for one in series} | {when == SURVEYED}) != 1:
        raise FurcalError(f"{where}: what surveys were told stands in a row of its own, when = {SURVEYED!r}.")
    return Incidence(
        approach=word(row, "approach", (*APPROACHES, *GRAFTS), where),
        deficit=text(row, "deficit", where),
        level=word(row, "level", LEVELS, where) if "level" in row else "",
        when=when,
        nerves=words(row, "nerves", tuple(all_courses()), where),
        low=low,
        high=high,
        series=series,
        note=str(row.get("note", "")),
    )


def _series(row: Table, where: str) -> Series:
    check_keys(row, _SERIES_KEYS, where)
    given = require(row, "per_cent", where)
    ends = [number(value, f"{where}, per_cent") for value in (given if isinstance(given, list) else [given, given])]
    if len(ends) != 2 or not 0.0 <= ends[0] <= ends[1] <= 100.0:
        raise FurcalError(f"{where}, per_cent: expected a number from 0 to 100, or two, the lower one first.")
    n, of = (_count(row, key, where) for key in ("n", "of"))
    if n is not None:
        if of is None or n > of:
            raise FurcalError(f"{where}: n = {n} needs 'of', and may not be more.")
        if ends[0] != ends[1] or abs(100.0 * n / of - ends[0]) > PER_CENT_ROUNDING:
            raise FurcalError(f"{where}: {n} of {of} is {100.0 * n / of:.2f} %, not {ends[0]:g}; see 'printed'.")
    printed = number(row["printed"], f"{where}, printed") if "printed" in row else None
    return Series(ends[0], ends[1], n, of, printed, word(row, "kind", KINDS, where), told_in(row, where))


def _count(row: Table, key: str, where: str) -> int | None:
    if key not in row:
        return None
    value = row[key]
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise FurcalError(f"{where}, {key}: expected a whole number, found {value!r}.")
    return value
