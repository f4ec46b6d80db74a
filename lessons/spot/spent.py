"""How much of a station's time is spent, as a small signed file beside the answers: a crash gives no time back.

It is written every few seconds while a station is sat, and holds one number for one station of one candidate. What is
written after a station is over counts for nothing, for it tells of a station that has its answer.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lessons.spot.results import canonical, fingerprint
from lessons.wholetext import write_text
from meshes.errors import FurcalError
from meshes.tables import read_text

SCHEMA = 1
MARK_KEY = "furcal_clock"
KEYS = (MARK_KEY, "paper_hash", "candidate", "station", "seconds", "signed_with", "signature")
#: The file is this small; what is larger is some other file.
SIZE_MAX_BYTES = 4096
REMEDY = "take it away, and the station has its whole time again"


def write_spent(path: Path, key: bytes, paper_hash: str, candidate: str, station: int, seconds: float) -> None:
    """Write it whole or not at all. Raises FurcalError naming the file.

    station : from 0;  seconds : of that station that are over
    """
    table = {
        MARK_KEY: SCHEMA, "paper_hash": paper_hash, "candidate": candidate, "station": station,
        "seconds": round(seconds, 1), "signed_with": fingerprint(key),
    }  # fmt: skip
    write_text(path, json.dumps({**table, "signature": _signature(table, key)}) + "\n")


def read_spent(path: Path, key: bytes, paper_hash: str, candidate: str) -> tuple[int, float]:
    """The station, from 0, and how many seconds of it are over. Raises FurcalError naming file and remedy."""
    table = _table_of(path)
    if table[MARK_KEY] != SCHEMA:
        raise FurcalError(f"{path}, {MARK_KEY}: there is no version {table[MARK_KEY]!r:.20}; {REMEDY}.")
    if table["signed_with"] != fingerprint(key) or not hmac.compare_digest(
        str(table["signature"]).encode(), _signature(table, key).encode()
    ):
        raise FurcalError(f"{path}, signature: does not match, so the file was changed or another key signed it; "
                          f"{REMEDY}.")  # fmt: skip
    if (table["paper_hash"], table["candidate"]) != (paper_hash, candidate):
        raise FurcalError(f"{path}: is of another paper or candidate; {REMEDY}.")
    return int(table["station"]), float(table["seconds"])


def _table_of(path: Path) -> dict[str, Any]:
    try:
        small = path.stat().st_size <= SIZE_MAX_BYTES
        table = json.loads(read_text(path)) if small else None
    except OSError as error:
        raise FurcalError(f"{path}: cannot be read ({error.strerror}); {REMEDY}.") from None
    except (ValueError, RecursionError):
        table = None
    if not isinstance(table, dict) or set(table) != set(KEYS):
        raise FurcalError(f"{path}: is not as furcal writes it; {REMEDY}.")
    return table


def _signature(table: Mapping[str, Any], key: bytes) -> str:
    bare = {name: value for name, value in table.items() if name != "signature"}
    return hmac.new(key, b"clock " + canonical(bare), hashlib.sha256).hexdigest()
