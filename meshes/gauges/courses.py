"""Gauges along the nerves outside the discs: where they leave psoas, pierce the wall, cross crest and ligament."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from meshes.body import Body
from meshes.curves import Array, Centreline
from meshes.gauges.parts import AbsentError, level_coordinate, line_of, sign_of, surface_of
from meshes.gauges.space import Depth, dense, runs
from meshes.tolerances import ON_MUSCLE_MM

#: A nerve has left a muscle once it stays out of it over this length, mm: shorter is grazing its surface.
_GONE_MM = 12.0
#: Over this much to either side it is told on which face of a flat muscle a nerve runs, mm.
_FACE_MM = 5.0
#: Slices in which the inguinal ligament is followed from ASIS to tubercle.
_SLICES = 16


def leaves_psoas_at(body: Body, nerve: str, side: str = "left") -> Array:
    """Where the middle of a nerve leaves psoas for good: (3,), mm. Raises AbsentError for one never inside it."""
    line = line_of(body, f"{nerve}_{side}")
    return line.at(leaving_mm(line, Depth(surface_of(body, f"psoas_major_{side}"))))


def leaving_mm(line: Centreline, muscle: Depth) -> float:
    """Arc length, mm, at which a line that has been inside a muscle leaves it for good."""
    arc, points = dense(line)
    depth = muscle(points)
    for _, last in runs(depth < 0.0):
        after = depth[(arc > arc[last]) & (arc <= arc[last] + _GONE_MM)]
        if len(after) and (after >= 0.0).all():
            return float(arc[last])
    raise AbsentError("the nerve does not leave the muscle.")


def leaves_psoas_out(body: Body, nerve: str, side: str = "left") -> float:
    """Distance from the midline, mm, where a nerve leaves psoas."""
    return float(sign_of(side) * leaves_psoas_at(body, nerve, side)[0])


def leaves_psoas_level(body: Body, nerve: str, side: str = "left") -> float:
    """Level at which a nerve leaves psoas: 3.0 at the centre of L3, 3.5 at the middle of the L3-4 disc."""
    return level_coordinate(body, leaves_psoas_at(body, nerve, side))


def leaves_psoas_above(body: Body, nerve: str, landmark: str, side: str = "left") -> float:
    """Height, mm, of the point where a nerve leaves psoas, above a landmark of that side."""
    return float(leaves_psoas_at(body, nerve, side)[2] - body.landmarks[f"{landmark}_{side}"][2])


def on_quadratus_out(body: Body, nerve: str, side: str = "left") -> float:
    """Distance from the midline, mm, of the middle of a nerve's stretch in front of quadratus, lateral to psoas."""
    points = _on_quadratus(body, nerve, side)
    across = sign_of(side) * points[:, 0]
    return float((across.min() + across.max()) / 2.0)


def _on_quadratus(body: Body, nerve: str, side: str) -> Array:
    _, points = dense(line_of(body, f"{nerve}_{side}"))
    near = Depth(surface_of(body, f"quadratus_lumborum_{side}"))(points) < ON_MUSCLE_MM
    free = Depth(surface_of(body, f"psoas_major_{side}"))(points) > 0.0
    if not (near & free).any():
        raise AbsentError(f"{nerve}: does not cross quadratus.")
    out: Array = points[near & free]
    return out


def apart_on_back_wall(body: Body, upper: str, lower: str, side: str = "left") -> float:
    """Height, mm, of one nerve above another in the middle of the space between psoas and the wall."""
    across = _middle_of_space(body, side)
    return _height_at(body, upper, across, side) - _height_at(body, lower, across, side)


def _middle_of_space(body: Body, side: str) -> float:
    """Half way from the outer border of psoas at L4-5 to that of quadratus: distance from the midline, mm."""
    from meshes.gauges.discs import psoas_border

    quadratus = sign_of(side) * surface_of(body, f"quadratus_lumborum_{side}").vertices[:, 0]
    return (psoas_border(body, "L4-5", "outer", side) + float(quadratus.max())) / 2.0


def _height_at(body: Body, nerve: str, across_mm: float, side: str) -> float:
    """Height, mm, where a nerve, followed from the spine, first comes so far from the midline."""
    _, points = dense(line_of(body, f"{nerve}_{side}"))
    beyond = np.flatnonzero(sign_of(side) * points[:, 0] >= across_mm)
    if not len(beyond):
        raise AbsentError(f"{nerve}: does not come {across_mm:.0f} mm from the midline.")
    return float(points[beyond[0], 2])


