"""What can be done in the window: every action of the table, every answer to a panel, each a step of the session."""

from __future__ import annotations

from viewer.doing.byhand import ByHand
from viewer.doing.dissect import Dissect
from viewer.doing.files import Files
from viewer.doing.handout import HandOuts


class Doings(Dissect, ByHand, HandOuts, Files):
    """All of them. Whoever carries out what another one only asks for stands before it."""
