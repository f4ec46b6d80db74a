"""What the disc face shows: the target disc seen from outside along the portal, and what crosses it.

Nothing is painted here. While a portal is dragged along one disc only its place and the contacts change: what depends
on body, disc, approach and side alone is a `Ground`, made once. So nothing but what is touched changes its shape.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np

from meshes.body import Body
from meshes.contact import Contact, Docking
from meshes.curves import Array, Centreline
from meshes.landmarks import Frame
from meshes.nearby import Flags
from meshes.outline import Outline, disc_outline
from meshes.portal import QUARTERS, Approach, Portal, approaches, on_border
from meshes.structures import Structure
from viewer.labels import label_name

#: Lines are drawn where they run within this of the disc's outermost border, along the line of sight, and within this
#: of its middle, across, mm; beyond, they do not cross the disc. What is touched farther out is drawn this far along.
REACH_MM, ACROSS_MM, ALONG_MM = 22.0, 60.0, 12.0
SAMPLES, COLUMNS = 41, 241
#: Where one quarter of the disc's depth ends and the next begins.
BORDERS = (0.25, 0.5, 0.75)
#: A point of the rim is seen unless something of the rim lies this much before it, mm.
HIDDEN_MM = 0.2


@dataclass(frozen=True)
class Band:
    """A stretch of the disc that is seen of one quarter: from where to where, to the right, mm."""

    quarter: str
    left: float
    right: float

    @property
    def middle(self) -> float:
        """Its middle, mm to the right."""
        return 0.5 * (self.left + self.right)


@dataclass(frozen=True, eq=False)
class Stretch:
    """A middle line where it is drawn; points that are not numbers part it.

    before, behind : (n, 3) to the right, up, half thickness, mm; before the disc, and hidden by it where they cross it
    """

    contact: Contact
    before: Array
    behind: Array


@dataclass(frozen=True, eq=False)
class Face:
    """What is seen from outside along the portal, head up: all points (n, 2), mm, to the right and up.

    border  : where the axis may end, one point for each of `ats`
    disc    : the disc's silhouette
    lines   : nerves, vessels and ureters, what is nearer to the eye later
    shapes  : touched viscera without a middle line, by their outline
    bands   : the quarters that are seen, from left to right; none where they lie behind one another
    borders : the lines between two bands, each (2, 2) from the disc's lower edge to its upper edge
    quarter : the one that the axis ends in
    instead : what is said where there are no bands
    ends    : what lies at the left and at the right
    """

    ats: Array
    border: Array
    disc: Array
    lines: tuple[Stretch, ...]
    shapes: tuple[tuple[Contact, Array], ...]
    bands: tuple[Band, ...]
    borders: tuple[Array, ...]
    centre: Array
    quarter: str
    instead: str
    ends: tuple[str, str]

    @cached_property
    def middle(self) -> Array:
        """Middle of the disc (2,)."""
        return _middle(self.disc)

    @cached_property
    def columns(self) -> Array:
        """For each of `ats` where a hand has to be, mm to the right.

        That is where the axis ends there; but where the border turns back behind the disc's own bulge the hand goes
        on, so that every place can be reached.
        """
        steps = np.diff(self.border[::-1, 0])
        onwards = 1.0 if self.border[0, 0] >= self.border[-1, 0] else -1.0
        columns: Array = self.border[-1, 0] + onwards * np.concatenate([[0.0], np.cumsum(np.abs(steps))])
        return columns[::-1]


@dataclass(frozen=True, eq=False)
class Line:
    """A middle line as a ground sees it.

    points : (n, 4) to the right, up, half thickness, outwards; mm
    arc    : (n,) along it, mm
    shown  : (n,) what is drawn wherever the portal stands
    before : (n,) what does not lie behind the disc
    """

    structure: Structure
    points: Array
    arc: Array
    shown: Flags
    before: Flags

    @cached_property
    def still(self) -> tuple[Array, Array]:
        """What is drawn of it before and behind the disc wherever the portal stands: see `Stretch`."""
        return self._parts(self.shown)

    def parts(self, contact: Contact) -> tuple[Array, Array]:
        """The same for a contact: where it is touched farther out it is drawn there, too."""
        if contact.inside_mm is None:
            return self.still
        start, end = contact.inside_mm
        return self._parts(self.shown | ((self.arc > start - ALONG_MM) & (self.arc < end + ALONG_MM)))

    def _parts(self, shown: Flags) -> tuple[Array, Array]:
        some = np.flatnonzero(shown)
        if not len(some):
            return self.points[:0, :3], self.points[:0, :3]
        low, high = int(some[0]), int(some[-1]) + 1
        part, shown, before = self.points[low:high, :3], shown[low:high], self.before[low:high]
        # Both reach to the first point of the other, so that no gap is seen between them.
        near = before | np.append(before[1:], False) & shown
        return _only(part, shown & near), _only(part, shown & ~before)


@dataclass(frozen=True, eq=False)
class Ground:
    """A disc of a body as every portal of one approach and side meets it; see `Face` for what is not told here.

    key   : disc, approach, side
    axes  : (3, 3) to the right, up and outwards, in the disc's frame
    lines : id -> its line, what is nearer to the eye later
    """

    body: Body
    key: tuple[str, str, str]
    frame: Frame
    axes: Array
    ats: Array
    border: Array
    disc: Array
    lines: Mapping[str, Line]
    bands: tuple[Band, ...]
    borders: tuple[Array, ...]
    ends: tuple[str, str]
    _outlines: dict[str, Array] = field(default_factory=dict)

    @staticmethod
    def of(body: Body, portal: Portal) -> Ground:
        """The ground that a portal stands on."""
        frame, approach = body.landmarks.frames[portal.disc], approaches()[portal.approach]
        axes = _axes(approach, portal.side)
        outline = disc_outline(body.surfaces[portal.disc], frame)
        ats = np.linspace(0.0, 1.0, SAMPLES)
        ends = np.array([on_border(outline, portal.approach, portal.side, float(at))[0] for at in ats])
        border = _seen(ends, frame, axes)
        disc = _hull(_seen(body.surfaces[portal.disc].vertices, frame, axes)[:, :2])
        rim = _Rim(outline, axes)
        xs = [] if approach.rim == "front" else rim.borders()
        return Ground(
            body,
            _key(portal),
            frame,
            axes,
            ats,
            border[:, :2],
            disc,
            _lines(body, frame, axes, rim, _middle(disc)),
            () if approach.rim == "front" else rim.bands(xs),
            tuple(np.array([[x, low], [x, high]]) for x in xs for low, high in [_height(disc, x)]),
            _end_words(approach, runs_right(portal.approach, portal.side)),
        )

    def holds(self, body: Body, portal: Portal) -> bool:
        """Whether this is the ground of a portal on a body."""
        return self.body is body and self.key == _key(portal)

    def outline(self, structure_id: str) -> Array:
        """Outline (n, 2) of a structure without a middle line; found when it is first asked for."""
        if structure_id not in self._outlines:
            seen = _seen(self.body.surfaces[structure_id].vertices, self.frame, self.axes)
            self._outlines[structure_id] = _hull(seen[:, :2])
        return self._outlines[structure_id]


def face_of(body: Body, docking: Docking, ground: Ground | None = None) -> Face:
    """The face that a docking meets.

    ground : what was made for an earlier docking; used where it still holds
    """
    portal = docking.portal
    if ground is None or not ground.holds(body, portal):
        ground = Ground.of(body, portal)
    contacts = {c.id: c for c in (*docking.nerves, *docking.vessels, *docking.viscera)}
    lines = []
    for structure_id, line in ground.lines.items():
        contact = contacts[structure_id]
        before, behind = line.parts(contact) if contact.touched else line.still
        if len(before):
            lines.append(Stretch(contact, before, behind))
    shapes = tuple((c, ground.outline(c.id)) for c in contacts.values() if c.touched and c.id not in ground.lines)
    centre = _seen(portal.border_mm[None], ground.frame, ground.axes)[0, :2]
    there = [b for b in ground.bands if b.quarter == portal.quarter and b.left - 1e-6 <= centre[0] <= b.right + 1e-6]
    # Where the axis ends behind the disc's bulge what is seen before it is another quarter: then words tell.
    bands, borders = (ground.bands, ground.borders) if there else ((), ())
    return Face(
        ground.ats, ground.border, ground.disc, tuple(lines), shapes, bands, borders,
        centre, portal.quarter, "" if there else _instead(portal), ground.ends,
    )  # fmt: skip


def runs_right(approach: str, side: str) -> bool:
    """Whether `at` grows to the right on the face of an approach; else it grows to the left."""
    rim = approaches()[approach].rim
    return rim != "front" and (side == "right") == (rim == "side")


def short_name(structure: Structure, portal: Portal) -> str:
    """The short name, with its side where that is not the docked one, or the approach may meet either."""
    name = label_name(structure)
    told = structure.side and (structure.side != portal.side or portal.approach == "anterior")
    return f"{name}, {structure.side}" if told else name


def touched_worst_first(docking: Docking) -> list[Contact]:
    """What a portal touches of every kind, the deepest inside first."""
    touched = [c for c in (*docking.nerves, *docking.vessels, *docking.viscera) if c.touched]
    return sorted(touched, key=lambda c: (c.clearance_mm, c.id))


def _instead(portal: Portal) -> str:
    front = approaches()[portal.approach].rim == "front"
    return f"quarter {portal.quarter} ({'I front, IV back' if front else 'behind the edge'})"


class _Rim:
    """A disc's outline as it is seen: what of it lies nearest to the eye, column by column."""

    def __init__(self, outline: Outline, axes: Array) -> None:
        self._outline, self._axes = outline, axes[:, :2]
        points = outline.points
        self._x, self._out = points @ self._axes[0], points @ self._axes[2]
        self._share = (outline.back_mm - points[:, 1]) / (outline.back_mm - outline.front_mm)
        self.columns = np.linspace(self._x.min(), self._x.max(), COLUMNS)
        self.out_mm = np.array([self.at(x)[0] for x in self.columns.tolist()])

    def at(self, x: float) -> tuple[float, float]:
        """How far outwards the foremost point of a column lies, and its share of the depth from back to front."""
        a, b = self._x, np.roll(self._x, -1)
        i = np.flatnonzero((np.minimum(a, b) <= x) & (x <= np.maximum(a, b)))
        step = b[i] - a[i]
        t = np.where(step == 0.0, 0.0, (x - a[i]) / np.where(step == 0.0, 1.0, step))
        out = self._out[i] + t * (np.roll(self._out, -1)[i] - self._out[i])
        share = self._share[i] + t * (np.roll(self._share, -1)[i] - self._share[i])
        first = int(np.argmax(out))
        return float(out[first]), float(share[first])

    def borders(self) -> list[float]:
        """Where a quarter ends, from left to right, mm: on either side of the disc, if it is seen there."""
        found = []
        for share in BORDERS:
            for sign in (1.0, -1.0):
                point = self._outline.at_depth(share, sign)
                x, out = float(self._axes[0] @ point), float(self._axes[2] @ point)
                x = min(max(x, float(self.columns[0])), float(self.columns[-1]))
                if out > self.at(x)[0] - HIDDEN_MM:
                    found.append(x)
        return sorted(found)

    def bands(self, borders: Sequence[float]) -> tuple[Band, ...]:
        """The quarters between these borders and the disc's ends."""
        edges = [float(self.columns[0]), *borders, float(self.columns[-1])]
        return tuple(Band(QUARTERS[min(int(4.0 * self.at(0.5 * (a + b))[1]), 3)], a, b) for a, b in pairwise(edges))


