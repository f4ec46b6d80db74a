"""Items that ask for an order: what a portal passes, and nerves from the front to the back of a disc."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple
from functools import partial
from itertools import pairwise, product
from random import Random

import numpy as np

from lessons.readout import plain, small
from lessons.spot.bank import ORDER
from lessons.spot.item import Ordered
from lessons.spot.made.draft import Asked, Draft, Making
from lessons.spot.made.told import sourced
from lessons.spot.wordbook import bare_id
from lessons.view import Camera, Placement, View
from meshes.branches import nerve_of
from meshes.errors import FurcalError
from meshes.risk import approach_risk
from meshes.structures import APPROACHES, LEVELS, SIDES, level_key

#: The portal whose way is asked for.
RADIUS_MM, AT = 8.0, 0.5
#: Two layers, and two nerves, are in a clear order when they lie so far apart, mm.
LAYERS_APART_MM, NERVES_APART_MM = 2.0, 5.0
#: Nerves further before or behind the disc are not asked, shares of its depth.
BESIDE = 0.6


def layer_items(asked: Asked) -> Iterator[Making]:
    """What the axis of a portal passes from the skin to the disc."""
    for approach, level, side in product(APPROACHES, LEVELS, SIDES):
        if level in approach_risk()[approach].levels:
            key = f"{approach}_{level_key(level)}_{side}"
            yield key, partial(_layers, asked, Placement(level, side, approach, AT, RADIUS_MM), key)


def _layers(asked: Asked, portal: Placement, key: str) -> Draft | None:
    from meshes.contact import dock
    from meshes.portal import place

    try:
        docking = dock(asked.body, place(asked.body, *astuple(portal)), asked.ready)
    except FurcalError:
        return None
    if not docking.access.reaches_disc:
        return None
    own = [y for y in docking.layers if y.by == "axis" and y.id in asked.body.structures]
    once = [y for y in own if sum(other.id == y.id for other in own) == 1]
    chain = once[:1]
    for layer in once[1:]:
        if layer.from_mm - chain[-1].from_mm >= LAYERS_APART_MM and layer.from_mm >= chain[-1].to_mm - 0.5:
            chain.append(layer)
    words = [_layer_word(asked, y.id) for y in chain]
    across = any(asked.body.structures[y.id].side not in ("", portal.side) for y in chain)
    if across or len(chain) < ORDER[0] or len(set(words)) != len(words):
        return None  # a word would stand for the same structure of either side
    kept = _thinned(len(chain), key)
    right = tuple(words[i] for i in kept)
    risk = approach_risk()[portal.approach]
    met = {bare_id(asked.body.structures[y.id]) for y in chain} | {"disc"}
    stages = [one for one in risk.stages if met & set(one.crosses)]
    told = " ".join(sourced(f"{one.name}: {one.told.says}", one.told.sources) for one in stages)
    return Draft(
        "order", f"layers_{key}", "approach", portal.level,
        f"{_lies(asked, portal.side)} A {portal.approach} portal goes to the middle of the "
        f"{portal.level} disc. On this body, put in order what its axis passes, from outside inwards.",
        told, View(camera=Camera(portal.side), dissection="external_oblique", labels=False), asked.body.specimen,
        Ordered(right), depth="understand", lit=tuple(chain[i].id for i in kept),
    )  # fmt: skip


def _layer_word(asked: Asked, id_: str) -> str:
    return small(plain(asked.body.structures[id_]))


def _thinned(count: int, key: str) -> list[int]:
    """Which of so many stay where there are too many: the same for the same question."""
    return sorted(Random(key).sample(range(count), min(count, ORDER[1])))


def nerve_items(asked: Asked) -> Iterator[Making]:
    """Nerves of one side from the front to the back where they pass a disc."""
    for level, side in product(LEVELS, SIDES):
        yield f"{level_key(level)}_{side}", partial(_nerves, asked, level, side)


def _nerves(asked: Asked, level: str, side: str) -> Draft | None:
    body = asked.body
    chain: list[tuple[float, str]] = []
    for back, id_ in sorted(passing(asked, level, side)):
        if not chain or back - chain[-1][0] >= NERVES_APART_MM:
            chain.append((back, id_))
    words = tuple(small(plain(body.structures[id_])) for _, id_ in chain)
    if not ORDER[0] <= len(words) <= ORDER[1] or len(set(words)) != len(words):
        return None
    disc = f"disc_{level_key(level)}"
    view = View(
        camera=Camera(side, on=frozenset({disc}), half_height_mm=70.0), dissection="iliacus_quadratus", labels=False
    )
    explain = " ".join(
        f"{words[i][:1].upper()}{words[i][1:]} passes in front of {words[i + 1]} there. [judgement]"
        for i, _ in enumerate(pairwise(words))
    )
    return Draft(
        "order", f"nerves_{level_key(level)}_{side}", "relations", level,
        f"Seen from the {side}. On this body, put in order the nerves of the {side} side where they pass the plane of "
        f"the {level} disc, from the front to the back.",
        explain, view, body.specimen, Ordered(words), depth="understand", lit=tuple(id_ for _, id_ in chain),
    )  # fmt: skip


def passing(asked: Asked, level: str, side: str) -> list[tuple[float, str]]:
    """How far back, mm, each nerve of a side passes the plane of a disc beside it, once; named nerves only."""
    from meshes.outline import disc_outline

    body, disc = asked.body, f"disc_{level_key(level)}"
    frame = body.landmarks.frames[disc]
    outline = disc_outline(body.surfaces[disc], frame)
    found = []
    for id_, line in body.centrelines.items():
        structure = body.structures[id_]
        if structure.kind != "nerve" or structure.side != side or nerve_of(id_)[0] != id_.removesuffix(f"_{side}"):
            continue
        local = frame.local(line.points)
        up = local[:, 2]
        cuts = np.flatnonzero(up[:-1] * up[1:] <= 0.0)
        if len(cuts) != 1:
            continue
        i = int(cuts[0])
        t = up[i] / (up[i] - up[i + 1]) if up[i] != up[i + 1] else 0.0
        point = local[i] + t * (local[i + 1] - local[i])
        if -BESIDE <= outline.fraction(point[:2]) <= 1.0 + BESIDE:
            found.append((float(point[1]), id_))
    return found


def _lies(asked: Asked, side: str) -> str:
    """How the body lies, at the head of a question."""
    posture = asked.body.specimen.posture
    return f"The body lies on its side, {side} side up." if posture == "side_lying" else f"The body lies {posture}."
