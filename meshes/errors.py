"""The one error a person may see."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class FurcalError(Exception):
    """Input that cannot be used: one sentence naming file, place and remedy. The program ends with 2."""


def unknown_word(word: object, legal: Iterable[str], what: str, where: str = "") -> FurcalError:
    """An error that names the unknown word, where it stands, the nearest legal words and all of them."""
    words = list(legal)
    near = difflib.get_close_matches(str(word), words, n=3)
    hint = f" Nearest: {', '.join(near)}." if near else ""
    place = f"{where}: " if where else ""
    shown = ", ".join(words) if len(words) <= 24 else ", ".join(words[:24]) + ", ..."
    return FurcalError(f"{place}unknown {what} {word!r}.{hint} Legal: {shown}.")
