"""A detector for a part of the body: where some wires run, and with them what tells the reader where he is.

The beam is an ordinary one with a smaller detector, so that marks, names and clicks lie in its own pixels.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np

from meshes.body import Body
from meshes.curves import Array
from meshes.film.filmed import beam_of, centre_mm

#: What is on every such film: from it the vertebrae are counted upwards, and the crest stands beside L4 and L5.
COUNTED_FROM, CREST = "s1_endplate_centre", "iliac_crest_top"
#: A nerve is followed no higher than this; one that goes on below the pelvis, into the thigh, no further than the hip
#: joint: beyond them there is nothing more of the plexus.
TOP, PELVIS_FOOT, HIP = "body_t12_centre", "symphysis_bottom", "hip_centre"
#: Room round what is to be seen, at its depth, and the least that such a film shows: three vertebrae and two discs.
ROOM_MM, LEAST_MM = 20.0, 140.0
#: Axis of the body along the middle ray, by view; in the others the detector is put where the wires are.
ALONG = {"front": 1, "left": 0, "right": 0}


def near(body: Body, view: str, nerves: Collection[str]) -> dict[str, Any]:
    """Middle and side of a detector that sees these nerves; none of those for nerves that the body lacks."""
    points = _to_be_seen(body, [name for name in nerves if name in body.centrelines])
    if points is None:
        return {}
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    middle[ALONG[view]] = centre_mm(body, view)[ALONG[view]]
    beam = beam_of(body, view, centre_mm=middle)
    away = np.abs(beam.project(points) + 0.5 - 0.5 * np.array([beam.width, beam.height])).max() * beam.pixel_mm
    grown = beam.magnification(middle)
    whole = beam.pixel_mm * beam.width
    return {"centre_mm": middle, "field_mm": min(whole, max(2.0 * away + 2.0 * ROOM_MM * grown, LEAST_MM * grown))}


def _to_be_seen(body: Body, nerves: Collection[str]) -> Array | None:
    """Points (n, 3), mm, that fall on the film."""
    if not nerves:
        return None
    sides = sorted({body.structures[name].side for name in nerves} & {"left", "right"})
    landmarks = [body.landmarks[name] for name in (COUNTED_FROM, *(f"{CREST}_{side}" for side in sides))]
    return np.concatenate([*(_followed(body, name) for name in nerves), np.stack(landmarks)])


def _followed(body: Body, name: str) -> Array:
    """The part of a nerve (n, 3), mm, that is to be on the film; all of a nerve that lies elsewhere."""
    points, side = body.centrelines[name].points, body.structures[name].side
    high, low = float(body.landmarks[TOP][2]), float(points[:, 2].min())
    if low < body.landmarks[PELVIS_FOOT][2] and side in ("left", "right"):
        low = float(body.landmarks[f"{HIP}_{side}"][2])
    kept: Array = points[(points[:, 2] <= high) & (points[:, 2] >= low)]
    return kept if len(kept) else points
