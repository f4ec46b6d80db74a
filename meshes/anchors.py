"""From words to a place: a table row that names a landmark and directions -> a point of the reference body.

A row has `at = NAME`, or `between = [NAME, NAME]` with `share` (0 at the first, 1 at the second), and any of

    lateral medial left right front back up down    mm, along the directions of the landmark's own part
    fraction                                        0 at the back border of the disc, 1 at its front border

Paired landmarks are written without their side; a row describes the left side, the right one is its mirror image.
`lateral` means away from the midline of the landmark's part; `left` / `right` are for what is not symmetric.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from meshes.curves import Array
from meshes.errors import FurcalError, shown, unknown_word
from meshes.landmarks import Landmarks
from meshes.tables import Table, number

#: direction word -> (axis of the frame: 0 left, 1 back, 2 up; sign)
DIRECTIONS = {
    "lateral": (0, 1.0), "medial": (0, -1.0), "left": (0, 1.0), "right": (0, -1.0),
    "front": (1, -1.0), "back": (1, 1.0), "up": (2, 1.0), "down": (2, -1.0),
}  # fmt: skip
ANCHOR_KEYS = ("at", "between", "share", "fraction", *DIRECTIONS)
Reader = Callable[[Any, str], float]


def resolve(row: Table, landmarks: Landmarks, where: str, read: Reader = number) -> Array:
    """The point (3,), mm, that a row describes, on the left side.

    read : turns a cell into a number; the default takes plain numbers
    Raises FurcalError naming the place for an unknown landmark, a missing anchor or a value that is no number.
    """
    base, name = _base(row, landmarks, where, read)
    axes = landmarks.frames[landmarks.frame_of[name]].axes
    point = base.copy()
    if "fraction" in row:
        point += _along_disc(name, read(row["fraction"], f"{where}, fraction"), landmarks, where)
    for word, (axis, sign) in DIRECTIONS.items():
        if word in row:
            point = point + sign * read(row[word], f"{where}, {word}") * axes[axis]
    return point


def left_name(name: str, landmarks: Landmarks, where: str) -> str:
    """The landmark a row means: paired ones are written without their side."""
    paired = f"{name}_left"
    if name not in landmarks.points and paired in landmarks.points:
        return paired
    if name not in landmarks.points:
        bare = (known.removesuffix("_left") for known in landmarks.points if not known.endswith("_right"))
        raise unknown_word(name, bare, "landmark", where)
    return name


def _base(row: Table, landmarks: Landmarks, where: str, read: Reader) -> tuple[Array, str]:
    if ("at" in row) == ("between" in row):
        raise FurcalError(f"{where}: name a landmark with 'at' or two with 'between'.")
    if "at" in row:
        if "share" in row:
            raise FurcalError(f"{where}: 'share' goes with 'between', not with 'at'.")
        name = left_name(str(row["at"]), landmarks, where)
        return landmarks[name], name
    if "fraction" in row:
        raise FurcalError(f"{where}: 'fraction' goes with the centre of a disc, not with 'between'.")
    pair = row["between"]
    if not isinstance(pair, list) or len(pair) != 2:
        raise FurcalError(f"{where}: 'between' takes two landmarks, found {shown(pair)}.")
    first, second = (left_name(str(n), landmarks, where) for n in pair)
    share = read(row.get("share", 0.5), f"{where}, share")
    return landmarks[first] * (1.0 - share) + landmarks[second] * share, first


def _along_disc(name: str, fraction: float, landmarks: Landmarks, where: str) -> Array:
    """Offset from a disc's centre to the given fraction of its depth."""
    if not (name.startswith("disc_") and name.endswith("_centre")):
        raise FurcalError(f"{where}: 'fraction' goes with the centre of a disc, not with {name}.")
    disc = name.removesuffix("_centre")
    back, front = landmarks[f"{disc}_posterior"], landmarks[f"{disc}_anterior"]
    out: Array = back * (1.0 - fraction) + front * fraction - np.asarray(landmarks[name])
    return out
