"""Doings with one structure: to trace it through the body."""

from __future__ import annotations

from dataclasses import replace

from viewer.doing.base import Base


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
