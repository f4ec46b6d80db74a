"""A row of a table as a frozen dataclass: its fields are the legal keys, their types say what a value must be.

Fields that mean the same in every table: `source` and what ends in it (keys joined by +, as a tuple), `basis`, `roots`
(`L2-L4`), and `id`, which is the row's own name and no key of it. A field with a default may be left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from types import UnionType
from typing import Any, TypeVar, get_args, get_type_hints

from meshes.errors import FurcalError, shown, unknown_word
from meshes.structures import SEGMENTS
from meshes.tables import Table, check_keys, cited, number, require

#: What a fact rests on: a paper that was read, a text or teaching page, nothing but memory, a choice of ours.
BASES = ("published", "secondary", "from_memory", "judgement")
Row = TypeVar("Row")


def record(of: type[Row], row: object, where: str, id: str = "") -> Row:
    """A row as the dataclass `of`. Raises FurcalError naming the place: unknown or missing keys, wrong values."""
    if not isinstance(row, Mapping):
        raise FurcalError(f"{where}: expected a table, found {shown(row)}.")
    keys = [f for f in fields(of) if f.name != "id"]  # type: ignore[arg-type]  # a dataclass, whichever it is
    check_keys(row, [f.name for f in keys], where)
    kinds = get_type_hints(of)
    values: dict[str, Any] = {"id": id} if id else {}
    for key in keys:
        if key.name in row or key.default is MISSING:
            values[key.name] = _value(key.name, kinds[key.name], require(row, key.name, where), f"{where}, {key.name}")
    return of(**values)


def _value(name: str, kind: Any, value: object, where: str) -> Any:
    if name.endswith("source"):
        return cited({"source": value}, where)
    if name == "basis":
        return basis_of({"basis": value}, where)
    if name == "roots" and value:
        return _roots(value, where)
    if isinstance(kind, UnionType):
        kind = get_args(kind)[0]
    if kind in _PLAIN:
        return _PLAIN[kind](value, where)
    if get_args(kind):
        return tuple(
            _value("", get_args(kind)[0], v, f"{where} {n}") for n, v in enumerate(_list(value, where), start=1)
        )
    return record(kind, value, where)


def text_of(value: object, where: str) -> str:
    """Words in quotes."""
    if not isinstance(value, str):
        raise FurcalError(f"{where}: expected words in quotes, found {shown(value)}.")
    return value


def basis_of(row: Table, where: str) -> str:
    """What a row rests on, one of BASES."""
    word = require(row, "basis", where)
    if word not in BASES:
        raise unknown_word(word, BASES, "basis", where)
    return str(word)


def _flag(value: object, where: str) -> bool:
    if not isinstance(value, bool):
        raise FurcalError(f"{where}: expected true or false, found {shown(value)}.")
    return value


def _list(value: object, where: str) -> list[Any]:
    if not isinstance(value, list):
        raise FurcalError(f"{where}: expected a list, found {shown(value)}.")
    return value


def _roots(value: object, where: str) -> str:
    """A segment, or two with a dash between them, the upper one first."""
    ends = text_of(value, where).split("-")
    for end in ends:
        if end not in SEGMENTS:
            raise unknown_word(end, SEGMENTS, "segment", where)
    if len(ends) > 2 or SEGMENTS.index(ends[0]) > SEGMENTS.index(ends[-1]):
        raise FurcalError(f"{where}: {shown(value)} is no span; write the upper segment first, as in L2-L4.")
    return str(value)


_PLAIN: Mapping[Any, Callable[[object, str], Any]] = {str: text_of, bool: _flag, float: number}
