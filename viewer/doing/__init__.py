"""What can be done in the window: every action of the table, every answer to a panel, each a step of the session."""

from __future__ import annotations

from viewer.doing.exam import Exams
from viewer.doing.files import Files


class Doings(Exams, Files):
    """All of them. Whoever carries out what another one only asks for stands before it."""
