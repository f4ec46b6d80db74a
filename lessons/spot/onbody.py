"""What is wrong with an item on the body that it shows: only a body knows."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import astuple, replace
from itertools import product
from typing import TYPE_CHECKING

from lessons.scenefile import check_ids, known_ids, portal_error
from lessons.spot.idwords import unknown_about, unknown_ids
from lessons.spot.item import Docked, Item, Named, Pointed, Quartered, Rooted
from lessons.spot.quarters import disagreements
from lessons.spot.sitting import asked_view
from lessons.view import Placement, View
from meshes.errors import FurcalError
from meshes.specimen import VARIANTS, Specimen
from meshes.structures import LEVELS, level_key, segments

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.structures import Structure

#: Where a way is sought for a portal that is to be docked: along the disc, and leaned to the head and to the front.
AT = tuple(i / 10 for i in range(11))
TILTS_DEG = (0.0, 10.0, -10.0, 20.0, -20.0)


def lying(item: Item) -> Specimen:
    """The specimen of an item as its portal wants it to lie."""
    portal = item.answer.start if isinstance(item.answer, Docked) else item.view.portal
    if portal is not None:
        return item.specimen.facing_up(portal.side)
    return item.specimen.facing_up(item.answer.side) if isinstance(item.answer, Quartered) else item.specimen


def by_body(items: Iterable[Item]) -> list[Item]:
    """Items of one body one after the other, so that each body is fetched once; else in their order."""
    groups: dict[Specimen, list[Item]] = {}
    for item in items:
        groups.setdefault(lying(item), []).append(item)
    return [item for group in groups.values() for item in group]


def problems(item: Item, body: Body) -> list[str]:
    """Everything that is wrong with an item on its body, a sentence each.

    body : of `lying(item)`
    """
    where = item.where or item.id
    if body.specimen != lying(item):
        return [f"{where}: asked of a body of another specimen; build the body of this one."]
    found = [*_of_ids(item, body, where)]
    return found or [*_of_view(item, body, where), *_of_answer(item, body, where)]


def _of_ids(item: Item, body: Body, where: str) -> Iterator[str]:
    """Ids that the item names and the body lacks."""
    try:
        check_ids(item.view, body, f"{where}, view")
    except FurcalError as error:
        yield str(error)
    key = {Named: "mark", Pointed: "target"}.get(type(item.answer), "")
    ids = [(key, getattr(item.answer, key))] if key else []
    ids += [("lit", id_) for id_ in item.lit]
    yield from unknown_ids(ids, where)
    for key, id_ in ids:
        if id_ in known_ids() and id_ not in body.structures:
            yield f"{where}, {key}: {id_}: this specimen has no such structure; give it that variant or name another."
    unknown = list(unknown_about(item.structure, where))
    yield from unknown
    if not unknown and not _is_about(item.structure, body):
        yield (
            f"{where}, structure: {item.structure}: this specimen has no such structure, level or variant; "
            "name what the item is about."
        )


def _is_about(word: str, body: Body) -> bool:
    own = word in body.structures or any(f"{word}_{side}" in body.structures for side in ("left", "right"))
    return own or word in LEVELS or any(v in (word, f"{word}_left", f"{word}_right") for v in VARIANTS)


def _of_view(item: Item, body: Body, where: str) -> Iterator[str]:
    """What is to be seen and is not."""
    view = asked_view(item)
    if view.camera.name == "portal" and view.portal is None:
        yield f"{where}, view, camera: looks down a portal, and there is none; give view.portal too."
    for name in sorted(view.highlighted):
        if not is_seen(view, body.structures[name]):
            yield f"{where}, view: {name} is marked but not shown; dissect to where it is, or list it under shown."
    if isinstance(item.answer, Pointed) and view.film is None:
        target = item.answer.target
        if view.visibility(body.structures[target]) != "on":
            yield f"{where}, target: {target} is off or glassy in this view and cannot be clicked; list it under shown."
    if view.portal is not None:
        yield from _of_portal(view.portal, body, where)


def is_seen(view: View, structure: Structure) -> bool:
    """Whether a structure is drawn: in the field, or on a film that stands in its place."""
    if view.film is not None and structure.kind == "nerve":
        wires = view.film.nerves
        return not wires or structure.id in wires
    return view.visibility(structure) != "off"


def _of_portal(portal: Placement, body: Body, where: str) -> Iterator[str]:
    from meshes.portal import place

    try:
        place(body, *astuple(portal))
    except FurcalError as error:
        yield str(portal_error(error, where))


def _of_answer(item: Item, body: Body, where: str) -> Iterator[str]:
    match item.answer:
        case Rooted(roots):
            yield from _of_roots(item.structure, roots, body, where)
        case Quartered(disc, _, _) as quarter:
            if f"disc_{level_key(disc)}" not in body.structures:
                yield f"{where}, disc: {disc}: this body has no such disc; name another."
            else:
                yield from (f"{where}, right: {said}" for said in disagreements(quarter, body))
        case Docked() as asked:
            if solution(asked, body) is None:
                yield (
                    f"{where}, portal: no place along the {asked.start.level} disc and no tilt clears every nerve by "
                    f"{asked.clear_mm:g} mm; ask for a smaller radius or another disc."
                )


def _of_roots(structure: str, roots: tuple[str, ...], body: Body, where: str) -> Iterator[str]:
    asked = next(
        (body.structures[n] for n in (structure, f"{structure}_left", f"{structure}_right") if n in body.structures),
        None,
    )
    if asked is None or not asked.roots:
        yield f"{where}, structure: {structure}: its roots are not known; name the nerve that is traced."
    elif asked.roots_are:
        said = asked.roots_are.lower()
        yield f"{where}, structure: {structure}: its segments are its {said}, not its roots; ask another."
    elif set(segments(asked.roots)) != set(roots):
        own = ", ".join(segments(asked.roots))
        yield f"{where}, roots: {', '.join(roots)}: on this body {asked.id} carries {own}; write these."


def solution(asked: Docked, body: Body) -> Placement | None:
    """A place and tilt, radius and depth as at the start, that reach the disc and clear every nerve; None for none."""
    for of, one, known in tuple(_SOLVED):
        if of is body and one == asked:
            return known
    found = _sought(asked, body)
    _SOLVED.append((body, asked, found))
    return found


#: What was sought last, and found.
_SOLVED: deque[tuple[Body, Docked, Placement | None]] = deque(maxlen=128)


def _sought(asked: Docked, body: Body) -> Placement | None:
    from meshes.contact import Ready, dock
    from meshes.portal import place

    ready = Ready.of(body)
    start = asked.start
    for cranial, anterior, at in product(TILTS_DEG, TILTS_DEG, AT):
        tried = replace(start, at=at, cranial_deg=cranial, anterior_deg=anterior)
        try:
            docking = dock(body, place(body, *astuple(tried)), ready)
        except FurcalError:
            continue
        nearest = docking.nerves[0]
        if nearest.clearance_mm >= asked.clear_mm and not nearest.touched and docking.access.reaches_disc:
            return tried
    return None
