"""26 open pelves of the package musculoskeletal-models 0.2.4 (MPL-2.0): an oracle, never a source of the tables.

The package holds a shape model of the lower limbs of 26 people as a pickle of plain numpy arrays; it is read with an
unpickler that knows nothing but those. Axes of the file: x left, y back, z up, millimetres, as ours.
"""

from __future__ import annotations

import importlib.util
import json
import pickle
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
PEOPLE, PELVIS_NODES = 26, 1946
#: Front and back edge of the S1 endplate, found once on the mean shape.
PROMONTORY, S1_BACK = 1293, 1300
#: What a pickle of numpy arrays needs, and no more.
ALLOWED = {
    ("numpy.core.multiarray", "_reconstruct"),
    ("numpy._core.multiarray", "_reconstruct"),
    ("numpy.core.multiarray", "scalar"),
    ("numpy._core.multiarray", "scalar"),
    ("numpy", "ndarray"),
    ("numpy", "dtype"),
    ("_codecs", "encode"),
}


class NumbersOnly(pickle.Unpickler):
    """Refuses every global that is not part of a numpy array."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) not in ALLOWED:
            raise pickle.UnpicklingError(f"{module}.{name} is not part of an array")
        return super().find_class(module.replace("numpy.core", "numpy._core"), name)


def folder() -> Path:
    """Where the package keeps its models."""
    found = importlib.util.find_spec("musculoskeletal")
    assert found is not None
    assert found.submodule_search_locations
    return Path(next(iter(found.submodule_search_locations))) / "models"


@cache
def mean_shape() -> Array:
    """Nodes (1946, 3), mm, of the mean pelvis, from its JSON file."""
    path = folder() / "atlas_meshes" / "pelvis_combined_cubic_mean_rigid_LLP26.geof"
    fields = json.loads(path.read_text(encoding="utf-8"))["field_parameters"]
    nodes = [fields[key] for key in sorted(fields)]
    return np.array([[_first(node[f"dim {k}"]) for k in range(3)] for node in nodes], dtype=np.float64)


def _first(value: Any) -> float:
    while isinstance(value, list):
        value = value[0]
    return float(value)


@cache
def shape_model() -> dict[str, Array]:
    """mean (9675,), modes (9675, 26), weights (26,), projectedWeights (26, 26): rows are modes, columns are people."""
    with (folder() / "shape_models" / "LLP26_rigid.pc").open("rb") as file:
        model = NumbersOnly(file, encoding="latin1").load()
    return {key: np.asarray(value) for key, value in model.items() if isinstance(value, np.ndarray | list)}


@cache
def people() -> tuple[Array, ...]:
    """Nodes (1946, 3), mm, of each person's pelvis."""
    model = shape_model()
    flat = model["mean"][:, None] + model["modes"][:, :25] @ model["projectedWeights"][:25]
    return tuple(np.ascontiguousarray(person.reshape(3, -1).T[:PELVIS_NODES]) for person in flat.T)


def resting_on(nodes: Array) -> tuple[Array, Array, Array]:
    """Left ASIS, right ASIS and pubis (3,), mm: the points on which a pelvis rests that lies face down."""
    from scipy.spatial import ConvexHull

    hull, middle = ConvexHull(nodes), nodes[:, 0].mean()
    fronts = []
    for corners, plane in zip(hull.simplices, hull.equations, strict=True):
        three = nodes[corners][np.argsort(nodes[corners, 0])]
        wide = three[0, 0] < middle - 50.0 and three[2, 0] > middle + 50.0
        if wide and three[1, 2] < min(three[0, 2], three[2, 2]) - 40.0:
            fronts.append((float(plane[1]), three))
    right, pubis, left = min(fronts, key=lambda found: found[0])[1]
    return left, right, pubis


def in_own_plane(nodes: Array) -> Array:
    """Nodes (n, 3) in the pelvis' own frame: left along the ASIS line, behind the plane, above the ASIS line, mm.

    The ASIS stand at equal distances on either side of the origin.
    """
    left, right, pubis = resting_on(nodes)
    origin, across = (left + right) / 2.0, (left - right) / np.linalg.norm(left - right)
    up = origin - pubis
    up = up - (up @ across) * across
    up /= np.linalg.norm(up)
    axes = np.stack([across, np.cross(up, across), up])
    out: Array = (nodes - origin) @ axes.T
    return out


def figures(nodes: Array) -> dict[str, float]:
    """One person's figures, mm and degrees, by the ids of the rows of `published.csv` that they stand for."""
    own = in_own_plane(nodes)
    left, right, pubis = resting_on(nodes)
    half_width = float(np.linalg.norm(left - right)) / 2.0
    tubercles = [_foremost(own, side) for side in (1.0, -1.0)]
    to_tubercle = [
        np.linalg.norm(tubercle - np.array([side * half_width, 0.0, 0.0]))
        for side, tubercle in zip((1.0, -1.0), tubercles, strict=True)
    ]
    crest, slope = own[int(np.argmax(own[:, 2]))], own[PROMONTORY] - own[S1_BACK]
    s1 = (own[PROMONTORY] + own[S1_BACK]) / 2.0
    return {
        "pelves_bi_asis": 2.0 * half_width,
        "pelves_bi_iliac": float(np.ptp(own[:, 0])),
        "pelves_asis_to_tubercle": float(np.mean(to_tubercle)),
        "pelves_tubercles": float(np.linalg.norm(tubercles[0] - tubercles[1])),
        "pelves_asis_above_pubis": _off_line(pubis, left, right),
        "pelves_hip_height": float(np.ptp(own[:, 2])),
        "pelves_crest_top_above": float(crest[2]),
        "pelves_crest_top_behind": float(crest[1]),
        "pelves_crest_above_s1": float(crest[2] - s1[2]),
        "pelves_promontory_above": float(own[PROMONTORY, 2]),
        "pelves_promontory_behind": float(own[PROMONTORY, 1]),
        "pelves_s1_centre_above": float(s1[2]),
        "pelves_s1_centre_behind": float(s1[1]),
        "pelves_s1_depth": float(np.linalg.norm(slope)),
        "pelves_s1_angle": float(np.degrees(np.arctan2(-slope[2], -slope[1]))),
    }


def _foremost(own: Array, side: float) -> Array:
    """The foremost node beside the symphysis on one side: the tubercle, as the figures define it."""
    out = side * own[:, 0]
    rows = np.flatnonzero((out > 18.0) & (out < 34.0) & (own[:, 2] < -40.0))
    found: Array = own[rows[int(np.argmin(own[rows, 1]))]]
    return found


def _off_line(point: Array, start: Array, end: Array) -> float:
    """Distance, mm, of a point from the straight line through two others."""
    along = (end - start) / np.linalg.norm(end - start)
    step = point - start
    return float(np.linalg.norm(step - (step @ along) * along))
