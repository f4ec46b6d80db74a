"""Whether a quarter of a disc is free on a body: every quarter is tried, a place about every millimetre."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from lessons.spot.item import QUARTERS, Quartered
from meshes.errors import FurcalError

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.contact import Contact, Docking, Ready

#: Places that are tried from the back (0) to the front (1) of a disc, its borders and those of its quarters with them.
PLACES = 40


def disagreements(asked: Quartered, body: Body) -> Iterator[str]:
    """Where the key of a quarter and the body part, a sentence each."""
    from meshes.contact import Ready

    ready = Ready.of(body)
    for quarter in QUARTERS:
        free, best = _tried(asked, quarter, body, ready)
        if quarter in asked.right and not free:
            yield _not_free(asked, quarter, best)
        elif quarter not in asked.right and free and best is not None:
            yield _free_too(asked, quarter, best)


def nearest(asked: Quartered, docking: Docking) -> Contact:
    """What of all that is asked for comes nearest to the portal."""
    by_word = {"nerves": docking.nerves, "vessels": docking.vessels, "viscera": docking.viscera}
    closest = [by_word[word][0] for word in asked.clear_of if by_word[word]]  # each is told with the closest first
    return min(closest, key=lambda contact: contact.clearance_mm)


def _tried(asked: Quartered, quarter: str, body: Body, ready: Ready) -> tuple[bool, Docking | None]:
    """Whether some place of a quarter is free, and that place; else the one with most room. None where there is none.

    A place that bone bars, so that the disc is not reached, is never free.
    """
    best: tuple[float, Docking] | None = None
    for docking in _dockings(asked, quarter, body, ready):
        room = nearest(asked, docking).clearance_mm
        if room > 0.0 and room >= asked.clear_mm and docking.access.reaches_disc:
            return True, docking
        if best is None or room > best[0]:
            best = room, docking
    return False, None if best is None else best[1]


def _dockings(asked: Quartered, quarter: str, body: Body, ready: Ready) -> Iterator[Docking]:
    """A portal at every place of a quarter, from its middle outwards: there a free place is found soonest."""
    from meshes.contact import dock
    from meshes.portal import place

    middle = (len(QUARTERS) - 1 - QUARTERS.index(quarter) + 0.5) / len(QUARTERS)
    for at in sorted((i / PLACES for i in range(PLACES + 1)), key=lambda at: abs(at - middle)):
        if abs(at - middle) > 0.5 / len(QUARTERS) + 1e-9:
            return
        try:
            portal = place(
                body, asked.disc, asked.side, asked.approach, at, asked.radius_mm, cranial_deg=asked.cranial_deg
            )
        except FurcalError:  # from there the axis does not meet the skin
            continue
        if portal.quarter == quarter:
            yield dock(body, portal, ready)


def portal_words(asked: Quartered) -> str:
    """The portal that a quarter is asked for."""
    article = "an" if asked.approach == "oblique" else "a"
    lean = f", leaned {asked.cranial_deg:g} degrees to the head" if asked.cranial_deg else ""
    return f"{article} {asked.approach} portal of {asked.radius_mm:g} mm radius{lean}"


def _not_free(asked: Quartered, quarter: str, best: Docking | None) -> str:
    if best is None:
        return f"{quarter} has no place for {portal_words(asked)} on this body; name another quarter or approach."
    contact = nearest(asked, best)
    if contact.clearance_mm <= 0.0:
        why = f"touches {contact.id} by {-contact.clearance_mm:.1f} mm"
    elif contact.clearance_mm < asked.clear_mm:
        why = f"keeps {contact.clearance_mm:.1f} mm from {contact.id}, and {asked.clear_mm:g} are asked for"
    else:
        why = f"is barred by {best.access.barred[0].id} before it reaches the disc"
    there = f"at the best place (at {best.portal.at:g}) {portal_words(asked)} {why}"
    return f"{quarter} is not free on this body: {there}; take it out, or change radius_mm, clear_mm or the specimen."


def _free_too(asked: Quartered, quarter: str, place: Docking) -> str:
    contact = nearest(asked, place)
    return (
        f"{quarter} is free on this body too: at {place.portal.at:g} {portal_words(asked)} keeps "
        f"{contact.clearance_mm:.1f} mm from {contact.id}, the nearest; add it, or give radius_mm, clear_mm or "
        "clear_of as the words of the item have them."
    )
