"""Where the eye of a step stands, in numbers that fit any shape of page, and the way that it follows."""

from __future__ import annotations

from typing import Any

import numpy as np

from lessons.lesson import Step
from lessons.view import View
from meshes.body import Body
from meshes.branches import way_to
from meshes.curves import Array
from meshes.portal import Portal
from viewer.cameras import eye_of
from viewer.export.lesson.pageparts.solids import numbers
from viewer.flight import evenly
from viewer.scene import Scene

#: So wide or narrow a picture that only its height or only its width counts.
_WIDE = 1e6
#: Points of a way that is followed.
_POINTS = 80


def eye_numbers(view: View, scene: Scene, portal: Portal | None) -> dict[str, Any]:
    """Direction, focus, and what a page of any shape must hold around it: half its height and half its width, mm.

    A view that says its own height shows at least a square of it, on a narrow page too.
    """
    side = view.portal.side if view.portal else scene.body.specimen.up or "left"
    region = scene.region_for(view.camera)
    eye, tall, flat = (eye_of(view.camera, region, aspect, side, portal) for aspect in (1.0, _WIDE, 1.0 / _WIDE))
    fits = tall.half_height_mm != flat.half_height_mm
    return {
        "focus": numbers(eye.focus),
        "towards": numbers(eye.axes()[2], 6),
        "up": numbers(eye.up, 6),
        "high": tall.half_height_mm,
        "wide": flat.half_height_mm / _WIDE if fits else tall.half_height_mm,
        "parallel": eye.parallel,
    }


def followed(step: Step, body: Body) -> dict[str, Any] | None:
    """The way of what is lit, from its root to its end, and its length, mm; None for a step that follows nothing."""
    lit = sorted(step.view.highlighted & set(body.centrelines))
    if step.transition != "follow" or not lit:
        return None
    ways = [_way(name, body) for name in lit if body.structures[name].kind == "nerve"]
    way = max(ways or [body.centrelines[lit[0]].points], key=_length)
    return {"points": [numbers(point, 2) for point in evenly(way, _POINTS)], "length": _length(way)}


def _way(name: str, body: Body) -> Array:
    parts = []
    for stretch in way_to(name, body.structures):
        line = body.centrelines.get(stretch.id)
        if line is not None:
            parts.append(line.at(np.linspace(stretch.begin, stretch.end, 60) * line.length))
    return np.concatenate(parts) if parts else body.centrelines[name].points


def _length(points: Array) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
