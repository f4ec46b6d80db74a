"""What the rooms import from outside is what the project asks for, no more and no less."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import packages_distributions

from tests.house.programs import ROOT

ROOMS = ("meshes", "lessons", "viewer")
#: Asked for though no room imports them: pyvistaqt stands on them and bounds them by nothing.
INDIRECT = {"pyvista", "qtpy"}
#: Extras that a user may leave out, and a room imports inside a function.
EXTRAS = ("dicom", "slides", "video")


def imported() -> Iterator[str]:
    """Top-level names that any module of the rooms imports, at module level or inside a function."""
    for room in ROOMS:
        for path in (ROOT / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    yield from (name.name.split(".")[0] for name in node.names)
                elif isinstance(node, ast.ImportFrom) and node.module:
                    yield node.module.split(".")[0]


def plain(name: str) -> str:
    """A distribution's name as packaging compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def test_imports_and_dependencies_agree() -> None:
    outside = {name for name in imported() if name not in {*ROOMS, *sys.stdlib_module_names}}
    homes = packages_distributions()
    used = {plain(homes[name][0]) for name in outside}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [line for extra in EXTRAS for line in project["optional-dependencies"][extra]]
    asked = {plain(re.split(r"[<>=\[;]", line)[0]) for line in [*project["dependencies"], *extras]}
    assert used == asked - INDIRECT
    assert asked >= INDIRECT
