"""Doings with the dissection: layers, single structures."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPoint

from lessons.view import State
from meshes.opening import BODIES
from meshes.structures import DISSECTION, LAYER_WORDS, Structure
from viewer.actors import stem
from viewer.doing.base import Base
from viewer.labels import priority
from viewer.panels.parts import PartsDialog


class Dissect(Base):
    """Layers on, glassy, off; single structures."""

    def __init__(self) -> None:
        super().__init__()
        self._parts: PartsDialog | None = None
        self._part_list: list[Structure] = []

    def dissect_to(self, index: int) -> None:
        """Make a band the outermost one that is on."""
        view = self.session.view.dissected_to(DISSECTION[index], self._structures())
        self.session.change(view, self._gesture("dissection"))

    def lift(self, steps: str) -> None:
        """Take the next layer off, or put one back."""
        layer = self.session.view.lifted(int(steps)).dissection
        self.session.change(self.session.view.dissected_to(layer, self._structures()))

    def set_state(self, word: str, state: str) -> None:
        """A structure, or a whole layer, shown, glassy or off; as the handle says when that is the same."""
        inside = {s.id for s in self._structures() if s.layer == word and s.kind != "nerve"}
        plain = self.session.view.with_state({word} | inside, None)
        wanted = plain.with_state(word, state)  # type: ignore[arg-type]  # the panels only send the three states
        if word in DISSECTION and plain.layer_state(word) == state:
            wanted = plain
        self.session.change(wanted)

    def toggle_outermost_glassy(self) -> None:
        """The outermost layer that is on, glassy or solid."""
        band = self.session.view.dissection
        self.set_state(band, "on" if self.session.view.layer_state(band) == "glassy" else "glassy")

    def toggle_psoas_glassy(self) -> None:
        """Both psoas muscles glassy or solid."""
        plain = self.session.view.with_state({"psoas", "psoas_major_left", "psoas_major_right"}, None)
        self.session.change(plain.with_state("psoas", "on" if self._psoas_is_glassy() else "glassy"))

    def toggle_bodies(self) -> None:
        """The bodies of the vertebrae lifted off, or put back."""
        view = self.session.view
        wanted: State = "on" if view.bodies_lifted else "off"
        plain = view.with_state(BODIES, None)
        self.session.change(plain if plain.bodies_lifted == (wanted == "off") else plain.with_state(BODIES, wanted))

    def _psoas_is_glassy(self) -> bool:
        muscles = [s for s in self._structures() if s.layer == "psoas" and s.kind == "muscle"]
        return any(self.session.view.own_state(s) == "glassy" for s in muscles)

    def forget_states(self) -> None:
        """Let the handle alone decide again."""
        nothing: frozenset[str] = frozenset()
        self.session.change(replace(self.session.view, glassy=nothing, hidden=nothing, shown=nothing))

    def show_layer_parts(self) -> None:
        """The single structures of the outermost layer that is on."""
        corner = self.places.strip.mapToGlobal(QPoint(20, -300))
        self.show_layer_parts_of(self.session.view.dissection, corner)

    def show_layer_parts_of(self, band: str, where: QPoint) -> None:
        """The single structures of a layer."""
        self._open_parts(
            f"Layer: {LAYER_WORDS[band]}",
            [s for s in self._structures() if s.layer == band and s.kind != "nerve"],
            where,
        )

    def show_nerve_parts(self) -> None:
        """The nerves, one by one."""
        nerves = [s for s in self._structures() if s.kind == "nerve"]
        stems = {stem(s.id) for s in nerves}
        nerves.sort(key=lambda s: (priority(s, stems), stem(s.id), s.side))
        self._open_parts("Nerves", nerves, self.mapToGlobal(QPoint(60, 120)))

    def _open_parts(self, title: str, structures: list[Structure], where: QPoint) -> None:
        if self._parts is not None:
            self._parts.close()
        self._part_list = structures
        dialog = PartsDialog(title, structures, self.session.view, self)
        dialog.state_asked.connect(self.guarded(self.set_state))
        dialog.finished.connect(self._parts_closed)
        dialog.move(where.x(), max(0, where.y() - dialog.height() - 8))
        self._parts = dialog
        dialog.show()

    def _parts_closed(self) -> None:
        self._parts = None
