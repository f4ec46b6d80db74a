"""The body as a folder: landmarks.csv, centrelines.json, surfaces/ID.ply and body.glb; written whole or not at all."""

from __future__ import annotations

import csv
import json
import shutil
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from meshes.body import Body
from meshes.errors import FurcalError
from meshes.structures import Structure
from meshes.surfaces import Surface
from viewer.actors import paint_of

COLUMNS = ("name", "x_mm", "y_mm", "z_mm", "source")
ENTRIES = {"landmarks.csv", "centrelines.json", "surfaces", "body.glb"}
#: glTF 2.0 measures in metres, with +y up and +z to the viewer: a node carries our left, back and head there, so that
#: the vertices themselves stay in mm.
TO_GLTF = 0.001 * np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])


def check_target(out: Path) -> Path:
    """The folder to write, resolved. Raises FurcalError when something else stands there, before any work is done."""
    target = out.expanduser().resolve()
    if target.exists() and not target.is_dir():
        raise FurcalError(f"{out}: is a file; name a folder.")
    if target.is_dir() and not _is_ours(target):
        raise FurcalError(f"{out}: holds other things than a body written by furcal; name a new or an empty folder.")
    if target == Path.cwd():
        raise FurcalError(f"{out}: is the folder you are in, and it is replaced as a whole; name another.")
    nearest = next(parent for parent in target.parents if parent.exists())
    try:
        Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=nearest)).rmdir()
    except OSError as error:
        raise FurcalError(f"{out}: {nearest} cannot be written ({error.strerror}); name another folder.") from None
    return target


def _is_ours(folder: Path) -> bool:
    """Whether a folder is empty or holds nothing but a body that an earlier call wrote."""
    names = {entry.name for entry in folder.iterdir()}
    if not names:
        return True
    if names != ENTRIES:
        return False
    with (folder / "landmarks.csv").open(encoding="utf-8", errors="replace") as file:
        return file.readline().strip() == ",".join(COLUMNS)


def write_body(body: Body, target: Path) -> int:
    """Write a body's folder and return the number of surfaces.

    All is written beside the target and takes its place in one step, so that a full disk or an interruption leaves
    what was there. Raises OSError naming the file that could not be written.
    """
    made: list[Path] = []
    try:
        _make_parents(target, made)
        fresh = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
        try:
            fresh.chmod(0o755)  # mkdtemp keeps others out
            _write_all(body, fresh)
            _take_the_place(fresh, target)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    except BaseException:
        for parent in made:
            parent.rmdir()
        raise
    return len(body.surfaces)


def _make_parents(target: Path, made: list[Path]) -> None:
    """Make the folders that lead to the target; each that was made goes to the front of `made`."""
    for parent in reversed([parent for parent in target.parents if not parent.exists()]):
        parent.mkdir()
        made.insert(0, parent)


def _take_the_place(fresh: Path, target: Path) -> None:
    """Put the fresh folder where the target is; an older body is put back if that fails."""
    if not target.exists() or not any(target.iterdir()):
        fresh.rename(target)
        return
    older = Path(tempfile.mkdtemp(prefix=f".{target.name}-older-", dir=target.parent))
    target.rename(older)
    try:
        fresh.rename(target)
    except BaseException:
        older.rename(target)
        raise
    shutil.rmtree(older, ignore_errors=True)


def _write_all(body: Body, folder: Path) -> None:
    write_landmarks(body, folder / "landmarks.csv")
    lines = json.dumps(centrelines(body), indent=1, ensure_ascii=False, allow_nan=False)
    (folder / "centrelines.json").write_text(lines + "\n", encoding="utf-8")
    (folder / "surfaces").mkdir()
    for name, surface in body.surfaces.items():
        (folder / "surfaces" / f"{name}.ply").write_bytes(ply(surface))
    (folder / "body.glb").write_bytes(glb(body))


def write_landmarks(body: Body, path: Path) -> None:
    """Landmarks as CSV: name, x_mm, y_mm, z_mm, source."""
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(COLUMNS)
        for name, point in body.landmarks.points.items():
            rows.writerow([name, *(f"{value:.4f}" for value in point), body.landmarks.sources[name]])


def centrelines(body: Body) -> dict[str, dict[str, Any]]:
    """Id -> name, Latin name, roots, side, points_mm (m, 3), radius_mm (m,), and half sizes of a flat nerve."""
    flat = ("half_width_mm", "half_thickness_mm")
    return {
        name: {
            **{key: getattr(body.structures[name], key) for key in ("name", "latin", "roots", "side")},
            **{key: getattr(body.structures[name], key) for key in flat if body.structures[name].half_width_mm},
            "points_mm": line.points.round(4).tolist(),
            "radius_mm": line.radius.round(4).tolist(),
        }
        for name, line in body.centrelines.items()
    }


def ply(surface: Surface) -> bytes:
    """A surface as binary PLY: float32 vertices in mm, triangles."""
    faces = np.empty(len(surface.faces), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    faces["count"], faces["corners"] = 3, surface.faces
    header = (
        "ply\nformat binary_little_endian 1.0\ncomment furcal: mm, +x left, +y back, +z head\n"
        f"element vertex {len(surface.vertices)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    return header.encode() + surface.vertices.astype("<f4").tobytes() + faces.tobytes()


def glb(body: Body) -> bytes:
    """The whole body as one binary glTF 2.0 model, a node a structure, coloured as in print."""
    import trimesh

    carry = np.eye(4)
    carry[:3, :3] = TO_GLTF
    scene = trimesh.Scene()
    scene.graph.update(frame_from="world", frame_to="body", matrix=carry)
    for name, surface in body.surfaces.items():
        mesh = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
        mesh.visual = trimesh.visual.TextureVisuals(material=_material(trimesh, body.structures[name]))
        scene.add_geometry(mesh, node_name=name, geom_name=name, parent_node_name="body")
    return bytes(scene.export(file_type="glb"))


def _material(trimesh: Any, structure: Structure) -> Any:
    glassy = structure.kind == "skin"  # opaque, it would hide the rest in any viewer
    return trimesh.visual.material.PBRMaterial(
        baseColorFactor=[*paint_of(structure, "print").colour, 50 if glassy else 255],
        alphaMode="BLEND" if glassy else "OPAQUE",
        metallicFactor=0.0,
        roughnessFactor=0.7,
    )
