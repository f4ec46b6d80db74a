"""What else it could be: tables that set a few possibilities side by side, and how a finding is looked for.

Each cell of a table carries its source. A row's `finding` is a movement, reflex or sign of the table of findings, or
words of its own for what no bedside word names.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from lessons.findings import Finding, Word, word_of
from lessons.sites import Site, lesion_ids
from meshes.errors import FurcalError, unknown_word
from meshes.records import BASES
from meshes.supply import supply
from meshes.tables import ANATOMY, Table, check_keys, cited, read_toml, require

#: Words for reading a cell that says a finding is not there.
NORMAL = ("normal", "none", "kept")


@dataclass(frozen=True)
class Cell:
    """What one possibility shows."""

    says: str
    source: tuple[str, ...]
    basis: str


@dataclass(frozen=True)
class Row:
    """One finding, the examination in our words, and what each column shows."""

    finding: str
    do: str
    cells: Mapping[str, Cell]


@dataclass(frozen=True)
class Differential:
    """One table. columns: id -> heading and the nerves, roots or lesions that it stands for; of: when it is shown."""

    id: str
    name: str
    of: tuple[str, ...]
    columns: Mapping[str, tuple[str, tuple[str, ...]]]
    rows: tuple[Row, ...]

    def column_of(self, lesion: str) -> str:
        """The column that stands for a nerve, root or lesion; "" where none does."""
        return next((key for key, (_, ids) in self.columns.items() if lesion in ids), "")


def read_differentials(path: Path, legal: Iterable[str]) -> dict[str, Differential]:
    """Every table of a file. legal: ids that `of` and `is` may name. Raises FurcalError naming file and place."""
    file, ids = read_toml(path), list(legal)
    check_keys(file, ("table", "met_in"), str(path))
    return {
        id_: _table(id_, row, ids, f"{path}, [table.{id_}]") for id_, row in require(file, "table", str(path)).items()
    }


def _table(id_: str, row: Table, legal: list[str], where: str) -> Differential:
    check_keys(row, ("name", "of", "columns", "row"), where)
    columns = {}
    for column in require(row, "columns", where):
        check_keys(column, ("id", "name", "is"), f"{where}, columns")
        columns[str(require(column, "id", where))] = (str(require(column, "name", where)), tuple(column.get("is", ())))
    for word in (*require(row, "of", where), *(i for _, named in columns.values() for i in named)):
        if word not in legal:
            raise unknown_word(word, legal, "nerve or lesion", where)
    rows = tuple(_row(r, list(columns), f"{where}, row {k}") for k, r in enumerate(require(row, "row", where), 1))
    return Differential(id_, str(require(row, "name", where)), tuple(row["of"]), columns, rows)


def _row(row: Table, columns: list[str], where: str) -> Row:
    check_keys(row, ("finding", "do", *columns), where)
    cells = {}
    for column in columns:
        cell = require(row, column, where)
        check_keys(cell, ("says", "source", "basis"), f"{where}, {column}")
        if require(cell, "basis", where) not in BASES:
            raise unknown_word(cell["basis"], BASES, "basis", f"{where}, {column}")
        cells[column] = Cell(str(require(cell, "says", where)), cited(cell, f"{where}, {column}"), str(cell["basis"]))
    return Row(str(require(row, "finding", where)), str(require(row, "do", where)), cells)


@cache
def differentials() -> dict[str, Differential]:
    """The tables of the anatomy."""
    return read_differentials(ANATOMY / "differential.toml", lesion_ids())


def tables_of(lesion: str) -> list[Differential]:
    """The tables that are shown for a nerve, root or lesion, given by its id without side."""
    return [table for table in differentials().values() if lesion in table.of]


def row_between(first: str, second: str) -> tuple[str, str, str, tuple[str, ...]] | None:
    """The first row in which two lesions show different things: what to do, what each shows, the sources."""
    for table in differentials().values():
        a, b = table.column_of(first), table.column_of(second)
        for row in table.rows if a and b and a != b else ():
            one, other = row.cells[a], row.cells[b]
            if one.says != other.says:
                return row.do, one.says, other.says, tuple(dict.fromkeys((*one.source, *other.source)))
    return None


def how(finding: Finding, site: Site) -> tuple[str, tuple[str, ...]]:
    """How a finding is looked for, and where that is from; a movement by the muscle that the site weakens most.

    Raises FurcalError for a finding that no table says how to look for.
    """
    table, word = supply(), word_of(finding)
    if finding.kind == "weak":
        movers = [m for m in table.muscles.values() if m.movement == finding.id]
        best = max(movers, key=lambda m: (m.prime, site.muscles.get(m.id, 0.0)), default=None)
        if best is not None:
            return best.test, best.source
    if finding.kind == "lost":
        reflex = table.reflexes[word.anatomic]
        return reflex.how, reflex.source
    if finding.kind == "numb":
        where, source = _touched_at(word, site)
        return f"Compare touch and pin on both sides: {where}.", source
    if finding.kind == "other":
        return f"Ask, or look for it: {word.name}.", word.source
    raise FurcalError(f"{finding.text()}: no table says how to look for it.")


def _touched_at(word: Word, site: Site) -> tuple[str, tuple[str, ...]]:
    """Where the skin of a place is touched: of a root at its key point, of a nerve where its patch is tested."""
    for level in sorted(site.levels & set(word.levels)):
        key = supply().levels.get(level)
        if key is not None and word.id in key.near:
            return f"{key.point} (key point of {level})", key.source
    patch = supply().patches[word.patches[0]]
    return (patch.test_at, patch.source) if patch.id in site.patches else (word.name, word.source)
