"""What is named in a picture, by what name, and the point of it that is pointed at: only what can be seen.

Plain numbers only; `viewer.columns` says where the names go.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

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
    (r"^(\w+) contribution to the (.*) nerve$", r"\1 contribution to \2 n."),
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
#: The same in Latin: one, and several; also where they are "of" something.
SHORT_LATIN = (
    ("nerv(us|i)", "n."),
    ("muscul(us|i)", "m."),
    ("arteri(a|ae)", "a."),
    ("ven(a|ae)", "v."),
    ("ramus", "r."),
    ("rami", "rr."),
    ("ligament(um|i)", "lig."),
)
#: A structure is named when at least this many of its sampled points can be seen, and this share of them.
MIN_SEEN, MIN_SHARE, SAMPLES = 4, 0.02, 900
#: The point of a structure that is pointed at lies off its middle, at most by this share of its samples, when the
#: middle lies at least this share of the width off the middle of the picture.
LEAN, LEAN_OVER = 0.25, 0.12
#: Leader lines end at least this share of the height of the picture apart, where the structures allow it.
APART = 0.03
#: Bones, discs and ligaments shorter than this share of the height of the picture are not named: a whole body is about
#: its nerves and muscles, a close view about a disc and the vertebrae beside it.
SMALL = 0.18
#: Of a pair, the one that is nearer to the eye by more than this is named.
NEARER_MM = 15.0


@dataclass(frozen=True)
class Anchor:
    """A structure that can be seen, and the pixel its leader line ends on (from the left, from the top).

    away_mm : how far from the eye that point is
    note    : what is said beside the name
    marked  : ringed, and in heavier letters
    traced  : it is what the reader asked for, so it comes first
    """

    id: str
    text: str
    x: float
    y: float
    priority: int
    marked: bool = False
    away_mm: float = 0.0
    note: str = ""
    traced: bool = False

    @property
    def rank(self) -> tuple[bool, bool, int, str]:
        """The lowest is named first."""
        return (not self.traced, not self.marked, self.priority, self.id)

    @property
    def words(self) -> str:
        """The name, and what is said beside it."""
        return f"{self.text}, {self.note}" if self.note else self.text


def seen_samples(
    pixels: Array, depth: Array, drawn: Array, size: tuple[int, int], between: tuple[float, float] = (0.0, 1.0)
) -> NDArray[np.bool_]:
    """Which samples of a surface can be seen (n,).

    pixels : (n, 2) of the samples;  depth : (n,) mm from the eye, less what may lie over them unnoticed
    drawn  : (height, width) mm from the eye of what is drawn there
    between: shares of the width; what is seen only beside them, where the labels stand, does not count
    """
    column, row = np.floor(pixels[:, 0]).astype(int), np.floor(pixels[:, 1]).astype(int)
    low, high = max(0.0, between[0] * size[0]), min(size[0], between[1] * size[0])
    inside = (column >= low) & (column < high) & (row >= 0) & (row < size[1])
    seen = np.zeros(len(pixels), dtype=bool)
    seen[inside] = depth[inside] <= drawn[row[inside], column[inside]]
    return seen


def is_enough(seen: NDArray[np.bool_], traced: bool = False) -> bool:
    """Whether a structure of which these samples are seen is named; what is traced is, however little shows."""
    return bool(seen.sum() >= (1 if traced else max(MIN_SEEN, MIN_SHARE * len(seen))))


def point_at(pixels: Array, taken: Sequence[tuple[float, float]], size: tuple[int, int]) -> int:
    """Which of the seen samples (k, 2) to point at: near their middle, rather on the side of the nearer column.

    taken : what other leader lines end on; where it can be helped no two end so close that one cannot tell them apart
    """
    middle = np.median(pixels, axis=0)
    lean = float(np.clip((middle[0] - size[0] / 2.0) / (LEAN_OVER * size[0]), -1.0, 1.0))
    wanted = np.array([np.quantile(pixels[:, 0], 0.5 + LEAN * lean), middle[1]])
    gaps = np.linalg.norm(pixels - wanted, axis=1)
    if not taken:
        return int(np.argmin(gaps))
    clear = np.linalg.norm(pixels[:, None] - np.array(taken)[None], axis=2).min(axis=1)
    free = clear >= APART * size[1]
    return int(np.argmin(np.where(free, gaps, np.inf))) if free.any() else int(np.argmax(clear))


def is_small(structure: Structure, length_mm: float, picture_mm: float) -> bool:
    """Whether a bone, disc or ligament is too short in a picture of that height to be named beside the nerves."""
    return structure.kind in ("bone", "disc", "ligament") and length_mm < SMALL * picture_mm


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


def label_name(structure: Structure, language: str = "english") -> str:
    """The name for a label: without its side, which the picture shows, and shortened as the trade does."""
    if language == "latin":
        return _latin_name(structure)
    return _without_side(structure.name)


def short_name(name: str) -> str:
    """An English name, or a row of a list, shortened as the trade does; a side behind it stays."""
    return _without_side(name)


@cache
def _without_side(name: str) -> str:
    """An English name without its side, shortened."""
    name = re.sub(r"^(left|right) ", "", name)
    for long, short in SHORT:
        name = re.sub(long, short, name)
    name = re.sub(r"(?<= n\., )\w", lambda first: first[0].lower(), name)
    return name[:1].upper() + name[1:]


def _latin_name(structure: Structure) -> str:
    name = re.sub(r" (dex|sinis)(ter|tra|trum|tri|trae)\b", "", structure.latin)
    for long, short in SHORT_LATIN:
        name = re.sub(rf"\b{long}\b", short, name)
    level = re.match(r"[tls]\d+(?=_\w+_division)", structure.id)
    name = f"{name} {level[0].upper()}" if level else name
    return name[:1].upper() + name[1:]


def one_of_each_pair(anchors: Iterable[Anchor], structures: Mapping[str, Structure]) -> list[Anchor]:
    """Each paired structure named once: the nearer one; side by side, nerves on the body's left, the rest on its right.

    The rest are also the branches of nerves, so that the two columns of a front view share the work. What is marked or
    asked for always stays.
    """
    kept = {a.id: a for a in anchors}
    return [
        a for a in kept.values() if a.marked or a.traced or _speaks_for_both(a, kept.get(other_side(a.id)), structures)
    ]


def _speaks_for_both(anchor: Anchor, twin: Anchor | None, structures: Mapping[str, Structure]) -> bool:
    structure = structures.get(anchor.id)
    if twin is None or twin is anchor or structure is None:
        return True
    if twin.marked or twin.traced:
        return False
    if abs(anchor.away_mm - twin.away_mm) > NEARER_MM:
        return anchor.away_mm < twin.away_mm
    main_nerve = structure.kind == "nerve" and anchor.priority == PRIORITY["nerve"]
    return structure.side == ("left" if main_nerve else "right")


def _stem(structure_id: str) -> str:
    return structure_id.removesuffix("_left").removesuffix("_right")
