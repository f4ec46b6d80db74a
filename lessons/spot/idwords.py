"""The words of an item that stand for something in a body: whether any body has it, told without building one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

from lessons.reading import nearer
from lessons.scenefile import known_ids
from meshes.errors import unknown_word
from meshes.specimen import MIDLINE_VARIANTS, SIDED_VARIANTS, VARIANTS
from meshes.structures import LEVELS, SIDES

#: Where all the words are to be read.
LISTED = "furcal lesson ids lists them."


@cache
def about_words() -> tuple[str, ...]:
    """Every word that an item may be about: an id with or without side, a level, a variant with or without side."""
    bare = {id_.removesuffix(f"_{side}") for id_ in known_ids() for side in SIDES if id_.endswith(f"_{side}")}
    return tuple(dict.fromkeys((*LEVELS, *sorted(known_ids() | bare), *VARIANTS, *SIDED_VARIANTS, *MIDLINE_VARIANTS)))


def unknown_ids(named: Iterable[tuple[str, str]], where: str) -> Iterator[str]:
    """A sentence for each id that no body has, whatever its variants.

    named : the key of an item that names an id, and the id
    """
    for key, id_ in named:
        if id_ not in known_ids():
            yield _listed(id_, sorted(known_ids()), "structure", f"{where}, {key}")


def unknown_about(word: str, where: str) -> Iterator[str]:
    """A sentence for a word that no item can be about."""
    if word not in about_words():
        yield _listed(word, about_words(), "structure, level or variant", f"{where}, structure")


def _listed(word: str, legal: tuple[str, ...] | list[str], what: str, where: str) -> str:
    said = str(nearer(unknown_word(word, legal, what, where))).removesuffix(".")
    return f"{said}; {LISTED}"
