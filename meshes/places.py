"""The way of a nerve as an ordered list of places, found on the body: foramen, psoas, wall, ligament, thigh and so on.

A nerve is asked every millimetre. What it is told by: the surfaces of psoas, iliacus and the wall, the line of the
inguinal ligament, the brim of the pelvis, and the two openings of the obturator canal; the words are in places.toml.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np

from meshes.body import Body
from meshes.contact import Ready
from meshes.curves import Array
from meshes.errors import FurcalError, unknown_word
from meshes.nearby import Flags
from meshes.posture import reference_landmarks
from meshes.probes import away, close, held
from meshes.structures import SIDES, Structure
from meshes.tables import ANATOMY, check_keys, cited, number, read_toml, require

#: The words of places, from the spine outwards.
PLACES = (
    "foramen", "psoas", "retroperitoneum", "wall", "iliac_fossa", "pelvis", "ligament", "canal", "thigh",
)  # fmt: skip
#: A nerve is asked at steps of about so much, mm.
_STEP_MM = 1.0
#: Its depth is measured at steps of about so much, mm: between them it changes evenly enough.
_DEPTH_STEP_MM = 5.0
_WALL = ("transversus_abdominis", "internal_oblique", "external_oblique")


@dataclass(frozen=True)
class Site:
    """A row of places.toml.

    key      : the row's name, finer than the place: two canals, two ways below the belt
    place    : one of PLACES
    within   : as it stands after "the point is"
    reach_mm : how near a nerve must come, where nearness decides, or how far the place reaches; else 0
    passes_mm: how near to the line between its ends a nerve must come to pass it; else 0
    crossed  : what an approach goes through where it meets the nerves here, in the words of approach_risk.toml
    """

    key: str
    place: str
    name: str
    within: str
    says: str
    source: str
    reach_mm: float
    passes_mm: float
    crossed: tuple[str, ...]


@dataclass(frozen=True)
class Place:
    """A stretch of a nerve within one place.

    from_mm, to_mm : arc length along the nerve's own middle line; the next stretch begins where this one ends
    depth_mm       : least and most distance of its middle line from the nearest skin
    """

    site: Site
    from_mm: float
    to_mm: float
    depth_mm: tuple[float, float]

    @property
    def place(self) -> str:
        """The word of the place."""
        return self.site.place


@cache
def sites() -> Mapping[str, Site]:
    """places.toml. Raises FurcalError naming file, row and key."""
    path = ANATOMY / "places.toml"
    found = {}
    for key, row in read_toml(path).items():
        where = f"{path}, [{key}]"
        check_keys(row, ("place", "name", "within", "says", "source", "reach_mm", "passes_mm", "crossed"), where)
        cited(row, where)
        word = str(require(row, "place", where))
        if word not in PLACES:
            raise unknown_word(word, PLACES, "place", where)
        name, within, says = (str(require(row, k, where)) for k in ("name", "within", "says"))
        reach, passes = (number(row.get(k, 0.0), f"{where}, {k}") for k in ("reach_mm", "passes_mm"))
        found[key] = Site(
            key, word, name, within, says, str(row["source"]), reach, passes, tuple(row.get("crossed", ()))
        )
    missing = [key for key in _USED if key not in found]
    if missing:
        raise FurcalError(f"{path}: {', '.join(missing)} must be there.")
    return found


_USED = (
    "spinal_canal", "foramen", "psoas", "retroperitoneum", "wall", "iliac_fossa", "pelvis", "ligament",
    "inguinal_canal", "obturator_canal", "thigh", "hip_skin",
)  # fmt: skip


def places_of(body: Body | Ready, structure_id: str) -> tuple[Place, ...]:
    """The places that a nerve runs through, in order along its own middle line; they cover the whole of it.

    Raises FurcalError for an id that the body does not have, or that is no nerve.
    """
    if isinstance(body, Ready):
        body = body.body
    structure = body.structures.get(structure_id)
    nerves = body.ids("nerve")
    if structure is None:
        raise unknown_word(structure_id, nerves, "nerve")
    if structure.kind != "nerve":
        raise FurcalError(f"{structure_id}: is no nerve; places are told of nerves only.")
    line = body.centrelines[structure_id]
    arc = np.linspace(0.0, line.length, max(int(np.ceil(line.length / _STEP_MM)), 1) + 1)
    points = line.at(arc)
    keys = _keys(body, structure, points)
    some = np.linspace(0.0, line.length, max(int(np.ceil(line.length / _DEPTH_STEP_MM)), 1) + 1)
    depth = np.interp(arc, some, away(body.surfaces["skin"], line.at(some)))
    return tuple(_stretches(keys, arc, depth))


def place_at(places: tuple[Place, ...], arc_mm: float) -> Place:
    """The stretch in which a point of the nerve lies, by arc length; the first or the last one beyond the ends."""
    return next((place for place in places if arc_mm < place.to_mm), places[-1])


def _stretches(keys: list[str], arc: Array, depth: Array) -> list[Place]:
    """Runs of equal keys as stretches that meet half way between their samples."""
    starts = [0, *(i for i in range(1, len(keys)) if keys[i] != keys[i - 1])]
    edges = [0.0, *(float(arc[i - 1] + arc[i]) / 2.0 for i in starts[1:]), float(arc[-1])]
    out = []
    for n, i in enumerate(starts):
        own = depth[i : starts[n + 1] if n + 1 < len(starts) else len(keys)]
        out.append(Place(sites()[keys[i]], edges[n], edges[n + 1], (float(own.min()), float(own.max()))))
    return out


def _keys(body: Body, structure: Structure, points: Array) -> list[str]:
    """Key of the site of every sample (n, 3)."""
    if structure.side not in SIDES or structure.id.endswith(f"_root_{structure.side}"):
        return ["spinal_canal"] * len(points)
    ask = _Asked(body, structure.side, points)
    keys = np.full(len(points), "retroperitoneum", dtype=object)
    keys[ask.iliac_fossa()] = "iliac_fossa"
    keys[ask.pelvis()] = "pelvis"
    if structure.group == "wall":  # others pass its border at the crest and the ligament without entering it
        keys[ask.wall()] = "wall"
    inside = _bridged(ask.psoas(), round(ask.reach("psoas") / _STEP_MM))
    keys[inside] = "psoas"
    keys[_from_the_start(ask.foramen() & ~inside, keys, round(ask.reach("foramen") / _STEP_MM))] = "foramen"
    _settle_wall(keys, ask)
    _settle_canals(keys, ask)
    _settle_ligament(keys, ask)
    return [str(key) for key in keys]


def _size(step: Array) -> float:
    return float(np.linalg.norm(step))


def _bridged(flags: Flags, most: int) -> Flags:
    """Flags with gaps of at most so many samples between two true ones filled."""
    out = flags.copy()
    true = np.flatnonzero(flags)
    for a, b in pairwise(true):
        if b - a <= most + 1:
            out[a:b] = True
    return out


def _from_the_start(near: Flags, keys: Array, reach: int) -> Flags:
    """The samples before the nerve has been anywhere: near the ganglion, and on until it sinks into psoas near by.

    reach : so many samples further on psoas is near by
    """
    out = np.zeros(len(near), dtype=bool)
    if not near[0]:
        return out
    end = int(np.argmin(near)) if not near.all() else len(near)
    psoas = np.flatnonzero(keys == "psoas")
    if len(psoas) and psoas[0] - end <= reach:
        end = int(psoas[0])
    out[:end] = True
    return out


def _settle_wall(keys: Array, ask: _Asked) -> None:
    """Once within the wall a nerve stays in it to its end, or comes out over the hip."""
    wall = np.flatnonzero(keys == "wall")
    if len(wall):
        keys[wall[0] :] = "wall"
        keys[wall[0] :][ask.outer_hip()[wall[0] :]] = "hip_skin"


def _settle_canals(keys: Array, ask: _Asked) -> None:
    """Once in the inguinal canal a nerve stays in it; what leaves the obturator canal is in the thigh."""
    entered = np.flatnonzero(ask.inguinal_canal() & np.isin(keys, ("wall", "retroperitoneum")))
    if len(entered):
        keys[entered[0] :] = "inguinal_canal"
        return
    begin, end = ask.obturator_canal()
    keys[begin:end] = "obturator_canal"
    keys[end:] = "thigh"


def _settle_ligament(keys: Array, ask: _Asked) -> None:
    """Where a nerve passes the line of the ligament from above to below, and the thigh beyond."""
    if np.isin(keys, ("inguinal_canal", "obturator_canal", "wall", "hip_skin")).any() or "thigh" in keys:
        return
    above, distance = ask.above_ligament, ask.from_ligament
    if above[-1] > 0.0 or not np.isfinite(distance).any():
        return
    if above[0] < 0.0:
        keys[:] = "thigh"
        return
    at, reach = int(np.argmin(distance)), round(ask.reach("ligament") / _STEP_MM)
    keys[max(at - reach, 0) : at + reach + 1] = "ligament"
    keys[at + reach + 1 :] = "thigh"


class _Asked:
    """The samples (n, 3) of one nerve, and what of the body decides where each of them is.

    scale : size of the pelvis, 1 for the average adult; reaches grow with it

    Points are kept in the directions of the pelvis, with the nerve's side as +x: that and nothing else mirrors.
    """

    def __init__(self, body: Body, side: str, points: Array) -> None:
        self.body, self.side, self.points = body, side, points
        self.local = self._local(points)
        asis, tubercle = self._mark("asis"), self._mark("pubic_tubercle")
        average = (reference_landmarks()[f"{name}_left"] for name in ("asis", "pubic_tubercle"))
        self.scale = _size(tubercle - asis) / _size(np.subtract(*average))
        along = (tubercle - asis) / _size(tubercle - asis)
        upwards = np.cross(along, [0.0, 1.0, 0.0])
        upwards = upwards * np.sign(upwards[2])
        self.along_ligament = (self.local - asis) @ along / _size(tubercle - asis)
        self.above_ligament: Array = (self.local - asis) @ upwards
        self.behind_ligament: Array = self.local[:, 1] - asis[1]
        aside = self.local - asis - ((self.local - asis) @ along)[:, None] * along
        near = np.linalg.norm(aside, axis=1) <= self.scale * sites()["ligament"].passes_mm
        self.from_ligament = np.full(len(points), np.inf)
        if near.any():
            self.from_ligament[near] = away(body.surfaces[f"inguinal_ligament_{side}"], points[near])

    def reach(self, key: str) -> float:
        """A site's reach, mm, for a body of this size."""
        return self.scale * sites()[key].reach_mm

    def _local(self, points: Array) -> Array:
        frame = self.body.landmarks.frames["pelvis"]
        out: Array = frame.local(points) * np.array([1.0 if self.side == "left" else -1.0, 1.0, 1.0])
        return out

    def _mark(self, name: str) -> Array:
        sided = f"{name}_{self.side}"
        marks = self.body.landmarks
        return self._local(marks[sided if sided in marks.points else name])

    def psoas(self) -> Flags:
        """Inside psoas."""
        return held(self.body.surfaces[f"psoas_major_{self.side}"], self.points)

    def foramen(self) -> Flags:
        """Near a spinal ganglion of this side."""
        ganglia = [n for n in self.body.centrelines if n.endswith(f"_ganglion_{self.side}")]
        places = np.concatenate([self.body.centrelines[n].points for n in ganglia])
        steps = np.linalg.norm(self.points[:, None] - places, axis=2)
        out: Flags = steps.min(axis=1) <= self.reach("foramen")
        return out

    def iliac_fossa(self) -> Flags:
        """On iliacus."""
        return close(self.body.surfaces[f"iliacus_{self.side}"], self.points, self.reach("iliac_fossa"))

    def wall(self) -> Flags:
        """Within or between the flat muscles."""
        out = np.zeros(len(self.points), dtype=bool)
        for muscle in _WALL:
            out |= close(self.body.surfaces[f"{muscle}_{self.side}"], self.points, self.reach("wall"))
        return out

    def outer_hip(self) -> Flags:
        """Below the crest and further out than it, clear of the wall."""
        crest, asis = self._mark("iliac_tubercle"), self._mark("asis")
        out: Flags = (self.local[:, 2] < crest[2]) & (self.local[:, 0] > crest[0]) & (self.local[:, 1] > asis[1])
        return out

    def pelvis(self) -> Flags:
        """Behind and below the plane from promontory to symphysis, no further out than the brim is wide."""
        promontory, symphysis = self._mark("promontory"), self._mark("symphysis_top")
        step = symphysis - promontory
        behind = np.array([0.0, -step[2], step[1]])
        wide = float(self._mark("arcuate_line")[0])
        out: Flags = ((self.local - promontory) @ behind > 0.0) & (self.local[:, 0] <= wide)
        return out

    def inguinal_canal(self) -> Flags:
        """Above and in front of the inner half of the ligament."""
        near = self.from_ligament <= self.reach("inguinal_canal")
        out: Flags = (
            near
            & (self.along_ligament >= 0.5)
            & (self.above_ligament > 0.0)
            & (self.behind_ligament <= self.reach("wall"))
        )
        return out

    def obturator_canal(self) -> tuple[int, int]:
        """First sample in the obturator canal and first beyond it; twice the count where it is not reached."""
        count, reach = len(self.points), self.reach("obturator_canal")
        openings = ("obturator_canal_inner", "obturator_canal")
        steps = [np.linalg.norm(self.local - self._mark(name), axis=1) for name in openings]
        first, last = (int(np.argmin(s)) for s in steps)
        if steps[1][last] > reach:
            return count, count
        return (first if steps[0][first] <= reach else 0), last + 1
