"""Independent look-ups on a body: whether an answer is right, found otherwise than items are made."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np

from lessons.spot.item import QUARTERS, Chosen, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.made.differs import bare_variant, shown_by
from meshes.access import access
from meshes.body import Body, load_body
from meshes.contact import Ready
from meshes.curves import Array
from meshes.nearby import crossings
from meshes.portal import Portal, place
from meshes.reference import all_courses
from meshes.structures import LEVELS, Structure, segments
from meshes.supply import Motor, ReflexSupply, Skin, supply
from meshes.tables import ANATOMY, read_toml

Row = Motor | Skin | ReflexSupply


# --- what a cut reaches, by a walk of its own along the branch tree


def reached(body: Body, id_: str, place_: str | None, cut: frozenset[str]) -> Iterator[tuple[str, Row, frozenset[str]]]:
    """Nerve, row, and the segments cut in it, of everything beyond a place of a nerve."""
    s, side = supply(), id_.rsplit("_", 1)[1]
    bare = id_.removesuffix(f"_{side}")
    order = {name: site.order for name, site in s.sites.items()}
    if bare in s.nerves:
        rows: list[Row] = [*s.nerves[bare].motor, *s.nerves[bare].skin, *s.nerves[bare].reflexes]
        for row in rows:
            if place_ is None or order[row.at] >= order[place_]:
                roots = getattr(row, "roots", "") or s.reflexes[row.reflex].roots  # type: ignore[union-attr]
                if cut & set(segments(roots)):
                    yield bare, row, cut & frozenset(segments(roots))
    courses = all_courses()
    children = [n for n, c in courses.items() if c.parent == bare]
    if place_ is not None:
        first = {n: s.nerves[n].way[0] if n in s.nerves else place_ for n in children}
        children = [n for n in children if courses[n].leaves >= 1.0 or order[first[n]] >= order[place_]]
    for child in (*children, *filter(None, [courses[bare].target])):
        own = cut & frozenset(segments(courses[child].structure.roots))
        if own and f"{child}_{side}" in body.structures:
            yield from reached(body, f"{child}_{side}", None, own)


def rows_of(body: Body, id_: str, place_: str) -> list[tuple[str, Row, frozenset[str]]]:
    return list(reached(body, id_, place_, frozenset(segments(body.structures[id_].roots))))


def movements_touched(rows: list[tuple[str, Row, frozenset[str]]]) -> set[str]:
    """Every movement of which a muscle hangs on what is lost, however unsurely."""
    muscles = [supply().muscles[row.muscle] for _, row, _ in rows if isinstance(row, Motor)]
    return {m for muscle in muscles for m in (muscle.movement, *muscle.also)}


def movements_sure(rows: list[tuple[str, Row, frozenset[str]]]) -> set[str]:
    sure = [row for _, row, _ in rows if isinstance(row, Motor) and not row.variable and not row.disputed]
    return {supply().muscles[row.muscle].movement for row in sure if supply().muscles[row.muscle].prime}


def patches_touched(rows: list[tuple[str, Row, frozenset[str]]]) -> set[str]:
    own = {row.patch for _, row, _ in rows if isinstance(row, Skin)}
    return own | {q for q, p in supply().patches.items() if own & set(p.overlaps)}


def patches_sure(rows: list[tuple[str, Row, frozenset[str]]]) -> set[str]:
    return {row.patch for _, row, _ in rows if isinstance(row, Skin) and not row.variable}


def reflexes_touched(rows: list[tuple[str, Row, frozenset[str]]]) -> set[str]:
    return {row.reflex for _, row, _ in rows if isinstance(row, ReflexSupply)}


def reflexes_sure(rows: list[tuple[str, Row, frozenset[str]]]) -> set[str]:
    return {row.reflex for _, row, _ in rows if isinstance(row, ReflexSupply) and not row.disputed}


# --- items


def plain(words: str) -> str:
    return words.strip().rstrip(".").casefold()


def cut_of(item: Item) -> str:
    """The place of the cut that the vignette tells."""
    places = {site.name.split(",")[0]: name for name, site in supply().sites.items()}
    told = [name for words, name in places.items() if item.vignette.endswith(f" is cut {words}.")]
    assert len(told) == 1, item.vignette
    return told[0]


def lost_options(item: Item, body: Body) -> tuple[set[str], set[str]]:
    """Options that are surely right, and options that are perhaps right, of an item on a loss or its test."""
    s, rows = supply(), rows_of(body, item.structure, cut_of(item))
    if "movement" in item.ask:
        return movements_sure(rows), movements_touched(rows)
    if "reflex" in item.ask:
        names = {r: row.name for r, row in s.reflexes.items()}
        return {names[r] for r in reflexes_sure(rows)}, {names[r] for r in reflexes_touched(rows)}
    if "test of strength" in item.ask:
        sure, touched = movements_sure(rows), movements_touched(rows)
        prime = [m for m in s.muscles.values() if m.prime]
        own = {row.muscle for _, row, _ in rows if isinstance(row, Motor)}
        right = {m.test for m in prime if m.movement in sure and m.id in own}
        return right, {m.test for m in s.muscles.values() if {m.movement, *m.also} & touched}
    key = "test_at" if "touch" in item.ask else "name"
    names = {p: getattr(row, key) for p, row in s.patches.items()}
    return {names[p] for p in patches_sure(rows)}, {names[p] for p in patches_touched(rows)}


def check_lost(item: Item, body: Body) -> None:
    assert isinstance(item.answer, Chosen)
    sure, perhaps = ({plain(words) for words in found} for found in lost_options(item, body))
    assert plain(item.answer.right) in sure, item.id
    assert not [w for w in item.answer.wrong if plain(w) in perhaps], item.id


def told_findings(vignette: str) -> list[tuple[str, str]]:
    """The findings of a complaint, read back from its words."""
    s = supply()
    told = vignette.split(": ", 1)[1].rstrip(".")
    found = []
    for part in told.split("; "):
        if weak := re.fullmatch(r"(.*) is weak", part):
            assert weak[1] in {m.movement for m in s.muscles.values()}
            found.append(("weak", weak[1]))
        elif jerk := re.fullmatch(r"the (.*) is less or lost", part):
            found.append(("lost", next(r for r, row in s.reflexes.items() if row.name == jerk[1])))
        else:
            name = part.removeprefix("the skin is numb here: ")
            found.append(("numb", next(p for p, row in s.patches.items() if row.name == name)))
    assert found
    return found


def check_found(item: Item, body: Body) -> None:
    """The right nerve surely costs all that is told at some place; no other one may cost all of it at any."""
    assert isinstance(item.answer, Chosen)
    told, side = told_findings(item.vignette), item.structure.rsplit("_", 1)[1]
    for option in item.answer.options:
        owners = [s.id for s in body.structures.values() if s.side == side and plain(s.name) == plain(option)]
        assert len(owners) == 1, option
        of = supply().nerves[owners[0].removesuffix(f"_{side}")]
        sure, perhaps = [], []
        for place_ in of.way:
            rows = rows_of(body, owners[0], place_)
            has = {"weak": movements_sure(rows), "lost": reflexes_sure(rows), "numb": patches_sure(rows)}
            may = {"weak": movements_touched(rows), "lost": reflexes_touched(rows), "numb": patches_touched(rows)}
            sure.append(all(id_ in has[part] for part, id_ in told))
            perhaps.append(all(id_ in may[part] for part, id_ in told))
        if option == item.answer.right:
            assert owners[0] == item.structure
            assert any(sure), item.id
        else:
            assert not any(perhaps), (item.id, option)


def check_traced(item: Item, body: Body) -> None:
    assert isinstance(item.answer, Rooted)
    assert item.answer.roots == segments(body.structures[item.structure].roots)


def check_named(item: Item, body: Body) -> None:
    """What is marked is what the item is about, and no other structure of the body is called so."""
    assert isinstance(item.answer, (Named, Pointed))
    id_ = item.answer.mark if isinstance(item.answer, Named) else item.answer.target
    assert id_ == item.structure
    own = body.structures[id_]
    same = {s.id for s in body.structures.values() if s.name.casefold() == own.name.casefold() and s.side == own.side}
    assert same == {id_}


def structure_called(body: Body, words: str, side: str) -> Structure:
    found = [
        s for s in body.structures.values()
        if re.sub(r"^(left|right) ", "", s.name).casefold() == words.casefold() and s.side in ("", side)
    ]  # fmt: skip
    assert len(found) == 1, words
    return found[0]


def level_of(item: Item) -> str:
    assert item.structure in LEVELS
    return item.structure


def side_told(item: Item) -> str:
    return str(re.findall(r"\b(left|right)\b", item.ask)[0])


def check_ordered(item: Item, body: Body) -> None:
    assert isinstance(item.answer, Ordered)
    side, level = side_told(item), level_of(item)
    ids = [structure_called(body, word, side).id for word in item.answer.right]
    if "portal" in item.ask:
        approach = re.findall(r"A (\w+) portal", item.ask)[0]
        portal = place(body, level, side, approach, 0.5, 8.0)
        depths = [first_met(body, portal, id_) for id_ in ids]
        assert all(b - a >= 1.0 for a, b in pairwise(depths)), (item.id, depths)
        return
    frame = body.landmarks.frames[f"disc_{level.lower().replace('-', '_')}"]
    backs = []
    for id_ in ids:
        line = body.centrelines[id_]
        local = frame.local(line.at(np.linspace(0.0, line.length, 4000)))
        backs.append(float(local[np.abs(local[:, 2]).argmin(), 1]))
    assert all(b - a >= 4.0 for a, b in pairwise(backs)), (item.id, backs)


def first_met(body: Body, portal: Portal, id_: str) -> float:
    """Depth at which the axis first enters a structure."""
    start = portal.entry_mm - 1.0 * portal.direction
    depth, sign = crossings(body.surfaces[id_], start, portal.direction)
    return float(depth[(sign > 0) & (depth > 0.0)].min())


@cache
def nerve_points(body: Body) -> tuple[Array, Array]:
    """Points (n, 3) of the middle lines of all nerves, 0.4 mm apart, and the radii (n,) there."""
    points, radii = [], []
    for id_ in body.ids("nerve"):
        line = body.centrelines[id_]
        at = np.arange(0.0, line.length, 0.4)
        points.append(line.at(at))
        radii.append(np.interp(at, line.arc, line.radius))
    return np.concatenate(points), np.concatenate(radii)


def nearest_gap(body: Body, portal: Portal) -> float:
    """Least distance between the portal and any nerve, by brute force over points of their middle lines."""
    points, radius = nerve_points(body)
    seen = points - portal.entry_mm
    depth = seen @ portal.direction
    away = np.linalg.norm(seen - depth[:, None] * portal.direction, axis=1) - portal.radius_mm
    beyond = np.maximum(np.maximum(-depth, depth - portal.length_mm), 0.0)
    within = np.maximum(away, np.maximum(-depth, depth - portal.length_mm))
    gap = np.where(within > 0.0, np.hypot(np.maximum(away, 0.0), beyond), within)
    return float((gap - radius).min())


def check_quartered(item: Item, body: Body) -> None:
    assert isinstance(item.answer, Quartered)
    radius = float(re.findall(r"of ([\d.]+) mm radius", item.ask)[0])
    lean = float((re.findall(r"leaned ([\d.]+) degrees to the head", item.ask) or ["0"])[0])
    assert 0 < len(item.answer.right) < len(QUARTERS)
    for i, quarter in enumerate(QUARTERS):
        free = []
        for share in np.linspace(0.01, 0.99, 15):
            at = 1.0 - (i + float(share)) / 4.0
            portal = place(body, item.answer.disc, item.answer.side, "lateral", at, radius, 0.0, lean)
            assert portal.quarter == quarter
            free.append(nearest_gap(body, portal) > 0.0 and access(body, portal, Ready.of(body).nearby).reaches_disc)
        assert any(free) == (quarter in item.answer.right), (item.id, quarter)


def check_differs(item: Item, body: Body) -> None:
    """The right variant changes what the table says of it, against the same body without; no wrong one does."""
    assert isinstance(item.answer, Chosen)
    table = read_toml(ANATOMY / "variants.toml")
    words = {plain(str(row["says"])): name for name, row in table.items() if name != "spread"}
    bare, side = bare_variant(item.structure)
    assert words[plain(item.answer.right)] == bare
    assert item.structure in body.specimen.variants
    usual = load_body(replace(body.specimen, variants=frozenset()))
    assert any(differs_in(body, usual, id_) for id_ in shown_by(item.structure))
    for option in item.answer.wrong:
        other = words[plain(option)]
        for sided in (f"{other}_{s}" for s in ([side] if side else ["left", "right"])):
            name = other if other == "aorta_divides_high" else sided
            own = set(shown_by(name)) - {i for v in body.specimen.variants for i in shown_by(v)}
            assert name not in body.specimen.variants
            assert not any(differs_in(body, usual, id_) for id_ in own), (item.id, option)


def differs_in(body: Body, other: Body, id_: str) -> bool:
    if (id_ in body.centrelines) != (id_ in other.centrelines):
        return True
    if id_ not in body.centrelines:
        return False
    along = np.linspace(0.0, 1.0, 200)
    here, there = (line.at(along * line.length) for line in (body.centrelines[id_], other.centrelines[id_]))
    return bool(np.linalg.norm(here - there, axis=1).max() > 0.5)


CHECKS = {
    "name": check_named, "point": check_named, "wire": check_named, "trace": check_traced, "order": check_ordered,
    "predict": check_lost, "examine": check_lost, "find": check_found, "quarter": check_quartered,
    "differs": check_differs,
}  # fmt: skip
