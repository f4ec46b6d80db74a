"""One structure on the screen: its mesh, its light copy, its rim, and how they are styled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonCore import vtkLookupTable
from vtkmodules.vtkCommonDataModel import vtkImageData, vtkPolyData
from vtkmodules.vtkRenderingCore import vtkActor, vtkRenderer, vtkRenderWindow, vtkTexture

from meshes.curves import Centreline
from meshes.normals import vertex_normals
from meshes.structures import Structure
from meshes.surfaces import Surface, tube
from viewer.actors import Look, Material, material, mixed, stem
from viewer.bore import Bore, follow, teach
from viewer.fibres import bundle_coordinates, course_of, end_share, fibre_texture, sheet_coordinates
from viewer.palette import PRINT, RGB
from viewer.polydata import Array, Shape, as_polydata, polydata, reduced, shape_of
from viewer.sawn import lightly_sawn, sawn, spongy_texture
from viewer.shine import shining
from viewer.stretches import toned, tones
from viewer.twomeshes import TwoMeshes

#: Length of one dark and one light band along a banded nerve, mm.
BAND_MM = 9.0
#: Darkens a solid where it turns away, so that its edge reads against what is behind it. A tube only a few pixels wide
#: takes the mean instead: its edges would come and go from pixel to pixel.
_EDGE = """//VTK::Light::Impl
  float facing = abs(normalVCVSOutput.z);
  float thin = clamp(1.5 * fwidth(facing), 0.0, 1.0);
  fragOutput0.rgb *= mix({edge:.3f}, 1.0, mix(smoothstep(0.05, 0.50, facing), 0.55, thin));
"""
#: Glass is pale, clear where one looks straight through, milky towards its outline and dark on it: so it reads over
#: muscle of its own colour and against both backgrounds.
_GLASS = """//VTK::Light::Impl
  float facing = abs(normalVCVSOutput.z);
  float pale = 1.0 - smoothstep(0.30, 0.85, facing);
  float dark = 1.0 - smoothstep(0.10, 0.36, facing);
  fragOutput0.rgb = mix(fragOutput0.rgb, vec3(1.0, 0.92, 0.89), 0.40 + 0.35 * pale);
  fragOutput0.rgb *= 1.0 - 0.62 * dark;
  fragOutput0.a = max(fragOutput0.a, max(0.62 * pale, 0.92 * dark));
"""
_LIGHT_HOOK = "//VTK::Light::Impl"


class Textures:
    """Pictures that one renderer's parts share: fibres of muscle, bands of nerves, sawn bone."""

    def __init__(self) -> None:
        self.fibres = _texture(fibre_texture())
        bands = np.full((4, 64), 255, dtype=np.uint8)
        bands[:, 40:] = 105
        self.bands = _texture(bands)

    @cached_property
    def spongy(self) -> vtkTexture:
        """Made when the first bone is sawn."""
        return _texture(spongy_texture())


@dataclass
class Meshes:
    """The VTK meshes of one structure, full and light, made when they are asked for by the thread that draws.

    cut    : (f,) which faces of a sawn bone are its cut; None for what is whole
    shapes : what the meshes are made of; `prepare` makes it beforehand in whatever thread calls it
    """

    surface: Surface
    structure: Structure
    line: Centreline | None = None
    cut: NDArray[np.bool_] | None = None
    shapes: dict[bool, Shape] = field(default_factory=dict)
    made: dict[bool, vtkPolyData] = field(default_factory=dict)
    hulls: dict[tuple[bool, float], vtkPolyData] = field(default_factory=dict)

    @cached_property
    def centre(self) -> Array:
        """Middle of the vertices (3,), mm."""
        middle: Array = self.surface.vertices.mean(axis=0)
        return middle

    def get(self, light: bool) -> vtkPolyData:
        """The full mesh or its light copy."""
        if light not in self.made:
            self.made[light] = as_polydata(self.prepare(light))
        return self.made[light]

    def prepare(self, light: bool) -> Shape:
        """What one of them is made of."""
        if light not in self.shapes:
            self.shapes[light] = self._light() if light else self._full()
        return self.shapes[light]

    def hull(self, light: bool, thick_mm: float) -> vtkPolyData:
        """The full surface or a light one, grown by a thickness: what shows as its rim."""
        if (light, thick_mm) not in self.hulls:
            surface = self.surface
            if light and self.line is not None:
                surface = slender(self.line)
            elif light and self.cut is None:
                surface = reduced(surface, material(self.structure).detail)[0]
            self.hulls[light, thick_mm] = _hull(surface, thick_mm)
        return self.hulls[light, thick_mm]

    def _full(self) -> Shape:
        if self.cut is not None:
            return shape_of(*sawn(self.surface, self.cut))
        return shape_of(self.surface, *self._on_surface)

    def _light(self) -> Shape:
        """A slender tube where there is a middle line; else the surface with its vertices drawn together."""
        if self.line is not None:
            surface = slender(self.line)
            return shape_of(surface, self._texture(surface))
        if self.cut is not None:
            return shape_of(*lightly_sawn(self.surface, self.cut))
        surface, stands_for = reduced(self.surface, material(self.structure).detail)
        texture, share = self._on_surface
        return shape_of(
            surface, None if texture is None else texture[stands_for], None if share is None else share[stands_for]
        )

    @cached_property
    def _on_surface(self) -> tuple[Array | None, Array | None]:
        """Texture coordinates and share of tendon of the full surface."""
        return self._texture(self.surface), self._tendon()

    def _texture(self, surface: Surface) -> Array | None:
        fibres = material(self.structure).fibres
        if fibres == "bundle":
            return bundle_coordinates(surface)
        if fibres == "sheet":
            return sheet_coordinates(surface, course_of(stem(self.structure.id)).lean_deg)
        if self.line is not None and self.structure.kind == "nerve":
            return _along(surface, self.line)
        return None

    def _tendon(self) -> Array | None:
        start = course_of(stem(self.structure.id)).tendon_from
        if not material(self.structure).fibres or start >= 1.0:
            return None
        out: Array = np.clip((end_share(self.surface) - start) / (1.0 - start), 0.0, 1.0)
        return out


