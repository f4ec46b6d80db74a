"""Doings with what a lesion costs the patient."""

from __future__ import annotations

from lessons.patient import Lesion, has_supply, lesions_of, told_of
from lessons.readout import named
from viewer.doing.trace import Traces

PAGE = "patient"


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
            self.places.patient.show_lesions(head, [told_of(body, lesion) for lesion in lesions])

    def _hurt(self) -> tuple[str, list[Lesion]]:
        """Where nerves are hurt, and what says so."""
        body, picked, docking = self._body(), self._traced, self.session.docking
        line = body.centrelines.get(picked.id) if picked is not None else None
        if picked is not None and line is not None and has_supply(picked.id):
            name = named(body.structures[picked.id])
            return f"A lesion at the picked point of the {name[0].lower()}{name[1:]}", [
                Lesion(picked.id, line.nearest(picked.point_mm))
            ]
        if docking is None:
            return "", []
        return "If what the portal touches is hurt", lesions_of(body, docking)
