"""The body map of a step: the skin of one nerve, all of it, as a lesion of the whole nerve would take it."""

from __future__ import annotations

from collections.abc import Iterator

from meshes.errors import FurcalError, unknown_word
from meshes.lesion import ids_of, loss, nerve_ids
from meshes.specimen import Specimen
from meshes.structures import SIDES
from meshes.supply import supply


def skin_of(nerve: str, specimen: Specimen) -> tuple[tuple[str, bool], ...]:
    """Areas of skin, each with whether it is lost only in part, or not in everybody.

    nerve : id with its side
    Raises FurcalError for an id that is no nerve of this specimen, and for one that serves no skin.
    """
    legal = [f"{bare}_{side}" for bare in nerve_ids() for side in SIDES]
    if nerve not in legal:
        raise unknown_word(nerve, legal, "nerve")
    present = ids_of(specimen)
    if nerve not in present:
        raise FurcalError(f"{nerve}: this specimen has no such nerve; give it that variant or take the word out.")
    found = tuple(_areas(nerve, present))
    if not found:
        raise FurcalError(f"{nerve}: it serves no skin that is drawn; take it out.")
    return found


def _areas(nerve: str, present: frozenset[str]) -> Iterator[tuple[str, bool]]:
    lost = {one.row.patch: one for one in loss(nerve, present).skin}
    for patch in supply().patches:
        if patch in lost:
            yield patch, lost[patch].partial or lost[patch].row.variable
