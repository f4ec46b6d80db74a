"""What is traced shines through what covers it: a pale copy that the depth of the picture does not hold back.

So a covered stretch can be told from an exposed one: the exposed one is solid, the covered one pale. The copy is
see-through, so that it leaves no trace in the depth buffer, which labels are placed by.
"""

from __future__ import annotations

from vtkmodules.vtkCommonDataModel import vtkPolyData
from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

OPACITY = 0.42
#: In front of everything, and still in the order of its own depth.
_IN_FRONT = """//VTK::Depth::Impl
  gl_FragDepth = 0.001 * gl_FragCoord.z;
"""


def shining(mesh: vtkPolyData) -> vtkActor:
    """A copy of a mesh that shines through."""
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(mesh)
    mapper.ScalarVisibilityOff()
    actor = vtkActor()
    actor.SetMapper(mapper)
    prop = actor.GetProperty()
    prop.LightingOff()
    prop.BackfaceCullingOn()
    prop.SetOpacity(OPACITY)
    in_front(actor)
    return actor


def in_front(actor: vtkActor) -> None:
    """Let nothing but the like cover an actor."""
    actor.GetShaderProperty().AddFragmentShaderReplacement("//VTK::Depth::Impl", True, _IN_FRONT, False)