class Part:
    """The actors of one structure in one renderer."""

    def __init__(self, meshes: Meshes, textures: Textures, light: bool = False) -> None:
        self.structure = meshes.structure
        self.material: Material = material(meshes.structure)
        self._textures = textures
        self._light = light
        self._look: Look | None = None
        self._rim: TwoMeshes | None = None
        self._shine: vtkActor | None = None
        self._edges: tuple[float, ...] = ()
        self._rim_mm = 0.0
        self._meshes = meshes
        self._solid = TwoMeshes(meshes.get, light)
        self.actor = self._solid.actor
        self.actor.GetProperty().BackfaceCullingOn()

    # --- shape

    def reshape(self, meshes: Meshes) -> None:
        """Take other meshes for the same structure."""
        if meshes is self._meshes:
            return
        self._meshes, self._edges = meshes, ()
        self._solid.reshape(meshes.get)
        self._shape_rim()
        if self._look is not None:
            self._style_shine(self._look)

    def forget_shapes(self, window: vtkRenderWindow | None) -> None:
        """The meshes so far do not come back: another body. window : which they were drawn in"""
        for one in (self._solid, self._rim):
            if one is not None:
                one.forget(window)

    def set_light(self, light: bool) -> None:
        """Use the light copy (True) or the full mesh."""
        if light != self._light:
            self._light = light
            self._solid.use(light)
            self._shape_rim()

    def triangles(self) -> int:
        """Triangles of the mesh in use."""
        return int(self._meshes.get(self._light).GetNumberOfPolys())

    @property
    def centre(self) -> Array:
        """Middle of its vertices (3,), mm."""
        return self._meshes.centre

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
        self._colour_scalars(now)
        self._pick_texture(now)
        if before is None or _shading(before) != _shading(now):
            self._shade(now)
        self._style_rim(now)
        self._style_shine(now)

    def stretch(self, edges_mm: Sequence[float]) -> None:
        """Tell the stretches of a nerve apart by their tone; without edges it is of one again."""
        self._edges = tuple(edges_mm)
        line = self._meshes.line
        if line is None:
            return
        for light in (False, True):
            toned(self._meshes.get(light), line, self._edges)
        if self._look is not None:
            self._colour_scalars(self._look)
            self._style_shine(self._look)

    def follow(self, bore: Bore) -> None:
        """Leave the inside of this channel clear."""
        follow(self.actor, bore)

    def _shade(self, now: Look) -> None:
        shader = self.actor.GetShaderProperty()
        shader.ClearAllShaderReplacements()
        text = (_EDGE if now.opacity >= 1.0 else _GLASS).format(edge=now.edge)
        shader.AddFragmentShaderReplacement(_LIGHT_HOOK, True, text, False)
        teach(self.actor, now.cleared, now.behind)

    def _colour_scalars(self, now: Look) -> None:
        """What runs along a part: tendon of a muscle, stretches of a nerve."""
        if self._edges:
            self._solid.colour_by(tones(now.colour))
        elif course_of(stem(self.structure.id)).tendon_from < 1.0:
            self._solid.colour_by(_tendon_table(now.colour))
        else:
            self._solid.colour_by(None)

    def _pick_texture(self, now: Look) -> None:
        if self.material.fibres:
            self.actor.SetTexture(self._textures.fibres)
        elif now.opened:
            self.actor.SetTexture(self._textures.spongy)
        else:
            bands = self._textures.bands if now.banded else None
            self.actor.SetTexture(bands)  # type: ignore[arg-type]  # None takes a texture off; the stub forgets it

    def _hull(self, light: bool) -> vtkPolyData:
        return self._meshes.hull(light, self._rim_mm)

    def _shape_rim(self) -> None:
        """A rim that is not seen keeps its shape until it is: to grow a hull takes long."""
        if self._rim is not None and self._rim.actor.GetVisibility():
            self._rim.use(self._light)
            self._rim.reshape(self._hull)

    def _style_rim(self, now: Look) -> None:
        if now.ringed:
            self._rim_mm = now.rim_mm
            if self._rim is None:
                self._rim = _rim(self._hull, self._light)
        if self._rim is not None:
            self._rim.actor.SetVisibility(now.ringed)
            self._shape_rim()
            self._rim.actor.GetProperty().SetColor(*_unit(now.rim))

    def _style_shine(self, now: Look) -> None:
        if now.shines and self._shine is None:
            self._shine = shining(self._meshes.get(True))
        if self._shine is not None:
            self._shine.SetVisibility(now.shines)
            self._shine.GetProperty().SetColor(*_unit(now.rim))
            through = self._shine.GetMapper()
            # With its rim, a thin nerve that is covered is as bold as one that lies open.
            whole = now.ringed and not self._edges
            through.SetInputDataObject(self._meshes.hull(True, now.rim_mm) if whole else self._meshes.get(True))
            through.SetScalarVisibility(bool(self._edges))
            if self._edges:
                through.SetLookupTable(tones(now.rim))
                through.SetScalarRange(0.0, 1.0)

    # --- in and out

    def put_into(self, renderer: vtkRenderer) -> None:
        """Add the actors to a renderer."""
        for actor in self.actors:
            renderer.AddActor(actor)

    def take_from(self, renderer: vtkRenderer) -> None:
        """Draw the actors no more, but keep what was uploaded for them: they may come back."""
        drawn = renderer.GetViewProps()
        for actor in self.actors:
            drawn.RemoveItem(actor)

    def end(self, renderer: vtkRenderer) -> None:
        """Take the actors away for good, and all that was uploaded for them."""
        for actor in self.actors:
            renderer.RemoveActor(actor)

    @property
    def actors(self) -> list[vtkActor]:
        """What is in a renderer that it was put into."""
        rim = self._rim.actor if self._rim is not None else None
        return [actor for actor in (self.actor, rim, self._shine) if actor is not None]

    @property
    def is_glassy(self) -> bool:
        """True while it is drawn see-through."""
        return self._look is not None and self._look.opacity < 1.0


