"""Carry the reference body to a specimen: bones as rigid parts, everything soft by a smooth warp of the landmarks.

The warp is the thin-plate spline of three dimensions (biharmonic, kernel r, with an affine part).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from meshes.curves import Array
from meshes.landmarks import Frame, Landmarks
from meshes.posture import Build, build_of, frames_for, landmarks_for, reference_landmarks
from meshes.specimen import ALDER, Specimen
from meshes.spine import DISCS, VERTEBRAE, spine_table

Warp = Callable[[Array], Array]


def is_reference(specimen: Specimen) -> bool:
    """True when every rigid part stands where the tables have it and psoas is as written."""
    same_size = all(np.allclose(build_of(specimen).of(f), 1.0) for f in ("pelvis", "l1"))
    bent = specimen.table_break_deg > 0 or specimen.posture != ALDER.posture
    return same_size and not bent and specimen.psoas_scale == 1.0


def bone_mover(frame: str, specimen: Specimen) -> Warp:
    """How one rigid part moves: scaled along its own directions, then set where it stands."""
    return _rigid(reference_landmarks().frames[frame], frames_for(specimen)[frame], build_of(specimen), frame)


def _rigid(old: Frame, new: Frame, build: Build, name: str) -> Warp:
    size = build.of(name)

    def move(points: Array) -> Array:
        out: Array = (old.local(points) * size) @ new.axes + new.origin
        return out

    return move


def soft_mover(specimen: Specimen) -> Warp:
    """How everything soft moves."""
    from scipy.interpolate import RBFInterpolator

    here, there = reference_landmarks(), landmarks_for(specimen)
    build = build_of(specimen)
    before, after = _handles(here, here, None), _handles(here, there, build)
    keep = _unique(before)
    warp = RBFInterpolator(before[keep], after[keep] - before[keep], kernel="linear", degree=1)

    def move(points: Array) -> Array:
        out: Array = points + warp(np.ascontiguousarray(points))
        return out

    return move


def _handles(here: Landmarks, there: Landmarks, build: Build | None) -> Array:
    """Landmarks, and the corners of every vertebral body and disc, which soft tissue hangs on."""
    rows = [there[name] for name in here.points]
    for part, corners in _corners().items():
        size = np.ones(3) if build is None else build.of(part)
        rows += [there.frames[part].point(*(corner * size)) for corner in corners]
    return np.array(rows)


def _corners() -> Mapping[str, Array]:
    table = spine_table()
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], dtype=np.float64)
    out = {}
    for vertebra in VERTEBRAE:
        half = [
            table(vertebra, "upper_width_mm") / 2.0,
            table(vertebra, "upper_depth_mm") / 2.0,
            table(vertebra, "posterior_height_mm") / 2.0,
        ]
        out[vertebra] = signs * np.array(half) * 0.9
    return out


def _unique(points: Array) -> Array:
    """Rows that stand at least half a millimetre from all earlier ones: two handles in one place have no warp."""
    keep: list[int] = []
    for i, point in enumerate(points):
        if all(np.linalg.norm(point - points[j]) > 0.5 for j in keep):
            keep.append(i)
    return np.array(keep)


def forward_shift(points: Array, inside: Array, by_disc_mm: Mapping[str, float], landmarks: Landmarks) -> Array:
    """Points (m, 3) of a nerve moved forward inside psoas, by the discs' own amounts, faded along its length.

    inside : (m,) 1 where the nerve is well inside psoas, 0 outside
    """
    discs = [d for d in reversed(DISCS) if d in by_disc_mm] if by_disc_mm else []
    if not discs:
        return points
    heights = np.array([landmarks.frames[d].origin[2] for d in DISCS])
    amounts = np.array([by_disc_mm.get(d, 0.0) for d in DISCS])
    order = np.argsort(heights)
    shift = np.interp(points[:, 2], heights[order], amounts[order]) * inside
    out: Array = points + shift[:, None] * np.array([0.0, -1.0, 0.0])
    return out
