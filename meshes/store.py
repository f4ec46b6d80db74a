"""Keep built bodies on disk, by a hash of everything that went into them."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import time
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from meshes.tables import ANATOMY
from meshes.tolerances import BODIES_KEPT, PART_KEPT_S

Arrays = dict[str, Any]


def folder() -> Path:
    """The user's cache folder for bodies; FURCAL_CACHE names another one."""
    named = os.environ.get("FURCAL_CACHE")
    if named:
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("furcal", appauthor=False)


#: Tables that shape no body: figures to compare with, and words.
SHAPELESS = (
    "published.csv", "sources.toml", "planes.toml", "approaches.toml", "fibres.toml", "dissection.toml",
    "short_names.toml", "places.toml", "supply.toml", "findings.toml", "differential.toml",
    "incidence.toml", "approach_risk.toml", "attenuation.toml",
)  # fmt: skip


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
        with path.open("rb") as file, np.load(file) as kept:
            words, names = json.loads(kept["words"].tobytes().decode())
            arrays = {key: kept[key] for key in names}
    except Exception:  # noqa: BLE001 - one wrong byte can make the readers of archive and arrays raise almost anything
        return None
    with contextlib.suppress(OSError):  # a cache that cannot be written is read all the same
        os.utime(path)
    return words, arrays


def save(name: str, words: dict[str, Any], arrays: Arrays) -> None:
    """Keep words and arrays under a name, whole or not at all. A cache that cannot be written is done without."""
    text = np.frombuffer(json.dumps([words, list(arrays)]).encode(), dtype=np.uint8)
    temporary = None
    with contextlib.suppress(OSError):
        try:
            folder().mkdir(parents=True, exist_ok=True)
            handle, temporary = tempfile.mkstemp(dir=folder(), suffix=".part")
            with os.fdopen(handle, "wb") as file:
                np.savez(file, words=text, **arrays)
            Path(temporary).replace(folder() / f"{name}.npz")
            _forget_old()
        finally:
            if temporary:
                Path(temporary).unlink(missing_ok=True)


def _forget_old() -> None:
    """Keep what was used last; parts that a killed program left go as well, once they are old."""
    kept = sorted(folder().glob("*.npz"), key=lambda p: p.stat().st_mtime, reverse=True)
    left = [p for p in folder().glob("*.part") if time.time() - p.stat().st_mtime > PART_KEPT_S]
    for path in (*kept[BODIES_KEPT:], *left):
        path.unlink(missing_ok=True)


def key_of(words: dict[str, Any]) -> str:
    """A short key of any plain values."""
    return hashlib.sha256(json.dumps(words, sort_keys=True).encode()).hexdigest()[:16]
