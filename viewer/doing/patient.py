"""Doings with what a lesion costs the patient."""

from __future__ import annotations

from collections.abc import Sequence

from lessons.clinic import explained
from lessons.findings import Finding, find, legal
from lessons.findingtext import findings_text
from lessons.patient import Lesion, has_supply, lesions_of, reported_after, told_of
from lessons.readout import named, small
from meshes.body import Body
from meshes.contact import Docking
from viewer.doing.trace import Traces
from viewer.panels.complaint import CHOICES, Answer, Complaint

PAGE = "patient"
#: Kinds of findings as headings of the list.
KINDS = {"numb": "Numb", "weak": "Weak", "lost": "Reflex lost", "pain": "Pain", "other": "Other signs and complaints"}


class Patients(Traces):
    """The page of the patient: a lesion at the picked point, or wherever the portal touches a nerve."""

    def __init__(self) -> None:
        super().__init__()
        # What the page tells now.
        self._told_body: Body | None = None
        self._told_of: tuple[object, ...] = ()

    def show_patient(self) -> None:
        """Bring the page to the front."""
        self.places.show_page(PAGE)
        self._tell_patient()

    def _tell_patient(self) -> None:
        """What the lesions cost, if the page is looked at and they are others than before."""
        body = self.session.body
        if body is None or self.places.page != PAGE:
            return
        head, lesions, after = self._hurt()
        # Bodies are told apart by which they are: two of one specimen are equal in nothing that can be compared.
        asked = (head, lesions, after and (after.portal.approach, after.portal.level))
        if self._told_body is body and self._told_of == asked:
            return
        told = [told_of(body, lesion) for lesion in lesions]
        reported = reported_after(after) if after is not None and told else None
        self.places.patient.show_lesions(head, [*told, *([reported] if reported is not None else [])])
        self._told_body, self._told_of = body, asked

    def _hurt(self) -> tuple[str, list[Lesion], Docking | None]:
        """What says where nerves are hurt, where that is, and the docking that hurts them, if it is one."""
        body, picked, docking = self._body(), self._traced, self.session.docking
        line = body.centrelines.get(picked.id) if picked is not None else None
        if picked is not None and line is not None and has_supply(picked.id):
            head = f"A lesion at the picked point of the {small(named(body.structures[picked.id]))}"
            return head, [Lesion(picked.id, line.nearest(picked.point_mm))], None
        if docking is None:
            return "", [], None
        return "If what the portal touches is hurt", lesions_of(body, docking), docking

    # --- from complaint to nerve

    def find_by_complaint(self) -> None:
        """Tick findings, and see which nerves explain them."""
        where = self.session.view.portal
        portal = f"{where.approach}, {where.level}, {where.side}" if where is not None else ""
        groups = [(says, [(word.name, find(kind, word.name)) for word in legal(kind)]) for kind, says in KINDS.items()]
        dialog = Complaint(groups, self._explained, portal, self)
        dialog.picked.connect(self.guarded(self._found))
        dialog.show()

    def _explained(self, found: Sequence[Finding], spared: Sequence[Finding], after_portal: bool) -> Answer:
        where = self.session.view.portal if after_portal else None
        after = (where.approach, where.level, where.side) if where is not None else ("", "", "")
        ranked, following = explained(found, spared, *after)
        text = findings_text(found, spared, ranked[:CHOICES], following, " ".join(w for w in after if w), wraps=False)
        side = where.side if where is not None else "left"
        present = self.session.body.structures if self.session.body is not None else {}
        ids = [(one.name, f"{one.of.id}_{side}") for one in ranked[:CHOICES]]
        return Answer(text, [(name, i) for name, i in dict.fromkeys(ids) if i in present])
