"""An actor whose mesh comes in two details, each with a mapper of its own.

A mapper that is given another mesh uploads it anew. With one for each, what was drawn once stays where it is drawn
from, and a motion begins, and ends, without a pause.
"""

from __future__ import annotations

from collections.abc import Callable

from vtkmodules.vtkCommonCore import vtkLookupTable
from vtkmodules.vtkCommonDataModel import vtkPolyData
from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper, vtkRenderWindow

from viewer.bore import unshifted


class TwoMeshes:
    """meshes : the full mesh (False) or the light one (True), made when it is asked for"""

    def __init__(self, meshes: Callable[[bool], vtkPolyData], light: bool) -> None:
        self.actor = vtkActor()
        self._meshes = meshes
        self._light = light
        # By the identity of a mesh, which is kept with its mapper so that no other one takes it over.
        self._mappers: dict[int, tuple[vtkPolyData, vtkPolyDataMapper]] = {}
        self._table: vtkLookupTable | None = None
        self._take()

    def use(self, light: bool) -> None:
        """Draw the light mesh (True) or the full one."""
        if light != self._light:
            self._light = light
            self._take()

    def reshape(self, meshes: Callable[[bool], vtkPolyData]) -> None:
        """Other meshes, in the same actor; those before may come back."""
        self._meshes = meshes
        self._take()

    def forget(self, window: vtkRenderWindow | None) -> None:
        """None of the meshes so far comes back. window : which they were drawn in, None for none

        What was uploaded is given back now: left to VTK it would be while VTK takes objects away, with a lock held that
        a thread which builds a body may be waiting for.
        """
        for _, mapper in self._mappers.values():
            if window is not None:
                mapper.ReleaseGraphicsResources(window)
        self._mappers.clear()

    def colour_by(self, table: vtkLookupTable | None) -> None:
        """Colour by the numbers of the meshes' points, 0..1, or by one colour (None)."""
        self._table = table
        for _, mapper in self._mappers.values():
            self._dress(mapper)

    def _take(self) -> None:
        mesh = self._meshes(self._light)
        if id(mesh) not in self._mappers:
            mapper = vtkPolyDataMapper()
            mapper.SetInputData(mesh)
            self._dress(mapper)
            unshifted(mapper)  # from the start: what has been drawn once keeps its shift
            self._mappers[id(mesh)] = mesh, mapper
        self.actor.SetMapper(self._mappers[id(mesh)][1])

    def _dress(self, mapper: vtkPolyDataMapper) -> None:
        mapper.SetScalarVisibility(self._table is not None)
        if self._table is not None:
            mapper.SetLookupTable(self._table)
            mapper.SetScalarRange(0.0, 1.0)
