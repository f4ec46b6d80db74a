"""One structure on the screen: its mesh, its light copy, its rim, and how they are styled."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonCore import vtkLookupTable
from vtkmodules.vtkCommonDataModel import vtkImageData, vtkPolyData
from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper, vtkRenderer, vtkTexture

from meshes.curves import Centreline
from meshes.structures import Structure
from meshes.surfaces import Surface
from viewer.actors import Look, Material, material, mixed, stem
from viewer.fibres import bundle_coordinates, course_of, end_share, fibre_texture, sheet_coordinates
from viewer.palette import PRINT, RGB
from viewer.polydata import Array, polydata, reduced, vertex_normals

#: Thickness of the rim around what is touched or traced, mm.
RIM_MM = 1.3
#: Length of one dark and one light band along a banded nerve, mm.
BAND_MM = 9.0
#: Darkens (or lightens) a solid where it turns away, so that its edge reads against what is behind it.
_EDGE = """//VTK::Light::Impl
  float facing = abs(normalVCVSOutput.z);
  fragOutput0.rgb *= mix({edge:.3f}, 1.0, smoothstep(0.05, 0.50, facing));
"""
#: Glass is clear where one looks straight through and dense along its outline.
_GLASS = """//VTK::Light::Impl
  float facing = abs(normalVCVSOutput.z);
  fragOutput0.rgb *= mix({edge:.3f}, 1.0, smoothstep(0.05, 0.50, facing));
  fragOutput0.a = mix(0.80, fragOutput0.a, smoothstep(0.02, 0.62, facing));
"""
_LIGHT_HOOK = "//VTK::Light::Impl"


class Textures:
    """Pictures that one renderer's parts share: fibres of muscle, bands of nerves."""

    def __init__(self) -> None:
        self.fibres = _texture(fibre_texture())
        bands = np.full((4, 64), 255, dtype=np.uint8)
        bands[:, 40:] = 105
        self.bands = _texture(bands)


@dataclass
class Meshes:
    """The VTK meshes of one structure, full and light, made when they are asked for, in whatever thread asks."""

    surface: Surface
    structure: Structure
    line: Centreline | None = None
    made: dict[bool, vtkPolyData] = field(default_factory=dict)

    def get(self, light: bool) -> vtkPolyData:
        """The full mesh or its light copy."""
        row = material(self.structure)
        light = light and row.detail > 0.0
        if light not in self.made:
            texture, share = self._texture(row), self._tendon(row)
            surface = self.surface
            if light:
                surface, stands_for = reduced(surface, row.detail)
                texture = None if texture is None else texture[stands_for]
                share = None if share is None else share[stands_for]
            self.made[light] = polydata(surface, texture, share)
        return self.made[light]

    def _texture(self, row: Material) -> Array | None:
        if row.fibres == "bundle":
            return bundle_coordinates(self.surface)
        if row.fibres == "sheet":
            return sheet_coordinates(self.surface, course_of(stem(self.structure.id)).lean_deg)
        if self.line is not None and self.structure.kind == "nerve":
            return _along(self.surface, self.line)
        return None

    def _tendon(self, row: Material) -> Array | None:
        start = course_of(stem(self.structure.id)).tendon_from
        if not row.fibres or start >= 1.0:
            return None
        out: Array = np.clip((end_share(self.surface) - start) / (1.0 - start), 0.0, 1.0)
        return out


