"""What may carry a name in a step, the most important first; the page asks its own picture what of it is seen."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from lessons.view import View
from meshes.body import Body
from meshes.structures import other_side
from viewer.actors import stem
from viewer.labels import PRIORITY, is_small, label_name, priority
from viewer.scene import Scene

_KINDS_LEFT = ("nerve",)


def step_names(view: View, scene: Scene, notes: Mapping[str, str], half_mm: float, names: Mapping[str, int]) -> Any:
    """Rows of names, the most important first; none in a view without names.

    notes   : id -> what is said beside the name of what the portal touches
    half_mm : half of what the picture is high
    names   : id -> its number on the page
    """
    if not view.labels:
        return []
    body = scene.body
    nerves = {stem(s.id) for s in body.structures.values() if s.kind == "nerve"}
    rows = [
        _row(name, body, view, notes, priority(body.structures[name], nerves), names)
        for name in scene.looks
        if name in body.structures and _is_named(name, body, view, notes, half_mm)
    ]
    rows.sort(key=lambda row: (not row["sure"], not row["heavy"], row["rank"], row["is"]))
    return rows


def _is_named(name: str, body: Body, view: View, notes: Mapping[str, str], half_mm: float) -> bool:
    traced = name in view.highlighted and body.structures[name].group != "root"
    if traced or name in view.named or name in notes:
        return True
    if view.named:
        return False
    length = float(np.ptp(body.surfaces[name].vertices, axis=0).max())
    return not is_small(body.structures[name], length, 2.0 * half_mm)


def _row(
    name: str, body: Body, view: View, notes: Mapping[str, str], rank: int, names: Mapping[str, int]
) -> dict[str, Any]:
    structure = body.structures[name]
    traced = name in view.highlighted and structure.group != "root"
    main = structure.kind in _KINDS_LEFT and rank == PRIORITY["nerve"]
    return {
        "is": names[name],
        "text": label_name(structure) + (f", {notes[name]}" if name in notes else ""),
        "rank": rank,
        "sure": traced or name in view.named,
        "heavy": traced or (name in notes and not view.highlighted),
        # Side by side one of a pair is named: nerves on the body's left, the rest on its right.
        "twin": names.get(other_side(name), -1),
        "speaks": structure.side == ("left" if main else "right"),
    }
