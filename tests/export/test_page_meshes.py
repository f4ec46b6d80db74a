"""The meshes of a page: thinned without leaving their place, packed without loss, held once."""

from __future__ import annotations

import base64
import zlib
from typing import Any

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from meshes.body import Body
from meshes.curves import Array
from meshes.surfaces import Surface
from viewer.export.lesson.pageparts.packing import PER_TILE, Store, packed
from viewer.export.lesson.pageparts.thinning import decimated, slim, thinned
from viewer.polydata import creased

# --- meshes


def unpacked(row: dict[str, Any], held: bytes) -> tuple[Array, Array, Array | None, Array | None]:
    """Corners, faces, texture and share of a mesh, read without numpy's help in the order that packing.py tells."""
    at = int(row.get("at", 0))

    def steps(count: int) -> list[int]:
        nonlocal at
        value, values = 0, []
        for k in range(count):
            turned = held[at + k] | held[at + count + k] << 8
            value = (value + (-(turned + 1) // 2 if turned & 1 else turned // 2)) % 65536
            values.append(value)
        at += 2 * count
        return values

    v, f = row["corners"], row["faces"]
    corners = np.stack([steps(v) for _ in range(3)], axis=1) * row["step"] + np.array(row["low"])
    texture = None
    if row["texture"]:
        whole = np.stack([steps(v) for _ in range(2)], axis=1)
        texture = np.where(whole > 32767, whole - 65536, whole) / PER_TILE
    faces = np.array(steps(3 * f)).reshape(-1, 3)
    share = np.frombuffer(held[at : at + v], dtype=np.uint8) / 255.0 if row["share"] else None
    return corners, faces, texture, share


@pytest.mark.parametrize("name", ["l4", "femoral_left", "psoas_major_left", "skin"])
def test_a_packed_mesh_is_the_mesh(alder: Body, name: str) -> None:
    surface = alder.surfaces[name]
    texture = np.linspace(-60.0, 60.0, 2 * len(surface.vertices)).reshape(-1, 2)
    share = np.linspace(0.0, 1.0, len(surface.vertices))
    row, held = packed(surface, texture, share)
    bent, origin = creased(surface)
    corners, faces, tiles, shares = unpacked(row, held)
    assert tiles is not None
    assert shares is not None
    assert np.abs(corners[faces] - bent.triangles()).max() <= 0.5 * row["step"] + 1e-4
    assert row["step"] < 0.02
    assert np.abs(tiles[faces] - texture[origin][bent.faces]).max() <= 0.5 / PER_TILE
    assert np.abs(shares[faces] - share[origin][bent.faces]).max() <= 0.5 / 255.0


def test_meshes_of_a_store_are_read_from_where_they_lie(alder: Body) -> None:
    store = Store()
    numbers = [store.add(alder.surfaces[name]) for name in ("l3", "l4", "l3", "femoral_left")]
    assert numbers == [0, 1, 0, 2]
    held = zlib.decompress(base64.b64decode(store.squeezed()))
    for number, name in ((0, "l3"), (1, "l4"), (2, "femoral_left")):
        corners, faces, _, _ = unpacked(store.rows[number], held)
        assert np.abs(corners[faces] - creased(alder.surfaces[name])[0].triangles()).max() < 0.01
    assert store.triangles == sum(row["faces"] for row in store.rows)


def test_a_whole_body_is_light_and_stays_where_it_is(alder: Body) -> None:
    thin = {name: thinned(alder, name) for name in alder.structures}
    assert 60_000 < sum(len(s.faces) for s in thin.values()) < 125_000
    for name, surface in thin.items():
        whole = alder.surfaces[name]
        assert max(_farthest(surface, whole), _farthest(whole, surface)) < 1.2, name
        assert surface.volume() == pytest.approx(whole.volume(), rel=0.12), name


def _farthest(points: Surface, surface: Surface) -> float:
    """How far one of some corners of a surface lies from another surface, mm."""
    mesh = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    few = points.vertices[:: max(1, len(points.vertices) // 150)]
    return float(trimesh.proximity.closest_point(mesh, few)[1].max())


def test_thin_nerves_are_round(alder: Body) -> None:
    for name in alder.ids("nerve"):
        line, surface = alder.centrelines[name], slim(alder.centrelines[name])
        tree = cKDTree(line.points)
        away, nearest = tree.query(surface.vertices)
        inner = (nearest > 1) & (nearest < len(line.points) - 2)  # its round ends aside
        assert (np.abs(away[inner] - line.radius[nearest[inner]]) < 0.25 * line.radius[nearest[inner]] + 0.1).all(), (
            name
        )
        assert len(surface.faces) >= 2 * 8 * 2, name


def test_small_surfaces_keep_all_their_faces(alder: Body) -> None:
    surface = alder.surfaces["l4"]
    assert decimated(surface, len(surface.faces)) is surface
    assert len(decimated(surface, 900).faces) <= 900
