"""Named points of the body and the rigid frames they belong to."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from meshes.curves import Array
from meshes.errors import FurcalError, unknown_word
from meshes.structures import SIDES
from meshes.tables import ANATOMY, cited, number, read_csv

COLUMNS = ("name", "frame", "lateral_mm", "back_mm", "up_mm", "paired", "grows_from", "source", "note")


@dataclass(frozen=True)
class Frame:
    """A rigid part's place.

    origin : (3,) mm
    axes   : (3, 3); rows are the part's own left, back and up directions
    """

    origin: Array
    axes: Array

    def point(self, left: float, back: float, up: float) -> Array:
        """Body coordinates (3,), mm, of a point given along the frame's own directions."""
        out: Array = self.origin + np.array([left, back, up]) @ self.axes
        return out

    def local(self, points: Array) -> Array:
        """Points (…, 3) of the body in the frame's own directions."""
        out: Array = (points - self.origin) @ self.axes.T
        return out

    def carried(self, points: Array, to: Frame) -> Array:
        """Points (…, 3) fixed to this frame, where they are once it stands as `to`."""
        out: Array = self.local(points) @ to.axes + to.origin
        return out


@dataclass(frozen=True)
class Landmarks:
    """Named points.

    points  : name -> (3,) mm
    frames  : "pelvis", "t11" .. "l5", "disc_l4_5" .. -> Frame
    frame_of: landmark name -> name of the frame it is fixed to
    sources : landmark name -> source keys, joined by +
    """

    points: Mapping[str, Array]
    frames: Mapping[str, Frame]
    frame_of: Mapping[str, str]
    sources: Mapping[str, str]

    def __getitem__(self, name: str) -> Array:
        try:
            return self.points[name]
        except KeyError:
            raise unknown_word(name, self.points, "landmark") from None


@dataclass(frozen=True)
class Row:
    """One landmark as the table gives it, in the directions of its frame."""

    name: str
    frame: str
    local: Array
    grows_from: str
    source: str


def _as_written(_: str) -> Array:
    return np.ones(3)


def place_landmarks(
    frames: Mapping[str, Frame], psoas_scale: float = 1.0, size_of: Callable[[str], Array] = _as_written
) -> Landmarks:
    """All landmarks on the given frames.

    psoas_scale : times the section area of psoas; points that grow move away from their fixed point
    size_of     : frame name -> factors (3,) along its own directions
    """
    grow = np.sqrt(psoas_scale)
    points: dict[str, Array] = {}
    for row in landmark_rows():
        points[row.name] = frames[row.frame].point(*(row.local * size_of(row.frame)))
    for row in landmark_rows():
        if row.grows_from:
            fixed = points[row.grows_from]
            points[row.name] = fixed + (points[row.name] - fixed) * grow
    rows = landmark_rows()
    return Landmarks(points, frames, {r.name: r.frame for r in rows}, {r.name: r.source for r in rows})


@cache
def landmark_rows() -> tuple[Row, ...]:
    """Every landmark: those of the vertebrae and discs, and `landmarks.csv`; paired ones on both sides."""
    rows: dict[str, Row] = {}
    for row in (*_spine_rows(), *_table_rows()):
        if row.name in rows:
            raise FurcalError(f"landmarks.csv: {row.name} stands twice.")
        rows[row.name] = row
    for row in rows.values():
        if row.grows_from and row.grows_from not in rows:
            raise unknown_word(row.grows_from, rows, "landmark", f"landmarks.csv, {row.name}, grows_from")
    return tuple(rows.values())


def _both(name: str, frame: str, local: Array, grows: str, source: str) -> list[Row]:
    mirror = np.array([-1.0, 1.0, 1.0])
    return [
        Row(
            f"{name}_{side}",
            frame,
            local * (1.0 if side == "left" else mirror),
            f"{grows}_{side}" if grows else "",
            source,
        )
        for side in SIDES
    ]


def _table_rows() -> list[Row]:
    from meshes.spine import spine_frames

    path, rows = ANATOMY / "landmarks.csv", []
    for line, cells in enumerate(read_csv(path, COLUMNS), start=2):
        where = f"{path}, line {line}"
        cited(cells, where)
        if cells["frame"] not in spine_frames():
            raise unknown_word(cells["frame"], spine_frames(), "frame", where)
        local = np.array([number(cells[k], f"{where}, {k}") for k in ("lateral_mm", "back_mm", "up_mm")])
        if cells["paired"] not in ("yes", "no"):
            raise unknown_word(cells["paired"], ("yes", "no"), "word", f"{where}, paired")
        name, frame, source = cells["name"], cells["frame"], cells["source"]
        if cells["paired"] == "yes":
            rows += _both(name, frame, local, cells["grows_from"], source)
        else:
            rows.append(Row(name, frame, local, cells["grows_from"], source))
    return rows


def _spine_rows() -> list[Row]:
    from meshes.spine import STACK, spine_table

    table = spine_table()
    rows: list[Row] = []
    below = "s1"
    for vertebra, disc in STACK:
        width = (table(vertebra, "lower_width_mm") + table(below, "upper_width_mm")) / 2.0
        depth = (table(vertebra, "lower_depth_mm") + table(below, "upper_depth_mm")) / 2.0
        source = "+".join(dict.fromkeys([table.sources[below, "upper_width_mm"], "from_memory"]))
        rows.append(Row(f"{disc}_centre", disc, np.zeros(3), "", source))
        rows.append(Row(f"{disc}_anterior", disc, np.array([0.0, -depth / 2.0, 0.0]), "", source))
        rows.append(Row(f"{disc}_posterior", disc, np.array([0.0, depth / 2.0, 0.0]), "", source))
        rows += _both(disc, disc, np.array([width / 2.0, 0.0, 0.0]), "", source)
        rows += _vertebra_rows(vertebra)
        below = vertebra
    return rows


def _vertebra_rows(vertebra: str) -> list[Row]:
    """Body centre, pedicles (middle of the isthmus), tips of the transverse and spinous processes."""
    from meshes.spine import spine_table

    table = spine_table()
    depth = (table(vertebra, "upper_depth_mm") + table(vertebra, "lower_depth_mm")) / 2.0
    height = (table(vertebra, "anterior_height_mm") + table(vertebra, "posterior_height_mm")) / 2.0
    pedicle = np.array(
        [
            table(vertebra, "canal_width_mm") / 2.0 + table(vertebra, "pedicle_width_mm") / 2.0,
            depth / 2.0 + table(vertebra, "canal_depth_mm") * table("pedicle", "share_of_canal_depth"),
            height / 2.0 - table(vertebra, "pedicle_height_mm") * table("pedicle", "share_below_endplate"),
        ]
    )
    tip = np.array([table(vertebra, f"process_{word}_mm") for word in ("lateral", "back", "up")])
    spinous = np.array([0.0, table(vertebra, "spinous_back_mm"), table(vertebra, "spinous_up_mm")])
    rows = [
        Row(f"body_{vertebra}_centre", vertebra, np.zeros(3), "", "bonczar_2024"),
        Row(f"spinous_tip_{vertebra}", vertebra, spinous, "", table.sources[vertebra, "spinous_back_mm"]),
    ]
    rows += _both(f"pedicle_{vertebra}", vertebra, pedicle, "", table.sources[vertebra, "canal_width_mm"])
    rows += _both(
        f"transverse_process_tip_{vertebra}", vertebra, tip, "", table.sources[vertebra, "process_lateral_mm"]
    )
    return rows
