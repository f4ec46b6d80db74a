"""What the window works on, without any window: one specimen, its body, the view now, and the views before it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple, dataclass, field, replace

from lessons.view import Placement, View
from meshes.body import Body
from meshes.contact import Docking, Ready, dock
from meshes.errors import FurcalError
from meshes.portal import place
from meshes.specimen import ALDER, Specimen


@dataclass
class History:
    """The views gone through. One long gesture is one step: its views carry the same key."""

    past: list[View] = field(default_factory=list)
    future: list[View] = field(default_factory=list)
    key: str = ""

    def record(self, before: View, key: str = "") -> None:
        """Remember the view that is about to be left; what was undone before is forgotten."""
        if not (key and key == self.key and self.past):
            self.past.append(before)
        self.future.clear()
        self.key = key

    def back(self, now: View) -> View | None:
        """The view before, or None."""
        return self._step(self.past, self.future, now)

    def forth(self, now: View) -> View | None:
        """The view that was undone last, or None."""
        return self._step(self.future, self.past, now)

    def _step(self, source: list[View], target: list[View], now: View) -> View | None:
        if not source:
            return None
        target.append(now)
        self.key = ""
        return source.pop()


class Session:
    """The state of one window. Every change goes through here; a change that cannot be made leaves all as it was.

    on_change : called after the view, the body or the docking changed
    """

    def __init__(self, specimen: Specimen = ALDER, view: View | None = None) -> None:
        self.specimen = specimen
        self.view = view or View()
        self.body: Body | None = None
        self.docking: Docking | None = None
        self.history = History()
        self.on_change: Callable[[], None] = lambda: None
        self._ready: Ready | None = None

    # --- the view

    def change(self, view: View, key: str = "") -> None:
        """Go to another view. Raises FurcalError, all unchanged, for a portal that cannot be placed."""
        if view == self.view:
            return
        docking = self._docking_for(view.portal)
        self.history.record(self.view, key)
        self._take(view, docking)

    def look(self, view: View) -> None:
        """Go to another view without a step to undo: a picture on the way to one."""
        self._take(view, self._docking_for(view.portal))

    def undo(self) -> bool:
        """Back to the view before; False when there is none."""
        return self._travel(self.history.back(self.view))

    def redo(self) -> bool:
        """Forth again; False when nothing was undone."""
        return self._travel(self.history.forth(self.view))

    def place_portal(self, where: Placement | None, key: str = "") -> None:
        """Dock a portal, move it, or take it away. Raises FurcalError, all unchanged, when it cannot be placed."""
        now = self.view.portal
        newly = where is not None and (now is None or now.side != where.side)
        self.change(self.view.docked(where) if newly else replace(self.view, portal=where), key)

    # --- the body

    def wanted_specimen(self) -> Specimen:
        """The specimen as it must lie for the portal: the docked side up, where that matters."""
        portal = self.view.portal
        return self.specimen.facing_up(portal.side) if portal else self.specimen

    def needs_body(self) -> bool:
        """True while the body on the screen is not the one that is wanted."""
        return self.body is None or self.body.specimen != self.wanted_specimen()

    def take_body(self, body: Body) -> None:
        """Use a body that has been built. A portal that it cannot hold is taken away, and the error raised."""
        self.body = body
        self._ready = Ready.of(body)
        self.docking = None
        try:
            self.docking = self._docking_for(self.view.portal)
        except FurcalError:
            self.view = replace(self.view, portal=None)
            raise
        finally:
            self.on_change()

    # --- inside

    def _travel(self, view: View | None) -> bool:
        if view is None:
            return False
        self._take(view, self._docking_for(view.portal))
        return True

    def _take(self, view: View, docking: Docking | None) -> None:
        self.view, self.docking = view, docking
        self.on_change()

    def _docking_for(self, where: Placement | None) -> Docking | None:
        if where is None or self.body is None:
            return None
        if self.docking is not None and where == self.view.portal and self.docking.specimen == self.body.specimen:
            return self.docking
        return dock(self.body, place(self.body, *astuple(where)), self._ready)
