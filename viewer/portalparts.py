"""The portal on the screen: a glassy channel with a ring at each end, and collars on what it touches."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper, vtkRenderer

from meshes.contact import Docking
from meshes.curves import Array, Centreline
from meshes.portal import Portal
from meshes.surfaces import Surface
from viewer.palette import PRINT, RGB, Theme
from viewer.polydata import polydata

SIDES = 64
RING_MM = 0.9
COLLAR_MM = 1.0


@dataclass(frozen=True, eq=False)
class Marks:
    """What a docking puts on the screen.

    portal  : where it stands
    touched : id -> (3,) mm, the nearest point of everything it touches
    words   : id -> what its label says beside the name
    """

    portal: Portal
    touched: Mapping[str, Array] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)


def marks_of(docking: Docking | None) -> Marks | None:
    """What to draw of an answer of `meshes.contact.dock`."""
    if docking is None:
        return None
    touched = [c for c in (*docking.nerves, *docking.vessels, *docking.viscera) if c.touched]
    return Marks(docking.portal, {c.id: c.nearest_mm for c in touched}, {c.id: "touched" for c in touched})


class PortalParts:
    """The actors of the portal in one renderer."""

    def __init__(self, renderer: vtkRenderer) -> None:
        self._renderer = renderer
        self._actors: list[vtkActor] = []
        self._shown: Marks | None = None
        self._theme: Theme | None = None
        self._depth: vtkActor | None = None

    def show(self, marks: Marks | None, lines: Mapping[str, Centreline], theme: Theme) -> None:
        """Draw the portal of `marks`, or none."""
        if marks is self._shown and theme is self._theme:
            return
        for actor in self._actors:
            self._renderer.RemoveActor(actor)
        self._actors = [] if marks is None else _actors(marks, lines, theme)
        for actor in self._actors:
            self._renderer.AddActor(actor)
        self._shown, self._theme = marks, theme
        self.mark_depth(-1.0)

    def mark_depth(self, depth_mm: float) -> None:
        """A ring across the channel at a depth from the skin, mm; below 0, or without a portal, none."""
        if self._depth is not None:
            self._renderer.RemoveActor(self._depth)
            self._depth = None
        if depth_mm >= 0.0 and self._shown is not None and self._theme is not None:
            portal = self._shown.portal
            here = portal.entry_mm + portal.direction * depth_mm
            self._depth = _actor(ring(here, portal.direction, portal.radius_mm, RING_MM), self._theme.text)
            self._renderer.AddActor(self._depth)

    @property
    def glassy(self) -> list[vtkActor]:
        """The see-through actors, inner wall first."""
        return self._actors[:2]


def _actors(marks: Marks, lines: Mapping[str, Centreline], theme: Theme) -> list[vtkActor]:
    portal = marks.portal
    wall = channel(portal)
    colour = PRINT["portal"]
    inner, outer = _actor(wall, colour, 0.30), _actor(wall, colour, 0.22)
    inner.GetProperty().FrontfaceCullingOn()
    outer.GetProperty().BackfaceCullingOn()
    ends = (portal.entry_mm, portal.end_mm)
    rings = [_actor(ring(end, portal.direction, portal.radius_mm, RING_MM), theme.accent) for end in ends]
    collars = [_actor(_collar(point, lines.get(name)), theme.accent) for name, point in marks.touched.items()]
    return [inner, outer, *rings, *collars]


def channel(portal: Portal) -> Surface:
    """The open wall of the channel, seen from both sides."""
    across, along = _ring_axes(portal.direction)
    angle = np.linspace(0.0, 2.0 * np.pi, SIDES, endpoint=False)
    circle = portal.radius_mm * (np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * along)
    vertices = np.concatenate([portal.entry_mm + circle, portal.end_mm + circle])
    i = np.arange(SIDES)
    j = (i + 1) % SIDES
    faces = np.concatenate([np.stack([i, i + SIDES, j], axis=1), np.stack([j, i + SIDES, j + SIDES], axis=1)])
    return Surface(vertices, faces[:, ::-1].astype(np.int32))


def ring(centre: Array, axis: Array, radius_mm: float, thick_mm: float) -> Surface:
    """A closed ring around an axis (3,) through a centre (3,), mm."""
    across, along = _ring_axes(axis)
    big = np.linspace(0.0, 2.0 * np.pi, SIDES, endpoint=False)[:, None]
    small = np.linspace(0.0, 2.0 * np.pi, 10, endpoint=False)[None, :]
    out = (radius_mm + thick_mm * np.cos(small))[..., None] * (
        np.cos(big)[..., None] * across + np.sin(big)[..., None] * along
    )
    points = centre + out + (thick_mm * np.sin(small))[..., None] * axis
    i, j = np.meshgrid(np.arange(SIDES), np.arange(10), indexing="ij")
    a, b = i * 10 + j, ((i + 1) % SIDES) * 10 + j
    c, d = ((i + 1) % SIDES) * 10 + (j + 1) % 10, i * 10 + (j + 1) % 10
    faces = np.concatenate([np.stack([a, b, c], axis=-1).reshape(-1, 3), np.stack([a, c, d], axis=-1).reshape(-1, 3)])
    return Surface(np.ascontiguousarray(points.reshape(-1, 3)), faces.astype(np.int32))


def _collar(point: Array, line: Centreline | None) -> Surface:
    """A ring around a nerve at its nearest point; where there is no line, around the point itself."""
    if line is None:
        return ring(point, np.array([0.0, 0.0, 1.0]), 4.0, COLLAR_MM)
    i = int(np.argmin(np.linalg.norm(line.points - point, axis=1)))
    i = min(max(i, 1), len(line.points) - 2)
    axis = line.points[i + 1] - line.points[i - 1]
    return ring(line.points[i], axis / np.linalg.norm(axis), float(line.radius[i]) + 2.6, COLLAR_MM)


def _ring_axes(axis: Array) -> tuple[Array, Array]:
    """Two unit directions (3,) across an axis; with it they are right-handed."""
    seed = np.eye(3)[int(np.argmin(np.abs(axis)))]
    across = seed - axis * (seed @ axis)
    across = across / np.linalg.norm(across)
    return across, np.cross(axis, across)


def _actor(surface: Surface, colour: RGB, opacity: float = 1.0) -> vtkActor:
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(polydata(surface))
    actor = vtkActor()
    actor.SetMapper(mapper)
    prop = actor.GetProperty()
    prop.SetColor(*(c / 255.0 for c in colour))
    prop.SetOpacity(opacity)
    prop.SetAmbient(0.35)
    prop.SetDiffuse(0.75)
    return actor
