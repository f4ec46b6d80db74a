"""Where labels go: two columns beside the body, leader lines that do not cross, nothing that cannot be seen.

Plain numbers only. The window and the exported picture paint the same layout.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from meshes.structures import Structure, other_side

Array = NDArray[np.float64]
#: What is named first where there is not room for all, by kind; then branches of nerves, and what makes up the plexus.
PRIORITY = {"nerve": 0, "muscle": 1, "vessel": 1, "viscus": 1, "skin": 1, "bone": 2, "ligament": 3, "disc": 4}
BRANCH, MAKE_UP, ROOT = 3, 5, 6
#: Names on labels are shortened as the trade does.
SHORT = (
    (r"^(.*?)(?: branch| branches) of the (.*) nerve$", r"\2 n., \1 br."),
    (r"^Share of (\w+) in the (.*) nerve$", r"\1 to \2"),
    (r"^(Posterior|Anterior) division of (\w+)$", r"\2, \1 div."),
    (r"\b(?i:lateral)\b", "lat."),
    (r"\b(Anterior|anterior)\b", "ant."),
    (r"\b(Posterior|posterior)\b", "post."),
    (r"\bcutaneous br\.", "cut. br."),
    (r"\bnerve\b", "n."),
    (r"\bartery\b", "a."),
    (r"\bvein\b", "v."),
    (r"\bligament\b", "lig."),
)
#: A structure is named when at least this many of its sampled points can be seen, and this share of them.
MIN_SEEN, MIN_SHARE, SAMPLES = 4, 0.02, 900
#: Of a pair, the one that is nearer to the eye by more than this is named.
NEARER_MM = 15.0


@dataclass(frozen=True)
class Anchor:
    """A structure that can be seen, and the pixel its leader line ends on (from the left, from the top).

    away_mm : how far from the eye that point is
    note    : what is said beside the name
    """

    id: str
    text: str
    x: float
    y: float
    priority: int
    marked: bool = False
    away_mm: float = 0.0
    note: str = ""


@dataclass(frozen=True)
class Label:
    """A placed label.

    text_x, text_y : the end of the text that faces the body, and its middle line, pixels
    column         : "left" (the text ends at text_x) or "right" (it starts there)
    """

    anchor: Anchor
    text_x: float
    text_y: float
    column: str


@dataclass(frozen=True)
class Columns:
    """Room for labels, pixels: inner edges of both columns, top, bottom, and the height of a row."""

    left_x: float
    right_x: float
    top: float
    bottom: float
    row: float

    @property
    def rows(self) -> int:
        """How many labels fit into one column."""
        return max(0, int((self.bottom - self.top) // self.row))


def seen_sample(
    pixels: Array, depth: Array, drawn: Array, size: tuple[int, int], between: tuple[float, float] = (0.0, 1.0)
) -> int | None:
    """Which sample to point at: the seen one nearest to the middle of what is seen, or None.

    pixels : (n, 2) of samples of a surface;  depth : (n,) mm from the eye, less what may lie over it unnoticed
    drawn  : (height, width) mm from the eye of what is drawn there
    between: shares of the width; what is seen only beside them, where the labels stand, does not count
    """
    column, row = pixels[:, 0].astype(int), pixels[:, 1].astype(int)
    low, high = between[0] * size[0], between[1] * size[0]
    inside = (column >= low) & (column < high) & (row >= 0) & (row < size[1])
    seen = np.zeros(len(pixels), dtype=bool)
    seen[inside] = depth[inside] <= drawn[row[inside], column[inside]]
    if seen.sum() < max(MIN_SEEN, MIN_SHARE * len(pixels)):
        return None
    gaps = np.linalg.norm(pixels - np.median(pixels[seen], axis=0), axis=1)
    return int(np.argmin(np.where(seen, gaps, np.inf)))


def priority(structure: Structure, nerves: Collection[str] = ()) -> int:
    """Lower is named first. `nerves` are the ids without side of all nerves, to tell a branch from its parent."""
    if structure.kind != "nerve":
        return PRIORITY[structure.kind]
    name = _stem(structure.id)
    if structure.group == "root":
        return ROOT
    if re.match(r"[tls]\d+_", name):
        return MAKE_UP
    return BRANCH if any(name.startswith(f"{parent}_") for parent in nerves) else PRIORITY["nerve"]


def label_name(structure: Structure) -> str:
    """The name for a label: without its side, which the picture shows, and shortened as the trade does."""
    name = re.sub(r"^(left|right) ", "", structure.name)
    for long, short in SHORT:
        name = re.sub(long, short, name)
    name = re.sub(r"(?<= n\., )\w", lambda first: first[0].lower(), name)
    return name[:1].upper() + name[1:]


def one_of_each_pair(anchors: Iterable[Anchor], structures: Mapping[str, Structure]) -> list[Anchor]:
    """Each paired structure named once: the nearer one; side by side, nerves on the body's left, the rest on its right.

    So the two columns of a front view share the work. What is marked always stays.
    """
    kept = {a.id: a for a in anchors}
    return [a for a in kept.values() if a.marked or _speaks_for_both(a, kept.get(other_side(a.id)), structures)]


def _speaks_for_both(anchor: Anchor, twin: Anchor | None, structures: Mapping[str, Structure]) -> bool:
    structure = structures.get(anchor.id)
    if twin is None or twin is anchor or structure is None:
        return True
    if twin.marked:
        return False
    if abs(anchor.away_mm - twin.away_mm) > NEARER_MM:
        return anchor.away_mm < twin.away_mm
    return structure.side == ("left" if structure.kind == "nerve" else "right")


def place(anchors: Iterable[Anchor], columns: Columns) -> list[Label]:
    """Labels in two columns: no two overlap, no two leader lines cross, the least important go first."""
    chosen = sorted(anchors, key=lambda a: (not a.marked, a.priority))[: 2 * columns.rows]
    if not chosen:
        return []
    left, right = _split(chosen, columns)
    return _column(left, columns, "left") + _column(right, columns, "right")


def _split(anchors: list[Anchor], columns: Columns) -> tuple[list[Anchor], list[Anchor]]:
    """Each anchor to the nearer column; where one is full, those nearest to the middle change over."""
    middle = (columns.left_x + columns.right_x) / 2.0
    by_x = sorted(anchors, key=lambda a: a.x)
    cut = sum(a.x < middle for a in by_x)
    cut = min(max(cut, len(by_x) - columns.rows), columns.rows)
    return by_x[:cut], by_x[cut:]


def _column(anchors: list[Anchor], columns: Columns, side: str) -> list[Label]:
    if not anchors:
        return []
    ordered = sorted(anchors, key=lambda a: a.y)
    heights = spread(np.array([a.y for a in ordered]), columns.row, columns.top, columns.bottom)
    x = columns.left_x if side == "left" else columns.right_x
    labels = [Label(a, x, float(y), side) for a, y in zip(ordered, heights, strict=True)]
    return _uncrossed(labels)


def spread(wanted: Array, row: float, top: float, bottom: float) -> Array:
    """Heights (n,) nearest to the wanted ones (n,), in order, at least a row apart and within top and bottom.

    Least squares by pooling neighbours that are too close.
    """
    steps = np.arange(len(wanted)) * row
    blocks: list[list[float]] = []
    for value in np.asarray(wanted, dtype=float) - steps:
        blocks.append([float(value), 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            mean, count = blocks.pop()
            last, weight = blocks[-1]
            blocks[-1] = [(last * weight + mean * count) / (weight + count), weight + count]
    level = np.concatenate([np.full(int(count), mean) for mean, count in blocks])
    low, high = top + row / 2.0, bottom - row / 2.0 - steps[-1]
    out: Array = np.clip(level, low, max(low, high)) + steps
    return out


def _uncrossed(labels: list[Label]) -> list[Label]:
    """Swap rows of labels whose leader lines cross; every swap makes the lines shorter, so this ends."""
    out = list(labels)
    changed = True
    while changed:
        changed = False
        for i in range(len(out)):
            for j in range(i + 1, len(out)):
                if crosses(out[i], out[j]):
                    yi, yj = out[i].text_y, out[j].text_y
                    out[i], out[j] = replace(out[j], text_y=yi), replace(out[i], text_y=yj)
                    changed = True
    return out


def crosses(a: Label, b: Label) -> bool:
    """True when the leader lines of two labels cross."""
    p, q = np.array([a.text_x, a.text_y]), np.array([a.anchor.x, a.anchor.y])
    r, s = np.array([b.text_x, b.text_y]), np.array([b.anchor.x, b.anchor.y])
    return bool(_turn(p, q, r) * _turn(p, q, s) < 0 and _turn(r, s, p) * _turn(r, s, q) < 0)


def _turn(a: Array, b: Array, c: Array) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _stem(structure_id: str) -> str:
    return structure_id.removesuffix("_left").removesuffix("_right")
