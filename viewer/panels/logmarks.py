"""Where the words above a depth log stand: two rows of flags on poles, none over another. Plain numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

#: Free between a pole and its words, and between two of anything, pixels.
BESIDE, APART = 4.0, 3.0
ROWS = ("lower", "upper")


@dataclass(frozen=True)
class Flag:
    """Words beside a pole: `index` of what they name, where the pole stands and the words begin, and in which row."""

    index: int
    words: str
    x: float
    left: float
    row: str


def flags(marks: Sequence[tuple[float, str]], width: float, advance: Callable[[str], float]) -> list[Flag]:
    """As many flags as fit, the first marks first: (pole's column, words) each, in a log of that width.

    A pole of the upper row passes the lower one, so that no words may stand there.
    """
    taken: dict[str, list[tuple[float, float]]] = {row: [] for row in ROWS}
    poles = [x for x, _ in marks]
    placed: list[Flag] = []
    for index, (x, words) in enumerate(marks):
        long = advance(words)
        ways = [(row, left) for row in ROWS for left in (x + BESIDE, x - BESIDE - long)]
        free = [way for way in ways if _fits(*way, x, long, width, taken)]
        if not words or not free:
            continue
        # Rather where the words are in the way of no other pole.
        row, left = min(free, key=lambda way: sum(way[1] <= pole <= way[1] + long for pole in poles))
        placed.append(Flag(index, words, x, left, row))
        taken[row] += [(left, left + long), (x, x)]
        if row == "upper":
            taken["lower"].append((x, x))
    return placed


def _fits(
    row: str, left: float, x: float, long: float, width: float, taken: dict[str, list[tuple[float, float]]]
) -> bool:
    """Whether words may stand there, and their pole too."""
    if left < 0.0 or left + long > width or not _is_free(left, left + long, taken[row]):
        return False
    passed = ROWS if row == "upper" else (row,)
    return all(_is_free(x, x, [span for span in taken[one] if span[0] < span[1]]) for one in passed)


def _is_free(left: float, right: float, taken: Sequence[tuple[float, float]]) -> bool:
    """Whether nothing stands in a stretch: words keep apart from words; a pole may stand close to them."""
    return all(left >= b + _gap(left, right, a, b) or right <= a - _gap(left, right, a, b) for a, b in taken)


def _gap(left: float, right: float, a: float, b: float) -> float:
    return APART if left < right and a < b else 1.0
