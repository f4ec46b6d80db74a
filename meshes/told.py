"""Something that is said of anatomy or operation, with where it comes from: a row's `says`, `source`, `basis`.

What several tables of words have in common. A basis tells how far a sentence can be leant on.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from meshes.errors import FurcalError, unknown_word
from meshes.records import basis_of
from meshes.tables import ANATOMY, RESERVED_SOURCES, Table, check_keys, cited, read_toml, require

#: Keys of a table that only says something.
KEYS = ("says", "source", "basis", "caution")


@dataclass(frozen=True)
class Told:
    """One sentence, and where it comes from.

    sources : keys of sources.toml, or the reserved ones
    caution : what has to stand beside it; empty where nothing has
    """

    says: str
    sources: tuple[str, ...]
    basis: str
    caution: str = ""

    @property
    def source(self) -> str:
        """Its source keys as a table writes them."""
        return "+".join(self.sources)


def told_in(row: Table, where: str) -> Told:
    """What a row says. Raises FurcalError naming the place for what is missing, unknown or not to be cited here."""
    caution = text(row, "caution", where) if "caution" in row else ""
    return Told(text(row, "says", where), *grounds(row, where), caution)


def told_only(row: object, where: str) -> Told:
    """The same of a table that has no other keys."""
    row = table(row, where)
    check_keys(row, KEYS, where)
    return told_in(row, where)


def grounds(row: Table, where: str) -> tuple[tuple[str, ...], str]:
    """Source keys and basis of a row. Raises FurcalError where a source may only check, or where none was read."""
    sources, basis = cited(row, where), basis_of(row, where)
    for key in sources:
        if key not in RESERVED_SOURCES and publications()[key]["use"] != "build":
            raise FurcalError(f"{where}: {key} is a source to {publications()[key]['use']}, not to tell from.")
    if basis == "published" and set(sources) <= set(RESERVED_SOURCES):
        raise FurcalError(f"{where}: {sources[0]} is no publication; name one, or another basis.")
    return sources, basis


def word(row: Table, key: str, legal: tuple[str, ...], where: str) -> str:
    """One of a few words that must be there."""
    value = require(row, key, where)
    if value not in legal:
        raise unknown_word(value, legal, key, where)
    return str(value)


def text(row: Table, key: str, where: str) -> str:
    """A text that must be there and not be empty."""
    value = require(row, key, where)
    if not isinstance(value, str) or not value.strip():
        raise FurcalError(f"{where}, {key}: expected words, found {value!r}.")
    return value


def words(row: Table, key: str, legal: tuple[str, ...], where: str) -> tuple[str, ...]:
    """A list of legal words; empty where the key is not there."""
    values = row.get(key, [])
    if not isinstance(values, list):
        raise FurcalError(f"{where}, {key}: expected a list of words.")
    for value in values:
        if value not in legal:
            raise unknown_word(value, legal, key, where)
    return tuple(values)


def table(value: object, where: str) -> Table:
    """A value that must be a table."""
    if not isinstance(value, dict):
        raise FurcalError(f"{where}: expected a table.")
    return value


def tables(row: Table, key: str, where: str) -> list[tuple[Table, str]]:
    """The tables of a list, each with its place, counted from 1; none where the key is not there."""
    values = row.get(key, [])
    if not isinstance(values, list):
        raise FurcalError(f"{where}, {key}: expected a list of tables.")
    places = [f"{where}, {key} {number}" for number in range(1, len(values) + 1)]
    return [(table(value, place), place) for value, place in zip(values, places, strict=True)]


@cache
def publications() -> Table:
    """sources.toml."""
    return read_toml(ANATOMY / "sources.toml")
