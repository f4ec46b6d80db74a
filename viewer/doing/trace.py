"""Doings with one structure: to trace it through the body."""

from __future__ import annotations

from dataclasses import replace

from lessons.readout import named
from viewer.doing.base import Base
from viewer.panels.finder import Finder, Row


class Traces(Base):
    """Pick a structure, trace it, ask what is near."""

    def trace(self, structure_id: str) -> None:
        """Light one structure and dim the rest; again ends it."""
        view = self.session.view
        traced = frozenset() if view.highlighted == {structure_id} else frozenset({structure_id})
        self.session.change(replace(view, highlighted=traced))

    def end_trace(self) -> None:
        """Light everything again."""
        self.session.change(replace(self.session.view, highlighted=frozenset()))

    def find_structure(self) -> None:
        """A structure of the body, found by typing its name or its Latin name."""
        structures = list(self._body().structures.values())
        rows = {s.id: Row(_capital(named(s)), s.latin, s.id) for s in structures}

        def match(typed: str) -> list[Row]:
            wanted = typed.lower().split()
            return [row for row in rows.values() if all(w in row.said.lower() for w in wanted)]

        finder = Finder("Find structure...", "Its name, or its Latin name", list(rows.values()), match, self)
        finder.taken.connect(self.guarded(self.trace))
        finder.open()


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]
