"""Doings that hold back while an item of a spot test is asked, so that nothing on the screen gives it away.

What may be done by actions is listed in `viewer.spotmode`, what is put away in `Places.show_spot`; here stands what
comes by the mouse and from the panels.
"""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPoint, QPointF
from PySide6.QtWidgets import QMenu

from lessons.spot.round import Round
from lessons.view import Placement
from meshes.curves import Array
from meshes.errors import FurcalError
from viewer.doing.byhand import ByHand
from viewer.doing.dissect import Dissect
from viewer.doing.handout import HandOuts
from viewer.portalparts import Marks
from viewer.spotmode import barred, why_barred


class Quiet(Dissect, ByHand, HandOuts):
    """Knows where a spot test stands (`_round`), and is quiet while an item is asked."""

    _recent: QMenu

    def __init__(self) -> None:
        super().__init__()
        self._round: Round | None = None
        # The place that was clicked, mm.
        self._ring: Array | None = None

    @property
    def timed(self) -> bool:
        """Whether it is a paper: stations with a clock, and nothing is said about an answer."""
        return False

    @property
    def _is_asking(self) -> bool:
        return self._round is not None and self._round.phase == "asked"

    @property
    def _is_quiet(self) -> bool:
        """Whether nothing is told: while an item is asked, and during a paper to its end and beyond."""
        return self._is_asking or (self._round is not None and self.timed)

    @property
    def _is_docking(self) -> bool:
        return self.places.hush is not None and self.places.hush.portal

    def _needed_round(self) -> Round:
        if self._round is None:
            raise FurcalError("no spot test is going on; begin one with Ctrl+Shift+T.")
        return self._round

    # --- what is told

    def _show_card(self, words: str = "") -> None:
        """While an item is asked no card, only the place that was clicked."""
        if self._round is None or (self._round.phase != "asked" and self._traced is not None):
            super()._show_card(words)
            return
        self.places.card.show_card(None)
        self.places.field.show_stretches("", ())
        self.places.field.show_point(self._ring)

    def told_marks(self, marks: Marks | None) -> Marks | None:
        """What a docking puts on the screen; while an item is asked, not what it touches."""
        return Marks(marks.portal) if marks is not None and self._is_quiet else marks

    # --- what comes by the mouse and from the panels

    def _hovered(self, spot: QPointF | None) -> None:
        if not self._is_quiet:
            super()._hovered(spot)

    def _asked(self, spot: QPointF) -> None:
        if not self._is_quiet:
            super()._asked(spot)

    def _wire_picked(self, name: str, share: float) -> None:
        if not self._is_quiet:
            super()._wire_picked(name, share)

    def show_layer_parts_of(self, band: str, where: QPoint) -> None:
        """The single structures of a layer; not while an item is asked, for they have names."""
        if not self._is_quiet:
            super().show_layer_parts_of(band, where)

    def place_portal(self, where: Placement | None, key: str = "") -> None:
        """Dock a portal, move it or take it away; while an item is asked, only where it asks for that."""
        now = self.session.view.portal
        if self._is_quiet:
            if not self._is_docking or where is None or now is None:
                return
            where = replace(where, level=now.level, side=now.side, approach=now.approach)
        super().place_portal(where, key)

    def _sized(self, what: str, steps: float) -> None:
        if not self._is_quiet or self._is_docking:
            super()._sized(what, steps)

    def _hint(self, words: str) -> None:
        """Of the portal there is nothing to hint at where none is to be placed."""
        if not self._is_quiet or self._is_docking:
            super()._hint(words)

    # --- what may be done

    def why_not(self, name: str) -> str:
        """Why an action cannot be taken now."""
        return why_barred(name, self._round, self.timed) or super().why_not(name)

    def bar_actions(self) -> None:
        """Take away what may not be done now; called after the states of all actions were shown."""
        for name, action in self.actions_by_name.items():
            if barred(name, self._round, self.session.body, self.timed):
                action.setEnabled(False)
        self._recent.setEnabled(self._round is None)
