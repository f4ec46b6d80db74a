"""The body and the portal that benchmarks ask about."""

from __future__ import annotations

from functools import cache

from meshes.body import Body, load_body
from meshes.portal import Portal, place
from meshes.specimen import ALDER


@cache
def subject() -> Body:
    """Alder."""
    return load_body(ALDER)


@cache
def portals() -> list[Portal]:
    """Portals of 22 mm: through psoas, the same with a tilt, in front of psoas."""
    body = subject()
    return [
        place(body, "L4-5", "left", "lateral", 0.5, 11.0),
        place(body, "L3-4", "right", "lateral", 0.4, 11.0, cranial_deg=10.0, anterior_deg=5.0),
        place(body, "L3-4", "left", "oblique", 0.7, 11.0),
    ]
