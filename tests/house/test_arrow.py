"""The import arrow viewer -> lessons -> meshes is checked by a tool, and the tool bites."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.programs import ROOT

ROOMS = ("meshes", "lessons", "viewer")


def lint_imports(tree: Path) -> subprocess.CompletedProcess[str]:
    """Run the tool in a tree."""
    tool = Path(sys.executable).with_name("lint-imports")
    return subprocess.run(
        [tool, "--no-cache"], cwd=tree, env={"PYTHONPATH": str(tree)}, capture_output=True, text=True, check=False
    )


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """A copy of the tree."""
    for room in ROOMS:
        shutil.copytree(ROOT / room, tmp_path / room, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_the_tree_keeps_the_arrow(copied: Path) -> None:
    done = lint_imports(copied)
    assert done.returncode == 0, done.stdout
    assert " 0 broken" in done.stdout


@pytest.mark.parametrize(
    ("file", "line", "contract"),
    [
        ("meshes/errors.py", "import lessons", "viewer -> lessons -> meshes"),
        ("meshes/errors.py", "import viewer.display", "viewer -> lessons -> meshes"),
        ("lessons/view.py", "from viewer import display", "viewer -> lessons -> meshes"),
        ("lessons/view.py", "def late() -> None:\n    import viewer.display", "viewer -> lessons -> meshes"),
        ("meshes/errors.py", "import PySide6.QtCore", "meshes know no Qt"),
        ("meshes/curves.py", "import qtpy", "meshes know no Qt"),
        ("meshes/curves.py", "from pyvista import PolyData", "meshes know no Qt"),
        ("meshes/curves.py", "import pyvistaqt", "meshes know no Qt"),
        ("lessons/view.py", "import PySide6.QtGui", "lessons know no Qt"),
        ("lessons/view.py", "from vtkmodules.vtkCommonCore import vtkPoints", "lessons know no Qt"),
        ("lessons/view.py", "import vtk", "lessons know no Qt"),
        ("lessons/view.py", "import pyvista", "lessons know no Qt"),
    ],
)
def test_a_planted_violation_is_found(copied: Path, file: str, line: str, contract: str) -> None:
    path = copied / file
    path.write_text(f"{path.read_text()}\n{line}\n")
    done = lint_imports(copied)
    assert done.returncode == 1, done.stdout
    broken = [said for said in done.stdout.splitlines() if said.endswith("BROKEN")]
    assert len(broken) == 1
    assert broken[0].startswith(contract)
