"""The one error a person may see."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class FurcalError(Exception):
    """Input that cannot be used: one sentence naming file, place and remedy. The program ends with 2."""


def shown(value: object) -> str:
    """A value as a message quotes it: its start only where it is long."""
    try:
        text = repr(value)
    except ValueError:  # Python writes no whole number of more than some thousand digits
        return "a number of too many digits"
    return text if len(text) <= 80 else f"{text[:77]}..."


def unknown_word(word: object, legal: Iterable[str], what: str, where: str = "") -> FurcalError:
    """An error that names the unknown word, where it stands, the nearest legal words and all of them."""
    words = list(legal)
    near = difflib.get_close_matches(word, words, n=3) if isinstance(word, str) else []
    hint = f" Nearest: {', '.join(near)}." if near else ""
    place = f"{where}: " if where else ""
    legal_words = ", ".join(words) if len(words) <= 24 else ", ".join(words[:24]) + ", ..."
    return FurcalError(f"{place}unknown {what} {shown(word)}.{hint} Legal: {legal_words}.")
