"""The portal on the screen: a glassy channel with a ring at each end, and collars on what it touches.

Every shape is made once, of unit size, and placed by a matrix: a dragged portal moves nothing but a few numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from vtkmodules.vtkCommonMath import vtkMatrix4x4
from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper, vtkRenderer

from meshes.contact import Docking
from meshes.curves import Array, Centreline
from meshes.nearby import facing
from meshes.portal import Portal
from meshes.surfaces import Surface
from viewer.bore import unshifted
from viewer.palette import PRINT, RGB, Theme
from viewer.polydata import polydata
from viewer.shine import in_front

SIDES = 64
#: Half the thickness of a ring, as a share of its radius; down the portal, where it is near to, a thinner one hides
#: less, and it lies around the clear field, so that what is seen inside is as wide as the channel.
THICK, THICK_DOWN = 0.09, 0.035
#: How much wider than its nerve a collar is, mm.
COLLAR_MM = 2.8
#: What marks the quarters of a disc: dark in both themes, for a disc is pale in both.
QUARTER_INK: RGB = (38, 58, 66)
#: A collar where there is no middle line to stand around, mm.
PLAIN_COLLAR_MM = 5.0
#: The wall of the tube that one looks down gets darker from the skin to its end.
_TUBE_VERTEX = {
    "//VTK::PositionVC::Dec": "out float tubeDepth;",
    "//VTK::PositionVC::Impl": "  tubeDepth = vertexMC.z;",
}
_TUBE_FRAGMENT = {
    "//VTK::PositionVC::Dec": "in float tubeDepth;",
    "//VTK::Light::Impl": "  fragOutput0.rgb *= mix(0.95, 0.30, clamp(tubeDepth, 0.0, 1.0));",
}


@dataclass(frozen=True, eq=False)
class Marks:
    """What a docking puts on the screen.

    portal  : where it stands
    touched : id -> (3,) mm, the nearest point of everything it touches
    words   : id -> what its label says beside the name
    barring : ids of the bones in its way
    """

    portal: Portal
    touched: Mapping[str, Array] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    barring: tuple[str, ...] = ()

    @property
    def ids(self) -> frozenset[str]:
        """Everything that is marked."""
        return frozenset((*self.touched, *self.barring))


def marks_of(docking: Docking | None, barring: tuple[str, ...] | None = None) -> Marks | None:
    """What to draw of an answer of `meshes.contact.dock`.

    barring : the bones in the way where they are known, or need not be newer; else they are asked for
    """
    if docking is None:
        return None
    touched = [c for c in (*docking.nerves, *docking.vessels, *docking.viscera) if c.touched]
    barring = docking.access.barred_by if barring is None else barring
    words = {c.id: "touched" for c in touched} | dict.fromkeys(barring, "in the way")
    return Marks(docking.portal, {c.id: c.nearest_mm for c in touched}, words, barring)


class PortalParts:
    """The actors of the portal in one renderer."""

    def __init__(self, renderer: vtkRenderer) -> None:
        self._renderer = renderer
        self._inner, self._outer = _actor(channel()), _actor(channel())
        self._inner.GetProperty().FrontfaceCullingOn()
        self._outer.GetProperty().BackfaceCullingOn()
        for wall, opacity in ((self._inner, 0.34), (self._outer, 0.24)):
            _colour(wall, PRINT["portal"])
            wall.GetProperty().SetOpacity(opacity)
        self._tube = _tube_actor()
        self._ends = [_actor(ring()), _actor(ring())]
        self._rims = [_actor(rim()), _actor(rim())]
        in_front(self._rims[0])
        self._depth = _actor(ring())
        self._quarters = [_actor(ring()), _actor(ring())]
        in_front(self._quarters[1])
        self._collars: list[vtkActor] = []
        self._shown: list[vtkActor] = []
        self._glassy: list[vtkActor] = []
        self._marks: Marks | None = None
        self._theme: Theme | None = None
        self._down = False

    def show(self, marks: Marks | None, lines: Mapping[str, Centreline], theme: Theme, down: bool = False) -> None:
        """Draw the portal of `marks`, or none.

        Seen from its top (down), its wall is solid, for one looks into a tube, its outer rim is whole, however the skin
        lies around it, and there are no collars: their nerve may be covered, and they would hide what they mark.
        """
        if marks is self._marks and theme is self._theme and down == self._down:
            return
        self._marks, self._theme, self._down = marks, theme, down
        walls, ends = ([self._tube], self._rims) if down else ([self._inner, self._outer], self._ends)
        self._glassy = [] if down or marks is None else walls
        wanted: list[vtkActor] = []
        if marks is not None:
            portal = marks.portal
            for wall in walls:
                _place(wall, portal.entry_mm, portal.direction, portal.radius_mm, portal.length_mm)
            for end, point in zip(ends, (portal.entry_mm, portal.end_mm), strict=True):
                _place(end, point, portal.direction, portal.radius_mm)
            solids = [*ends, *([] if down else self._collared(marks, lines))]
            for solid in solids:
                _colour(solid, theme.accent)
            wanted = [*walls, *solids]
        self._put(wanted)

    def mark_depth(self, depth_mm: float) -> None:
        """A ring across the channel at a depth from the skin, mm; below 0, or without a portal, none."""
        self._renderer.RemoveActor(self._depth)
        if depth_mm >= 0.0 and self._marks is not None and self._theme is not None:
            portal = self._marks.portal
            _place(self._depth, portal.entry_mm + portal.direction * depth_mm, portal.direction, portal.radius_mm)
            _colour(self._depth, self._theme.text)
            self._renderer.AddActor(self._depth)

    def mark_quarters(self, dots: Surface | None, numerals: Surface | None) -> None:
        """Dots where the quarters of the target disc meet and a numeral in each, or none."""
        for actor, shape in zip(self._quarters, (dots, numerals), strict=True):
            self._renderer.RemoveActor(actor)
            if shape is not None:
                actor.GetMapper().SetInputDataObject(polydata(shape))
                actor.GetProperty().SetLighting(False)
                _colour(actor, QUARTER_INK)
                self._renderer.AddActor(actor)

    @property
    def glassy(self) -> list[vtkActor]:
        """The see-through actors that are shown, inner wall first."""
        return self._glassy

    def _collared(self, marks: Marks, lines: Mapping[str, Centreline]) -> list[vtkActor]:
        while len(self._collars) < len(marks.touched):
            self._collars.append(_actor(ring()))
        used = self._collars[: len(marks.touched)]
        for collar, (name, point) in zip(used, marks.touched.items(), strict=True):
            _place(collar, *_around(point, lines.get(name)))
        return used

    def _put(self, wanted: Iterable[vtkActor]) -> None:
        wanted = list(wanted)
        for actor in self._shown:
            if actor not in wanted:
                self._renderer.RemoveActor(actor)
        for actor in wanted:
            if actor not in self._shown:
                self._renderer.AddActor(actor)
        self._shown = wanted
        self.mark_depth(-1.0)


@cache
def channel() -> Surface:
    """The open wall of a channel: radius 1 about the z axis, from 0 to 1, turned outwards."""
    angle = np.linspace(0.0, 2.0 * np.pi, SIDES, endpoint=False)
    circle = np.stack([np.cos(angle), np.sin(angle), np.zeros(SIDES)], axis=1)
    i = np.arange(SIDES)
    j = (i + 1) % SIDES
    faces = np.concatenate([np.stack([i, j, i + SIDES], axis=1), np.stack([j, j + SIDES, i + SIDES], axis=1)])
    return Surface(np.concatenate([circle, circle + np.array([0.0, 0.0, 1.0])]), faces.astype(np.int32))


def rim() -> Surface:
    """A ring around a clear field of radius 1."""
    return ring(middle=1.0 + THICK_DOWN, thick=THICK_DOWN)


@cache
def ring(rounds: int = 10, middle: float = 1.0, thick: float = THICK) -> Surface:
    """A closed ring about the z axis, turned outwards: the radius of its middle line, and half its thickness."""
    big = np.linspace(0.0, 2.0 * np.pi, SIDES, endpoint=False)[:, None]
    small = np.linspace(0.0, 2.0 * np.pi, rounds, endpoint=False)[None, :]
    out = middle + thick * np.cos(small)
    points = np.stack([out * np.cos(big), out * np.sin(big), thick * np.sin(small) + 0.0 * big], axis=-1)
    i, j = np.meshgrid(np.arange(SIDES), np.arange(rounds), indexing="ij")
    k, m = (i + 1) % SIDES, (j + 1) % rounds
    a, b, c, d = i * rounds + j, k * rounds + j, k * rounds + m, i * rounds + m
    faces = np.concatenate([np.stack([a, b, c], axis=-1).reshape(-1, 3), np.stack([a, c, d], axis=-1).reshape(-1, 3)])
    return Surface(np.ascontiguousarray(points.reshape(-1, 3)), faces.astype(np.int32))


def _around(point: Array, line: Centreline | None) -> tuple[Array, Array, float]:
    """Middle, axis and radius of a collar around a tube at its nearest point; around the point where it is no tube."""
    if line is None:
        return point, np.array([0.0, 0.0, 1.0]), PLAIN_COLLAR_MM
    i = int(np.argmin(np.linalg.norm(line.points - point, axis=1)))
    i = min(max(i, 1), len(line.points) - 2)
    axis = line.points[i + 1] - line.points[i - 1]
    return line.points[i], axis / np.linalg.norm(axis), float(line.radius[i]) + COLLAR_MM


def _place(actor: vtkActor, origin: Array, axis: Array, radius_mm: float, length_mm: float | None = None) -> None:
    """Stand a unit shape at an origin along an axis, as wide and, where given, as long as asked."""
    across, beside, _ = facing(axis)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1] = across * radius_mm, beside * radius_mm
    matrix[:3, 2] = axis * (radius_mm if length_mm is None else length_mm)
    matrix[:3, 3] = origin
    held = vtkMatrix4x4()
    held.DeepCopy(matrix.ravel().tolist())
    actor.SetUserMatrix(held)


def _actor(surface: Surface) -> vtkActor:
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(polydata(surface))
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetAmbient(0.35)
    actor.GetProperty().SetDiffuse(0.75)
    return actor


def _tube_actor() -> vtkActor:
    """The inner wall as the surgeon sees it: solid, and darker with depth."""
    actor = _actor(channel())
    actor.GetProperty().FrontfaceCullingOn()
    unshifted(actor.GetMapper())
    _colour(actor, PRINT["portal"])
    shader = actor.GetShaderProperty()
    for hook, text in _TUBE_VERTEX.items():
        shader.AddVertexShaderReplacement(hook, True, f"{hook}\n{text}\n", False)
    for hook, text in _TUBE_FRAGMENT.items():
        shader.AddFragmentShaderReplacement(hook, True, f"{hook}\n{text}\n", False)
    return actor


def _colour(actor: vtkActor, colour: RGB) -> None:
    actor.GetProperty().SetColor(*(c / 255.0 for c in colour))
