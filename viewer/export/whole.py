"""Files and folders that are written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from meshes.errors import FurcalError


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """A path beside the target to write to; it takes the target's place at the end, or is gone after an error.

    Raises FurcalError naming the target for a disk that is full or does not let us write.
    """
    beside = target.with_name(f".{target.name}.part")
    try:
        yield beside
        with beside.open("rb+") as file:
            os.fsync(file.fileno())
        beside.replace(target)
    except OSError as error:
        raise _refused(target, error) from None
    finally:
        beside.unlink(missing_ok=True)


@contextmanager
def whole_folder(target: Path, is_ours: Callable[[str], bool]) -> Iterator[Path]:
    """A folder beside the target to fill; it takes the target's place at the end, or is gone after an error.

    What stood there before is moved aside until then, and comes back when the new one cannot take its place.

    is_ours : whether a file of that name is one that an earlier call may have written
    Raises FurcalError, before anything is written, for a target that holds other things.
    """
    check_folder(target, is_ours)
    place = target.resolve()
    try:
        aside = Path(tempfile.mkdtemp(prefix=f".{place.name[:100]}-", dir=place.parent))
    except OSError as error:
        raise _refused(target, error) from None
    fresh, older = aside / "new", aside / "old"
    try:
        fresh.mkdir()
        yield fresh
        if place.exists():
            place.rename(older)
        fresh.rename(place)
    except OSError as error:
        raise _refused(target, error) from None
    finally:
        if older.exists() and not place.exists():
            older.rename(place)
        shutil.rmtree(aside, ignore_errors=True)


def _refused(target: Path, error: OSError) -> FurcalError:
    why = error.strerror or error
    return FurcalError(f"{target}: cannot be written ({why}); make room or choose another folder.")


def check_folder(target: Path, is_ours: Callable[[str], bool]) -> None:
    """Raise FurcalError for a folder that cannot be written, or holds what we did not write."""
    if target.exists() and not target.is_dir():
        raise FurcalError(f"{target}: is a file; name a folder.")
    parent = target.resolve().parent
    if not parent.is_dir():
        raise FurcalError(f"{parent}: no such folder; make it first.")
    if not os.access(parent, os.W_OK):
        raise FurcalError(f"{target}: cannot be written; choose another folder.")
    if target.resolve() == Path.cwd():
        raise FurcalError(f"{target}: is the folder you are in, and it is replaced as a whole; name another.")
    if target.is_dir():
        others = sorted(entry.name for entry in target.iterdir() if entry.is_dir() or not is_ours(entry.name))
        if others:
            raise FurcalError(f"{target}: holds {others[0]}, which furcal did not write; name a new or empty folder.")
