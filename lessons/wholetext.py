"""Writes a small text file whole or not at all."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from meshes.errors import FurcalError


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all. Raises FurcalError naming it."""
    import os

    target = path.resolve()
    if not target.parent.is_dir():
        raise FurcalError(f"{path.parent}: no such folder; make it first.")
    beside = target.with_name(f".{target.name}.part")
    try:
        with beside.open("wb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        beside.replace(target)
    except OSError as error:
        with suppress(OSError):  # of a name too long there is nothing to take away either
            beside.unlink()
        raise FurcalError(
            f"{path}: cannot be written ({error.strerror}); make room or choose another folder."
        ) from None
