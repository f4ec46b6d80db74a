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
        raise FurcalError(f"{target}: cannot be written ({error.strerror or error}); make room or choose another "
                          "folder.") from None  # fmt: skip
    finally:
        beside.unlink(missing_ok=True)


@contextmanager
def whole_folder(target: Path, is_ours: Callable[[str], bool]) -> Iterator[Path]:
    """A folder beside the target to fill; it takes the target's place at the end, or is gone after an error.

    is_ours : whether a file of that name is one that an earlier call may have written
    Raises FurcalError, before anything is written, for a target that holds other things.
    """
    check_folder(target, is_ours)
    fresh = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.resolve().parent))
    try:
        fresh.chmod(0o755)  # mkdtemp keeps others out
        yield fresh
        if target.exists():
            shutil.rmtree(target)
        fresh.rename(target)
    except OSError as error:
        raise FurcalError(f"{target}: cannot be written ({error.strerror or error}); make room or choose another "
                          "folder.") from None  # fmt: skip
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


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
        others = sorted(entry.name for entry in target.iterdir() if not is_ours(entry.name))
        if others:
            raise FurcalError(f"{target}: holds {others[0]}, which furcal did not write; name a new or empty folder.")
