"""Doings with the portal by hand: an end of it pulled in the field, a nudge by key, a notch of the wheel."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF

from lessons.view import Placement
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.portal import Portal
from meshes.tolerances import PORTAL_DEPTH_MAX_MM, PORTAL_RADIUS_MAX_MM, PORTAL_TILT_MAX_DEG
from viewer.cameras import Eye, projected
from viewer.doing.portal import Portals
from viewer.grips import (
    OFF_PX,
    Border,
    at_under,
    facing_disc,
    is_end_on,
    leaned,
    nudged_along,
    nudged_lean,
    pulled_outwards,
    snapped,
)  # fmt: skip

#: One notch of the wheel, one press of a key.
STEP_MM = 1.0
LEAST_RADIUS_MM = 1.0
NO_PORTAL = "No portal is docked: press D."


@dataclass(frozen=True, eq=False)
class Pull:
    """How a portal stood when an end of it was taken hold of."""

    gesture: str
    where: Placement
    portal: Portal
    border: Border


class ByHand(Portals):
    """The portal follows the hand; where it cannot, the last place stays and the status line says why."""

    def __init__(self) -> None:
        super().__init__()
        self._pull: Pull | None = None

    def _pulled(self, grip: str, grabbed: QPointF, here: QPointF) -> None:
        """An end of the portal follows the hand: the inner one along the disc, the outer one leans it."""
        gesture = self.places.field.hand.gesture
        docked = self._docked()
        if docked is None:
            return
        if self._pull is None or self._pull.gesture != gesture:
            where, portal, body, _ = docked
            self._pull = Pull(gesture, where, portal, Border.of(body, portal))
        if grip == "inner":
            self._pull_inner(self._pull, docked[3], grabbed, here)
        else:
            self._pull_outer(self._pull, docked[3], grabbed, here)

    def _pull_inner(self, pull: Pull, eye: Eye, grabbed: QPointF, here: QPointF) -> None:
        size = self._size
        if is_end_on(pull.border, eye, size):
            self._hint("The border of the disc is seen end on: turn the body to move the portal along it.")
            return
        stood = projected(pull.portal.border_mm[None], eye, size)[0]
        target = (here.x() - grabbed.x() + stood[0], here.y() - grabbed.y() + stood[1])
        at, off_px = at_under(pull.border, eye, size, target)
        beyond = off_px > OFF_PX and at in (0.0, 1.0)
        self._hint("The portal stays on the disc: this is the end of its border." if beyond else "")
        self.place_portal(replace(pull.where, at=snapped(at) if self.snaps else round(at, 3)), pull.gesture)

    def _pull_outer(self, pull: Pull, eye: Eye, grabbed: QPointF, here: QPointF) -> None:
        a, b = (grabbed.x(), grabbed.y()), (here.x(), here.y())
        self._lean(
            leaned(pull.where, pull.border.frame, pulled_outwards(pull.portal, eye, self._size, b, a)), pull.gesture
        )

    def _nudged(self, what: str, right: float, up: float, eye: Eye | None = None) -> None:
        """By one millimetre along the disc or in depth, or by one degree; as it is seen in the field, or by `eye`."""
        docked = self._docked()
        if docked is None:
            return
        where, portal, body, seen = docked
        eye = eye or seen
        if what == "along":
            self.place_portal(nudged_along(where, Border.of(body, portal), eye, right, STEP_MM), self._gesture("nudge"))
        elif what == "depth":
            self._sized("depth", -up)
        else:
            self._lean(nudged_lean(where, portal, eye, right, up), self._gesture("nudge"))

    def _nudged_on_face(self, what: str, right: float, up: float) -> None:
        """The same, as the disc face is seen."""
        docked = self._docked()
        if docked is not None:
            self._nudged(what, right, up, facing_disc(docked[1], docked[2]))

    def _lean(self, where: Placement, key: str) -> None:
        most = PORTAL_TILT_MAX_DEG
        cranial, anterior = (min(most, max(-most, d)) for d in (where.cranial_deg, where.anterior_deg))
        within = replace(where, cranial_deg=cranial, anterior_deg=anterior)
        self._hint("" if within == where else f"The portal leans no further than {most:g} degrees.")
        with self._kept_on_the_body():
            self.place_portal(within, key)

    def _sized(self, what: str, steps: float) -> None:
        """Wider or narrower, deeper or less deep, a millimetre a step."""
        where = self.session.view.portal
        if where is None:
            self._hint(NO_PORTAL)
            return
        if what == "radius":
            now = min(PORTAL_RADIUS_MAX_MM, max(LEAST_RADIUS_MM, round(where.radius_mm + steps * STEP_MM, 1)))
            self.place_portal(replace(where, radius_mm=now), self._gesture(what))
        else:
            now = min(PORTAL_DEPTH_MAX_MM, max(0.0, round(where.depth_mm + steps * STEP_MM, 1)))
            self.place_portal(replace(where, depth_mm=now), self._gesture(what))
        self._hint(f"Portal: {what} {now:g} mm.")

    @property
    def _size(self) -> tuple[int, int]:
        return self.places.field.width(), self.places.field.height()

    def _docked(self) -> tuple[Placement, Portal, Body, Eye] | None:
        """The portal that stands, its body, and the eye on it; None, and a hint, without one."""
        where, docking = self.session.view.portal, self.session.docking
        body, eye = self.session.body, self.places.field.eye
        if where is None or docking is None or body is None or eye is None:
            self._hint(NO_PORTAL)
            return None
        return where, docking.portal, body, eye

    def _hint(self, words: str) -> None:
        """A few words in the status line; none takes the last ones away."""
        if words:
            self.statusBar().showMessage(words, 6000)
        else:
            self.statusBar().clearMessage()

    @contextmanager
    def _kept_on_the_body(self) -> Iterator[None]:
        """Where the portal would leave the body the last place stays, and the hand is told."""
        try:
            yield
        except FurcalError:
            self._hint("From there the portal would not pass the skin of this body; it stays where it was.")
