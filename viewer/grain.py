"""How finely a picture is drawn while something moves: as coarsely as it must be to keep up, and no coarser."""

from __future__ import annotations

#: Shares of the width and of the height that are drawn; the picture is stretched to its place.
SHARES = (1.0, 0.75, 0.5)
#: Drawing one picture should take no longer, seconds: with what a window needs to be put together, 20 a second remain.
SLOW_S = 0.026
#: Pictures in a row that must agree: a single slow one is something that was uploaded.
AGREE = 2
#: A finer picture has to be expected to take this much less than it may.
SPARE = 0.7


class Grain:
    """share : what is drawn of the width and of the height"""

    def __init__(self) -> None:
        self._level = 0
        self._slow = self._quick = 0

    @property
    def share(self) -> float:
        """One of SHARES."""
        return SHARES[self._level]

    def drawn(self, seconds: float) -> None:
        """A picture of this grain took so long."""
        slow = seconds > SLOW_S
        self._slow = self._slow + 1 if slow else 0
        self._quick = self._quick + 1 if self._would_do(seconds) else 0
        if self._slow >= AGREE and self._level + 1 < len(SHARES):
            self._go(1)
        elif self._quick >= AGREE and self._level > 0:
            self._go(-1)

    def _would_do(self, seconds: float) -> bool:
        """Whether the next finer grain would keep up, were every part of the work as large as the picture."""
        if self._level == 0:
            return False
        return seconds * (SHARES[self._level - 1] / self.share) ** 2 < SPARE * SLOW_S

    def _go(self, step: int) -> None:
        self._level += step
        self._slow = self._quick = 0
