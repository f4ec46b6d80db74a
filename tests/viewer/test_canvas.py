"""The widget that VTK draws in is loaded by itself, and nobody around it notices."""

from __future__ import annotations

import subprocess
import sys

import pytest

#: What a program around us may ask for, before it imports the widget or after it.
AROUND = """
import qtpy, qtpy.QtCore, qtpy.QtWidgets
assert qtpy.API == "pyside6" and qtpy.QtCore.__name__ == "qtpy.QtCore"
"""
TAKEN = """
import sys
from viewer.canvas import Canvas
from PySide6.QtOpenGLWidgets import QOpenGLWidget
assert issubclass(Canvas, QOpenGLWidget)
"""
ALONE = """
assert not [name for name in sys.modules if name.split(".")[0] in ("qtpy", "pyvista", "pyvistaqt", "matplotlib")]
"""


@pytest.mark.parametrize("program", [TAKEN + ALONE, TAKEN + AROUND, AROUND + TAKEN + AROUND])
def test_whoever_asks_for_qt_gets_it_whole(program: str) -> None:
    told = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (told.returncode, told.stderr) == (0, "")
