"""What one candidate answered in an examination, as a file (JSON of schema 1) that cannot be changed unnoticed.

The file is signed with HMAC-SHA256 over its canonical JSON: keys in order, no white space, without the signature. The
key lives in the lecturer's key file alone; whoever holds that file can sign, so no candidate may have it. A candidate
is a number. `lessons.spot.statistics` makes a report of a class of them.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
import os
import re
import secrets
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from lessons.filehead import check_schema, check_small
from lessons.spot.item import KINDS, OBJECTIVES
from lessons.spot.response import Response, response_json, response_of
from lessons.wholetext import write_text
from meshes.errors import FurcalError, shown, unknown_word
from meshes.tables import read_text

SCHEMA = 1
MARK_KEY = "furcal_result"
KEYS = (MARK_KEY, "paper", "paper_hash", "candidate", "when", "signed_with", "answers", "signature")
ANSWER_KEYS = ("item", "kind", "objective", "response", "right", "score", "seconds")
#: A result is some ten thousand bytes; what is larger than this is some other file.
SIZE_MAX_BYTES = 4_000_000
KEY_MAX_BYTES = 4096
CANDIDATE = re.compile(r"[0-9]{1,12}")
HEX = re.compile(r"[0-9a-f]{64}")
KEY_BYTES = 32
KEY_LINE = "furcal examination key 1: signs results; whoever holds this file can sign, so give it to no candidate"
_KEY_START = "furcal examination key"


@dataclass(frozen=True)
class Given:
    """One item as it was answered.

    right   : whether it counts as known;  score : 0..1, for kinds that are right in part
    seconds : from when it was shown until it was answered
    """

    item: str
    kind: str
    objective: str
    response: Response
    right: bool
    score: float
    seconds: float


@dataclass(frozen=True)
class Result:
    """One candidate's examination.

    paper, paper_hash : which paper was sat: its id, and SHA-256 of the frozen paper in hexadecimal
    candidate         : a number as text; no name is kept
    when              : when it ended, ISO 8601 with its zone
    signature         : as read from a file; empty for what is not signed
    """

    paper: str
    paper_hash: str
    candidate: str
    when: str
    answers: tuple[Given, ...]
    signature: str = field(default="", compare=False)

    @property
    def number(self) -> int:
        """The candidate's number: 017 and 17 are one candidate."""
        return int(self.candidate)


# --- writing


def write_result(path: Path, result: Result, key: bytes | None) -> None:
    """Write a result whole or not at all, signed where there is a key. Raises FurcalError naming the file."""
    write_text(path, unsigned(result) if key is None else signed(result, key))


def signed(result: Result, key: bytes) -> str:
    """The text of a results file, signed. Raises FurcalError for a result that no reader would take."""
    table = {**_as_table(result), "signed_with": fingerprint(key)}
    return _text({**table, "signature": _signature(table, key)})


def unsigned(result: Result) -> str:
    """The text of a results file that nobody vouches for."""
    return _text(_as_table(result))


def fingerprint(key: bytes) -> str:
    """Tells keys apart without giving them away."""
    return hashlib.sha256(b"furcal examination key " + key).hexdigest()[:16]


def canonical(table: Mapping[str, Any]) -> bytes:
    """The one way of writing a table as JSON that is signed: its order and white space in the file do not matter."""
    return json.dumps(table, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False).encode()


def _signature(table: Mapping[str, Any], key: bytes) -> str:
    bare = {name: value for name, value in table.items() if name != "signature"}
    return hmac.new(key, canonical(bare), hashlib.sha256).hexdigest()


def _text(table: Mapping[str, Any]) -> str:
    return json.dumps(table, indent=1, ensure_ascii=True, allow_nan=False) + "\n"


def _as_table(result: Result) -> dict[str, Any]:
    answers = [
        {
            "item": given.item,
            "kind": given.kind,
            "objective": given.objective,
            "response": response_json(given.response),
            "right": given.right,
            "score": round(given.score, 6),
            "seconds": round(given.seconds, 3),
        }
        for given in result.answers
    ]
    table = {
        MARK_KEY: SCHEMA,
        "paper": result.paper,
        "paper_hash": result.paper_hash,
        "candidate": result.candidate,
        "when": result.when,
        "answers": answers,
    }
    _result_of(table, f"the result of candidate {shown(result.candidate)}")  # what is written can be read
    return table


