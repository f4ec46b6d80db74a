"""What the disc face shows: the target disc seen from outside along the portal, and the nerves that cross it.

Nothing is painted here. While a portal is dragged along one disc only its place and the contacts change: what depends
on body, disc, approach and side alone is a `Ground`, made once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from meshes.body import Body
from meshes.contact import Contact, Docking
from meshes.curves import Array
from meshes.landmarks import Frame
from meshes.outline import disc_outline
from meshes.portal import Portal, approaches, on_border

#: Nerves are drawn where they run within this of the plane of the portal's end, mm; beyond, they do not cross the disc.
REACH_MM = 22.0
SAMPLES = 41


@dataclass(frozen=True, eq=False)
class Face:
    """What is seen from outside along the portal, head up: all points (n, 2), mm, to the right and up.

    border : where the axis may end, one point for each of `ats`
    disc   : the disc's silhouette
    nerves : contact -> the stretches of its middle line near the disc, with half thickness (n, 3)
    quarters : the three lines between the quarters, each (2, 2); only from the side
    """

    ats: Array
    border: Array
    disc: Array
    nerves: tuple[tuple[Contact, Array], ...]
    quarters: tuple[Array, ...]
    centre: Array
    ends: tuple[str, str]

    @cached_property
    def middle(self) -> Array:
        """Middle of the disc (2,)."""
        middle: Array = self.disc.mean(axis=0)
        return middle


@dataclass(frozen=True, eq=False)
class Ground:
    """A disc of a body as every portal of one approach and side meets it; see `Face` for what is not told here.

    key    : disc, approach, side
    axes   : (3, 3) to the right, up and outwards, in the disc's frame
    nerves : id -> (n, 4) of its middle line: to the right, up, half thickness, outwards; mm
    """

    body: Body
    key: tuple[str, str, str]
    frame: Frame
    axes: Array
    ats: Array
    border: Array
    disc: Array
    nerves: Mapping[str, Array]
    quarters: tuple[Array, ...]
    ends: tuple[str, str]

    @staticmethod
    def of(body: Body, portal: Portal) -> Ground:
        """The ground that a portal stands on."""
        frame, approach = body.landmarks.frames[portal.disc], approaches()[portal.approach]
        outwards = approach.outwards(portal.side)
        right = np.cross(np.array([0.0, 0.0, 1.0]), outwards)
        axes = np.stack([right, np.array([0.0, 0.0, 1.0]), outwards])
        outline = disc_outline(body.surfaces[portal.disc], frame)
        ats = np.linspace(0.0, 1.0, SAMPLES)
        ends = np.array([on_border(outline, portal.approach, portal.side, float(at))[0] for at in ats])
        lines = {n: (body.centrelines[n], _seen(body.centrelines[n].points, frame, axes)) for n in body.ids("nerve")}
        return Ground(
            body,
            _key(portal),
            frame,
            axes,
            ats,
            _seen(ends, frame, axes)[:, :2],
            _hull(_seen(body.surfaces[portal.disc].vertices, frame, axes)[:, :2]),
            {n: np.column_stack([seen[:, :2], line.radius, seen[:, 2]]) for n, (line, seen) in lines.items()},
            _quarters(outline.back_mm, outline.front_mm, right, approach.rim == "side"),
            _end_words(right),
        )

    def holds(self, body: Body, portal: Portal) -> bool:
        """Whether this is the ground of a portal on a body."""
        return self.body is body and self.key == _key(portal)


def face_of(body: Body, docking: Docking, ground: Ground | None = None) -> Face:
    """The face that a docking meets.

    ground : what was made for an earlier docking; used where it still holds
    """
    portal = docking.portal
    if ground is None or not ground.holds(body, portal):
        ground = Ground.of(body, portal)
    centre = _seen(portal.border_mm[None], ground.frame, ground.axes)[0]
    nerves = []
    for contact in docking.nerves:
        line = ground.nerves[contact.id]
        near = np.abs(line[:, 3] - centre[2]) < REACH_MM
        if np.count_nonzero(near) > 1:
            stretch = line[:, :3].copy()
            stretch[~near] = np.nan
            nerves.append((contact, stretch))
    return Face(ground.ats, ground.border, ground.disc, tuple(nerves), ground.quarters, centre[:2], ground.ends)


def _key(portal: Portal) -> tuple[str, str, str]:
    return portal.disc, portal.approach, portal.side


def _seen(points: Array, frame: Frame, axes: Array) -> Array:
    """Body points (n, 3) as a ground sees them (n, 3): to the right, up, outwards."""
    seen: Array = frame.local(points) @ axes.T
    return seen


def _quarters(back: float, front: float, right: Array, from_the_side: bool) -> tuple[Array, ...]:
    if not from_the_side:
        return ()
    xs = [right[1] * (back + k / 4.0 * (front - back)) for k in (1, 2, 3)]
    return tuple(np.array([[x, -1.0], [x, 1.0]]) for x in xs)


def _end_words(right: Array) -> tuple[str, str]:
    """What lies at the left and at the right of the face."""
    if abs(right[1]) > abs(right[0]):
        return ("front", "back") if right[1] > 0 else ("back", "front")
    return ("right", "left") if right[0] > 0 else ("left", "right")


def _hull(points: Array) -> Array:
    """Convex outline of points (n, 2), counter-clockwise. By hand: to import a library for it would take a second."""
    spots = points[np.lexsort((points[:, 1], points[:, 0]))].tolist()
    return np.array(_bent_left(spots)[:-1] + _bent_left(spots[::-1])[:-1])


def _bent_left(spots: list[list[float]]) -> list[list[float]]:
    """The spots of a row that a line which only ever bends to the left needs."""
    kept: list[list[float]] = []
    for x, y in spots:
        while len(kept) > 1 and not _is_left(kept[-2], kept[-1], x, y):
            kept.pop()
        kept.append([x, y])
    return kept


def _is_left(a: list[float], b: list[float], x: float, y: float) -> bool:
    return (b[0] - a[0]) * (y - a[1]) > (b[1] - a[1]) * (x - a[0])
