"""What can be done in the window: every action of the table, every answer to a panel, each a step of the session."""

from __future__ import annotations

from viewer.doing.approach import Approaches
from viewer.doing.byhand import ByHand
from viewer.doing.dissect import Dissect
from viewer.doing.files import Files
from viewer.doing.views import Views


class Doings(Files, Views, Dissect, ByHand, Approaches):
    """All of them."""
