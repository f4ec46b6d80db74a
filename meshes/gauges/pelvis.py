"""Gauges of the pelvis in its own plane, of the spine's curve, and of the ribs.

The anterior pelvic plane (APP) rests on both ASIS and the front of the pubis, as a pelvis does that lies face down.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from meshes.body import Body
from meshes.curves import Array
from meshes.gauges.parts import disc_frame, sign_of, snapped, surface_of
from meshes.gauges.space import Depth, angle_deg
from meshes.landmarks import Frame
from meshes.spine import body_wedge_deg
from meshes.structures import SIDES
from meshes.surfaces import Surface

#: The tubercle is the foremost point of the pubis this far from the midline, mm: the series' own definition.
_TUBERCLE_MM = (18.0, 34.0)
#: Within this of its landmark the surface is searched for the ASIS, mm.
_ASIS_REACH_MM = 15.0
#: Surfaces closer than this lie against each other, mm: the gap that solids keep, and half a grid step of each.
_TOUCHING_MM = 3.0


def app(body: Body) -> Frame:
    """The pelvis' own frame: origin half way between both ASIS, left along them, up in the plane, back behind it."""
    left, right = asis(body, "left"), asis(body, "right")
    pubis = pubis_front(body)
    origin, across = (left + right) / 2.0, left - right
    across = across / np.linalg.norm(across)
    up = origin - pubis
    up = up - (up @ across) * across
    up = up / np.linalg.norm(up)
    return Frame(origin, np.stack([across, np.cross(up, across), up]))


def pubis_front(body: Body) -> Array:
    """The foremost point (3,), mm, of the pubis: what the pelvis rests on in front, beside both ASIS."""
    hips = np.concatenate([surface_of(body, f"hip_{side}").vertices for side in SIDES])
    low = hips[hips[:, 2] < body.landmarks["hip_centre_left"][2]]
    out: Array = low[int(np.argmin(low[:, 1]))]
    return out


def asis(body: Body, side: str) -> Array:
    """The foremost point (3,), mm, of the hip bone about the ASIS landmark."""
    vertices = surface_of(body, f"hip_{side}").vertices
    near = vertices[np.linalg.norm(vertices - body.landmarks[f"asis_{side}"], axis=1) < _ASIS_REACH_MM]
    if not len(near):
        return snapped(body, f"hip_{side}", f"asis_{side}")
    out: Array = near[int(np.argmin(near[:, 1]))]
    return out


def tubercle(body: Body, side: str) -> Array:
    """The foremost point (3,), mm, of the pubis beside the midline."""
    local = app(body).local(surface_of(body, f"hip_{side}").vertices)
    across = np.abs(local[:, 0])
    rows = np.flatnonzero((across > _TUBERCLE_MM[0]) & (across < _TUBERCLE_MM[1]) & (local[:, 2] < 0.0))
    out: Array = surface_of(body, f"hip_{side}").vertices[rows[int(np.argmin(local[rows, 1]))]]
    return out


def crest_top(body: Body, side: str) -> Array:
    """The highest point (3,), mm, of the iliac crest above the APP's origin, in body coordinates."""
    vertices = surface_of(body, f"hip_{side}").vertices
    out: Array = vertices[int(np.argmax(app(body).local(vertices)[:, 2]))]
    return out


def pelvic_distance(body: Body, measure: str) -> float:
    """One breadth or length of the pelvis, mm: see `_DISTANCES`."""
    return float(_DISTANCES[measure](body))


def pelvic_place(body: Body, point: str, along: str) -> float:
    """How far above the ASIS line, behind the APP, below the ASIS line, or lateral a point lies, mm."""
    frame = app(body)
    places = [frame.local(p) for p in _points(body, point)]
    axis, sign = {"above": (2, 1.0), "below": (2, -1.0), "behind": (1, 1.0), "lateral": (0, 1.0)}[along]
    values = [sign * p[axis] for p in places]
    return float(np.mean(np.abs(values) if along == "lateral" else values))


def pelvic_incidence(body: Body) -> float:
    """Angle, degrees, between the normal of the S1 endplate and the line from its centre to the hip axis."""
    hips = (body.landmarks["hip_centre_left"] + body.landmarks["hip_centre_right"]) / 2.0
    centre = _s1_centre(body)
    slope = body.landmarks["promontory"] - body.landmarks["s1_endplate_back"]
    down = np.cross(slope, np.array([1.0, 0.0, 0.0]))
    down = down if down[2] < 0.0 else -down
    return angle_deg((hips - centre) * np.array([0.0, 1.0, 1.0]), down)


