"""Doings with the portal: where it stands, by words and numbers."""

from __future__ import annotations

from dataclasses import replace

from lessons.view import Placement
from meshes.structures import other_side
from viewer.doing.base import Base
from viewer.grips import snapped


class Portals(Base):
    """Dock it, move it, lean it, take it away."""

    def __init__(self) -> None:
        super().__init__()
        #: Whether a portal that is dragged comes to stand in the middle of a quarter.
        self.snaps = False

    def place_portal(self, where: Placement | None, key: str = "") -> None:
        """Dock a portal, move it or take it away."""
        self.session.place_portal(where, key)
        self.tell("")
        if self.places.page not in ("patient", "approach"):  # they follow
            self.places.show_page("portal")

    def _placed_by_hand(self, where: Placement | None) -> None:
        self.place_portal(where, self._gesture("boxes"))

    def toggle_portal(self) -> None:
        """Dock a portal where the boxes say, or take it away."""
        self.place_portal(None if self.session.view.portal else self.places.form.placement)

    def dock_at(self, level: str) -> None:
        """The same portal at another level."""
        self.place_portal(replace(self._placement(), level=level))

    def switch_side(self) -> None:
        """The same portal on the other side."""
        where = self._placement()
        self.place_portal(replace(where, side=other_side(f"_{where.side}")[1:]))

    def use_approach(self, name: str) -> None:
        """Come to the same disc by another approach: to the middle of what it meets, no lean, on the disc's border."""
        where = replace(self._placement(), approach=name, at=0.5)
        self.place_portal(replace(where, depth_mm=0.0, cranial_deg=0.0, anterior_deg=0.0))

    def shift_portal(self, share: str) -> None:
        """Along the disc, in steps of a quarter."""
        where = self._placement()
        self.place_portal(replace(where, at=min(1.0, max(0.0, where.at + float(share)))))

    def toggle_snaps(self) -> None:
        """Snap a dragged portal to the middles of the quarters, or let it stand anywhere."""
        self.snaps = not self.snaps
        where = self.session.view.portal
        if self.snaps and where is not None:
            self.place_portal(replace(where, at=snapped(where.at)))
        self.refresh()

    def _placement(self) -> Placement:
        return self.session.view.portal or self.places.form.placement

    def tilt_to_head(self, degrees: float) -> None:
        """The same portal, leaned to the head."""
        self.place_portal(replace(self._placement(), cranial_deg=degrees))

    def _at_dragged(self, at: float) -> None:
        at = snapped(at) if self.snaps else round(at, 3)
        self.place_portal(replace(self._placement(), at=at), self._gesture("disc face"))

    def _depth_pointed(self, depth: float) -> None:
        self.places.field.point_at_depth(depth)
