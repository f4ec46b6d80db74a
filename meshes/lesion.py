"""What a lesion takes: the supply that leaves a nerve beyond it, and all that hangs on the branches beyond it.

A lesion cuts segments: those of the nerve, or of a ramus its own one. It follows them outwards through every branch and
into what the nerve ends in; of the rows that it meets it takes those that share a segment with it. So one table answers
for roots, rami, trunks and branches. It is *partial* where other segments, another nerve, or twigs that have left
before still serve the same thing.

Twigs leave all along their place: a cut where the place begins takes all of them, one further out in it some of them. A
cut of a nerve reaches all its rows, also where one of its segments joins further out; those rows are then partial.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from meshes.branches import branches_of
from meshes.errors import FurcalError, unknown_word
from meshes.reference import all_courses
from meshes.structures import SEGMENTS, SIDES, segments, side_of
from meshes.supply import Function, JointSupply, Motor, ReflexSupply, Skin, Supply, supply

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.specimen import Specimen

Row = TypeVar("Row")
_Segments = frozenset[str]
_NONE: _Segments = frozenset()


@dataclass(frozen=True)
class Cut:
    """Where on a nerve.

    place  : a place of its way
    share  : of the nerve's length, 0..1, where an arc length is known; else the cut lies where the place begins
    passed : with a share: places that lie before the cut
    begun  : with a share: places that the cut lies in, so that some of what leaves there leaves before it
    """

    place: str
    share: float | None = None
    passed: frozenset[str] = frozenset()
    begun: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Lost(Generic[Row]):
    """One thing that is lost.

    nerve   : id, without side, of the nerve that it hangs on
    roots   : the segments of it that the lesion cuts, as `L2-L4`
    partial : other segments, other nerves, or twigs that leave before the lesion still serve it
    """

    row: Row
    nerve: str
    roots: str
    partial: bool


@dataclass(frozen=True)
class Spared:
    """A muscle that the lesion does not touch. because: "leaves before the lesion", or "by another nerve"."""

    muscle: str
    nerve: str
    because: str


@dataclass(frozen=True)
class Loss:
    """All that one lesion takes, from the spine outwards, and what it spares."""

    motor: tuple[Lost[Motor], ...]
    skin: tuple[Lost[Skin], ...]
    joints: tuple[Lost[JointSupply], ...]
    reflexes: tuple[Lost[ReflexSupply], ...]
    functions: tuple[Lost[Function], ...]
    spared: tuple[Spared, ...]


@dataclass(frozen=True)
class _Reached:
    """A nerve that a lesion meets: the segments cut in it, and those of them of which nothing passes by."""

    nerve: str
    cut: _Segments
    wholly: _Segments


def nerve_ids() -> tuple[str, ...]:
    """Every id, without side, that a lesion can be asked of: named nerves first, then roots, ganglia and rami."""
    nerves = {n: c.structure for n, c in all_courses().items() if c.structure.kind == "nerve" and c.structure.roots}
    named = [n for n in supply().nerves if n in nerves and nerves[n].group != "root"]
    return tuple(dict.fromkeys([*named, *nerves]))


def ids_of(specimen: Specimen) -> frozenset[str]:
    """Ids of the nerves that a specimen has, on both sides, without its body."""
    found = set()
    for name, course in all_courses().items():
        for side in SIDES if course.paired else ("",):
            sided = f"{name}_{side}" if side else name
            if not course.variant or {course.variant, f"{course.variant}_{side}"} & specimen.variants:
                found.add(sided)
    return frozenset(found)


def cut_in(structure_id: str, place: str) -> Cut:
    """A cut where a place of the nerve's way begins. Raises FurcalError with the places that are on it."""
    bare = _bare(structure_id)
    row = supply().nerves.get(bare)
    if row is None:
        raise FurcalError(f"{bare}: no places are told along it; ask without a place, or of the nerve it goes to.")
    if place not in row.way:
        raise unknown_word(place, row.way, "place", f"{bare}, along its way")
    return Cut(place)


def cut_at(body: Body, structure_id: str, at_mm: float) -> Cut:
    """A cut at an arc length, mm, along the nerve's own line, which begins at its end next to the foramen.

    Raises FurcalError for an id that the body does not have, and for a length beyond the nerve's.
    """
    from meshes.places import place_at, places_of

    _bare(structure_id)
    places, order = places_of(body, structure_id), {name: site.order for name, site in supply().sites.items()}
    length = body.centrelines[structure_id].length
    if not 0.0 <= at_mm <= length:
        raise FurcalError(f"{structure_id}: {at_mm:g} mm is not on it; give 0 to {length:.0f}, from the foramen on.")
    here = place_at(places, at_mm)
    passed, begun = set(), set()
    for word in order:
        own = [p for p in places if p.place == word]
        if all(p.to_mm <= at_mm for p in own) if own else order[word] < order[here.place]:
            passed.add(word)
        elif any(p.from_mm < at_mm for p in own):
            begun.add(word)
    return Cut(here.place, at_mm / length, frozenset(passed), frozenset(begun))


