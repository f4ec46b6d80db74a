"""A small made-up body of balls, tubes and shells, quick to build: enough to test how things are drawn, no anatomy."""

from __future__ import annotations

import numpy as np

from meshes.body import Body
from meshes.curves import Array, Centreline, spline
from meshes.landmarks import Frame, Landmarks
from meshes.specimen import Specimen
from meshes.structures import Kind, Structure, level_key
from meshes.surfaces import Surface, ring_faces, tube

LEVELS = {"L1-2": 135.0, "L2-3": 100.0, "L3-4": 65.0, "L4-5": 32.0, "L5-S1": 0.0}


def ball(centre: tuple[float, float, float], half: tuple[float, float, float], rings: int = 24) -> Surface:
    """An ellipsoid: centre and half axes, mm."""
    polar = np.linspace(-np.pi / 2, np.pi / 2, rings + 2)[1:-1, None]
    around = np.linspace(0.0, 2.0 * np.pi, 2 * rings, endpoint=False)[None, :]
    shape = np.stack(
        [np.cos(polar) * np.cos(around), np.cos(polar) * np.sin(around), np.sin(polar) + 0.0 * around], axis=-1
    )
    poles = np.array([[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]])
    vertices = np.concatenate([shape.reshape(-1, 3), poles]) * np.array(half) + np.array(centre)
    return Surface(vertices, ring_faces(rings, 2 * rings))


def can(half: tuple[float, float], low: float, high: float) -> Surface:
    """A closed upright shell with flat ends: half widths (x, y) and heights, mm."""
    around = np.linspace(0.0, 2.0 * np.pi, 72, endpoint=False)
    heights = np.linspace(low, high, 30)
    ring = np.stack([half[0] * np.cos(around), half[1] * np.sin(around)], axis=1)
    rings = np.concatenate([np.column_stack([ring, np.full(72, h)]) for h in heights])
    ends = np.array([[0.0, 0.0, low], [0.0, 0.0, high]])
    return Surface(np.concatenate([rings, ends]), ring_faces(30, 72))


def line(points: list[list[float]], radius: float | list[float]) -> Centreline:
    """A smooth centreline through points (k, 3), mm, with one radius or one a point."""
    radii = np.broadcast_to(np.asarray(radius, dtype=float), (len(points),))
    rows = spline(np.column_stack([np.array(points, dtype=float), radii]), 64)
    return Centreline(np.ascontiguousarray(rows[:, :3]), np.ascontiguousarray(np.abs(rows[:, 3])))


def _tubes(sign: float) -> dict[str, tuple[Centreline, str, str, str]]:
    """Id without side -> line, kind, layer, roots."""
    s = sign
    psoas = [[28 * s, 5, 150], [40 * s, 0, 90], [52 * s, -5, 30], [62 * s, -40, -40], [75 * s, -20, -110]]
    femoral = [[30 * s, 18, 70], [45 * s, 8, 32], [62 * s, 0, 0], [78 * s, -45, -60], [80 * s, -48, -110]]
    obturator = [[30 * s, 18, 60], [42 * s, 22, 25], [45 * s, 15, -10], [50 * s, -10, -60], [55 * s, -30, -100]]
    iliohypogastric = [[20 * s, 15, 140], [60 * s, 25, 100], [105 * s, 0, 60], [90 * s, -60, 10]]
    return {
        "psoas_major": (line(psoas, [8, 18, 22, 16, 9]), "muscle", "psoas", ""),
        "femoral": (line(femoral, 4.0), "nerve", "psoas", "L2-L4"),
        "obturator": (line(obturator, 2.0), "nerve", "psoas", "L2-L4"),
        "iliohypogastric": (line(iliohypogastric, 1.3), "nerve", "transversus", "T12-L1"),
    }


def synthetic_body(specimen: Specimen | None = None) -> Body:
    """The made-up body."""
    structures: dict[str, Structure] = {}
    surfaces: dict[str, Surface] = {}
    lines: dict[str, Centreline] = {}

    def put(name: str, kind: Kind, surface: Surface, layer: str, group: str = "", roots: str = "") -> None:
        side = name.rsplit("_", 1)[-1] if name.endswith(("_left", "_right")) else ""
        words = name.replace("_", " ").capitalize()
        structures[name] = Structure(name, words, words, kind, side, roots, layer, group)
        surfaces[name] = surface

    put("skin", "skin", can((150.0, 105.0), -120.0, 180.0), "skin")
    for level, height in LEVELS.items():
        put(f"disc_{level_key(level)}", "disc", ball((0, -5, height), (26, 18, 6)), "vertebrae")
        put(level_key(level).split("_")[0], "bone", ball((0, -5, height + 17), (24, 17, 13)), "vertebrae")
    put("dural_sac", "nerve", tube(line([[0, 22, 150], [0, 20, 0]], 7.0)), "dura")
    put("aorta", "vessel", tube(line([[4, -35, 150], [3, -35, 40]], 8.0)), "vessels", "artery")
    put("inferior_vena_cava", "vessel", tube(line([[-18, -32, 150], [-16, -32, 30]], 9.0)), "vessels", "vein")
    put("kidney_left", "viscus", ball((60, 20, 140), (22, 18, 35)), "retroperitoneum")
    for side, sign in (("left", 1.0), ("right", -1.0)):
        wall = ball((sign * 112, -10, 70), (8, 70, 70))
        put(f"external_oblique_{side}", "muscle", wall, "external_oblique", "wall")
        put(f"hip_{side}", "bone", ball((sign * 85, 20, -20), (14, 50, 55)), "vertebrae")
        for stem, (course, kind, layer, roots) in _tubes(sign).items():
            put(f"{stem}_{side}", kind, tube(course), layer, "", roots)  # type: ignore[arg-type]  # a legal kind
            if kind == "nerve":
                lines[f"{stem}_{side}"] = course
    return Body(specimen or Specimen(), _landmarks(), structures, surfaces, lines)


def _landmarks() -> Landmarks:
    frames = {f"disc_{level_key(k)}": Frame(np.array([0.0, -5.0, h]), np.eye(3)) for k, h in LEVELS.items()}
    points: dict[str, Array] = {f"{name}_centre": frame.origin for name, frame in frames.items()}
    for level, height in LEVELS.items():
        vertebra = level_key(level).split("_")[0]
        frames[vertebra] = Frame(np.array([0.0, -5.0, height + 17.0]), np.eye(3))
        for side, x in (("left", 10.0), ("right", -10.0)):
            points[f"pedicle_{vertebra}_{side}"] = np.array([x, 4.0, height + 17.0])
    return Landmarks(points, frames, {}, {})
