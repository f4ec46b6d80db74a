"""Read a table, refuse what is unknown, say where it stands."""

from __future__ import annotations

import csv
import math
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from meshes.errors import FurcalError, shown, unknown_word

ANATOMY = Path(__file__).parent / "anatomy"
#: Source keys that stand for no publication.
RESERVED_SOURCES = ("common_practice", "from_memory", "judgement")
Table = Mapping[str, Any]


def read_text(path: Path) -> str:
    """The text of a file. Raises FurcalError naming the file when it is missing or not UTF-8 text."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise FurcalError(f"{path}: no such file; check the path.") from None
    except IsADirectoryError:
        raise FurcalError(f"{path}: is a folder; name a file.") from None
    except UnicodeDecodeError:
        raise FurcalError(f"{path}: is not UTF-8 text.") from None
    except OSError as error:
        raise FurcalError(f"{path}: cannot be read ({error.strerror}).") from None


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file as nested dicts. Raises FurcalError naming file and line."""
    return parsed_toml(read_text(path), str(path))


def parsed_toml(text: str, where: str) -> dict[str, Any]:
    """The text of a TOML file as nested dicts. Raises FurcalError naming place and line."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise FurcalError(f"{where}: is not valid TOML: brackets are nested too deeply.") from None
    except ValueError as error:  # a TOMLDecodeError, a date that does not exist, a number of too many digits
        raise FurcalError(f"{where}: is not valid TOML: {error}.") from None


def read_csv(path: Path, columns: Iterable[str]) -> list[dict[str, str]]:
    """Rows of a CSV file that has exactly these columns; blank cells are empty strings.

    Raises FurcalError naming file and line.
    """
    wanted = list(columns)
    reader = csv.reader(read_text(path).splitlines())
    if next(reader, None) != wanted:
        raise FurcalError(f"{path}, line 1: the columns must be {', '.join(wanted)}.")
    rows = []
    try:
        for cells in reader:
            if len(cells) != len(wanted):
                raise FurcalError(f"{path}, line {reader.line_num}: expected {len(wanted)} cells.")
            rows.append({key: cell.strip() for key, cell in zip(wanted, cells, strict=True)})
    except csv.Error as error:
        raise FurcalError(f"{path}, line {reader.line_num}: {error}.") from None
    return rows


def number(value: object, where: str) -> float:
    """A finite number, from a TOML number or a CSV cell. Raises FurcalError naming the place."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise FurcalError(f"{where}: expected a number, found {shown(value)}.")
    try:
        result = float(value)
    except (ValueError, OverflowError):
        raise FurcalError(f"{where}: expected a number, found {shown(value)}.") from None
    if not math.isfinite(result):
        raise FurcalError(f"{where}: expected a finite number, found {shown(value)}.")
    return result


def check_keys(row: Table, legal: Iterable[str], where: str) -> None:
    """Refuse keys that are not legal, listing the legal ones."""
    words = list(legal)
    for key in row:
        if key not in words:
            raise unknown_word(key, words, "key", where)


def require(row: Table, key: str, where: str) -> Any:
    """The value of a key that must be there."""
    if key not in row:
        raise FurcalError(f"{where}: {key!r} is missing.")
    return row[key]


@cache
def source_keys() -> frozenset[str]:
    """Every key a table row may cite."""
    return frozenset(read_toml(ANATOMY / "sources.toml")) | frozenset(RESERVED_SOURCES)


def cited(row: Table, where: str) -> tuple[str, ...]:
    """The source keys of a row (one, or several joined by +). Raises FurcalError for an unknown key."""
    keys = tuple(k.strip() for k in str(require(row, "source", where)).split("+"))
    for key in keys:
        if key not in source_keys():
            raise unknown_word(key, sorted(source_keys()), "source", where)
    return keys
