"""A film as a lesson or the window asks for it: from where, which wires, what is drawn on it."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from meshes.errors import FurcalError, unknown_word
from meshes.film.limits import FILM_VIEWS, GAUGE_MM, RANGES

#: The trade's words for the views.
FILM_WORDS = {"front": "AP", "left": "Left lateral", "right": "Right lateral"}
#: Smallest and largest: degrees, share, mm.
LIMITS = {
    **{name: RANGES[name][:2] for name in ("turn_deg", "cranial_deg")},
    "wires": (0.0, 1.0),
    "gauge_mm": GAUGE_MM,
}


@dataclass(frozen=True)
class Film:
    """A simulated radiograph.

    view        : from where the named beam comes (one of FILM_VIEWS)
    turn_deg    : turns source and detector about the long axis of the body
    cranial_deg : tilts the middle ray towards the head
    wires       : how far the wires are faded in, 0 to 1
    gauge_mm    : thickness of the wires; the big nerves have two gauges
    nerves      : ids of the nerves with wires; empty for all
    quarters    : whether the quarters of the portal's disc are drawn
    crowd       : a side film of L4 to S1 alone, with the wires of that side, numbered from front to back
    beside      : whether the field in 3D stands beside it
    around      : ids of the nerves whose part of the body is filmed alone, so that it is large; empty for the whole
    """

    view: str = "front"
    turn_deg: float = 0.0
    cranial_deg: float = 0.0
    wires: float = 1.0
    gauge_mm: float = 1.0
    nerves: frozenset[str] = frozenset()
    quarters: bool = False
    crowd: bool = False
    beside: bool = False
    around: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if self.view not in FILM_VIEWS:
            raise unknown_word(self.view, FILM_VIEWS, "film view")
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if not isfinite(value) or not low <= value <= high:
                raise FurcalError(f"{name} {value:g}: must lie between {low:g} and {high:g}.")

    @property
    def crowd_side(self) -> str:
        """The side whose wires crowd, on a film that shows it; else nothing."""
        return self.view if self.crowd and self.view != "front" else ""

    @property
    def words(self) -> str:
        """What is printed on it: the view in the trade's words, and how far the beam leaves it."""
        turned = [
            f"{words} {abs(value):g}°"
            for value, words in (
                (self.turn_deg, "turned"),
                (self.cranial_deg, "to the head" if self.cranial_deg > 0.0 else "to the feet"),
            )
            if value
        ]
        return ", ".join([FILM_WORDS[self.view], *turned])
