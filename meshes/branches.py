"""The branch tree of the courses: what carries fibres to a nerve, what leaves it, and one way through it.

A course leaves its parent (`from`, at the share `leaves` of the parent's length) and may end in a target (`to`, at the
share `joins`). Fibres run parent -> course -> target; what joins further out than a branch leaves does not reach it.
Vessels hang together in the same words, from the aorta and the vena cava outwards. Solids have no tree.
"""

from __future__ import annotations

from collections.abc import Container, Iterator
from dataclasses import dataclass

from meshes.courses import Course
from meshes.errors import FurcalError
from meshes.reference import all_courses
from meshes.structures import segments, side_of


@dataclass(frozen=True)
class Stretch:
    """The part of one structure that a way runs through: shares of its length, 0 at the spine."""

    id: str
    begin: float
    end: float


def roots_of(structure_id: str, present: Container[str]) -> tuple[str, ...]:
    """Every id that carries fibres to a structure, on its own side, and the structure itself last.

    present : ids that the body has; others are left out

    Roots first, then all ganglia, all rami and so on outwards: nothing stands before what it comes from. Branches of a
    nerve take only the roots that their table gives them (the saphenous nerve of L3 and L4 gets none of L2), and in
    any case what a variant adds. Raises FurcalError for an id that the body does not have.
    """
    _check(structure_id, present)
    depth: dict[str, int] = {}

    def visit(name: str, until: float, wanted: frozenset[str]) -> int:
        found = [visit(*feeder) + 1 for feeder in _feeders(name, until, wanted, present)]
        depth[name] = max([*found, depth.get(name, 0)])
        return depth[name]

    visit(structure_id, 1.0, _segments(structure_id))
    return tuple(sorted(depth, key=lambda name: (depth[name], _place(name))))


def branches_of(structure_id: str, present: Container[str]) -> tuple[str, ...]:
    """What leaves a structure directly, in the order in which it does, and then what the structure itself ends in.

    The branches of a ramus are its divisions; a division ends in its nerve. Raises FurcalError as `roots_of` does.
    """
    _check(structure_id, present)
    bare, side = _bare(structure_id)
    courses = all_courses()
    if bare not in courses:
        return ()
    leaving = sorted((c.leaves, n) for n, c in courses.items() if c.parent == bare)
    ids = [_sided(name, side) for name in (*(n for _, n in leaving), courses[bare].target) if name]
    return tuple(i for i in ids if i in present)


def nerve_of(structure_id: str) -> tuple[str, str]:
    """The named nerve that a structure is a piece of, and its side: an id without side, or `l3_spinal_nerve`.

    Roots, ganglia and rami belong to the spinal nerve of their segment; a share or a division to the nerve that it ends
    in; what carries its nerve's id before its own name is a branch of it. Anything else is what it is itself, also what
    no table of courses knows.
    """
    bare, side = _bare(structure_id)
    courses = all_courses()
    while bare in courses:
        course = courses[bare]
        if course.structure.group == "root":
            return f"{course.structure.roots.lower()}_spinal_nerve", side
        if course.structure.kind == "nerve" and course.target:
            bare = course.target
        elif course.structure.kind == "nerve" and course.parent and bare.startswith(f"{course.parent}_"):
            bare = course.parent
        else:
            break
    return bare, side


def parts_of_way(structure_id: str, present: Container[str]) -> list[str]:
    """The ids of `way_to`, for whoever needs no shares."""
    return [stretch.id for stretch in way_to(structure_id, present)]


def way_to(structure_id: str, present: Container[str]) -> list[Stretch]:
    """One chain from a root to the structure's end, each part from where the way enters it to where it leaves it.

    A branch is entered from the nerve that it leaves. Where several courses join to a nerve, the way takes the
    thickest, which brings most fibres; of equally thick ones that which joins first, so that most of the nerve is seen
    on the way: to the femoral and the obturator nerve it is L3, the middle root. Raises FurcalError as `roots_of` does.
    """
    _check(structure_id, present)
    chain = [Stretch(structure_id, 0.0, 1.0)]
    wanted = _segments(structure_id)
    while True:
        name = chain[0].id
        feeders = list(_feeders(name, chain[0].end, wanted, present))
        if not feeders:
            return chain
        parent = _course(name).parent
        if not parent:
            feeders.sort(key=lambda f: (-_thickness(f[0]), _course(f[0]).joins))
            chain[0] = Stretch(name, _course(feeders[0][0]).joins, chain[0].end)
        chain.insert(0, Stretch(feeders[0][0], 0.0, feeders[0][1]))
        wanted = feeders[0][2]


def _feeders(
    name: str, until: float, wanted: frozenset[str], present: Container[str]
) -> Iterator[tuple[str, float, frozenset[str]]]:
    """What brings fibres to a structure before the share `until`, its parent first.

    Yields the id, the share of its own length up to which it does, and the segments that are wanted of it.
    """
    bare, side = _bare(name)
    courses = all_courses()
    if bare not in courses:
        return
    parent = _sided(courses[bare].parent, side) if courses[bare].parent else ""
    if parent in present:
        yield parent, courses[bare].leaves, wanted
    for other, course in courses.items():
        if course.target != bare or course.joins > until or _sided(other, side) not in present:
            continue
        own = frozenset(segments(course.structure.roots))
        if course.variant:
            yield _sided(other, side), 1.0, wanted | own
        elif not wanted or wanted & own:
            yield _sided(other, side), 1.0, wanted


def _check(structure_id: str, present: Container[str]) -> None:
    if structure_id not in present:
        raise FurcalError(f"{structure_id!r}: this body has no such part; look for it by its name, or open a specimen.")


def _bare(name: str) -> tuple[str, str]:
    """An id as the tables of courses write it, and its side; a course of one side only keeps the side in its id."""
    side = side_of(name)
    stem = name.removesuffix(f"_{side}") if side else name
    return (stem, side) if stem in all_courses() else (name, side)


def _sided(bare: str, side: str) -> str:
    return f"{bare}_{side}" if side and all_courses()[bare].paired else bare


def _course(name: str) -> Course:
    return all_courses()[_bare(name)[0]]


def _segments(name: str) -> frozenset[str]:
    bare = _bare(name)[0]
    return frozenset(segments(all_courses()[bare].structure.roots)) if bare in all_courses() else frozenset()


def _place(name: str) -> int:
    """Where a course stands in the tables; what stands in none comes first."""
    bare = _bare(name)[0]
    return list(all_courses()).index(bare) if bare in all_courses() else -1


def _thickness(name: str) -> float:
    """Radius, mm, with which a course ends."""
    way = _course(name).way
    return way[-1].radius if way else 0.0
