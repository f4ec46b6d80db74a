"""The one error a person may see."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

#: So many near words are named at most, and so many legal ones.
NEAREST, LEGAL_MAX = 3, 24


class FurcalError(Exception):
    """Input that cannot be used: one sentence naming file, place and remedy. The program ends with 2."""


def shown(value: object) -> str:
    """A value as a message quotes it: its start only where it is long."""
    try:
        text = repr(value)
    except ValueError:  # Python writes no whole number of more than some thousand digits
        return "a number of too many digits"
    return text if len(text) <= 80 else f"{text[:77]}..."


class UnknownWordError(FurcalError):
    """A word that is none of the legal ones, so that whoever knows more of them can name nearer ones.

    near : legal words to name ahead of those that are spelled alike
    """

    def __init__(self, word: object, legal: Iterable[str], what: str, where: str = "", near: Iterable[str] = ()):
        self.word, self.legal, self.what, self.where = word, list(legal), what, where
        super().__init__(self._sentence(list(near)))

    def _sentence(self, near: list[str]) -> str:
        if isinstance(self.word, str):
            near += _of_the_same_words(self.word, self.legal)
            near += difflib.get_close_matches(self.word, self.legal, n=NEAREST)
        near = list(dict.fromkeys(near))[:NEAREST]
        hint = f" Nearest: {', '.join(near)}." if near else ""
        place = f"{self.where}: " if self.where else ""
        legal = ", ".join(self.legal[:LEGAL_MAX]) + (", ..." if len(self.legal) > LEGAL_MAX else "")
        rest = "" if near and len(self.legal) > LEGAL_MAX else f" Legal: {legal}."
        return f"{place}unknown {self.what} {shown(self.word)}.{hint}{rest}"


def unknown_word(word: object, legal: Iterable[str], what: str, where: str = "") -> UnknownWordError:
    """An error that names the unknown word, where it stands, the nearest legal words, and all where those are few."""
    return UnknownWordError(word, legal, what, where)


def _of_the_same_words(word: str, legal: Iterable[str]) -> list[str]:
    """Ids whose small words are all in this one, or hold all of it, whatever their order; the most alike first."""
    own = set(word.casefold().split("_"))
    found = []
    for name in legal:
        words = set(name.casefold().split("_"))
        if own <= words or (len(words) > 1 and words <= own):
            found.append((len(own ^ words), len(name), name))
    return [name for *_, name in sorted(found)]
