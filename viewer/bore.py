"""Down the portal: the channel cleared of what it pushes aside, and the muscle that it stands on.

Skin, fat and muscle are not drawn inside the channel, nor a little way past its end; whatever else it meets is. Where
muscle lies deeper, it closes the view with a floor. What lies beside the channel steps back towards the background.
Nothing here costs anything while the portal is looked at from elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkCommonDataModel import vtkPlane, vtkPlaneCollection
from vtkmodules.vtkFiltersGeneral import vtkClipClosedSurface
from vtkmodules.vtkRenderingCore import vtkActor, vtkMapper, vtkPolyDataMapper, vtkRenderer

from meshes.curves import Array
from meshes.halves import as_poly
from meshes.portal import Portal
from meshes.surfaces import Surface
from viewer.actors import Look, mixed
from viewer.palette import RGB
from viewer.polydata import polydata

#: Muscle is cleared this much farther than the channel reaches, mm. A portal ends on the border of a disc or past it,
#: so what is left of muscle between its flat end and the bone is a wedge, thin in the middle and nowhere thicker than
#: the border bends back under the ring; the tip pushes it aside. Judgement, no source.
PAST_END_MM = 8.0
#: What the colour of things beside the channel is mixed with the background.
BESIDE = 0.5
#: How much darker than its muscle a floor is, and how much of a floor of glassy muscle is seen.
FLOOR_SHADE, FLOOR_OPACITY = 0.25, 0.4
_VERTEX_HOOK, _FRAGMENT_HOOK = "//VTK::PositionVC", "//VTK::Color::Impl"
_PLACED = """
  vec3 boreFrom = boreMC - boreEnd;
  float boreAlong = dot(boreFrom, boreWay);
  bool boreBeside = length(boreFrom - boreAlong * boreWay) > boreRadius;