class Part:
    """The actors of one structure in one renderer."""

    def __init__(self, meshes: Meshes, textures: Textures) -> None:
        self.structure = meshes.structure
        self.material: Material = material(meshes.structure)
        self._textures = textures
        self._light = False
        self._look: Look | None = None
        self._rim: vtkActor | None = None
        self.mapper = vtkPolyDataMapper()
        self.actor = vtkActor()
        self.actor.SetMapper(self.mapper)
        self.actor.GetProperty().BackfaceCullingOn()
        self.reshape(meshes)

    # --- shape

    def reshape(self, meshes: Meshes) -> None:
        """Take other meshes for the same structure."""
        self._meshes = meshes
        self.mapper.SetInputData(meshes.get(self._light))
        if self._rim is not None:
            self._rim.GetMapper().SetInputDataObject(_hull(meshes.surface))

    def set_light(self, light: bool) -> None:
        """Use the light copy (True) or the full mesh."""
        if light != self._light:
            self._light = light
            self.mapper.SetInputData(self._meshes.get(light))

    def triangles(self) -> int:
        """Triangles of the mesh in use."""
        return int(self._meshes.get(self._light).GetNumberOfPolys())

    @property
    def centre(self) -> Array:
        """Middle of its vertices (3,), mm."""
        middle: Array = self._meshes.surface.vertices.mean(axis=0)
        return middle

    # --- style

    def style(self, now: Look) -> None:
        """Colour, glass, bands and rim."""
        before, self._look = self._look, now
        prop = self.actor.GetProperty()
        prop.SetColor(*_unit(now.colour))
        prop.SetOpacity(now.opacity)
        prop.SetAmbient(0.16)
        prop.SetDiffuse(0.9)
        prop.SetSpecular(self.material.shine)
        prop.SetSpecularPower(self.material.grip)
        self._colour_tendon(now)
        self._pick_texture(now)
        if before is None or (before.edge, before.opacity) != (now.edge, now.opacity):
            shader = self.actor.GetShaderProperty()
            shader.ClearAllFragmentShaderReplacements()
            text = (_EDGE if now.opacity >= 1.0 else _GLASS).format(edge=now.edge)
            shader.AddFragmentShaderReplacement(_LIGHT_HOOK, True, text, False)
        self._style_rim(now)

    def _colour_tendon(self, now: Look) -> None:
        if course_of(stem(self.structure.id)).tendon_from >= 1.0:
            self.mapper.ScalarVisibilityOff()
            return
        table = vtkLookupTable()
        table.SetNumberOfTableValues(32)
        for i in range(32):
            share = i / 31.0
            table.SetTableValue(i, (*_unit(mixed(now.colour, PRINT["tendon"], share)), 1.0))
        self.mapper.SetLookupTable(table)
        self.mapper.SetScalarRange(0.0, 1.0)
        self.mapper.ScalarVisibilityOn()

    def _pick_texture(self, now: Look) -> None:
        if self.material.fibres:
            self.actor.SetTexture(self._textures.fibres)
        else:
            bands = self._textures.bands if now.banded else None
            self.actor.SetTexture(bands)  # type: ignore[arg-type]  # None takes a texture off; the stub forgets it

    def _style_rim(self, now: Look) -> None:
        if now.ringed and self._rim is None:
            self._rim = _rim_actor(self._meshes.surface)
        if self._rim is not None:
            self._rim.SetVisibility(now.ringed)
            self._rim.GetProperty().SetColor(*_unit(now.rim))

    # --- in and out

    def put_into(self, renderer: vtkRenderer) -> None:
        """Add the actors to a renderer."""
        for actor in self._actors():
            renderer.AddActor(actor)

    def take_from(self, renderer: vtkRenderer) -> None:
        """Remove the actors from a renderer."""
        for actor in self._actors():
            renderer.RemoveActor(actor)

    def _actors(self) -> list[vtkActor]:
        return [self.actor] if self._rim is None else [self.actor, self._rim]

    @property
    def is_glassy(self) -> bool:
        """True while it is drawn see-through."""
        return self._look is not None and self._look.opacity < 1.0


def _along(surface: Surface, line: Centreline) -> Array:
    """Texture coordinates (v, 2) that count bands along a nerve."""
    gaps = surface.vertices[:, None, :] - line.points[None, :, :]
    nearest = np.argmin(np.einsum("ijk,ijk->ij", gaps, gaps), axis=1)
    return np.stack([line.arc[nearest] / BAND_MM, np.zeros(len(nearest))], axis=1)


def _hull(surface: Surface) -> vtkPolyData:
    grown = surface.vertices + RIM_MM * vertex_normals(surface)
    return polydata(surface.moved(grown))


def _rim_actor(surface: Surface) -> vtkActor:
    """The surface grown a little and seen from inside: a rim of one colour around it."""
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(_hull(surface))
    mapper.ScalarVisibilityOff()
    actor = vtkActor()
    actor.SetMapper(mapper)
    prop = actor.GetProperty()
    prop.FrontfaceCullingOn()
    prop.LightingOff()
    return actor


def _texture(picture: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> vtkTexture:
    image = vtkImageData()
    image.SetDimensions(picture.shape[1], picture.shape[0], 1)
    image.GetPointData().SetScalars(numpy_to_vtk(np.repeat(picture.ravel()[:, None], 3, axis=1), deep=True))
    texture = vtkTexture()
    texture.SetInputData(image)
    texture.InterpolateOn()
    texture.MipmapOn()
    texture.RepeatOn()
    texture.SetColorModeToDirectScalars()
    return texture


def _unit(colour: RGB) -> tuple[float, float, float]:
    return colour[0] / 255.0, colour[1] / 255.0, colour[2] / 255.0
