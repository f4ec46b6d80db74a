"""Doings with the specimen: who lies on the table, and how."""

from __future__ import annotations

from dataclasses import replace

from meshes.specimen import ALDER, RANGES, Specimen
from viewer.doing.base import Base


class Specimens(Base):
    """Another specimen, posture or table break."""

    def use_specimen(self, specimen: Specimen) -> None:
        """Another specimen; the last one stays on the screen until it is built."""
        self.tell("")
        self.session.use_specimen(specimen)

    def use_alder(self) -> None:
        """The average adult."""
        self.use_specimen(ALDER)

    def lie(self, posture: str) -> None:
        """The same specimen in another posture; only on its side is there a table break and a side that is up."""
        specimen = self.session.specimen
        if posture != "side_lying":
            specimen = replace(specimen, table_break_deg=0.0, up="")
        self.use_specimen(replace(specimen, posture=posture))

    def break_table(self, degrees: float) -> None:
        """The same specimen on its side, on a table broken so far."""
        low, high = RANGES["table_break_deg"]
        opened = min(high, max(low, degrees))
        self.use_specimen(replace(self.session.specimen, posture="side_lying", table_break_deg=opened))

    def break_table_more(self, degrees: str) -> None:
        """The table broken by so much more, or less."""
        self.break_table(self.session.specimen.table_break_deg + float(degrees))
