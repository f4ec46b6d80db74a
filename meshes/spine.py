"""The stack of vertebrae and discs: from heights, wedges and joint angles to rigid frames.

Every vertebra stands on the one below it; the first stands on the sacrum. A disc turns about its own centre.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from meshes.curves import Array
from meshes.errors import FurcalError
from meshes.landmarks import Frame
from meshes.tables import ANATOMY, cited, number, read_csv

#: From the sacrum upwards: each vertebra with the disc it stands on.
STACK = (
    ("l5", "disc_l5_s1"), ("l4", "disc_l4_5"), ("l3", "disc_l3_4"), ("l2", "disc_l2_3"),
    ("l1", "disc_l1_2"), ("t12", "disc_t12_l1"), ("t11", "disc_t11_12"),
)  # fmt: skip
VERTEBRAE = tuple(v for v, _ in STACK)
DISCS = tuple(d for _, d in STACK)


@dataclass(frozen=True)
class SpineTable:
    """`vertebrae.csv` by part and quantity; values in mm or degrees as the quantity's name says."""

    values: Mapping[tuple[str, str], float]
    sources: Mapping[tuple[str, str], str]

    def __call__(self, part: str, quantity: str) -> float:
        """One value. Raises FurcalError when the table has no such row."""
        try:
            return self.values[part, quantity]
        except KeyError:
            raise FurcalError(f"vertebrae.csv: no row for {part}, {quantity}.") from None


@cache
def spine_table() -> SpineTable:
    """The table of vertebrae and discs. Raises FurcalError naming file and row."""
    path = ANATOMY / "vertebrae.csv"
    values, sources = {}, {}
    for line, row in enumerate(read_csv(path, ("part", "quantity", "value", "source", "note")), start=2):
        where = f"{path}, line {line}"
        cited(row, where)
        key = (row["part"], row["quantity"])
        if key in values:
            raise FurcalError(f"{where}: {key[0]}, {key[1]} stands twice.")
        values[key] = number(row["value"], where)
        sources[key] = row["source"]
    return SpineTable(values, sources)


def rotation(sagittal_deg: float, side_deg: float = 0.0) -> Array:
    """Axes (3, 3), rows left/back/up, leaned `sagittal_deg` to the front and `side_deg` to the right."""
    a, b = np.radians(sagittal_deg), np.radians(side_deg)
    lean = np.array([[1, 0, 0], [0, np.cos(a), np.sin(a)], [0, -np.sin(a), np.cos(a)]])
    side = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    out: Array = side @ lean
    return out


@dataclass(frozen=True)
class Joints:
    """Joint angles at the discs, degrees: more lordosis than the table's, and bending to the right side."""

    extension_deg: Mapping[str, float]
    right_bend_deg: Mapping[str, float]


STRAIGHT = Joints({}, {})


def spine_frames(joints: Joints = STRAIGHT, height: float = 1.0) -> dict[str, Frame]:
    """Frames of the pelvis, all vertebrae (origin: centre of the body) and discs (origin: centre of the disc).

    height : times the table's heights
    """
    table = spine_table()
    frames = {"pelvis": Frame(np.zeros(3), np.eye(3))}
    axes = rotation(table("s1", "slope_deg"))
    origin = np.zeros(3)
    for vertebra, disc in STACK:
        open_deg = table(disc, "lordosis_deg") + joints.extension_deg.get(disc, 0.0)
        bend_deg = joints.right_bend_deg.get(disc, 0.0)
        half = rotation(-open_deg / 2.0, bend_deg / 2.0)
        axes = half @ axes
        centre = origin + axes[2] * (height * table(disc, "middle_height_mm") / 2.0)
        frames[disc] = Frame(centre, axes)
        axes = half @ axes
        origin = centre + axes[2] * (height * table(disc, "middle_height_mm") / 2.0)
        wedge = body_wedge_deg(vertebra)
        middle = height * (table(vertebra, "anterior_height_mm") + table(vertebra, "posterior_height_mm")) / 2.0
        axes = rotation(-wedge / 2.0) @ axes
        frames[vertebra] = Frame(origin + axes[2] * middle / 2.0, axes)
        origin = origin + axes[2] * middle
        axes = rotation(-wedge / 2.0) @ axes
    return frames


def body_wedge_deg(vertebra: str) -> float:
    """Angle between the endplates of one vertebra; positive opens to the front."""
    table = spine_table()
    depth = (table(vertebra, "upper_depth_mm") + table(vertebra, "lower_depth_mm")) / 2.0
    rise = table(vertebra, "anterior_height_mm") - table(vertebra, "posterior_height_mm")
    return float(np.degrees(2.0 * np.arctan2(rise / 2.0, depth)))


@cache
def quantities() -> Mapping[tuple[str, str], float]:
    """The table's values and what follows from them: mean height, depth and wedge of bodies, outline of discs."""
    table, below = spine_table(), "s1"
    out = dict(table.values)
    for vertebra, disc in STACK:
        for size in ("width_mm", "depth_mm"):
            out[disc, size] = (table(vertebra, f"lower_{size}") + table(below, f"upper_{size}")) / 2.0
        out[vertebra, "depth_mm"] = (table(vertebra, "upper_depth_mm") + table(vertebra, "lower_depth_mm")) / 2.0
        out[vertebra, "height_mm"] = (
            table(vertebra, "anterior_height_mm") + table(vertebra, "posterior_height_mm")
        ) / 2.0
        out[vertebra, "wedge_deg"] = body_wedge_deg(vertebra)
        below = vertebra
    return out


def joint_names(vertebra: str) -> dict[str, str]:
    """Template words for the joints of one vertebra: l2_3 above l3; none above the uppermost, none for other levels."""
    out: dict[str, str] = {}
    for index, (name, disc) in enumerate(STACK):
        if name == vertebra:
            out["{joint_below}"] = disc.removeprefix("disc_")
            if index + 1 < len(STACK):
                out["{joint_above}"] = STACK[index + 1][1].removeprefix("disc_")
    return out