# --- reading


def read_result(path: Path, key: bytes | None, allow_unsigned: bool = False) -> Result:
    """A result from a file.

    key            : what its signature is checked with; None checks only that there is one
    allow_unsigned : take a file without a signature, too
    Raises FurcalError naming file, place and remedy.
    """
    where = str(path)
    table = _table_of(path)
    _check_schema(table, where)
    for name in table:
        if name not in KEYS:
            raise unknown_word(name, KEYS, "key", where)
    _check_signature(table, where, key, allow_unsigned)
    return _result_of(table, where)


def read_class(paths: Iterable[Path], key: bytes | None, allow_unsigned: bool = False) -> tuple[Result, ...]:
    """The results of a class. Raises FurcalError also for a candidate who comes twice and for a second paper."""
    first: tuple[Path, Result] | None = None
    by_number: dict[int, Path] = {}
    results = []
    for path in paths:
        result = read_result(path, key, allow_unsigned)
        first = first or (path, result)
        if (result.paper, result.paper_hash) != (first[1].paper, first[1].paper_hash):
            raise FurcalError(
                f"{path}, paper: {shown(result.paper)} is another paper than that of {first[0]}, "
                f"{shown(first[1].paper)}; give the results of one paper."
            )
        if result.number in by_number:
            raise FurcalError(
                f"{path}, candidate: {result.candidate} has a result in {by_number[result.number]} too; keep one."
            )
        by_number[result.number] = path
        results.append(result)
    return tuple(results)


def _table_of(path: Path) -> dict[str, Any]:
    check_small(path, SIZE_MAX_BYTES, "result")
    text = read_text(path)
    try:
        table = json.loads(text, object_pairs_hook=_once, parse_constant=_no_number)
    except (json.JSONDecodeError, RecursionError, _TwiceError) as error:
        at = f"line {error.lineno}: {error.msg}" if isinstance(error, json.JSONDecodeError) else str(error)
        raise FurcalError(f"{path}: is no whole JSON ({at}); take the file as the examination wrote it.") from None
    except ValueError as error:  # NaN, or more digits than Python reads
        raise FurcalError(f"{path}: {error}; take the file as the examination wrote it.") from None
    if not isinstance(table, dict):
        raise FurcalError(f"{path}: is no result; a result is an object with {MARK_KEY}, found {shown(table)}.")
    return table


class _TwiceError(Exception):
    """A key stands twice in one object."""


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _TwiceError(f"the key {shown(twice)} stands twice")
    return table


def _no_number(word: str) -> float:
    raise ValueError(f"holds {word}, which is no number")


def _check_schema(table: Mapping[str, Any], where: str) -> None:
    if MARK_KEY not in table:
        raise FurcalError(f"{where}: is no result of an examination; it has no {MARK_KEY}; check the path.")
    check_schema(table, where, MARK_KEY, SCHEMA, "result")


def _check_signature(table: Mapping[str, Any], where: str, key: bytes | None, allow_unsigned: bool) -> None:
    signature = table.get("signature")
    if signature is None:
        if not allow_unsigned:
            raise FurcalError(f"{where}, signature: is missing; take the signed file, or allow unsigned ones.")
        return
    if not isinstance(signature, str) or not HEX.fullmatch(signature):
        raise FurcalError(f"{where}, signature: expected 64 hexadecimal digits, found {shown(signature)}; "
                          "take the file as the examination wrote it.")  # fmt: skip
    if key is None:
        return
    if table.get("signed_with") != fingerprint(key):
        raise FurcalError(f"{where}, signature: was made with another key ({shown(table.get('signed_with'))}); "
                          f"give the key file of that examination, this one's is {fingerprint(key)}.")  # fmt: skip
    if not hmac.compare_digest(signature, _signature(table, key)):
        raise FurcalError(
            f"{where}, signature: does not match, so the file was changed after the examination; take the file as the "
            "examination wrote it."
        )


