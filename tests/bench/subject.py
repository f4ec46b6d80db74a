"""The body and the portal that benchmarks ask about."""

from __future__ import annotations

from functools import cache

from meshes.body import Body, load_body
from meshes.portal import Portal, place
from meshes.specimen import ALDER


@cache
def subject() -> tuple[Body, Portal]:
    """Alder, and a portal of 22 mm through psoas on L4-5."""
    body = load_body(ALDER)
    return body, place(body, "L4-5", "left", "lateral", 0.5, 11.0)
