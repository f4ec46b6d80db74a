"""Keep built bodies on disk, by a hash of everything that went into them."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from meshes.tables import ANATOMY
from meshes.tolerances import BODIES_KEPT

Arrays = dict[str, Any]


def folder() -> Path:
    """The user's cache folder for bodies; FURCAL_CACHE names another one."""
    named = os.environ.get("FURCAL_CACHE")
    if named:
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("furcal", appauthor=False)


#: Tables that shape no body: figures to compare with, and words.
SHAPELESS = ("published.csv", "sources.toml", "planes.toml", "approaches.toml", "fibres.toml")


@cache
def tables_hash() -> str:
    """Hash of every table that shapes a body, and of the code that turns them into bodies."""
    tables = [path for path in sorted(ANATOMY.iterdir()) if path.name not in SHAPELESS]
    return _hash([*tables, *sorted(Path(__file__).parent.glob("*.py"))])


def _hash(files: Iterable[Path]) -> str:
    digest = hashlib.sha256()
    for file in files:
        if file.is_file():
            digest.update(file.name.encode())
            digest.update(file.read_bytes())
    return digest.hexdigest()[:24]


def load(name: str) -> tuple[dict[str, Any], Arrays] | None:
    """Words and arrays kept under a name, or None. A damaged file counts as none; it is made anew."""
    path = folder() / f"{name}.npz"
    try:
        with np.load(path) as kept:
            words = json.loads(kept["words"].tobytes().decode())
            return words, {key: kept[key] for key in kept.files if key != "words"}
    except (OSError, ValueError, KeyError, EOFError, json.JSONDecodeError):
        return None
    except Exception as error:  # zipfile.BadZipFile: imported only when it is needed
        if type(error).__name__ == "BadZipFile":
            return None
        raise


def save(name: str, words: dict[str, Any], arrays: Arrays) -> None:
    """Keep words and arrays under a name, whole or not at all. A cache that cannot be written is done without."""
    try:
        folder().mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=folder(), suffix=".part")
    except OSError:
        return
    try:
        with os.fdopen(handle, "wb") as file:
            text = np.frombuffer(json.dumps(words).encode(), dtype=np.uint8)
            np.savez(file, words=text, **arrays)
        Path(temporary).replace(folder() / f"{name}.npz")
    except OSError:
        Path(temporary).unlink(missing_ok=True)
        return
    _forget_old()


def _forget_old() -> None:
    kept = sorted(folder().glob("*.npz"), key=lambda p: p.stat().st_mtime, reverse=True)
    for path in kept[BODIES_KEPT:]:
        path.unlink(missing_ok=True)


def key_of(words: dict[str, Any]) -> str:
    """A short key of any plain values."""
    return hashlib.sha256(json.dumps(words, sort_keys=True).encode()).hexdigest()[:16]
