"""A cold start is light: what a command does not need is not imported."""

from __future__ import annotations

import json

import pytest

from tests.house.programs import furcal, python
from viewer.commands import COMMANDS, Command

#: Packages that take long to import. numpy is on the list for what only reads words.
HEAVY = {"numpy", "scipy", "vtk", "vtkmodules", "pyvista", "pyvistaqt", "qtpy", "PySide6", "trimesh", "matplotlib"}


def imported_after(code: str) -> set[str]:
    """Top-level packages in a fresh Python after some code."""
    done = python(
        "-c", f"{code}\nimport json, sys\nprint(json.dumps(sorted({{m.split('.')[0] for m in sys.modules}})))"
    )
    assert done.returncode == 0, done.stderr
    return set(json.loads(done.stdout.splitlines()[-1]))


@pytest.mark.parametrize(
    "code",
    [
        "import viewer.__main__",
        "import viewer.__main__ as m\nassert m.main(['--help']) == 0",
        "import viewer.__main__ as m\nm.main(['dok'])",
        "import viewer.display",
        "from viewer.commands import COMMANDS\n[c.module() for c in COMMANDS]",
    ],
)
def test_words_alone_import_nothing_heavy(code: str) -> None:
    assert imported_after(code) & HEAVY == set()


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.name)
def test_the_help_of_every_command_imports_nothing_heavy(command: Command) -> None:
    assert (
        imported_after(f"import viewer.__main__ as m\nassert m.main([{command.name!r}, '--help']) == 0") & HEAVY
        == set()
    )


def test_the_rooms_import_nothing_that_draws() -> None:
    code = (
        "import pkgutil, meshes, lessons\n"
        "for room in (meshes, lessons):\n"
        "    for found in pkgutil.walk_packages(room.__path__, room.__name__ + '.'): __import__(found.name)"
    )
    drawing = HEAVY - {"numpy"}
    assert imported_after(code) & drawing == set()


def test_help_names_every_command_and_the_caution() -> None:
    done = furcal("--help")
    assert done.returncode == 0
    for command in COMMANDS:
        assert (f"  {command.name}" in done.stdout) is not command.hidden
    assert "not for planning or guiding an operation" in done.stdout


def test_version_is_the_installed_one() -> None:
    from importlib.metadata import version

    assert furcal("--version").stdout == f"furcal {version('furcal')}\n"
