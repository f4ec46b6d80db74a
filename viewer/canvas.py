"""The widget that VTK draws in.

pyvistaqt brings it, in one module that needs no more than Qt and VTK. Its package, though, imports a whole plotting
library, which the window never uses and which would take longer to import than everything else: so that module is
loaded by itself.
"""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pyvistaqt.rwi import QVTKRenderWindowInteractor as Canvas
else:
    #: The package that brings it, and the one that tells it which VTK to use.
    PACKAGES = ("pyvistaqt", "pyvista")

    def _canvas() -> type:
        """The class. A program around us that has the packages keeps them, and one that asks later gets them whole."""
        absent = [name for name in PACKAGES if name not in sys.modules]
        for name in absent:
            sys.modules[name] = _bare(name)
        try:
            return import_module("pyvistaqt.rwi").QVTKRenderWindowInteractor
        finally:
            for name in [n for n in sys.modules if n.split(".")[0] in absent]:
                del sys.modules[name]

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