def pierces_at(body: Body, nerve: str, muscle: str, side: str = "left") -> Array:
    """Where a nerve passes through a flat muscle, from its deep to its superficial face: (3,), mm."""
    line = line_of(body, f"{nerve}_{side}")
    return line.at(pierces_mm(body, line, f"{muscle}_{side}"))


def pierces_mm(body: Body, line: Centreline, muscle: str) -> float:
    """Arc length, mm, at which a line, followed from the spine, first comes to lie superficial to a flat muscle."""
    arc, points = dense(line)
    level = _superficial_mm(body, points, muscle)
    # A nerve between two layers grazes them: what counts is on which face it runs over several millimetres.
    window = np.ones(int(2 * _FACE_MM) * 2 + 1)
    level = np.convolve(level, window, "same") / np.convolve(np.ones(len(level)), window, "same")
    out = np.flatnonzero((level[:-1] < 0.0) & (level[1:] >= 0.0))
    if not len(out):
        raise AbsentError(f"the nerve does not pass through {muscle}.")
    return float(arc[out[0]])


def _superficial_mm(body: Body, points: Array, muscle: str) -> Array:
    """How much nearer to the skin points (n, 3) lie than the nearest face of a muscle: (n,), mm; negative if deep.

    Within the muscle it is the face that is nearer, so that the sign changes half way through.
    """
    skin, sheet = Depth(surface_of(body, "skin")), Depth(surface_of(body, muscle))
    faces = sheet.nearest(points)
    ahead: Array = skin(points) - skin(faces)
    return np.where(sheet(points) < 0.0, -ahead, ahead)


def pierces_from_asis(body: Body, nerve: str, muscle: str, towards: str, side: str = "left") -> float:
    """How far medial to or below the ASIS, or away from it, a nerve passes through a muscle, mm."""
    step = pierces_at(body, nerve, muscle, side) - body.landmarks[f"asis_{side}"]
    return {
        "medial": float(-sign_of(side) * step[0]),
        "below": float(-step[2]),
        "away": float(np.linalg.norm(step)),
    }[towards]


def pierces_above_crest(body: Body, nerve: str, muscle: str, side: str = "left") -> float:
    """Height, mm, at which a nerve passes through a muscle, above the highest point of the crest nearest to it."""
    point = pierces_at(body, nerve, muscle, side)
    bone = surface_of(body, f"hip_{side}").vertices
    near = bone[np.hypot(*(bone[:, :2] - point[:2]).T) < 15.0]
    if not len(near):
        raise AbsentError(f"{nerve}: passes through {muscle} away from the crest.")
    return float(point[2] - near[:, 2].max())


def ends_out(body: Body, nerve: str, side: str = "left") -> float:
    """Distance from the midline, mm, where a nerve ends in the skin."""
    return float(sign_of(side) * line_of(body, f"{nerve}_{side}").points[-1, 0])


def ends_above_symphysis(body: Body, nerve: str, side: str = "left") -> float:
    """Height, mm, above the upper edge of the symphysis where a nerve ends in the skin."""
    return float(line_of(body, f"{nerve}_{side}").points[-1, 2] - body.landmarks["symphysis_top"][2])


def at_ligament_mm(body: Body, nerve: str, side: str = "left") -> float:
    """Arc length, mm, at which a nerve passes the line of the inguinal ligament, seen from in front."""
    arc, points = dense(line_of(body, f"{nerve}_{side}"))
    below = below_ligament(body, points, side)
    passes = np.flatnonzero((below[:-1] < 0.0) & (below[1:] >= 0.0))
    if not len(passes):
        raise AbsentError(f"{nerve}: does not pass the inguinal ligament.")
    return float(arc[passes[-1]])


def below_ligament(body: Body, points: Array, side: str) -> Array:
    """How far below the line of the inguinal ligament points (n, 3) lie, seen from in front: (n,), mm."""
    along, off = _ligament_view(body, points, side)
    middle_along, middle_off = ligament_middle(body, side)
    out: Array = off - np.interp(along, middle_along, middle_off)
    return out


def ligament_middle(body: Body, side: str) -> tuple[Array, Array]:
    """Middle line of the ligament seen from in front: (k,) mm along ASIS to tubercle, (k,) mm below that line."""
    along, off = _ligament_view(body, surface_of(body, f"inguinal_ligament_{side}").vertices, side)
    edges = np.linspace(along.min(), along.max(), _SLICES + 1)
    slices = [(along >= a) & (along <= b) for a, b in pairwise(edges)]
    slices = [s for s in slices if s.any()]
    middle = [(float(off[s].min()) + float(off[s].max())) / 2.0 for s in slices]
    return np.array([float(along[s].mean()) for s in slices]), np.array(middle)