def _shading(look: Look) -> tuple[float, float, bool, RGB | None]:
    return look.edge, look.opacity, look.cleared, look.behind


def _tendon_table(colour: RGB) -> vtkLookupTable:
    """From a muscle's colour to that of tendon."""
    table = vtkLookupTable()
    table.SetNumberOfTableValues(32)
    for i in range(32):
        table.SetTableValue(i, (*_unit(mixed(colour, PRINT["tendon"], i / 31.0)), 1.0))
    return table


def slender(line: Centreline) -> Surface:
    """The tube around a middle line with a third of its rings and half of their corners."""
    keep = np.unique([*range(0, len(line.points), 3), len(line.points) - 1])
    return tube(Centreline(line.points[keep], line.radius[keep]), sides=6, cap_rings=2)


def _along(surface: Surface, line: Centreline) -> Array:
    """Texture coordinates (v, 2) that count bands along a nerve."""
    # The square of the distance, but for that of the vertex itself, which is the same for every point of the line.
    away = (line.points**2).sum(axis=1) - 2.0 * (surface.vertices @ line.points.T)
    nearest = np.argmin(away, axis=1)
    return np.stack([line.arc[nearest] / BAND_MM, np.zeros(len(nearest))], axis=1)


def _hull(surface: Surface, thick_mm: float) -> vtkPolyData:
    """The surface grown a little."""
    grown = surface.vertices + thick_mm * vertex_normals(surface)
    return polydata(surface.moved(grown))


def _rim(hull: Callable[[bool], vtkPolyData], light: bool) -> TwoMeshes:
    """A hull seen from inside: a rim of one colour around what it holds."""
    rim = TwoMeshes(hull, light)
    prop = rim.actor.GetProperty()
    prop.FrontfaceCullingOn()
    prop.LightingOff()
    return rim


def _texture(picture: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> vtkTexture:
    image = vtkImageData()
    image.SetDimensions(picture.shape[1], picture.shape[0], 1)
    colours = picture.reshape(-1, 3) if picture.ndim == 3 else np.repeat(picture.ravel()[:, None], 3, axis=1)
    image.GetPointData().SetScalars(numpy_to_vtk(colours, deep=True))
    texture = vtkTexture()
    texture.SetInputData(image)
    texture.InterpolateOn()
    texture.MipmapOn()
    texture.RepeatOn()
    texture.SetColorModeToDirectScalars()
    return texture


def _unit(colour: RGB) -> tuple[float, float, float]:
    return colour[0] / 255.0, colour[1] / 255.0, colour[2] / 255.0
