"""Where labels go: two columns beside the body, leader lines that do not cross, no name cut short.

Plain numbers only. The window and the exported picture paint the same layout.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from viewer.labels import Anchor

Array = NDArray[np.float64]
#: Text and its height -> its width.
Width = Callable[[str, float], float]
#: Room for a column, in heights of the text, and the largest share of the width that it may take.
COLUMN, LARGEST_SHARE = 13.5, 0.31
#: More names than this in a column cannot be taken in.
MOST = 11
#: From line to line of one label, and what lies between two labels, in heights of the text.
LINE, BETWEEN = 1.15, 0.6
#: The columns come this near to the body, in heights of the text.
BESIDE = 2.5
#: Free at the outer edge of a column, in heights of the text.
EDGE = 0.8


@dataclass(frozen=True)
class Label:
    """A placed label.

    text_x, text_y : the end of the text that faces the body, and the middle of its lines, pixels
    column         : "left" (the text ends at text_x) or "right" (it starts there)
    lines          : what is written, line by line
    height         : what it takes of its column, with what keeps it from its neighbours, pixels
    """

    anchor: Anchor
    text_x: float
    text_y: float
    column: str
    lines: tuple[str, ...]
    height: float


@dataclass(frozen=True)
class Columns:
    """Room for labels, pixels.

    left_x, right_x           : inner edges of both columns
    top                       : where both begin
    left_bottom, right_bottom : where each ends
    text                      : height of the text
    room                      : how long a line may be
    """

    left_x: float
    right_x: float
    top: float
    left_bottom: float
    right_bottom: float
    text: float
    room: float

    def height(self, lines: int) -> float:
        """What a label of that many lines takes."""
        return (lines * LINE + BETWEEN) * self.text

    def holds(self, side: str, heights: Sequence[float]) -> bool:
        """Whether labels of these heights fit into a column and can be taken in."""
        bottom = self.left_bottom if side == "left" else self.right_bottom
        return len(heights) <= MOST and sum(heights) <= bottom - self.top + 1e-9


def column_width(width: float, text: float) -> float:
    """Room for a column in a picture of that width: less in a narrow one, so that the body keeps its place."""
    return min(COLUMN * text, LARGEST_SHARE * width)


def columns_beside(
    width: float, top: float, bottoms: tuple[float, float], text: float, body: tuple[float, float]
) -> Columns:
    """The columns of a picture, drawn in towards a narrow body so that leader lines are short.

    body : first and last pixel across that the body takes
    """
    column = column_width(width, text)
    left = max(column, min(body[0] - BESIDE * text, width / 2.0))
    right = min(width - column, max(body[1] + BESIDE * text, width / 2.0))
    return Columns(left, right, top, *bottoms, text, column - EDGE * text)


def fitting(names: Iterable[str], columns: Columns, width_of: Width) -> Columns:
    """The columns with smaller letters where the longest word would not fit; a word is never cut."""
    widest = max((width_of(word, columns.text) for name in names for word in name.split()), default=0.0)
    return columns if widest <= columns.room else replace(columns, text=columns.text * columns.room / widest)


def wrapped(name: str, columns: Columns, width_of: Width) -> tuple[str, ...]:
    """The name on as few lines as hold it; broken after a comma if possible, else so that the lines are short."""
    words = name.split(" ")
    for breaks in range(len(words)):
        ways = [_lines(words, cuts) for cuts in combinations(range(1, len(words)), breaks)]
        costs = [(_awkward(way), max(width_of(line, columns.text) for line in way)) for way in ways]
        fits = [(cost, way) for cost, way in zip(costs, ways, strict=True) if cost[1] <= columns.room]
        if fits:
            return min(fits)[1]
    return tuple(words)


def _lines(words: Sequence[str], cuts: tuple[int, ...]) -> tuple[str, ...]:
    return tuple(" ".join(words[a:b]) for a, b in zip((0, *cuts), (*cuts, len(words)), strict=True))


def _awkward(lines: tuple[str, ...]) -> int:
    """How badly the lines break: best after a comma, worst between a short form and its word."""
    return sum(0 if line.endswith(",") else 2 if line.endswith(".") else 1 for line in lines[:-1])


def lay_out(anchors: Sequence[Anchor], columns: Columns, width_of: Width) -> tuple[list[Label], float]:
    """Placed labels, and the height of their letters in pixels."""
    chosen = fitting((a.words for a in anchors), columns, width_of)
    return place(anchors, chosen, lambda words: wrapped(words, chosen, width_of)), chosen.text


def place(anchors: Iterable[Anchor], columns: Columns, wrap: Callable[[str], tuple[str, ...]]) -> list[Label]:
    """Labels in two columns: no two overlap, no two leader lines cross, the least important go first."""
    ranked = sorted(anchors, key=lambda a: a.rank)[: 2 * MOST]
    lines = {a.id: wrap(a.words) for a in ranked}
    heights = {name: columns.height(len(rows)) for name, rows in lines.items()}
    while ranked:
        halves = _split(ranked, columns, heights)
        if halves is not None:
            left, right = halves
            return _column(left, columns, "left", lines) + _column(right, columns, "right", lines)
        ranked.pop()
    return []


def _split(
    anchors: list[Anchor], columns: Columns, heights: dict[str, float]
) -> tuple[list[Anchor], list[Anchor]] | None:
    """Each anchor to the nearer column; where one is full, those nearest to the middle change over; None: no room."""
    middle = (columns.left_x + columns.right_x) / 2.0
    by_x = sorted(anchors, key=lambda a: (a.x, a.id))
    tall = [heights[a.id] for a in by_x]
    natural = sum(a.x < middle for a in by_x)
    for cut in sorted(range(len(by_x) + 1), key=lambda c: abs(c - natural)):
        if columns.holds("left", tall[:cut]) and columns.holds("right", tall[cut:]):
            return by_x[:cut], by_x[cut:]
    return None


def _column(anchors: list[Anchor], columns: Columns, side: str, lines: dict[str, tuple[str, ...]]) -> list[Label]:
    if not anchors:
        return []
    ordered = sorted(anchors, key=lambda a: (a.y, a.id))
    heights = np.array([columns.height(len(lines[a.id])) for a in ordered])
    bottom = columns.left_bottom if side == "left" else columns.right_bottom
    middles = spread(np.array([a.y for a in ordered]), heights, columns.top, bottom)
    x = columns.left_x if side == "left" else columns.right_x
    rows = zip(ordered, middles, heights, strict=True)
    return _uncrossed([Label(a, x, float(y), side, lines[a.id], float(h)) for a, y, h in rows])


def spread(wanted: Array, heights: Array, top: float, bottom: float) -> Array:
    """Middles (n,) nearest to the wanted ones (n,), in order, clear of each other and within top and bottom.

    heights : (n,) of what is placed
    Least squares by pooling neighbours that are too close.
    """
    steps = np.concatenate([[0.0], np.cumsum((heights[1:] + heights[:-1]) / 2.0)])
    blocks: list[list[float]] = []
    for value in np.asarray(wanted, dtype=float) - steps:
        blocks.append([float(value), 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            mean, count = blocks.pop()
            last, weight = blocks[-1]
            blocks[-1] = [(last * weight + mean * count) / (weight + count), weight + count]
    level = np.concatenate([np.full(int(count), mean) for mean, count in blocks])
    low, high = top + heights[0] / 2.0, bottom - heights[-1] / 2.0 - steps[-1]
    out: Array = np.clip(level, low, max(low, high)) + steps
    return out


def _uncrossed(labels: list[Label]) -> list[Label]:
    """Swap labels whose leader lines cross.

    Among labels of one height every swap makes the lines shorter, so this ends. A tall and a low one may chase each
    other: after so many swaps the less important of two that still cross is left out.
    """
    out = list(labels)
    for _ in range(2 * len(out) ** 2):
        pair = _crossing(out)
        if pair is None:
            return out
        out = _swapped(out, *pair)
    while (pair := _crossing(out)) is not None:
        out.pop(max(pair, key=lambda i: out[i].anchor.rank))
    return out


def _crossing(labels: list[Label]) -> tuple[int, int] | None:
    return next(((i, j) for i, j in combinations(range(len(labels)), 2) if crosses(labels[i], labels[j])), None)


def _swapped(labels: list[Label], i: int, j: int) -> list[Label]:
    """Labels i and j change places; together with those between them they keep their room."""
    out = list(labels)
    top, bottom = out[i].text_y - out[i].height / 2.0, out[j].text_y + out[j].height / 2.0
    shift = out[j].height - out[i].height
    upper = replace(out[j], text_y=top + out[j].height / 2.0)
    lower = replace(out[i], text_y=bottom - out[i].height / 2.0)
    out[i + 1 : j] = [replace(label, text_y=label.text_y + shift) for label in out[i + 1 : j]]
    out[i], out[j] = upper, lower
    return out


def crosses(a: Label, b: Label) -> bool:
    """True when the leader lines of two labels cross."""
    p, q = (a.text_x, a.text_y), (a.anchor.x, a.anchor.y)
    r, s = (b.text_x, b.text_y), (b.anchor.x, b.anchor.y)
    return _turn(p, q, r) * _turn(p, q, s) < 0 and _turn(r, s, p) * _turn(r, s, q) < 0


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
