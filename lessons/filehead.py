"""What every file of ours is asked before it is read: whether it can be one at all, and of a schema that is known."""

from __future__ import annotations

import stat
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from meshes.errors import FurcalError, shown
from meshes.tables import read_text


def check_small(path: Path, most_bytes: int, what: str) -> None:
    """Raise FurcalError for what cannot be read, is no plain file, or is larger than any of its kind.

    what : what it should be, after "which no"
    """
    try:
        known = path.stat()
    except (OSError, ValueError):
        read_text(path)  # which says why it cannot be read
        return
    if not stat.S_ISDIR(known.st_mode) and not stat.S_ISREG(known.st_mode):
        raise FurcalError(f"{path}: is not a plain file; name one.")
    if known.st_size > most_bytes:
        most = f"{most_bytes // 10**6} MB" if most_bytes >= 10**6 else f"{most_bytes} bytes"
        raise FurcalError(f"{path}: is larger than {most}, which no {what} is; check the path.")


def check_schema(table: Mapping[str, Any], where: str, mark: str, newest: int, what: str) -> None:
    """Raise FurcalError for a table that is none of this kind, or is written by a newer furcal."""
    if mark not in table:
        raise FurcalError(f"{where}: is no {what}; a {what} begins with the line {mark} = {newest}.")
    schema = table[mark]
    if isinstance(schema, bool) or not isinstance(schema, int) or schema < 1:
        raise FurcalError(f"{where}, {mark}: expected the whole number {newest}, found {shown(schema)}.")
    if schema > newest:
        raise FurcalError(
            f"{where}: written by a newer furcal (schema {shown(schema)}); this one reads {newest}: update furcal."
        )
