"""Where names stand beside a picture: two narrow columns, every name whole, the rest counted. Plain numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from meshes.curves import Array

#: From line to line, and free between two names, in heights of the text.
LINE, BETWEEN = 1.15, 0.35


@dataclass(frozen=True)
class Named:
    """What is to be named: the words, and pixels (n, 2) of it that can be pointed at."""

    words: str
    spots: Array


@dataclass(frozen=True)
class Name:
    """A placed name: its lines, its column, the middle of its lines, and the pixel that it points at."""

    lines: tuple[str, ...]
    column: str
    y: float
    spot: tuple[float, float]


@dataclass(frozen=True)
class Names:
    """What is placed, and how many are not."""

    placed: tuple[Name, ...]
    more: int


def broken(words: str, room: float, width: Callable[[str], float]) -> tuple[str, ...]:
    """Words on as few lines as fit in `room`; none where a single word does not."""
    lines: list[str] = []
    for word in words.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and width(joined) <= room:
            lines[-1] = joined
        elif width(word) <= room:
            lines.append(word)
        else:
            return ()
    return tuple(lines)


def placed(
    named: Sequence[Named], room: float, height: float, middle: float, text: float, width: Callable[[str], float]
) -> Names:
    """Names in two columns from 0 to `height`, pixels, the first ones first; a line is kept free to count the rest.

    room   : how long a line may be
    middle : what lies left of it is named in the left column while there is room, else in the right one
    text   : height of the text
    """
    ready = [(one, broken(one.words, room, width)) for one in named]
    for kept in (0.0, LINE * text):
        columns = _filled(ready, height, kept, middle, text)
        more = len(named) - sum(len(column) for column in columns.values())
        if not more:
            break
    names = [
        name
        for side, column in columns.items()
        for name in _stacked(column, side, height - (kept if side == "left" else 0.0), text)
    ]
    return Names(tuple(names), more)


Ready = tuple[Named, tuple[str, ...]]


def _filled(ready: Sequence[Ready], height: float, kept: float, middle: float, text: float) -> dict[str, list[Ready]]:
    columns: dict[str, list[Ready]] = {"left": [], "right": []}
    free = {"left": height - kept, "right": height}
    for one, lines in ready:
        first = "left" if float(np.median(one.spots[:, 0])) < middle else "right"
        takes = _takes(lines, text)
        for side in (first, "right" if first == "left" else "left"):
            if lines and takes <= free[side]:
                columns[side].append((one, lines))
                free[side] -= takes
                break
    return columns


def _takes(lines: Sequence[str], text: float) -> float:
    return (LINE * len(lines) + BETWEEN) * text


def _stacked(column: Sequence[Ready], side: str, height: float, text: float) -> list[Name]:
    """A column from top to bottom in the order in which it points, each as near to its place as the others let it."""
    order = sorted(column, key=lambda one: float(np.median(one[0].spots[:, 1])))
    tops: list[float] = []
    low = 0.0
    for one, lines in order:
        takes = _takes(lines, text)
        tops.append(max(low, float(np.median(one.spots[:, 1])) - takes / 2.0))
        low = tops[-1] + takes
    high = height
    for i in range(len(order) - 1, -1, -1):
        tops[i] = min(tops[i], high - _takes(order[i][1], text))
        high = tops[i]
    return [
        Name(lines, side, top + _takes(lines, text) / 2.0, _nearest(one.spots, side, top + _takes(lines, text) / 2.0))
        for (one, lines), top in zip(order, tops, strict=True)
    ]


def _nearest(spots: Array, side: str, y: float) -> tuple[float, float]:
    """The spot that is pointed at from a row: level with it, and rather on the column's side."""
    sideways = spots[:, 0] if side == "left" else -spots[:, 0]
    best = spots[int(np.argmin(np.abs(spots[:, 1] - y) + 0.25 * sideways))]
    return float(best[0]), float(best[1])
