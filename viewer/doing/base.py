"""What every group of doings works on: the session, the four places, and one way to tell what went wrong."""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMainWindow

from meshes.body import Body
from meshes.errors import FurcalError
from meshes.structures import Structure
from viewer.loader import Loader
from viewer.panels.layout import Places
from viewer.session import Session
from viewer.settings import Settings

#: After a pause this long the next small change is a step of its own, seconds.
PAUSE_S = 1.0


class Base(QMainWindow):
    """What `MainWindow` sets up, and what the doings share."""

    session: Session
    places: Places
    settings: Settings
    loader: Loader
    actions_by_name: dict[str, QAction]

    def __init__(self) -> None:
        super().__init__()
        self._last_gesture = ("", 0.0, 0)

    def guarded(self, work: Callable[..., object]) -> Callable[..., None]:
        """The same work, errors told in the window."""
        raise NotImplementedError

    def refresh(self) -> None:
        """Make everything on the screen agree with the session."""
        raise NotImplementedError

    def tell(self, sentence: str) -> None:
        """Show one sentence."""
        raise NotImplementedError

    def need_body(self) -> None:
        """Build the body that is wanted, unless it is there."""
        raise NotImplementedError

    # --- shared

    def _gesture(self, name: str) -> str:
        """A key for one step of undo: the same while the same thing is moved again without a pause."""
        now = time.monotonic()
        last, since, number = self._last_gesture
        number += last != name or now - since > PAUSE_S
        self._last_gesture = (name, now, number)
        return f"{name} {number}"

    def _structures(self) -> list[Structure]:
        return list(self.session.body.structures.values()) if self.session.body else []

    def _body(self) -> Body:
        if self.session.body is None:
            raise FurcalError("the body is still being built; wait until it is shown.")
        return self.session.body