def _key(portal: Portal) -> tuple[str, str, str]:
    return portal.disc, portal.approach, portal.side


def _axes(approach: Approach, side: str) -> Array:
    """To the right, up and outwards (3, 3), in the disc's frame."""
    outwards, up = approach.outwards(side), np.array([0.0, 0.0, 1.0])
    return np.stack([np.cross(up, outwards), up, outwards])


def _seen(points: Array, frame: Frame, axes: Array) -> Array:
    """Body points (n, 3) as a ground sees them (n, 3): to the right, up, outwards."""
    seen: Array = frame.local(points) @ axes.T
    return seen


def _middle(disc: Array) -> Array:
    """Middle of a silhouette (n, 2): of its extent, however its points are spread."""
    middle: Array = 0.5 * (disc.min(axis=0) + disc.max(axis=0))
    return middle


def _lines(body: Body, frame: Frame, axes: Array, rim: _Rim, middle: Array) -> dict[str, Line]:
    """Every middle line of a body, by id; what is nearer to the eye later."""
    ids = [n for kind in ("vessel", "viscus", "nerve") for n in body.ids(kind) if n in body.centrelines]
    lines = [_line(body.structures[n], body.centrelines[n], frame, axes, rim, middle) for n in ids]
    return {line.structure.id: line for line in sorted(lines, key=_nearness)}


