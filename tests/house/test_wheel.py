"""The wheel holds the three rooms and every table, and nothing else."""

from __future__ import annotations

import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from tests.house.programs import ROOT

ROOMS = ("meshes", "lessons", "viewer")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (built,) = out.glob("*.whl")
    return built


def test_exactly_the_rooms_and_every_file_of_them(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        held = {name: archive.read(name) for name in archive.namelist() if ".dist-info/" not in name}
    wanted = {
        str(path.relative_to(ROOT)): path.read_bytes()
        for room in ROOMS
        for path in (ROOT / room).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert {name.split("/")[0] for name in held} == set(ROOMS)
    assert held == wanted
    assert "meshes/anatomy/sources.toml" in held


def test_the_console_command_and_the_licence(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        meta = {Path(name).name: archive.read(name).decode() for name in archive.namelist() if ".dist-info/" in name}
    assert "furcal = viewer.__main__:main" in meta["entry_points.txt"]
    assert meta["LICENSE"] == (ROOT / "LICENSE").read_text(encoding="utf-8")


def test_every_dependency_is_bounded_on_both_sides() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for line in project["dependencies"] + project["optional-dependencies"]["test"]:
        assert "==" in line or (">=" in line and "<" in line), line