def loss(structure_id: str, present: Container[str], cut: Cut | None = None) -> Loss:
    """What is lost when a nerve of a body is hurt; without a cut, all of the nerve.

    present : ids that the body has
    Raises FurcalError for an id that the body lacks, for what is no nerve with a supply, and for an unknown place.
    """
    s, bare = supply(), _bare(structure_id)
    if cut is not None and cut.place not in s.sites:
        raise unknown_word(cut.place, s.sites, "place")
    structure = all_courses()[bare].structure
    own = frozenset(segments(structure.roots))
    wholly = own - _joining_beyond(bare, cut.share) if cut and cut.share is not None else own
    whole = _merged(_reached(structure_id, present, own, own, None))
    reached = whole if cut is None else _merged(_reached(structure_id, present, own, wholly, cut))
    hit = _Hits(s, bare, reached, cut)
    motor = hit.motor()
    hung = {row.muscle: r.nerve for r in whole for row in s.nerves[r.nerve].motor if _shared(row.roots, r.cut)}
    return Loss(
        motor, hit.skin(), hit.joints(), hit.reflexes(), hit.functions(),
        tuple(_spared(s, _NONE if structure.roots_are else own, {m.row.muscle for m in motor}, hung)),
    )  # fmt: skip


def _bare(structure_id: str) -> str:
    """A nerve's id without its side."""
    bare = structure_id.removesuffix(f"_{side_of(structure_id)}")
    if bare not in nerve_ids():
        raise unknown_word(bare, nerve_ids(), "nerve")
    return bare


def _reached(
    name: str, present: Container[str], cut: _Segments, wholly: _Segments, at: Cut | None
) -> Iterator[_Reached]:
    """A nerve and all that its fibres go to beyond a cut; `at` holds for the nerve itself only."""
    bare, courses = _bare(name), all_courses()
    if bare in supply().nerves:
        yield _Reached(bare, cut, wholly)
    for child in branches_of(name, present):
        other = _bare(child)
        ends = other == courses[bare].target
        if at is not None and not ends and _leaves_before(other, at):
            continue
        own = frozenset(segments(courses[other].structure.roots))
        if cut & own:
            yield from _reached(child, present, cut & own, wholly & own, None)
        elif ends and courses[bare].variant:  # a share from the segment above runs in what it joins, beside the rest
            yield from _reached(child, present, own, _NONE, None)


def _leaves_before(branch: str, cut: Cut) -> bool:
    leaves = all_courses()[branch].leaves
    if cut.share is not None:
        return leaves < cut.share
    s = supply()
    first = s.nerves[branch].way[0] if branch in s.nerves else cut.place
    return leaves < 1.0 and s.sites[first].order < s.sites[cut.place].order


def _joining_beyond(bare: str, share: float) -> _Segments:
    """Segments that join a nerve only beyond a share of its length."""
    brings = {n: frozenset(segments(c.structure.roots)) for n, c in all_courses().items() if c.target == bare}
    late = [own for n, own in brings.items() if all_courses()[n].joins > share]
    early = [own for n, own in brings.items() if all_courses()[n].joins <= share]
    return _NONE.union(*late) - _NONE.union(*early)


def _merged(reached: Iterator[_Reached]) -> list[_Reached]:
    """Each nerve once, in the order in which it is met first."""
    found: dict[str, _Reached] = {}
    for one in reached:
        had = found.get(one.nerve, _Reached(one.nerve, _NONE, _NONE))
        found[one.nerve] = _Reached(one.nerve, had.cut | one.cut, had.wholly | one.wholly)
    return list(found.values())


def _shared(roots: str, cut: _Segments) -> _Segments:
    return cut & frozenset(segments(roots))


def _span(found: _Segments) -> str:
    """Segments as the tables write them."""
    order = sorted(found, key=SEGMENTS.index)
    return "-".join(dict.fromkeys((order[0], order[-1]))) if order else ""


