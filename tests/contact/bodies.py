"""A small made-up body of boxes, ellipsoids and tubes with every kind of structure a portal can meet; no anatomy."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import numpy as np

from meshes.body import Body
from meshes.curves import Array, Centreline
from meshes.landmarks import Frame, Landmarks
from meshes.posture import frames_for
from meshes.specimen import Specimen
from meshes.structures import Kind, Structure
from meshes.surfaces import Faces, Surface, joined, ring_faces, tube

#: Disc -> height of its centre and how far it leans to the front, degrees.
DISCS = {
    "disc_l5_s1": (4.0, 25.0),
    "disc_l4_5": (38.0, 10.0),
    "disc_l3_4": (72.0, 0.0),
    "disc_l2_3": (106.0, 0.0),
    "disc_l1_2": (140.0, -4.0),
    "disc_t12_l1": (174.0, -4.0),
}
DISC_HALF = (25.0, 17.0, 4.0)
VERTEBRAE = {"l5": 21.0, "l4": 55.0, "l3": 89.0, "l2": 123.0, "l1": 157.0, "t12": 191.0}
SKIN_HALF = (150.0, 100.0)
ENDS = (-200.0, 230.0)
PSOAS_HALF = (17.0, 20.0)
PSOAS_LEFT = 42.0
CREST_TOP = 45.0


def box(low: Iterable[float], high: Iterable[float], step: float = 6.0) -> Surface:
    """A closed box with faces cut in squares of about `step`, mm; corners are shared."""
    low, high = np.array(list(low), dtype=float), np.array(list(high), dtype=float)
    counts = np.maximum(np.ceil((high - low) / step), 1).astype(int)
    grids = [np.linspace(a, b, n + 1) for a, b, n in zip(low, high, counts, strict=True)]
    vertices: list[Array] = []
    faces: list[Faces] = []
    for axis in range(3):
        for end, turned in ((0, axis != 1), (-1, axis == 1)):
            u, v = [k for k in range(3) if k != axis]
            points = np.empty((len(grids[u]), len(grids[v]), 3))
            points[..., axis] = grids[axis][end]
            points[..., u], points[..., v] = np.meshgrid(grids[u], grids[v], indexing="ij")
            faces.append(_grid_faces(points.shape[0], points.shape[1], turned) + sum(map(len, vertices)))
            vertices.append(points.reshape(-1, 3))
    shared, index = np.unique(np.concatenate(vertices), axis=0, return_inverse=True)
    return Surface(shared, index.ravel()[np.concatenate(faces)].astype(np.int32))


def _grid_faces(rows: int, columns: int, turned: bool) -> Faces:
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns - 1), indexing="ij")
    a = (i * columns + j).ravel()
    b, c, d = a + columns, a + columns + 1, a + 1
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]).astype(np.int32)
    return faces[:, ::-1] if turned else faces


def ellipsoid(centre: Iterable[float], half: Iterable[float], rings: int = 40) -> Surface:
    polar = np.linspace(-np.pi / 2, np.pi / 2, rings + 2)[1:-1, None]
    around = np.linspace(0.0, 2.0 * np.pi, 2 * rings, endpoint=False)[None, :]
    unit = np.stack(
        [np.cos(polar) * np.cos(around), np.cos(polar) * np.sin(around), np.sin(polar) + 0.0 * around], axis=-1
    )
    unit = np.concatenate([unit.reshape(-1, 3), [[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]]])
    return Surface(unit * np.array(list(half)) + np.array(list(centre)), ring_faces(rings, 2 * rings))


def can(centre: Iterable[float], half: Iterable[float], low: float, high: float, step: float = 4.0) -> Surface:
    """A closed upright elliptic cylinder with flat ends."""
    around = np.linspace(0.0, 2.0 * np.pi, 96, endpoint=False)
    ring = np.stack([np.cos(around), np.sin(around)], axis=1) * np.array(list(half)) + np.array(list(centre))
    heights = np.linspace(low, high, int(np.ceil((high - low) / step)) + 1)
    rings = np.concatenate([np.column_stack([ring, np.full(96, h)]) for h in heights])
    ends = np.array([[*centre, low], [*centre, high]])
    return Surface(np.concatenate([rings, ends]), ring_faces(len(heights), 96))


def line(points: Iterable[Iterable[float]], radius: float | tuple[float, float], samples: int = 64) -> Centreline:
    """A broken line through points, evenly sampled between them, with one radius or one for each end (linear)."""
    corners = np.array([list(p) for p in points], dtype=float)
    at = np.linspace(0.0, len(corners) - 1.0, samples)
    dense = np.stack([np.interp(at, np.arange(len(corners)), corners[:, k]) for k in range(3)], axis=1)
    first, last = radius if isinstance(radius, tuple) else (radius, radius)
    return Centreline(dense, np.linspace(first, last, samples))


def disc_frame(disc: str) -> Frame:
    height, lean_deg = DISCS[disc]
    a = np.radians(lean_deg)
    axes = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(a), np.sin(a)], [0.0, -np.sin(a), np.cos(a)]])
    return Frame(np.array([0.0, 0.0, height]), axes)


def _both(half: Surface) -> list[Surface]:
    """A part and its mirror image, meshed alike."""
    return [half, half.mirrored()]


def _vertebra(height: float) -> Surface:
    body = can((0.0, 0.0), (23.0, 16.0), height - 12.0, height + 12.0, step=2.0)
    return joined([body, *_both(box((15.0, 24.0, height - 4.0), (42.0, 30.0, height + 4.0), step=2.0))])


def _left() -> dict[str, tuple[Kind, Surface | Centreline, str]]:
    """Id without side -> kind, shape on the left, group."""

    def slab(inner: float, outer: float, back: float = 60.0, front: float = -60.0) -> Surface:
        return box((inner, front, -150.0), (outer, back, 215.0), step=12.0)

    return {
        "hip": ("bone", box((80.0, -40.0, -80.0), (100.0, 50.0, CREST_TOP), step=5.0), ""),
        "rib_12": ("bone", tube(line([(30, 20, 175), (95, 10, 128)], 5.0), sides=16), ""),
        "external_oblique": ("muscle", slab(120.0, 128.0), "wall"),
        "internal_oblique": ("muscle", slab(110.0, 119.8), "wall"),
        "transversus_abdominis": ("muscle", slab(100.0, 110.0), "wall"),
        "quadratus_lumborum": ("muscle", slab(60.0, 85.0, 50.0, 35.0), ""),
        "erector_spinae": ("muscle", slab(5.0, 60.0, 85.0, 52.0), ""),
        "psoas_major": ("muscle", can((PSOAS_LEFT, 0.0), PSOAS_HALF, -60.0, 190.0), ""),
        "femoral": ("nerve", line([(40, 12, 80), (45, 4, 38), (70, -20, -120)], 3.0), ""),
        "obturator": ("nerve", line([(35, 14, 60), (40, 16, 0), (45, -10, -120)], (1.0, 2.0)), ""),
        "iliohypogastric": ("nerve", line([(30, 20, 150), (115, 0, 70), (90, -70, 0)], 1.2), ""),
        "subcostal": ("nerve", line([(30, 25, 170), (115, 10, 110), (95, -70, 30)], 1.2), ""),
        "ureter": ("viscus", line([(50, -24, 150), (35, -26, -100)], 2.0), ""),
        "kidney": ("viscus", ellipsoid((75, 10, 165), (20, 18, 35)), ""),
        "common_iliac_artery": ("vessel", line([(6, -24, 40), (45, -24, -40)], 5.0), "artery"),
    }


def _middle() -> dict[str, tuple[Kind, Surface | Centreline, str]]:
    parts: dict[str, tuple[Kind, Surface | Centreline, str]] = {}
    for disc in DISCS:
        shape = can((0.0, 0.0), DISC_HALF[:2], -DISC_HALF[2], DISC_HALF[2], step=2.0)
        frame = disc_frame(disc)
        parts[disc] = ("disc", shape.moved(shape.vertices @ frame.axes + frame.origin), "")
    for name, height in VERTEBRAE.items():
        parts[name] = ("bone", _vertebra(height), "")
    parts["sacrum"] = ("bone", joined(_both(box((0.0, -12.0, -80.0), (45.0, 40.0, -6.0), step=2.0))), "")
    parts["dural_sac"] = ("nerve", line([(0, 25, 200), (0, 28, -60)], 7.0), "")
    parts["aorta"] = ("vessel", line([(6, -26, 200), (6, -26, 40)], 8.0), "artery")
    parts["inferior_vena_cava"] = ("vessel", ellipsoid((-16, -28, 110), (9, 8, 90)), "vein")
    parts["skin"] = ("skin", can((0.0, 0.0), SKIN_HALF, *ENDS, step=5.0), "")
    return parts


@cache
def made_up_body() -> Body:
    """The body. Its rigid frames, but for the discs, are those of the default specimen."""
    parts = _middle()
    for stem, (kind, shape, group) in _left().items():
        parts |= {f"{stem}_left": (kind, shape, group), f"{stem}_right": (kind, shape.mirrored(), group)}
    structures, surfaces, lines = {}, {}, {}
    for name, (kind, shape, group) in parts.items():
        side = name.rsplit("_", 1)[-1] if name.endswith(("_left", "_right")) else ""
        words = name.removesuffix(f"_{side}").replace("_", " ")
        roots = "L2-4" if words in ("femoral", "obturator") else ""
        structures[name] = Structure(name, words, words, kind, side, roots, "psoas", group)
        surfaces[name] = shape if isinstance(shape, Surface) else tube(shape)
        if isinstance(shape, Centreline):
            lines[name] = shape
    frames = frames_for(Specimen()) | {disc: disc_frame(disc) for disc in DISCS}
    return Body(Specimen(), Landmarks({}, frames, {}, {}), structures, surfaces, lines)
