"""What stands in round brackets behind a typed name: segments, a short form, a remark."""

from __future__ import annotations

import re
from collections.abc import Sequence

from meshes.structures import SEGMENTS

_BRACKET = re.compile(r"\(([^()]*)\)")
_LETTER = re.compile(r"\b([tls])h?\.?\s*(?=\d)", re.IGNORECASE)
_TOLD = re.compile(r"([tls])?(\d{1,2})(?:-([tls])?(\d{1,2}))?")


def bracketed(text: str) -> tuple[str, tuple[str, ...]]:
    """What stands outside of round brackets, and what stands in each; there `L 2` and `Th12` are L2 and T12."""
    return _BRACKET.sub(" ", text), tuple(_LETTER.sub(r"\1", inside) for inside in _BRACKET.findall(text))


def told_segments(words: Sequence[str]) -> tuple[frozenset[str], tuple[str, ...]]:
    """The segments among plain words, and the other words: `l2-l4`, `l2 3 4`, `l2 to l4`.

    A number that is of no segment stays among the other words.
    """
    found: list[int] = []
    rest: list[str] = []
    letter, span = "", False
    for n, word in enumerate(words):
        following = words[n + 1] if n + 1 < len(words) else ""
        ends = _ends(word, letter)
        if ends:
            letter = SEGMENTS[ends[-1]][0].lower()
            found += range(found[-1] if span and found else ends[0], ends[-1] + 1)
            span = False
        elif word == "to" and found and _ends(following, letter):
            span = True
        else:
            rest.append(word)
            letter = ""
    return frozenset(SEGMENTS[n] for n in found), tuple(rest)


def _ends(word: str, letter: str) -> tuple[int, ...]:
    """First and last segment that a word tells, as places in `SEGMENTS`; none for another word."""
    match = _TOLD.fullmatch(word)
    if not match:
        return ()
    first = f"{match[1] or letter}{int(match[2])}".upper()
    last = f"{match[3] or first[:1]}{int(match[4])}".upper() if match[4] else first
    if first not in SEGMENTS or last not in SEGMENTS:
        return ()
    return SEGMENTS.index(first), SEGMENTS.index(last)