class _Hits:
    """The rows of the nerves that a lesion meets, beyond its place."""

    def __init__(self, s: Supply, bare: str, reached: Sequence[_Reached], cut: Cut | None) -> None:
        self._s, self._own, self._reached, self._cut = s, bare, reached, cut

    def motor(self) -> tuple[Lost[Motor], ...]:
        whole = {name: muscle.roots for name, muscle in self._s.muscles.items()}
        return self._one_each("motor", lambda row: row.muscle, whole)

    def skin(self) -> tuple[Lost[Skin], ...]:
        whole: dict[str, _Segments] = {}
        for nerve in self._s.nerves.values():
            for row in nerve.skin:
                whole[row.patch] = whole.get(row.patch, _NONE) | frozenset(segments(row.roots))
        return self._one_each("skin", lambda row: row.patch, {name: _span(found) for name, found in whole.items()})

    def reflexes(self) -> tuple[Lost[ReflexSupply], ...]:
        whole = {name: reflex.roots for name, reflex in self._s.reflexes.items()}
        return self._one_each("reflexes", lambda row: (row.reflex, row.limb), whole)

    def joints(self) -> tuple[Lost[JointSupply], ...]:
        return self._one_each("joints", lambda row: row.joint, {})

    def functions(self) -> tuple[Lost[Function], ...]:
        return self._one_each("functions", lambda row: row.function, {})

    def _one_each(self, part: str, key: Callable[[Any], Any], whole: Mapping[str, str]) -> tuple[Lost[Any], ...]:
        """Each muscle, patch, joint or reflex that is met, once: by the row that is constant, if there is one."""
        found: dict[Any, list[tuple[Any, _Reached, _Segments]]] = {}
        for reached in self._reached:
            for row in getattr(self._s.nerves[reached.nerve], part):
                roots = self._roots(row, reached.nerve, whole)
                if self._beyond(reached.nerve, row.at) and _shared(roots, reached.cut):
                    gone = _shared(roots, reached.wholly) if self._wholly(part, reached.nerve, row.at) else _NONE
                    found.setdefault(key(row), []).append((row, reached, gone))
        return tuple(self._lost(part, key, rows, whole) for rows in found.values())

    def _lost(
        self, part: str, key: Callable[[Any], Any], rows: Sequence[tuple[Any, _Reached, _Segments]],
        whole: Mapping[str, str],
    ) -> Lost[Any]:  # fmt: skip
        row, reached, _ = min(rows, key=lambda r: _loose(r[0]))
        all_roots = frozenset(segments(self._all_roots(row, reached.nerve, whole)))
        gone = _NONE.union(*(g for _, _, g in rows))
        cut = _NONE.union(*(_shared(self._roots(r, by.nerve, whole), by.cut) for r, by, _ in rows))
        met = [r for r, _, _ in rows]
        others = [
            other for nerve in self._s.nerves.values() for other in getattr(nerve, part)
            if key(other) == key(row) and not any(other is m for m in met)
        ]  # fmt: skip
        served = any(not _loose(other) or _loose(row) for other in others)
        return Lost(row, reached.nerve, _span(cut), bool(all_roots - gone) or served)

    def _roots(self, row: Any, nerve: str, whole: Mapping[str, str]) -> str:
        """The segments of one row: its own, its reflex's, or else those of the nerve."""
        own = str(getattr(row, "roots", "")) or whole.get(getattr(row, "reflex", ""), "")
        return own or all_courses()[nerve].structure.roots

    def _all_roots(self, row: Any, nerve: str, whole: Mapping[str, str]) -> str:
        """The segments of all that the row serves."""
        names = (getattr(row, word, "") for word in ("muscle", "patch", "reflex"))
        return next((whole[name] for name in names if name in whole), self._roots(row, nerve, whole))

    def _beyond(self, nerve: str, place: str) -> bool:
        """Whether what leaves a nerve at a place leaves beyond the cut. A branch beyond an arc length is so wholly."""
        if self._cut is None:
            return True
        if self._cut.share is not None:
            return nerve != self._own or place not in self._cut.passed
        return self._s.sites[place].order >= self._s.sites[self._cut.place].order

    def _wholly(self, part: str, nerve: str, place: str) -> bool:
        """Skin is reached by a nerve's end, all the rest by twigs along the place."""
        return self._cut is None or nerve != self._own or part == "skin" or place not in self._cut.begun


def _loose(row: Any) -> bool:
    """Whether a row holds in some people, or in some books, only."""
    return getattr(row, "variable", False) or getattr(row, "disputed", False)


def _spared(s: Supply, own: _Segments, lost: set[str], hung: Mapping[str, str]) -> Iterator[Spared]:
    """Muscles that leave before the lesion, then those of the same segments that other nerves serve."""
    for muscle, nerve in hung.items():
        if muscle not in lost:
            yield Spared(muscle, nerve, "leaves before the lesion")
    for name, tested in s.muscles.items():
        if name not in lost and name not in hung and tested.prime and _shared(tested.roots, own):
            by = [n.id for n in s.nerves.values() for row in n.motor if row.muscle == name and not row.variable]
            if by:
                yield Spared(name, by[0], "by another nerve")
