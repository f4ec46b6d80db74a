"""`furcal body`: whole or not at all, and read back by general libraries."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from meshes.body import Body
from meshes.curves import Centreline
from meshes.errors import FurcalError
from meshes.landmarks import Landmarks
from meshes.specimen import ALDER
from meshes.structures import Structure
from meshes.surfaces import tubes
from viewer.export import body as export


def small_body() -> Body:
    """Two tubes, one of them a nerve, and two landmarks."""
    bent = np.array([[0.0, 0.0, 0.0], [1.25, 2.0, -10.0], [3.0, 4.0, -20.0], [8.0, 1.0, -30.0]])
    lines = {"femoral_left": Centreline(bent, np.array([2.0, 2.5, 3.0, 2.0]))}
    solid = Centreline(bent + 40.0, np.full(4, 9.0))
    structures = {
        "l4": Structure("l4", "fourth lumbar vertebra", "vertebra lumbalis IV", "bone"),
        "femoral_left": Structure("femoral_left", "femoral nerve", "nervus femoralis", "nerve", "left", "L2-L4"),
        "skin": Structure("skin", "skin", "cutis", "skin", layer="skin"),
    }
    surfaces = tubes({"l4": solid, **lines, "skin": Centreline(bent, np.full(4, 60.0))})
    points = {"asis_left": np.array([120.5, -60.25, 10.125]), "s1_endplate_centre": np.zeros(3)}
    landmarks = Landmarks(points, {}, {}, {"asis_left": "judgement", "s1_endplate_centre": "a + b"})
    return Body(ALDER, landmarks, structures, surfaces, lines)


def test_every_file_reads_back_as_the_body(tmp_path: Path) -> None:
    body = small_body()
    out = tmp_path / "new" / "alder"
    assert export.write_body(body, export.check_target(out)) == 3
    with (out / "landmarks.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["name"] for row in rows] == list(body.landmarks.points)
    assert [float(rows[0][k]) for k in ("x_mm", "y_mm", "z_mm")] == [120.5, -60.25, 10.125]
    assert [row["source"] for row in rows] == ["judgement", "a + b"]
    lines = json.loads((out / "centrelines.json").read_text(encoding="utf-8"))
    assert lines == {
        "femoral_left": {
            "name": "femoral nerve",
            "latin": "nervus femoralis",
            "roots": "L2-L4",
            "side": "left",
            "points_mm": body.centrelines["femoral_left"].points.tolist(),
            "radius_mm": [2.0, 2.5, 3.0, 2.0],
        }
    }
    assert {path.name for path in (out / "surfaces").iterdir()} == {"l4.ply", "femoral_left.ply", "skin.ply"}
    for name, surface in body.surfaces.items():
        mesh = trimesh.load_mesh(out / "surfaces" / f"{name}.ply", process=False)
        np.testing.assert_allclose(mesh.vertices, surface.vertices, atol=1e-5)
        np.testing.assert_array_equal(mesh.faces, surface.faces)
        assert mesh.is_watertight


def test_the_model_stands_upright_in_metres(tmp_path: Path) -> None:
    """glTF 2.0, section 3.4: metres, +y up, +z forward (the front of an asset faces +z)."""
    body = small_body()
    scene = trimesh.load_scene(export_to(tmp_path, body) / "body.glb")
    assert set(scene.graph.nodes_geometry) == set(body.surfaces)
    for name, surface in body.surfaces.items():
        transform, geometry = scene.graph[name]
        found = trimesh.transform_points(scene.geometry[geometry].vertices, transform)
        left, back, up = surface.vertices.T
        np.testing.assert_allclose(found, np.stack([left, up, -back], axis=1) / 1000.0, atol=1e-7)
        assert np.linalg.det(transform[:3, :3]) > 0.0
        assert scene.geometry[geometry].is_watertight


def export_to(folder: Path, body: Body) -> Path:
    out = folder / "out"
    export.write_body(body, export.check_target(out))
    return out


def test_an_older_body_is_replaced_as_a_whole(tmp_path: Path) -> None:
    body = small_body()
    out = export_to(tmp_path, body)
    (out / "surfaces" / "old.ply").write_text("left over")
    export_to(tmp_path, body)
    assert not (out / "surfaces" / "old.ply").exists()
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("name", ["notes.txt", "landmarks.csv", ".git"])
def test_another_folder_is_never_replaced(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine")
    with pytest.raises(FurcalError, match="other things than a body"):
        export.check_target(tmp_path)


def test_a_folder_that_only_looks_like_a_body_is_never_replaced(tmp_path: Path) -> None:
    out = export_to(tmp_path, small_body())
    (out / "landmarks.csv").write_text("mine\n")
    with pytest.raises(FurcalError, match="other things than a body"):
        export.check_target(out)


def test_a_file_or_the_folder_one_is_in_is_no_target(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(FurcalError, match="is a file"):
        export.check_target(tmp_path / "file")
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    with pytest.raises(FurcalError, match="folder you are in"):
        export.check_target(Path())


@pytest.mark.parametrize("stage", ["write_landmarks", "centrelines", "ply", "glb", "_take_the_place"])
@pytest.mark.parametrize("older", [False, True])
def test_a_failure_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stage: str, older: bool
) -> None:
    out = tmp_path / "new" / "out"
    if older:
        export.write_body(small_body(), export.check_target(out))
    before = snapshot(tmp_path)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device", str(out))

    monkeypatch.setattr(export, stage, full)
    with pytest.raises(OSError, match="No space left"):
        export.write_body(small_body(), export.check_target(out))
    assert snapshot(tmp_path) == before


def test_an_older_body_comes_back_when_the_new_one_cannot_take_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = export_to(tmp_path, small_body())
    before = snapshot(tmp_path)
    rename = Path.rename

    def once_refused(self: Path, target: Path) -> Path:
        if target == out and self.name.startswith(".out-") and "older" not in self.name:
            raise PermissionError(13, "Permission denied", str(target))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", once_refused)
    with pytest.raises(PermissionError):
        export.write_body(small_body(), export.check_target(out))
    assert snapshot(tmp_path) == before


def snapshot(folder: Path) -> dict[str, bytes]:
    """Every file under a folder with its bytes, and every folder."""
    found = folder.rglob("*")
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b"" for path in found}