"""
_CLEAR = "  if (boreAlong < 0.0 && !boreBeside) discard;\n"
_FLOOR = "  if (boreBeside) discard;\n"
#: After the texture, so that fibres and bands step back as well.
_LAST_HOOK = "//VTK::TCoord::Impl"
_STEP_BACK = "  if (boreBeside) fragOutput0.rgb = mix(fragOutput0.rgb, vec3({0:.4f}, {1:.4f}, {2:.4f}), {share:.3f});\n"


@dataclass(frozen=True, eq=False)
class Bore:
    """What is cleared, from beyond the skin to past the channel's end.

    end_mm, way : (3,) mm, where clearing ends, and unit, inwards
    """

    end_mm: Array
    way: Array
    radius_mm: float

    def holds(self, points: Array) -> NDArray[np.bool_]:
        """Which of the points (n, 3), mm, lie inside."""
        from_end = points - self.end_mm
        along = from_end @ self.way
        inside: NDArray[np.bool_] = (along < 0.0) & (self._off_axis(from_end, along) < self.radius_mm)
        return inside

    def surrounds(self, points: Array) -> NDArray[np.bool_]:
        """Which of the points (n, 3), mm, lie within its radius, however deep."""
        from_end = points - self.end_mm
        within: NDArray[np.bool_] = self._off_axis(from_end, from_end @ self.way) < self.radius_mm
        return within

    def may_end_in(self, surface: Surface) -> bool:
        """Whether clearing may end in a solid: quick, and only ever wrong by yes."""
        low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
        if (self.end_mm < low - self.radius_mm).any() or (self.end_mm > high + self.radius_mm).any():
            return False
        along = (surface.vertices - self.end_mm) @ self.way
        return bool(along.min() < 0.0 < along.max())

    @staticmethod
    def _off_axis(from_end: Array, along: Array) -> Array:
        out: Array = np.sqrt(np.maximum(np.einsum("ij,ij->i", from_end, from_end) - along * along, 0.0))
        return out


def bore_of(portal: Portal | None) -> Bore | None:
    """What is cleared for a portal."""
    if portal is None:
        return None
    return Bore(portal.end_mm + PAST_END_MM * portal.direction, portal.direction, portal.radius_mm)


def teach(actor: vtkActor, cleared: bool, behind: RGB | None) -> None:
    """Teach an actor, its mapper `unshifted`, what it is in and beside the channel; `follow` tells it where that is.

    cleared : it does not draw itself inside
    behind  : beside the channel it steps back towards this colour; None where it keeps its own
    """
    if cleared or behind is not None:
        _teach(actor, _CLEAR if cleared else "")
    if behind is not None:
        text = _STEP_BACK.format(*(c / 255.0 for c in behind), share=BESIDE)
        actor.GetShaderProperty().AddFragmentShaderReplacement(_LAST_HOOK, True, f"{_LAST_HOOK}\n{text}", False)


def follow(actor: vtkActor, bore: Bore) -> None:
    """Tell an actor where the channel stands."""
    uniforms = actor.GetShaderProperty().GetFragmentCustomUniforms()
    uniforms.SetUniform3f("boreEnd", list(bore.end_mm))
    uniforms.SetUniform3f("boreWay", list(bore.way))
    uniforms.SetUniformf("boreRadius", bore.radius_mm)


def _teach(actor: vtkActor, rule: str) -> None:
    shader = actor.GetShaderProperty()
    declared, placed = f"{_VERTEX_HOOK}::Dec", f"{_VERTEX_HOOK}::Impl"
    shader.AddVertexShaderReplacement(declared, True, f"{declared}\nout vec3 boreMC;\n", False)
    shader.AddVertexShaderReplacement(placed, True, f"{placed}\n  boreMC = vertexMC.xyz;\n", False)
    shader.AddFragmentShaderReplacement(declared, True, f"{declared}\nin vec3 boreMC;\n", False)
    shader.AddFragmentShaderReplacement(_FRAGMENT_HOOK, True, f"{_PLACED}{rule}{_FRAGMENT_HOOK}\n", False)


def unshifted(mapper: vtkMapper) -> None:
    """Let corners reach the shader in the coordinates of their mesh: VTK would else shift and scale far ones."""
    of_opengl: Any = mapper  # the stub does not know that it is one
    of_opengl.SetVBOShiftScaleMethod(0)


class Floors:
    """What closes the view down a channel where muscle lies deeper than what is cleared, in one renderer."""

    def __init__(self, renderer: vtkRenderer) -> None:
        self._renderer = renderer
        self._shown: list[vtkActor] = []

    @property
    def glassy(self) -> list[vtkActor]:
        """The see-through ones."""
        return [actor for actor in self._shown if actor.GetProperty().GetOpacity() < 1.0]

    def show(self, bore: Bore | None, looks: Mapping[str, Look], surfaces: Mapping[str, Surface]) -> None:
        """Draw the floors of a channel in the muscles (ids of `surfaces`) that are seen, or none."""
        for actor in self._shown:
            self._renderer.RemoveActor(actor)
        self._shown = [] if bore is None else list(self._made(bore, looks, surfaces))
        for actor in self._shown:
            self._renderer.AddActor(actor)

    @staticmethod
    def _made(bore: Bore, looks: Mapping[str, Look], surfaces: Mapping[str, Surface]) -> Iterable[vtkActor]:
        for name, surface in surfaces.items():
            if name in looks and bore.may_end_in(surface):
                cut = cut_across(surface, bore.end_mm, bore.way)
                if len(cut.faces):
                    yield _floor(cut, bore, looks[name])


def cut_across(surface: Surface, point: Array, normal: Array) -> Surface:
    """The flat section (not closed) of a closed surface through a point (3,), turned against the normal (3,)."""
    plane, planes, clip = vtkPlane(), vtkPlaneCollection(), vtkClipClosedSurface()
    plane.SetOrigin(*point)
    plane.SetNormal(*normal)
    planes.AddItem(plane)
    clip.SetClippingPlanes(planes)
    clip.SetInputData(as_poly(surface))
    clip.SetScalarModeToLabels()
    clip.Update()
    poly = clip.GetOutput()
    if poly.GetNumberOfPolys() == 0:
        return Surface(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int32))
    faces = vtk_to_numpy(poly.GetPolys().GetConnectivityArray()).reshape(-1, 3)
    on_cut = vtk_to_numpy(poly.GetCellData().GetScalars()) == 1
    used, inverse = np.unique(faces[on_cut], return_inverse=True)
    vertices = vtk_to_numpy(poly.GetPoints().GetData())[used].astype(np.float64)
    return Surface(vertices, inverse.reshape(-1, 3).astype(np.int32))


def _floor(cut: Surface, bore: Bore, look: Look) -> vtkActor:
    mapper, actor = vtkPolyDataMapper(), vtkActor()
    mapper.SetInputData(polydata(cut))
    actor.SetMapper(mapper)
    unshifted(mapper)
    prop = actor.GetProperty()
    prop.SetColor(*(c / 255.0 for c in mixed(look.colour, (0, 0, 0), FLOOR_SHADE)))
    prop.SetOpacity(1.0 if look.opacity >= 1.0 else FLOOR_OPACITY)
    prop.SetAmbient(0.3)
    prop.SetDiffuse(0.8)
    _teach(actor, _FLOOR)
    follow(actor, bore)
    return actor
