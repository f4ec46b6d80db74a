"""The words a finding may use: where it is numb or hurts, which movement is weak, which reflex is lost, what else.

One table holds them, each with its synonyms and its source. A complaint that is another finding in the patient's words
("the knee buckles") is read as that finding.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from meshes.errors import FurcalError, shown
from meshes.tables import ANATOMY, Table, check_keys, cited, read_toml, require

#: What a person reports, and the parts of the table whose words may follow.
KINDS = {
    "numb": ("place",),
    "weak": ("movement",),
    "pain": ("place", "joint_place"),
    "lost": ("lost",),
    "other": ("other",),
}
#: The kind under which a word of each part is looked for when it is said to be spared.
_SPARED_AS = {"movement": "weak", "lost": "lost", "place": "numb", "joint_place": "pain", "other": "other"}
_KEYS = {
    "place": ("name", "synonyms", "patches", "levels"),
    "joint_place": ("name", "synonyms", "joint"),
    "movement": ("synonyms",),
    "lost": ("synonyms", "reflex"),
    "other": ("name", "synonyms", "side", "points", "same_as"),
}
_SOURCE_KEYS = ("source", "basis", "note")


@dataclass(frozen=True)
class Point:
    """A nerve, compound or outside lesion that a sign speaks for; `may` where it does so in some only."""

    id: str
    may: bool


@dataclass(frozen=True)
class Word:
    """One legal word: a row of the table.

    patches  : skin of nerves at a place, that which lies there in most people first
    levels   : dermatomes at a place
    anatomic : the joint or reflex that the word stands for, where it does
    points   : what a sign speaks for
    same_as  : kind and id of the finding that a complaint stands for
    """

    part: str
    id: str
    name: str
    synonyms: tuple[str, ...]
    patches: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()
    anatomic: str = ""
    points: tuple[Point, ...] = ()
    same_as: tuple[str, str] | None = None
    source: tuple[str, ...] = ()

    def spellings(self) -> tuple[str, ...]:
        """Every way in which the word may be written, the name first."""
        return tuple(dict.fromkeys(_plain(w) for w in (self.name, self.id.replace("_", " "), *self.synonyms)))


@dataclass(frozen=True)
class Finding:
    """One thing that a person reports: `numb`, `weak`, `pain`, `lost` or `other`, and its word."""

    kind: str
    id: str
    name: str = field(compare=False)

    def text(self) -> str:
        """Kind and name: `weak: knee extension`."""
        return self.name if self.kind == "other" else f"{self.kind}: {self.name}"


def read_words(path: Path) -> dict[str, dict[str, Word]]:
    """Part -> id -> word. Raises FurcalError naming file and row."""
    table = read_toml(path)
    check_keys(table, _KEYS, str(path))
    words = {
        part: {
            id_: _word(part, id_, row, f"{path}, [{part}.{id_}]")
            for id_, row in require(table, part, str(path)).items()
        }
        for part in _KEYS
    }
    for part, rows in words.items():
        _refuse_twice(rows.values(), f"{path}, [{part}]")
    for id_, word in words["other"].items():
        if word.same_as and word.same_as[1] not in words["movement"]:
            raise FurcalError(f"{path}, [other.{id_}]: same_as names no movement of this table: {word.same_as[1]!r}.")
    return words


def _word(part: str, id_: str, row: Table, where: str) -> Word:
    check_keys(row, (*_KEYS[part], *_SOURCE_KEYS), where)
    points = row.get("points", ())
    sources = tuple(dict.fromkeys(key for one in points or (row,) for key in cited(one, where)))
    if part == "other" and ("points" in row) == ("same_as" in row):
        raise FurcalError(f"{where}: needs either points or same_as.")
    same_as = row.get("same_as")
    if same_as is not None:
        check_keys(same_as, ("weak",), f"{where}, same_as")
    return Word(
        part,
        id_,
        str(row.get("name", id_.replace("_", " "))),
        tuple(require(row, "synonyms", where)),
        tuple(row.get("patches", ())),
        tuple(row.get("levels", ())),
        str(row.get("joint", row.get("reflex", ""))),
        tuple(Point(str(require(p, "id", where)), "note" in p) for p in points),
        ("weak", str(require(same_as, "weak", where))) if same_as else None,
        sources,
    )


def _refuse_twice(words: Iterable[Word], where: str) -> None:
    seen: dict[str, str] = {}
    for word in words:
        for spelling in word.spellings():
            if seen.setdefault(spelling, word.id) != word.id:
                raise FurcalError(f"{where}: {spelling!r} stands for both {seen[spelling]} and {word.id}.")


@cache
def words() -> dict[str, dict[str, Word]]:
    """The table's words: part -> id -> word."""
    return read_words(ANATOMY / "findings.toml")


def find(kind: str, text: str) -> Finding:
    """The finding that a person's words name. Raises FurcalError with the nearest three legal words."""
    word = _looked_up(text, KINDS[kind])
    if word is None:
        raise _unknown(text, f"--{kind}", KINDS[kind])
    return _finding(kind, word)


def find_spared(text: str) -> Finding:
    """What is said to be normal: a movement, reflex, place or sign. Raises FurcalError with the nearest three."""
    word = _looked_up(text, tuple(_SPARED_AS))
    if word is None:
        raise _unknown(text, "--spared", tuple(_SPARED_AS))
    return _finding(_SPARED_AS[word.part], word)


def everything() -> Iterator[Finding]:
    """Every finding there is, each once, in the table's order: what an examination may look for."""
    for part in ("movement", "lost", "place", "joint_place", "other"):
        for word in words()[part].values():
            if word.same_as is None:
                yield _finding(_SPARED_AS[part], word)


def word_of(finding: Finding) -> Word:
    """The word of a finding."""
    return next(words()[part][finding.id] for part in KINDS[finding.kind] if finding.id in words()[part])


def legal(kind: str) -> tuple[Word, ...]:
    """The words that may follow `--numb`, `--weak` and so on."""
    return tuple(word for part in KINDS[kind] for word in words()[part].values())


def check_consistent(findings: Iterable[Finding], spared: Iterable[Finding]) -> None:
    """Refuse a finding that is reported and said to be spared at once."""
    both = sorted(f.name for f in set(findings) & set(spared))
    if both:
        raise FurcalError(f"{both[0]} is both reported and --spared: give one of them.")


def _finding(kind: str, word: Word) -> Finding:
    if word.same_as:
        kind, id_ = word.same_as
        return _finding(kind, words()["movement"][id_])
    reflex = word.synonyms[0] if word.part == "lost" and word.synonyms else word.name
    return Finding(kind, word.id, reflex)


def _looked_up(text: str, parts: Iterable[str]) -> Word | None:
    wanted = _plain(text)
    return next((w for part in parts for w in words()[part].values() if wanted in w.spellings()), None)


def _unknown(text: str, option: str, parts: tuple[str, ...]) -> FurcalError:
    pool = [spelling for part in parts for word in words()[part].values() for spelling in word.spellings()]
    near = difflib.get_close_matches(_plain(text), pool, n=3, cutoff=0.0)
    fits = [f"--{kind}" for kind, theirs in KINDS.items() if set(theirs) - set(parts) and _looked_up(text, theirs)]
    hint = f" It is a word of {' and '.join(fits)}." if fits else ""
    return FurcalError(
        f"{option}: unknown word {shown(text)}.{hint} Nearest: {', '.join(near)}."
        " furcal findings --list prints every legal word."
    )


def _plain(text: Any) -> str:
    return " ".join(str(text).lower().replace("_", " ").split())
