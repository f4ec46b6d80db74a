"""Doings with one structure: pick it, trace it, ask what is near, measure from it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtWidgets import QMenu

from lessons.card import around, around_text
from lessons.find import find_structures
from lessons.readout import capital, named
from lessons.view import View
from meshes.around import Neighbour, neighbours
from meshes.branches import roots_of
from meshes.curves import Array
from meshes.errors import FurcalError
from meshes.opening import opening
from meshes.picking import Hit, pick
from meshes.structures import DISSECTION, Structure
from viewer.cameras import ray_through
from viewer.doing.base import Base
from viewer.flight import following
from viewer.grips import mm_per_pixel
from viewer.panels.finder import Finder, Row
from viewer.traced import Traced

#: A click this near to a nerve means the nerve, pixels.
SLACK_PX = 7.0
#: As far as the next nerve or vessel is looked for where none crosses, mm.
FAR_MM = 40.0


@dataclass(frozen=True, eq=False)
class Picked:
    """What was picked last: the structure, and the point (3,), mm, on it."""

    id: str
    point_mm: Array


class Traces(Base):
    """Pick a structure, trace it, ask what is near."""

    def __init__(self) -> None:
        super().__init__()
        self._picked: Picked | None = None
        self._near: list[Neighbour] | None = None
        self._from: Picked | None = None
        # How far the last trace was followed, and whose: it goes on from there.
        self._share, self._shared = 0.0, ""
        self._known: Traced | None = None

    # --- picking

    def pick(self, structure_id: str) -> None:
        """Light a structure from its roots to its end and tell what it is; again ends it."""
        if self._traced is not None and self._traced.id == structure_id:
            self.end_trace()
            return
        self._take(Picked(structure_id, self._middle_of(structure_id)))

    def _clicked(self, spot: QPointF) -> None:
        hit = self._under(spot)
        if hit is None:
            self.end_trace()
            return
        self._take(Picked(hit.id, hit.point_mm))

    def _take(self, picked: Picked) -> None:
        body = self._body()
        lit = frozenset(roots_of(picked.id, body.structures))
        self._picked, self._near = picked, None
        view = revealing(self.session.view, body.structures[picked.id])
        view = replace(view, highlighted=lit)
        if view == self.session.view:
            self.refresh()
        self.session.change(view)
        if self.places.page != "patient":
            self.places.show_page("structure")
        if self._from is not None:
            self.measure()

    @property
    def _traced(self) -> Picked | None:
        """What was picked, while it is lit."""
        picked, body = self._picked, self.session.body
        known = picked is not None and body is not None and picked.id in body.structures
        return picked if known and picked is not None and picked.id in self.session.view.highlighted else None

    def end_trace(self) -> None:
        """Light everything again, and leave what else was begun."""
        self._near, self._from, self._shared = None, None, ""
        self.statusBar().clearMessage()
        self.places.field.stand_still()
        self.session.change(replace(self.session.view, highlighted=frozenset()))
        if self.places.page == "structure":
            self.places.show_page("portal")
        self.refresh()

    def find_structure(self) -> None:
        """A structure of the body, found by typing its name, its Latin name or the trade's short form."""
        structures = list(self._body().structures.values())
        rows = {s.id: Row(capital(named(s)), s.latin, s.id) for s in structures}

        def match(typed: str) -> list[Row]:
            return [rows[s.id] for s in find_structures(typed, structures)] if typed.strip() else list(rows.values())

        finder = Finder("Find structure...", "Its name, or its Latin name", list(rows.values()), match, self)
        finder.taken.connect(self.guarded(self._found))
        finder.open()

    def _found(self, structure_id: str) -> None:
        if self._traced is None or self._traced.id != structure_id:
            self.pick(structure_id)
        self.places.field.setFocus(Qt.FocusReason.ShortcutFocusReason)

    # --- what lies under the mouse

    def _under(self, spot: QPointF) -> Hit | None:
        field, ready = self.places.field, self.session.ready
        if field.eye is None or field.scene is None or ready is None:
            return None
        size = (field.width(), field.height())
        start, towards = ray_through((spot.x(), spot.y()), field.eye, size)
        looks, structures = field.scene.looks, ready.body.structures
        glassy = {i for i, look in looks.items() if look.opacity < 1.0 and i in structures}
        if self.session.view.bodies_lifted:
            glassy |= set(opening().cuts) & set(looks)
        solid = {i for i in looks if i in structures} - glassy
        slack = SLACK_PX * mm_per_pixel(field.eye, field.eye.focus, size)
        return pick(ready, start, towards, solid, glassy, slack)

    def _hovered(self, spot: QPointF | None) -> None:
        hit = self._under(spot) if spot is not None else None
        body = self.session.body
        self.places.hover.setText(capital(named(body.structures[hit.id])) if hit is not None and body else "")

    def _asked(self, spot: QPointF) -> None:
        """What can be done with the structure under the mouse."""
        hit = self._under(spot)
        if hit is None:
            return
        structure = self._body().structures[hit.id]
        menu = QMenu(self)
        menu.addSection(capital(named(structure)))
        for says, work in (
            ("Trace it", lambda: self._take(Picked(hit.id, hit.point_mm))),
            ("What crosses here?", lambda: self._cross(Picked(hit.id, hit.point_mm))),
            ("Measure from here", lambda: self._measure_from(Picked(hit.id, hit.point_mm))),
            ("Make it glassy", lambda: self.set_state(hit.id, "glassy")),
            ("Hide it", lambda: self.set_state(hit.id, "off")),
            ("As the dissection says", lambda: self.session.change(self.session.view.with_state(hit.id, None))),
        ):
            menu.addAction(says).triggered.connect(self.guarded(work))
        menu.popup(self.places.field.mapToGlobal(QPoint(round(spot.x()), round(spot.y()))))

    def set_state(self, word: str, state: str) -> None:
        """A structure shown, glassy or off."""
        raise NotImplementedError

    # --- along its way

    def follow(self) -> None:
        """Carry the eye along the way of what is traced, from its root to its end; again stops it, and goes on."""
        picked, field = self._traced, self.places.field
        if picked is None or field.eye is None:
            raise FurcalError("nothing is traced; click a nerve, or find one with Ctrl+F.")
        if field.is_following:
            field.stay()
            return
        known = self._known_of(picked.id)
        line = known.way
        if not len(line):
            raise FurcalError(f"{named(known.structure)} has no way to follow; pick a nerve.")
        begin = self._share if self._shared == picked.id and self._share < 0.98 else 0.0
        if field.animated:
            length = float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
            field.fly(following(field.eye, line, length, begin))
        else:
            self._followed(1.0)

    def _followed(self, share: float) -> None:
        """The point goes with the eye, and says where it is."""
        picked, ready = self._traced, self.session.ready
        if picked is None or ready is None:
            return
        known = self._known_of(picked.id)
        line = known.way
        self._share, self._shared = share, picked.id
        self._picked = replace(picked, point_mm=line[round(share * (len(line) - 1))])
        self._near = None
        self._show_card(known.passing(ready, self._picked.point_mm))

    def go_along(self, share: float) -> None:
        """Put the point at a share of the length of what is traced."""
        picked = self._traced
        line = self._body().centrelines.get(picked.id) if picked is not None else None
        if picked is None or line is None:
            return
        self._picked = replace(picked, point_mm=line.at(share * line.length))
        if self._near is not None:
            self._near = self._neighbours(self._picked.point_mm)
        self._show_card()

    # --- what crosses here

    def cross(self) -> None:
        """List what lies within reach of the picked point."""
        picked = self._traced
        if picked is None:
            raise FurcalError("no point is picked; click one in the field, or find a structure with Ctrl+F.")
        self._cross(picked)

    def _cross(self, picked: Picked) -> None:
        self._take(picked)
        self._near = self._neighbours(picked.point_mm)
        self._show_card()

    def _neighbours(self, point: Array) -> list[Neighbour]:
        ready, picked = self.session.ready, self._traced
        found = neighbours(ready, point, FAR_MM) if ready is not None else []
        return around(n for n in found if picked is None or n.structure.id != picked.id)

    # --- measuring

    def measure(self) -> None:
        """Begin a measure at the picked point, or end it there."""
        picked = self._traced
        if picked is None:
            raise FurcalError("measuring begins at a picked point: click one in the field, then press M.")
        if self._from is None:
            self._measure_from(picked)
            return
        first, self._from = self._from, None
        both = tuple((float(p[0]), float(p[1]), float(p[2])) for p in (first.point_mm, picked.point_mm))
        self.session.change(replace(self.session.view, measured=both))
        length, structures = float(np.linalg.norm(picked.point_mm - first.point_mm)), self._body().structures
        ends = " to ".join(named(structures[p.id]) for p in (first, picked))
        self.statusBar().showMessage(f"Measured: {length:.1f} mm in a straight line, {ends}.", 15000)

    def _measure_from(self, picked: Picked) -> None:
        self._from = picked
        self.places.field.show_point(picked.point_mm, "measuring from here")
        self.statusBar().showMessage("Measuring: click the other point, or find it and press M. Esc leaves it.")

    def end_measure(self) -> None:
        """Take the measured line away."""
        self.statusBar().clearMessage()
        self.session.change(replace(self.session.view, measured=()))

    # --- telling it

    def _show_card(self, words: str = "") -> None:
        """The card, its point in the field with words beside it, and what is near it."""
        picked, body = self._traced, self.session.body
        if picked is None or body is None:
            self.places.card.show_card(None)
            self.places.field.show_stretches("", ())
            self.places.field.show_point(None if self._from is None else self._from.point_mm)
            return
        known, card = self._known_of(picked.id), self.places.card
        line = known.line
        share = None if line is None else line.nearest(picked.point_mm) / line.length
        card.show_card(known.card, picked.id, known.branch_names)
        card.show_place(share, 0.0 if line is None else line.length, known.places)
        self.places.field.show_stretches(picked.id, [place.to_mm for place in known.places][:-1])
        rows = None if self._near is None else around_text(self._near, picked.point_mm)
        card.show_near(rows, [n.structure.id for n in self._near or []])
        self.places.field.show_point(picked.point_mm, words)

    def _known_of(self, structure_id: str) -> Traced:
        """What is known of a structure of the body, kept while no other is asked about."""
        body, known = self._body(), self._known
        if known is None or known.id != structure_id or known.body is not body:
            known = self._known = Traced(structure_id, body)
        return known

    def _middle_of(self, structure_id: str) -> Array:
        """A point (3,) on a structure: half way along a tube, else the corner nearest to its middle."""
        body = self._body()
        line = body.centrelines.get(structure_id)
        if line is not None:
            return line.at(0.5 * line.length)
        corners = body.surfaces[structure_id].vertices
        nearest: Array = corners[np.argmin(np.linalg.norm(corners - corners.mean(axis=0), axis=1))]
        return nearest


def revealing(view: View, structure: Structure) -> View:
    """The view in which a structure can come into sight: what is off is put on, what wraps it is lifted."""
    if structure.id in view.hidden:
        view = view.with_state(structure.id, None)
    if view.visibility(structure) != "off":
        return view
    layer = structure.layer
    if structure.kind == "nerve" and DISSECTION.index(layer) < DISSECTION.index("external_oblique"):
        layer = "external_oblique"
    lifted = replace(view, dissection=layer)
    return lifted if lifted.visibility(structure) != "off" else lifted.with_state(structure.id, "on")