def _line(structure: Structure, line: Centreline, frame: Frame, axes: Array, rim: _Rim, middle: Array) -> Line:
    seen = _seen(line.points, frame, axes)
    x, up, out = seen.T
    near = np.abs(out - float(rim.out_mm.max())) < REACH_MM
    shown = near & (np.hypot(x - middle[0], up - middle[1]) < ACROSS_MM + line.radius)
    # Beside the disc nothing hides anything.
    edge = np.interp(x, rim.columns, rim.out_mm, left=-np.inf, right=-np.inf)
    points = np.column_stack([x, up, line.radius, out])
    return Line(structure, points, line.arc, shown if shown.sum() > 1 else np.zeros_like(shown), out > edge)


def _nearness(line: Line) -> float:
    out = line.points[line.shown, 3] if line.shown.any() else line.points[:, 3]
    return float(out.mean())


def _only(points: Array, kept: Flags) -> Array:
    """Points with those that are not kept made no numbers; none where none is kept."""
    if not kept.any():
        return points[:0]
    out = points.copy()
    out[~kept] = np.nan
    return out


def _height(disc: Array, x: float) -> tuple[float, float]:
    """Lower and upper edge of a silhouette (n, 2) in one column."""
    a, b = disc, np.roll(disc, -1, axis=0)
    i = np.flatnonzero((np.minimum(a[:, 0], b[:, 0]) <= x) & (x <= np.maximum(a[:, 0], b[:, 0])))
    step = b[i, 0] - a[i, 0]
    t = np.where(step == 0.0, 0.0, (x - a[i, 0]) / np.where(step == 0.0, 1.0, step))
    up = a[i, 1] + t * (b[i, 1] - a[i, 1])
    return float(up.min()), float(up.max())


def _end_words(approach: Approach, to_the_right: bool) -> tuple[str, str]:
    """What lies at the left and at the right of the face."""
    first, last = {"side": ("back", "front"), "front": ("left", "right"), "back": ("foramen", "midline")}[approach.rim]
    return (first, last) if to_the_right else (last, first)


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