def _ligament_view(body: Body, points: Array, side: str) -> tuple[Array, Array]:
    """Seen from in front: how far along the line from ASIS to tubercle, and below it, points lie, (n,) mm each."""
    asis, tubercle = body.landmarks[f"asis_{side}"], body.landmarks[f"pubic_tubercle_{side}"]
    line = (tubercle - asis)[[0, 2]]
    line = line / np.linalg.norm(line)
    below = np.array([line[1], -line[0]])
    below = below if below[1] < 0.0 else -below
    flat = points[..., [0, 2]] - asis[[0, 2]]
    return flat @ line, flat @ below


def at_ligament(body: Body, nerve: str, side: str = "left") -> Array:
    """Where a nerve passes the inguinal ligament: (3,), mm."""
    return line_of(body, f"{nerve}_{side}").at(at_ligament_mm(body, nerve, side))


def ligament_from(body: Body, nerve: str, landmark: str, side: str = "left") -> float:
    """Straight distance, mm, from a landmark to where a nerve passes the ligament."""
    return float(np.linalg.norm(at_ligament(body, nerve, side) - body.landmarks[f"{landmark}_{side}"]))


def ligament_medial_of_asis(body: Body, nerve: str, side: str = "left") -> float:
    """How far medial to the ASIS a nerve passes the ligament, mm."""
    step = at_ligament(body, nerve, side) - body.landmarks[f"asis_{side}"]
    return float(-sign_of(side) * step[0])


def ligament_share(body: Body, nerve: str, side: str = "left") -> float:
    """Where a nerve passes the ligament as a share of the straight line from ASIS (0) to pubic tubercle (1)."""
    asis, tubercle = body.landmarks[f"asis_{side}"], body.landmarks[f"pubic_tubercle_{side}"]
    line = tubercle - asis
    return float((at_ligament(body, nerve, side) - asis) @ line / (line @ line))


def ligament_to_end(body: Body, nerve: str, side: str = "left") -> float:
    """Length, mm, of a nerve from the ligament to where its trunk ends."""
    return line_of(body, f"{nerve}_{side}").length - at_ligament_mm(body, nerve, side)


def ligament_sag(body: Body, side: str = "left") -> float:
    """How far the middle of the ligament bows below the straight line from ASIS to tubercle, mm, from in front."""
    return float(ligament_middle(body, side)[1].max())


def below_rib(body: Body, nerve: str, side: str = "left") -> float:
    """The widest gap, mm, between rib 12 and a nerve on its way along the rib."""
    return float(along_rib(body, nerve, side).max())


def along_rib(body: Body, nerve: str, side: str = "left") -> Array:
    """Distances (m,), mm, from rib 12 to a nerve from the spine to below the tip of the rib."""
    tip = float(sign_of(side) * body.landmarks[f"rib_12_tip_{side}"][0])
    _, points = dense(line_of(body, f"{nerve}_{side}"))
    across = sign_of(side) * points[:, 0]
    beyond = np.flatnonzero(across > tip)
    stop = beyond[0] if len(beyond) else len(points)
    way = points[:stop]
    return Depth(surface_of(body, f"rib_12_{side}"))(way[across[:stop] > 35.0])


def crest_crossing_from_asis(body: Body, nerve: str, side: str = "left") -> float:
    """Straight distance, mm, from the ASIS to where a nerve crosses the crest."""
    _, points = dense(line_of(body, f"{nerve}_{side}"))
    depth = Depth(surface_of(body, f"hip_{side}"))(points)
    return float(np.linalg.norm(points[int(np.argmin(depth))] - body.landmarks[f"asis_{side}"]))


def obturator_exit(body: Body, landmark: str, side: str = "left", towards: str = "straight") -> float:
    """From a landmark to where the obturator nerve leaves its canal, mm: straight, or sideways."""
    line = line_of(body, f"obturator_{side}")
    _, points = dense(line)
    canal = body.landmarks[f"obturator_canal_{side}"]
    exit_point = points[int(np.argmin(np.linalg.norm(points - canal, axis=1)))]
    step = exit_point - body.landmarks[f"{landmark}_{side}"]
    return float(np.linalg.norm(step)) if towards == "straight" else float(sign_of(side) * step[0])


def course_length(body: Body, nerve: str, side: str = "left") -> float:
    """Length of a nerve's trunk, mm."""
    return line_of(body, f"{nerve}_{side}").length
