"""Reads a list of nerves that get wires on a film."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from meshes.branches import roots_of
from meshes.errors import FurcalError
from meshes.film.filmed import wired_nerves
from meshes.structures import SIDES
from viewer.commands.trace import named_nerve

if TYPE_CHECKING:
    from meshes.body import Body


def wired(words: str, body: Body) -> list[str]:
    """Ids of the nerves that a list names, with what forms each of them outside the canal.

    Raises FurcalError with the nearest words.
    """
    legal = wired_nerves(body)
    typed = [word.strip() for word in words.split(",")]
    if not all(typed):
        raise FurcalError(f"--nerves {words!r}: a name is missing between the commas; write all, none or names.")
    meant = {name for word in typed for name in _named(word, body, legal)}
    found = {part for name in meant for part in roots_of(name, body.structures)}
    return [name for name in legal if name in found and ("_root_" not in name or name in meant)]


def _named(word: str, body: Body, legal: Collection[str]) -> list[str]:
    """The ids that one word means: of both sides where it names none. Raises FurcalError with the nearest words."""
    folded = "_".join(word.lower().replace("-", " ").replace("_", " ").split())
    side = next((s for s in SIDES if folded.startswith(f"{s}_") or folded.endswith(f"_{s}")), "")
    bare = folded.removeprefix(f"{side}_").removesuffix(f"_{side}") if side else word
    structures = [body.structures[name] for name in legal]
    found, error = [], FurcalError("")
    for each in (side,) if side else SIDES:
        try:
            found.append(named_nerve(bare, each, structures))
        except FurcalError as unknown:  # a variant may stand on one side only
            error = unknown
    if not found:
        raise FurcalError(f"--nerves: {error}")
    return list(dict.fromkeys(found))
