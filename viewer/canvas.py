"""The widget that VTK draws in.

pyvistaqt brings it, in one module that needs no more than Qt and VTK. Its package, though, imports a whole plotting
library, which the window never uses and which would take longer to import than everything else: so that module is
loaded by itself. It asks for Qt through qtpy, which puts the names of every Qt there is into the one it finds, and
takes a tenth of a start for it; which Qt we draw with is known, so that it is given that one.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pyvistaqt.rwi import QVTKRenderWindowInteractor as Canvas
else:
    #: The package that brings it, and the one that tells it which VTK to use.
    PACKAGES = ("pyvistaqt", "pyvista")
    #: What it asks qtpy for.
    QT = ("QtCore", "QtGui", "QtOpenGLWidgets", "QtWidgets")

    def _canvas() -> type:
        """The class. A program around us that has the packages keeps them, and one that asks later gets them whole."""
        with _standing_in({name: _bare(name) for name in PACKAGES}), _standing_in(_qt()):
            return import_module("pyvistaqt.rwi").QVTKRenderWindowInteractor

    @contextmanager
    def _standing_in(modules: dict[str, ModuleType]) -> Iterator[None]:
        """Modules in place of those of the same name that nobody has imported yet, for as long as this lasts."""
        absent = {name: module for name, module in modules.items() if name.split(".")[0] not in sys.modules}
        sys.modules.update(absent)
        try:
            yield
        finally:
            for name in [n for n in sys.modules if n.split(".")[0] in absent]:
                del sys.modules[name]

    def _qt() -> dict[str, ModuleType]:
        """qtpy, as far as it is asked for."""
        return {"qtpy": ModuleType("qtpy"), **{f"qtpy.{name}": import_module(f"PySide6.{name}") for name in QT}}

    def _bare(name: str) -> ModuleType:
        """A package whose modules can be imported, but which does nothing itself."""
        found = find_spec(name)
        if found is None:
            raise ModuleNotFoundError(f"{name} is not installed; a window needs it.", name=name)
        bare = ModuleType(name)
        bare.__path__ = list(found.submodule_search_locations or ())
        return bare

    Canvas = _canvas()

__all__ = ["Canvas"]
