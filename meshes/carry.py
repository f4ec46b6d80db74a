"""Carry the reference body to a specimen: bones as rigid parts, everything soft by a smooth warp of the landmarks.

The warp is the thin-plate spline of three dimensions (biharmonic, kernel r, with an affine part).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import numpy as np

from meshes.curves import Array, Indices
from meshes.landmarks import Frame, Landmarks
from meshes.posture import Build, build_of, frames_for, landmarks_for, reference_landmarks
from meshes.specimen import ALDER, Specimen
from meshes.spine import DISCS, VERTEBRAE, spine_table
from meshes.surfaces import Surface
from meshes.threads import one_thread
from meshes.tolerances import HANDLES_PER_BONE

Warp = Callable[[Array], Array]
#: How sharply a nerve that is moved comes to rest: within half its room it goes as far as it would, to a thousandth.
REST = 8


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


def soft_mover(specimen: Specimen, bones: Iterable[tuple[str, Surface]] = ()) -> Warp:
    """How everything soft moves.

    bones : rigid part and surface of the reference body's bones; what lies on them goes with them
    """
    before, after = _landmark_handles(specimen)
    for part, surface in bones:
        near = _on_bone(surface.vertices)
        before.append(near)
        after.append(bone_mover(part, specimen)(near))
    here, there = np.concatenate(before), np.concatenate(after)
    keep = _apart(here)
    return thin_plate(here[keep], there[keep])


def thin_plate(before: Array, after: Array) -> Warp:
    """The thin-plate spline (kernel r, with an affine part) that carries handles (n, 3) from `before` to `after`.

    The same function as scipy's RBFInterpolator with kernel "linear" and degree 1, which the tests compare with; a
    product of matrices makes it several times faster on whole surfaces.
    """
    middle, size = before.mean(axis=0), before.std()
    handles = (before - middle) / size
    n = len(handles)
    right = _right(handles)
    system = np.zeros((n + 4, n + 4))
    system[:n, n:] = np.column_stack([np.ones(n), handles])
    system[n:, :n] = system[:n, n:].T
    with one_thread():
        system[:n, :n] = _distances(handles, right, np.empty((n, n)))
        solved = np.linalg.solve(system, np.concatenate([after - before, np.zeros((4, 3))]))

    def move(points: Array) -> Array:
        out, room = np.array(points, dtype=np.float64), np.empty((min(CHUNK, len(points)), n))
        with one_thread():
            for start in range(0, len(points), CHUNK):
                some = (points[start : start + CHUNK] - middle) / size
                away = _distances(some, right, room[: len(some)])
                out[start : start + CHUNK] += away @ solved[:n] + solved[n] + some @ solved[n + 1 :]
        return out

    return move


#: Rows per product of matrices: so few that their distances to the handles stay in the processor's cache.
CHUNK = 256


def _right(points: Array) -> Array:
    """What `_distances` multiplies with: (5, m) for points (m, 3)."""
    return np.stack([*(-2.0 * points.T), np.ones(len(points)), (points**2).sum(axis=1)])


def _distances(points: Array, right: Array, room: Array) -> Array:
    """Distances (n, m) between points (n, 3) and those behind `right`, written into `room` (n, m)."""
    left = np.column_stack([points, (points**2).sum(axis=1), np.ones(len(points))])
    np.matmul(left, right, out=room)
    np.maximum(room, 0.0, out=room)
    return np.sqrt(room, out=room)


def _landmark_handles(specimen: Specimen) -> tuple[list[Array], list[Array]]:
    """Landmarks, corners of the vertebral bodies and the outlines of psoas: where they are, and where they go."""
    here, there = reference_landmarks(), landmarks_for(specimen)
    before = [np.array(list(here.points.values())), _outlines(here)]
    after = [np.array([there[name] for name in here.points]), _outlines(there)]
    for part, corners in _corners().items():
        before.append(corners @ here.frames[part].axes + here.frames[part].origin)
        after.append(bone_mover(part, specimen)(before[-1]))
    return before, after


def _outlines(landmarks: Landmarks) -> Array:
    """Points (n, 3) of every section of psoas between its landmarks, on the ellipse."""
    rows = []
    for name in landmarks.points:
        if not name.startswith("psoas_") or "_corner_" not in name:
            continue
        outer, front, back = (landmarks[name.replace("corner", word)] for word in ("outer", "front", "back"))
        middle, along = (front + back) / 2.0, (back - front) / 2.0
        across = outer - middle
        rows += [middle + np.sqrt(0.5) * (x * across + y * along) for x in (-1.0, 1.0) for y in (-1.0, 1.0)]
    return np.array(rows).reshape(-1, 3)


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


def _on_bone(vertices: Array) -> Array:
    """Points spread out over a bone; on one that crosses the midplane the same on both sides."""
    left = vertices[vertices[:, 0] > 1.0]
    if len(left) in (0, len(vertices)):
        return spread_out(vertices, HANDLES_PER_BONE)
    half = spread_out(left, HANDLES_PER_BONE // 2)
    return np.concatenate([half, half * np.array([-1.0, 1.0, 1.0])])


def spread_out(points: Array, count: int) -> Array:
    """So many of the points (n, 3), each the farthest from those taken before it."""
    taken = [int(np.argmax(points[:, 2]))]
    away = np.linalg.norm(points - points[taken[0]], axis=1)
    while len(taken) < min(count, len(points)):
        taken.append(int(np.argmax(away)))
        away = np.minimum(away, np.linalg.norm(points - points[taken[-1]], axis=1))
    return points[taken]


def _apart(points: Array) -> Indices:
    """Rows that stand at least half a millimetre from all earlier ones: two handles in one place have no warp."""
    with one_thread():
        apart = _distances(points, _right(points), np.empty((len(points), len(points))))
    crowded = np.tril(apart < 0.5, -1).any(axis=1)
    return np.flatnonzero(~crowded)


def forward_shift(
    points: Array, inside: Array, by_disc_mm: Mapping[str, float], landmarks: Landmarks, room_mm: Array | float = np.inf
) -> Array:
    """Points (m, 3) of a nerve moved forward inside psoas, by the discs' own amounts, faded along its length.

    inside  : (m,) 1 where the nerve is well inside psoas, 0 outside
    room_mm : (m,) how far it can go until it comes close under the front of the muscle, which it never leaves
    """
    discs = [d for d in reversed(DISCS) if d in by_disc_mm] if by_disc_mm else []
    if not discs:
        return points
    heights = np.array([landmarks.frames[d].origin[2] for d in DISCS])
    amounts = np.array([by_disc_mm.get(d, 0.0) for d in DISCS])
    order = np.argsort(heights)
    shift = _within(np.interp(points[:, 2], heights[order], amounts[order]) * inside, room_mm)
    out: Array = points + shift[:, None] * np.array([0.0, -1.0, 0.0])
    return out


def _within(shift: Array, room: Array | float) -> Array:
    """Shifts (m,) that come to rest smoothly against their room: within half of it as they are, never beyond it."""
    share = shift / np.maximum(room, 1e-9)
    out: Array = shift / (1.0 + share**REST) ** (1.0 / REST)
    return out
