"""Look for a structure by typing: English, Latin, side, roots, id, or the trade's short form."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from meshes.errors import FurcalError
from meshes.structures import SIDES, Structure, segments
from meshes.tables import ANATOMY, check_keys, cited, read_toml, require

#: What a typed letter with a full stop stands for: a kind, or a group of vessels.
_DOTTED = {"n.": "nerve", "a.": "artery", "v.": "vein", "m.": "muscle"}
#: Kinds in the order in which equally good finds are listed; the rest follows.
_KINDS = ("nerve", "muscle")


@dataclass(frozen=True)
class _Names:
    """A structure's words, folded.

    whole : full names, without the side that an English name may begin with, id without side, short forms
    named : words of the English name, the side and the short forms
    other : words of the Latin name and the id, and the roots
    """

    whole: tuple[str, ...]
    named: tuple[str, ...]
    other: tuple[str, ...]


def find_structures(words: str, structures: Iterable[Structure]) -> list[Structure]:
    """The structures that typed words mean, the best first; none for no words.

    Every word must be the start of a word of the structure's; `n.`, `a.`, `v.` and `m.` stand for the kind. First what
    is called just so, then names that begin so, then names with words that begin so, then what is found by Latin name,
    id or root only; among equals nerves before muscles before the rest, short names before long, then by name, the
    left one before the right.
    """
    typed = _folded(words).split()
    kinds = [_DOTTED[word] for word in typed if word in _DOTTED]
    plain = [word for typed_word in typed if typed_word not in _DOTTED for word in _words(typed_word)]
    if not kinds and not plain:
        return []
    ranked = []
    for structure in structures:
        if all(kind in (structure.kind, structure.group) for kind in kinds):
            rank = _rank(plain, _names(structure))
            if rank is not None:
                ranked.append((_order(rank, structure), structure))
    return [structure for _, structure in sorted(ranked, key=lambda row: row[0])]


def _order(rank: int, s: Structure) -> tuple[int, int, int, str, str]:
    kind = _KINDS.index(s.kind) if s.kind in _KINDS else len(_KINDS)
    called = _names(s).whole[0]
    return rank, kind, len(called.split()), called, s.id


def _rank(typed: Sequence[str], names: _Names) -> int | None:
    """0 for the best; None where some word fits nothing."""
    if not all(any(w.startswith(t) for w in (*names.named, *names.other)) for t in typed):
        return None
    whole = " ".join(t for t in typed if t not in SIDES)
    if whole in names.whole:
        return 0
    if whole and any(name.startswith(whole) for name in names.whole):
        return 1
    return 2 if all(any(w.startswith(t) for w in names.named) for t in typed) else 3


@cache
def _names(structure: Structure) -> _Names:
    bare = structure.id.removesuffix(f"_{structure.side}") if structure.side else structure.id
    english = _words(structure.name)
    called = english[1:] if english[0] == structure.side else english
    short = tuple(_folded(form) for form, ids in short_names().items() if bare in ids)
    return _Names(
        (" ".join(called), " ".join(_words(bare)), *short),
        (*english, *([structure.side] if structure.side else []), *short),
        (*_words(structure.latin), *_words(structure.id), *(s.lower() for s in segments(structure.roots))),
    )


def _folded(text: str) -> str:
    """Small letters without accents."""
    return "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", _folded(text))


@cache
def short_names() -> Mapping[str, tuple[str, ...]]:
    """short_names.toml: short form -> ids without side. Raises FurcalError naming file and place."""
    path = ANATOMY / "short_names.toml"
    found = {}
    for form, row in read_toml(path).items():
        where = f"{path}, [{form}]"
        if not isinstance(row, dict):
            raise FurcalError(f"{where}: expected a table.")
        check_keys(row, ("of", "source"), where)
        cited(row, where)
        found[form] = tuple(str(name) for name in require(row, "of", where))
    return found
