"""What a benchmark says of itself, and how time is taken."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol


class Result(Protocol):
    """One line of the report."""

    @property
    def passed(self) -> bool: ...

    def line(self) -> str: ...


@dataclass(frozen=True)
class Ratio:
    """Ours against another way to the same answer, both timed in one run.

    needed : how many times faster ours must be
    agrees : whether both gave the same answer, and `how` that was judged
    """

    what: str
    ours_s: float
    theirs_s: float
    needed: float
    agrees: bool
    how: str

    @property
    def passed(self) -> bool:
        return self.agrees and self.theirs_s >= self.needed * self.ours_s

    def line(self) -> str:
        times = self.theirs_s / self.ours_s
        return (
            f"{self.what}: {times:.1f} times faster (at least {self.needed:g}); "
            f"ours {1e3 * self.ours_s:.2f} ms, theirs {1e3 * self.theirs_s:.2f} ms; "
            f"answers {'agree' if self.agrees else 'DIFFER'}: {self.how}"
        )


@dataclass(frozen=True)
class Limit:
    """A time that must not be passed."""

    what: str
    took_s: float
    most_s: float

    @property
    def passed(self) -> bool:
        return self.took_s <= self.most_s

    def line(self) -> str:
        return f"{self.what}: {self.took_s:.3f} s (at most {self.most_s:g} s)"


@dataclass(frozen=True)
class AtLeast:
    """A number that must be reached."""

    what: str
    found: float
    least: float
    unit: str

    @property
    def passed(self) -> bool:
        return self.found >= self.least

    def line(self) -> str:
        return f"{self.what}: {self.found:.1f} {self.unit} (at least {self.least:g})"


def seconds(work: Callable[[], object], for_s: float = 0.5, most: int = 400) -> float:
    """Median time of one call, after one that warms up; repeated for about `for_s` seconds."""
    work()
    taken: list[float] = []
    gc.disable()
    try:
        until = time.perf_counter() + for_s
        while len(taken) < 3 or (time.perf_counter() < until and len(taken) < most):
            begin = time.perf_counter()
            work()
            taken.append(time.perf_counter() - begin)
    finally:
        gc.enable()
    return sorted(taken)[len(taken) // 2]