def _result_of(table: Mapping[str, Any], where: str) -> Result:
    paper, paper_hash = _text_at(table, "paper", where), _text_at(table, "paper_hash", where)
    if not HEX.fullmatch(paper_hash):
        raise FurcalError(f"{where}, paper_hash: expected 64 hexadecimal digits, found {shown(paper_hash)}.")
    candidate = _text_at(table, "candidate", where)
    if not CANDIDATE.fullmatch(candidate):
        raise FurcalError(
            f"{where}, candidate: expected a number of at most 12 digits, as text, found {shown(candidate)}; "
            "candidates have no names here."
        )
    rows = table.get("answers")
    if not isinstance(rows, list) or not rows:
        raise FurcalError(f"{where}, answers: expected a list of at least one answer, found {shown(rows)}.")
    answers = tuple(_given(row, f"{where}, answer {number}") for number, row in enumerate(rows, start=1))
    seen: set[str] = set()
    for number, given in enumerate(answers, start=1):
        if given.item in seen:
            raise FurcalError(f"{where}, answer {number}, item: {shown(given.item)} was answered before; keep one.")
        seen.add(given.item)
    return Result(paper, paper_hash, candidate, _when(table, where), answers, str(table.get("signature") or ""))


def _when(table: Mapping[str, Any], where: str) -> str:
    text = _text_at(table, "when", where)
    try:
        zoned = datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        zoned = False
    if not zoned:
        raise FurcalError(f"{where}, when: expected a date and time with its zone (ISO 8601), found {shown(text)}.")
    return text


def _given(row: Any, where: str) -> Given:
    if not isinstance(row, Mapping):
        raise FurcalError(f"{where}: expected an object with {', '.join(ANSWER_KEYS)}, found {shown(row)}.")
    for name in row:
        if name not in ANSWER_KEYS:
            raise unknown_word(name, ANSWER_KEYS, "key", where)
    right = row.get("right")
    if not isinstance(right, bool):
        raise FurcalError(f"{where}, right: expected true or false, found {shown(right)}.")
    kind, objective = _text_at(row, "kind", where), _text_at(row, "objective", where)
    if kind not in KINDS:
        raise unknown_word(kind, KINDS, "kind", where)
    if objective not in OBJECTIVES:
        raise unknown_word(objective, OBJECTIVES, "objective", where)
    return Given(
        _text_at(row, "item", where),
        kind,
        objective,
        response_of(row.get("response"), f"{where}, response"),
        right,
        _number_at(row, "score", where, 1.0),
        _number_at(row, "seconds", where, 1e7),
    )


def _text_at(table: Mapping[str, Any], name: str, where: str) -> str:
    value = table.get(name)
    if not isinstance(value, str) or not value.strip():
        raise FurcalError(f"{where}, {name}: expected a text, found {'nothing' if value is None else shown(value)}.")
    return value


def _number_at(table: Mapping[str, Any], name: str, where: str, most: float) -> float:
    value = table.get(name)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= most:
        raise FurcalError(f"{where}, {name}: expected a number from 0 to {most:g}, found {shown(value)}.")
    return float(value)


# --- the lecturer's key


def new_key(path: Path) -> bytes:
    """Make a key and write it to a file that only its owner can read. Raises FurcalError for a file that is there."""
    key = secrets.token_bytes(KEY_BYTES)
    text = f"{KEY_LINE}\n{base64.b64encode(key).decode()}\n"
    try:
        number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise FurcalError(
            f"{path}: is there already, and a key is never overwritten; use it, or name another file."
        ) from None
    except (OSError, ValueError) as error:
        raise _refused(path, error) from None
    try:
        with os.fdopen(number, "wb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        with suppress(OSError):
            path.unlink()
        raise _refused(path, error) from None
    return key


def _refused(path: Path, error: Exception) -> FurcalError:
    why = getattr(error, "strerror", None) or error
    return FurcalError(f"{path}: the key cannot be written ({why}); make room or choose another folder.")


def read_key(path: Path) -> bytes:
    """The key of a key file. Raises FurcalError naming the file."""
    check_small(path, KEY_MAX_BYTES, "key file")
    lines = read_text(path).split("\n")
    if not lines[0].startswith(_KEY_START):
        raise FurcalError(f"{path}, line 1: is no key of an examination; it would begin with {_KEY_START!r}.")
    try:
        key = base64.b64decode(lines[1].strip() if len(lines) > 1 else "", validate=True)
    except (binascii.Error, ValueError):
        key = b""
    if len(key) != KEY_BYTES or any(line.strip() for line in lines[2:]):
        raise FurcalError(f"{path}, line 2: holds no whole key; take the key file as it was made.")
    return key
