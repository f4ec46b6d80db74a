"""From where a structure is seen: the first of some views in which enough of it lies open to the eye."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from lessons.spot.made.draft import Asked
from lessons.view import Camera, View
from meshes.nearby import facing
from meshes.opening import opening
from meshes.structures import DISSECTION, SIDES

if TYPE_CHECKING:
    from meshes.curves import Array
    from meshes.structures import Structure

#: Directions of sight of the named views that may be asked from, and what is said of them.
SIGHT = {"front": (0.0, 1.0, 0.0), "left": (-1.0, 0.0, 0.0), "right": (1.0, 0.0, 0.0), "back": (0.0, -1.0, 0.0)}
FROM = {"front": "in front", "left": "the left", "right": "the right", "back": "behind"}
#: Share of a structure that must lie open; so many of its places are asked.
OPEN = 0.35
_PLACES = 40
_FAR_MM = 1500.0
#: Half of the height of a picture: so much more than the structure, within these.
_ROOM, _HALF_MM = 0.7, (60.0, 260.0)


def view_of(asked: Asked, id_: str) -> View | None:
    """A view in which enough of a structure lies open; None where there is none."""
    if id_ not in asked.seen:
        asked.seen[id_] = _best(asked, id_)
    return asked.seen[id_]


def told_from(view: View) -> str:
    """How a view is told at the head of a question."""
    return f"Seen from {FROM[view.camera.name]}."


def _best(asked: Asked, id_: str) -> View | None:
    structure = asked.body.structures[id_]
    points = places_on(asked, id_)
    size = float(np.ptp(points, axis=0).max())
    half = min(max(_ROOM * size, _HALF_MM[0]), _HALF_MM[1])
    for layer, camera in product(_layers(structure), _cameras(structure)):
        view = View(
            camera=Camera(camera, on=frozenset({id_}), half_height_mm=round(half)), dissection=layer, labels=False
        )
        if view.visibility(structure) == "on" and open_share(asked, view, id_, points) >= OPEN:
            return view
    return None


def _layers(structure: Structure) -> tuple[str, ...]:
    """Dissections, the least deep first: with a nerve's own layer on, then with more off."""
    first = DISSECTION.index(structure.layer)
    if structure.kind != "skin":
        first = max(first, DISSECTION.index("fat") + 1)
    return DISSECTION[first:]


def _cameras(structure: Structure) -> tuple[str, ...]:
    side = [structure.side] if structure.side in SIDES else []
    return ("front", *side, "back")


def places_on(asked: Asked, id_: str) -> Array:
    """Places (n, 3), mm, spread over a structure: along its middle line, or over its surface."""
    line = asked.body.centrelines.get(id_)
    if line is not None:
        return line.at(np.linspace(0.02, 0.98, _PLACES) * line.length)
    corners = asked.body.surfaces[id_].vertices
    out: Array = corners[:: max(1, len(corners) // _PLACES)]
    return out


def open_share(asked: Asked, view: View, id_: str, points: Array) -> float:
    """The share of places of a structure over which it is the first thing that a line of sight meets."""
    body, nearby = asked.body, asked.ready.nearby
    lifted = opening().cuts if view.bodies_lifted else {}
    names = {n for n, s in body.structures.items() if view.visibility(s) == "on" and (n == id_ or n not in lifted)}
    towards = np.array(SIGHT[view.camera.name])
    start = points.mean(axis=0) - _FAR_MM * towards
    across = (points - start) @ facing(towards)[:2].T
    met = nearby.pierced(names, start, start + 2.0 * _FAR_MM * towards, across)
    order = np.lexsort((met.depth, met.ray))
    ray, first = np.unique(met.ray[order], return_index=True)
    owner = met.owner[order][first]
    return float((owner == nearby.ids.index(id_)).sum() / len(points)) if len(ray) else 0.0
