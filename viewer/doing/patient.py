"""Doings with what a lesion costs the patient."""

from __future__ import annotations

from collections.abc import Sequence

from lessons.clinic import next_examination, rank
from lessons.findings import Finding, find, legal
from lessons.findingtext import findings_text
from lessons.patient import Lesion, has_supply, lesions_of, reported_after, told_of
from lessons.readout import named, small
from viewer.doing.trace import Traces
from viewer.panels.complaint import CHOICES, Answer, Complaint

PAGE = "patient"
#: Kinds of findings as headings of the list.
KINDS = {"numb": "Numb", "weak": "Weak", "lost": "Reflex lost", "pain": "Pain", "other": "Other signs and complaints"}


class Patients(Traces):
    """The page of the patient: a lesion at the picked point, or wherever the portal touches a nerve."""

    def __init__(self) -> None:
        super().__init__()
        self._lesions: tuple[object, ...] = ()

    def show_patient(self) -> None:
        """Bring the page to the front."""
        self.places.show_page(PAGE)
        self._tell_patient()

    def _tell_patient(self) -> None:
        """What the lesions cost, if the page is looked at and they are others than before."""
        body = self.session.body
        if body is None or self.places.page != PAGE:
            return
        head, lesions = self._hurt()
        wanted = (body, *lesions)
        if wanted != self._lesions:
            self._lesions = wanted
            told = [told_of(body, lesion) for lesion in lesions]
            reported = reported_after(self.session.docking) if self._traced is None and self.session.docking else None
            self.places.patient.show_lesions(head, [*told, *([reported] if reported and told else [])])

    def _hurt(self) -> tuple[str, list[Lesion]]:
        """Where nerves are hurt, and what says so."""
        body, picked, docking = self._body(), self._traced, self.session.docking
        line = body.centrelines.get(picked.id) if picked is not None else None
        if picked is not None and line is not None and has_supply(picked.id):
            name = named(body.structures[picked.id])
            return f"A lesion at the picked point of the {small(name)}", [
                Lesion(picked.id, line.nearest(picked.point_mm))
            ]
        if docking is None:
            return "", []
        return "If what the portal touches is hurt", lesions_of(body, docking)

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
        ranked = rank(found, spared, *after)
        second = ranked[1] if len(ranked) > 1 else None
        following = next_examination(ranked[0], second, (*found, *spared)) if ranked else None
        text = findings_text(found, spared, ranked[:CHOICES], following, " ".join(w for w in after if w), wraps=False)
        side = where.side if where is not None else "left"
        present = self.session.body.structures if self.session.body is not None else {}
        ids = [(one.name, f"{one.of.id}_{side}") for one in ranked[:CHOICES]]
        return Answer(text, [(name, i) for name, i in dict.fromkeys(ids) if i in present])
