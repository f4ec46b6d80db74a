"""Doings with an approach: walk it layer by layer."""

from __future__ import annotations

from lessons.leaves import leaves_of, opened_at
from lessons.walk import walk
from meshes.contact import Docking
from viewer.doing.patient import Patients
from viewer.doing.portal import Portals

PAGE = "approach"


class Approaches(Patients, Portals):
    """The page of the approach: the layers that the docked portal crosses, each opened in the field."""

    def __init__(self) -> None:
        super().__init__()
        self._walked: Docking | None = None

    def walk_approach(self) -> None:
        """Bring the page to the front, its list ready for the arrow keys."""
        if self.session.view.portal is None:
            self.toggle_portal()
        self.places.show_page(PAGE)
        self._tell_pages()
        self.places.approach.list.setFocus()

    def _tell_pages(self) -> None:
        """What the page that is looked at tells, if it is of something else than before."""
        self._tell_patient()
        docking, page = self.session.docking, self.places.approach
        if self.places.page != PAGE or docking is self._walked:
            return
        page.show_leaves(leaves_of(walk(docking)) if docking is not None else None)
        self._walked = docking

    def _open_layer(self, _: int) -> None:
        """Dissect to the layer that was chosen, light what is at risk there, and mark its depth."""
        leaf, body = self.places.approach.leaf, self.session.body
        if leaf is None or body is None:
            return
        view = opened_at(self.session.view, leaf, tuple(body.structures.values()))
        self.session.change(view, self._gesture("approach"))
        self.places.field.point_at_depth(0.5 * (leaf.from_mm + leaf.to_mm))