def s1_angle_to_app(body: Body) -> float:
    """Angle, degrees, of the S1 endplate, back to front, below the normal of the APP."""
    slope = app(body).axes @ (body.landmarks["promontory"] - body.landmarks["s1_endplate_back"])
    return float(np.degrees(np.arctan2(-slope[2], -slope[1])))


def crests_above_disc(body: Body, level: str) -> float:
    """Height, mm, of the line over both crests above the middle of a disc, upright as on a film."""
    tops = [float(surface_of(body, f"hip_{side}").vertices[:, 2].max()) for side in SIDES]
    return float(np.mean(tops) - disc_frame(body, level).origin[2])


def lordosis(body: Body, above: str) -> float:
    """Angle, degrees, between the upper endplate of a vertebra and that of S1."""
    slope = body.landmarks["promontory"] - body.landmarks["s1_endplate_back"]
    return _upper_endplate_deg(body, above) - float(np.degrees(np.arctan2(slope[2], -slope[1])))


def segment_lordosis(body: Body, above: str, below: str) -> float:
    """Angle, degrees, between the upper endplates of two neighbouring vertebrae: body and disc together."""
    return lordosis(body, above) - (0.0 if below == "s1" else lordosis(body, below))


def _upper_endplate_deg(body: Body, vertebra: str) -> float:
    """Rise, degrees, of an upper endplate towards the front."""
    front = -body.landmarks.frames[vertebra].axes[1]
    return float(np.degrees(np.arctan2(front[2], -front[1]))) + body_wedge_deg(vertebra) / 2.0


def femoral_head_radius(body: Body, side: str = "left") -> float:
    """Radius, mm, of the ball that fits the head of the femur best."""
    vertices = surface_of(body, f"femur_{side}").vertices
    centre = body.landmarks[f"hip_centre_{side}"]
    step = vertices - centre
    inner = (-sign_of(side) * step[:, 0] + step[:, 2] > 0.0) & (np.linalg.norm(step, axis=1) < 40.0)
    return float(np.median(np.linalg.norm(step[inner], axis=1)))


def symphysis_gap(body: Body) -> float:
    """Narrowest distance, mm, between the pubic bones."""
    low = [surface_of(body, f"hip_{side}") for side in SIDES]
    points = low[0].vertices[np.abs(low[0].vertices[:, 0]) < 30.0]
    return float(Depth(low[1])(points).min())


def asis_psis_tilt(body: Body, side: str = "left") -> float:
    """How much lower the ASIS stands than the PSIS, as an angle in degrees."""
    step = body.landmarks[f"psis_{side}"] - body.landmarks[f"asis_{side}"]
    return float(np.degrees(np.arctan2(step[2], step[1])))


def rib_length(body: Body, rib: str, side: str = "left") -> float:
    """Length of a rib along the bone, mm: through the middles of slices that are equally far from its head."""
    surface = surface_of(body, f"{rib}_{side}")
    vertices, along = surface.vertices, _along_surface(surface, body.landmarks[f"{rib}_head_{side}"])
    edges = np.linspace(0.0, along.max(), 25)
    slices = [vertices[(along >= a) & (along <= b)].mean(axis=0) for a, b in pairwise(edges)]
    chain = np.array([vertices[along.argmin()], *slices[1:-1], vertices[along.argmax()]])
    return float(np.linalg.norm(np.diff(chain, axis=0), axis=1).sum())


def _along_surface(surface: Surface, start: Array) -> Array:
    """Shortest ways (v,), mm, along the edges of a surface from the end of it that lies towards `start`."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    edges = np.concatenate([surface.faces[:, [0, 1]], surface.faces[:, [1, 2]], surface.faces[:, [2, 0]]])
    length = np.linalg.norm(surface.vertices[edges[:, 0]] - surface.vertices[edges[:, 1]], axis=1)
    count = len(surface.vertices)
    graph = csr_array((length, (edges[:, 0], edges[:, 1])), shape=(count, count))
    # The far end of the bone is the vertex furthest from the start; the near end is the one furthest from that.
    far = int(np.argmax(np.linalg.norm(surface.vertices - start, axis=1)))
    near = int(np.argmax(dijkstra(graph, indices=far)))
    out: Array = dijkstra(graph, indices=near)
    return out


def rib_angle(body: Body, rib: str, side: str = "left") -> float:
    """Angle, degrees, between a rib's chord and the spine, seen from in front."""
    head, tip = body.landmarks[f"{rib}_head_{side}"], body.landmarks[f"{rib}_tip_{side}"]
    return float(np.degrees(np.arctan2(abs(tip[0] - head[0]), head[2] - tip[2])))


def ribs_above_crest(body: Body, side: str = "left") -> float:
    """Height, mm, of the lowest point of the ribs above the crest's highest point."""
    ribs = [surface_of(body, f"{rib}_{side}").vertices[:, 2].min() for rib in ("rib_11", "rib_12")]
    return float(min(ribs) - surface_of(body, f"hip_{side}").vertices[:, 2].max())


def quadratus_attachment(body: Body, to: str, side: str = "left") -> float:
    """Distance from the midline, mm, of the middle of quadratus' surface where it lies against what it attaches to.

    to : ids without their side, joined by + (the crest and the iliolumbar ligament, or the rib)
    """
    muscle = surface_of(body, f"quadratus_lumborum_{side}").vertices
    depth = Depth(*(surface_of(body, f"{name}_{side}") for name in to.split("+")))(muscle)
    touching = muscle[depth < max(_TOUCHING_MM, float(depth.min()))]
    return float(np.mean(sign_of(side) * touching[:, 0]))


def psoas_over_brim(body: Body, side: str = "left") -> float:
    """Distance from the midline, mm, of the middle of psoas where it crosses the superior ramus."""
    from meshes.gauges.sections import section

    level = body.landmarks[f"iliopubic_eminence_{side}"]
    found = section(surface_of(body, f"psoas_major_{side}"), Frame(level, np.eye(3)))
    return float(sign_of(side) * (found.centroid[0] + level[0]))


def _s1_centre(body: Body) -> Array:
    out: Array = (body.landmarks["promontory"] + body.landmarks["s1_endplate_back"]) / 2.0
    return out


def _points(body: Body, name: str) -> list[Array]:
    if name == "crest_top":
        return [crest_top(body, side) for side in SIDES]
    if name == "hip_centre":
        return [body.landmarks[f"hip_centre_{side}"] for side in SIDES]
    return [_s1_centre(body)] if name == "s1_centre" else [body.landmarks[name]]


def _between(first: Array, second: Array) -> float:
    return float(np.linalg.norm(first - second))


def _bi_iliac(body: Body) -> float:
    across = [app(body).local(surface_of(body, f"hip_{side}").vertices)[:, 0] for side in SIDES]
    return float(across[0].max() - across[1].min())


def _hip_height(body: Body) -> float:
    up = app(body).local(surface_of(body, "hip_left").vertices)[:, 2]
    return float(up.max() - up.min())


def _crest_above_s1(body: Body) -> float:
    return pelvic_place(body, "crest_top", "above") - pelvic_place(body, "s1_centre", "above")


def _paired_landmark(name: str) -> Callable[[Body], float]:
    return lambda body: _between(body.landmarks[f"{name}_left"], body.landmarks[f"{name}_right"])


def _asis_to_tubercle(body: Body) -> float:
    return float(np.mean([_between(asis(body, side), tubercle(body, side)) for side in SIDES]))


_DISTANCES: dict[str, Callable[[Body], float]] = {
    "bi_asis": lambda body: _between(asis(body, "left"), asis(body, "right")),
    "bi_iliac": _bi_iliac,
    "bi_aiis": _paired_landmark("aiis"),
    "interspinous": _paired_landmark("ischial_spine"),
    "asis_to_tubercle": _asis_to_tubercle,
    "tubercles": lambda body: _between(tubercle(body, "left"), tubercle(body, "right")),
    "asis_above_pubis": lambda body: -app(body).local(pubis_front(body))[2],
    "hip_height": _hip_height,
    "crest_above_s1": _crest_above_s1,
    "crest_above_s1_body": lambda body: surface_of(body, "hip_left").vertices[:, 2].max() - _s1_centre(body)[2],
    "s1_depth": lambda body: _between(body.landmarks["promontory"], body.landmarks["s1_endplate_back"]),
    "true_conjugate": lambda body: _between(body.landmarks["promontory"], body.landmarks["symphysis_top"]),
}
