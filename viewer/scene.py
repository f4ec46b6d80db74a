"""A `View` on a `Body`, drawn in a renderer. Only what differs from the last view is touched."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from vtkmodules.vtkRenderingCore import vtkActor, vtkLight, vtkRenderer

from lessons.view import Camera, View
from meshes.body import Body
from meshes.curves import Array
from meshes.opening import cut_faces, cut_plane, opened
from meshes.structures import Structure
from viewer.actors import Look, as_fat, look
from viewer.bore import Bore, Floors, bore_of
from viewer.cameras import PERSPECTIVE_DEG, Eye, Region, region_about, region_of
from viewer.fade import Fade
from viewer.palette import THEMES
from viewer.part import Meshes, Part, Textures
from viewer.portalparts import Marks, PortalParts
from viewer.quarters import quarter_marks

#: The coat that is left when the skin is off and the fat still on; it has the shape of the skin.
FAT = Structure("fat", "Subcutaneous fat", "Tela subcutanea", "skin", layer="fat")
#: Lights that follow the eye: (position in the eye's frame, strength). A key from above left and a fill.
LIGHTS = (((-0.5, 0.75, 1.0), 0.82), ((0.7, -0.35, 0.8), 0.30))


#: Nothing nearer to the eye than this is drawn in perspective, mm, and how far a portal stands out of the body.
NEAREST_MM, AROUND_MM = 1.0, 60.0


@dataclass(frozen=True)
class Change:
    """What one call of `show` did: ids that were added, restyled or put away."""

    added: tuple[str, ...] = ()
    restyled: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        """How many structures were touched."""
        return len(self.added) + len(self.restyled) + len(self.removed)


class Scene:
    """Keeps one renderer equal to the last view it was shown.

    renderer : any VTK renderer; multisampling must be off in its window, or glassy things vanish without a word
    """

    def __init__(self, renderer: vtkRenderer, body: Body, meshes: Mapping[str, Meshes] | None = None) -> None:
        self.renderer = renderer
        self.body = body
        self.region = region_of(body.surfaces)
        self._reach_mm = reach_of(body, self.region.centre)
        self._meshes = meshes or meshes_of(body)
        self.looks: dict[str, Look] = {}
        self._parts: dict[str, Part] = {}
        self._textures = Textures()
        self._opened: dict[str, Meshes] = {}
        self._portal = PortalParts(renderer)
        self._floors = Floors(renderer)
        self.bore: Bore | None = None
        self._moving = False
        self._fade = Fade()
        self._stretched: tuple[str, tuple[float, ...]] = ("", ())
        self._asked: tuple[object, ...] = ()
        self._marked: frozenset[str] = frozenset()
        _set_up(renderer)

    # --- the view

    def show(self, view: View, marks: Marks | None = None, fades: bool = False) -> Change:
        """Draw a view; `marks` is the portal with what it touches.

        fades : what leaves and what comes does so little by little, as `fade` is called
        """
        self._fade.end(self.renderer)
        theme = THEMES[view.theme]
        self.renderer.SetBackground(*(c / 255.0 for c in theme.background))
        wanted = self._wanted_if_changed(view, marks.ids if marks else frozenset())
        change = self._difference(wanted)
        for i in (*change.added, *change.restyled):
            self._part(i, wanted[i].opened).style(wanted[i])
            self._parts[i].put_into(self.renderer)
        leaving = {self._parts[i]: self.looks[i].opacity for i in change.removed}
        self._fade = Fade(leaving, {self._parts[i]: wanted[i].opacity for i in change.added} if fades else {})
        self.looks = wanted
        self.fade(0.0 if fades else 1.0)
        self._portal.show(marks, self.body.centrelines, theme, view.looks_down)
        self._look_down(marks if view.looks_down else None)
        return change

    def prepare(self, view: View) -> Iterator[None]:
        """Make the meshes that a view will want, one structure at a time, without drawing anything."""
        for i, wanted in self._wanted(view, frozenset()).items():
            meshes = self._meshes_for(i, wanted.opened)
            for light in (True, False):
                meshes.get(light)
                if wanted.ringed:
                    meshes.hull(light, wanted.rim_mm)
            yield

    def prepare_to_move(self, view: View) -> Iterator[None]:
        """Make what a view is drawn by while something moves, then what the rest would be, a structure at a time."""
        yield from self.prepare(view)
        for one in self._meshes.values():
            one.prepare(light=True)
            yield

    def region_for(self, camera: Camera) -> Region:
        """The box that a picture from that camera is about. Raises FurcalError for a name that this body lacks."""
        return region_about(camera.on, self.body) if camera.on else self.region

    @property
    def is_fading(self) -> bool:
        """Whether anything is on its way out or in."""
        return bool(self._fade.leaving or self._fade.entering)

    def fade(self, share: float) -> None:
        """Carry what leaves and what comes to a share 0..1 of its way."""
        self._fade.at(share)
        if share >= 1.0:
            self._fade.end(self.renderer)

    def set_body(self, body: Body, meshes: Mapping[str, Meshes] | None = None) -> None:
        """Another body; what it shares with the last one keeps its place and only moves."""
        self._fade.end(self.renderer)
        self.stretch("", ())  # its meshes may come back
        self.body = body
        self._asked = ()
        self.region = region_of(body.surfaces)
        self._reach_mm = reach_of(body, self.region.centre)
        self._meshes = meshes or meshes_of(body)
        self._opened.clear()
        for name, part in list(self._parts.items()):
            part.forget_shapes(self.renderer.GetRenderWindow())
            if name not in self._meshes:
                part.end(self.renderer)
                del self._parts[name]
                self.looks.pop(name, None)
            elif name in self.looks:  # the others take their new shape when they are shown again
                part.reshape(self._meshes_for(name, self.looks[name].opened))

    def stretch(self, name: str, edges_mm: Sequence[float]) -> None:
        """Tell the stretches of one nerve apart, and of no other; without edges of none."""
        if (name, tuple(edges_mm)) == self._stretched:
            return
        before = self._parts.get(self._stretched[0])
        if before is not None:
            before.stretch(())
        self._stretched = (name, tuple(edges_mm)) if name in self._parts else ("", ())
        if name in self._parts:
            self._parts[name].stretch(edges_mm)

    def mark_depth(self, depth_mm: float) -> None:
        """A ring in the portal at a depth from the skin, mm; below 0 takes it away."""
        self._portal.mark_depth(depth_mm)

    @property
    def is_moving(self) -> bool:
        """Whether light copies are drawn."""
        return self._moving

    def set_moving(self, moving: bool) -> None:
        """Light copies and bare edges while something moves, everything at its best when it rests."""
        if moving == self._moving:
            return
        self._moving = moving
        for name in self.looks:
            self._parts[name].set_light(moving)
        self.renderer.SetUseFXAA(not moving)
        if moving:
            self._sort_solid()

    def look_from(self, eye: Eye) -> None:
        """Set the camera, and draw what is glassy from the back to the front."""
        camera = self.renderer.GetActiveCamera()
        camera.SetPosition(*eye.position)
        camera.SetFocalPoint(*eye.focus)
        camera.SetViewUp(*eye.up)
        camera.SetParallelProjection(eye.parallel)
        camera.SetParallelScale(eye.half_height_mm)
        camera.SetViewAngle(PERSPECTIVE_DEG)
        towards = eye.axes()[2]
        self._sort_glassy(towards)
        # The body and a portal in it, wherever they stand: asking all actors for their bounds takes longer.
        away = float((eye.position - self.region.centre) @ towards)
        camera.SetClippingRange(max(away - self._reach_mm, NEAREST_MM), max(away + self._reach_mm, 2.0 * NEAREST_MM))

    def holds(self, name: str, points: Array) -> NDArray[np.bool_]:
        """Which points (n, 3), mm, of a structure's surface are there now: not lifted off, not in a cleared channel."""
        there = np.ones(len(points), dtype=bool)
        seen = self.looks.get(name)
        if seen is not None and seen.opened:
            origin, back = cut_plane(self.body, name)
            there &= (points - origin) @ back >= 0.0
        if seen is not None and seen.cleared and self.bore is not None:
            there &= ~self.bore.holds(points)
        return there

    def triangles(self) -> int:
        """How many triangles are drawn now, the portal aside."""
        return sum(self._parts[i].triangles() for i in self.looks)

    # --- inside

    def _wanted_if_changed(self, view: View, marked: frozenset[str]) -> dict[str, Look]:
        """The looks in a view. In one frame of most gestures only the eye, the portal or what it touches is another."""
        side = view.portal.side if view.portal else ""  # what the portal comes through is glassy on that side alone
        asked = (replace(view, camera=Camera(view.camera.name), portal=None), side)
        if asked != self._asked:
            wanted = self._wanted(view, marked)
        elif marked == self._marked:
            wanted = self.looks
        else:
            changed = {i: self._look_of(self.body.structures[i], view, marked) for i in marked ^ self._marked}
            wanted = {i: one for i, one in {**self.looks, **changed}.items() if one is not None}
        self._asked, self._marked = asked, marked
        return wanted

    def _look_of(self, structure: Structure, view: View, marked: frozenset[str]) -> Look | None:
        state = view.visibility(structure)
        named_off = view.hidden & {structure.id, structure.layer, f"nerves_{structure.side}"}
        # What the portal meets is seen, even where its layer is off; down the portal it is whole, too.
        if structure.id in marked and not named_off and not view.is_wrapped and (state == "off" or view.looks_down):
            state = "on"
        return look(structure, view, state, marked)

    def _wanted(self, view: View, marked: frozenset[str]) -> dict[str, Look]:
        looks = {i: self._look_of(structure, view, marked) for i, structure in self.body.structures.items()}
        wanted = {i: one for i, one in looks.items() if one is not None}
        if "skin" in self.body.surfaces and "skin" not in wanted:
            coat = look(FAT, view, view.layer_state("fat"))
            if coat is not None:
                wanted[FAT.id] = as_fat(coat)
        return wanted

    def _difference(self, wanted: dict[str, Look]) -> Change:
        now = self.looks
        if wanted is now:
            return Change()
        return Change(
            tuple(i for i in wanted if i not in now),
            tuple(i for i in wanted if i in now and now[i] != wanted[i]),
            tuple(i for i in now if i not in wanted),
        )

    def _part(self, name: str, is_opened: bool) -> Part:
        meshes = self._meshes_for(name, is_opened)
        if name not in self._parts:
            self._parts[name] = Part(meshes, self._textures, self._moving)
        self._parts[name].set_light(self._moving)
        self._parts[name].reshape(meshes)
        return self._parts[name]

    def _meshes_for(self, name: str, is_opened: bool) -> Meshes:
        if not is_opened:
            return self._meshes[name]
        if name not in self._opened:
            surface = opened(self.body, name)
            cut = cut_faces(self.body, name, surface)
            self._opened[name] = Meshes(surface, self.body.structures[name], cut=cut)
        return self._opened[name]

    def _look_down(self, marks: Marks | None) -> None:
        """Leave the channel that one looks down free of what it pushes aside, and show what it stands on."""
        portal = marks.portal if marks else None
        if portal is None and self.bore is None:
            return
        self.bore = bore = bore_of(portal)
        muscles = self.body.ids("muscle") if bore else []
        self._floors.show(bore, self.looks, {name: self.body.surfaces[name] for name in muscles})
        if marks and marks.portal.disc in self.looks:
            over = [name for name in marks.ids if name in self.looks]
            self._portal.mark_quarters(*quarter_marks(self.body, marks.portal, over))
        else:
            self._portal.mark_quarters(None, None)
        for name, seen in self.looks.items():
            if bore is not None and (seen.cleared or seen.behind is not None):
                self._parts[name].follow(bore)

    def _sort_solid(self) -> None:
        """Put solid parts into the renderer again, nearest first: what they hide is then hardly worked on.

        The order at the start of a motion serves all of it, for it changes nothing but the time.
        """
        towards = -np.array(self.renderer.GetActiveCamera().GetDirectionOfProjection())
        solid = [self._parts[name] for name in self.looks if not self._parts[name].is_glassy]
        solid.sort(key=lambda part: -float(part.centre @ towards))
        self._draw_last([actor for part in solid for actor in part.actors])
        self._sort_glassy(towards)

    def _sort_glassy(self, towards: Array) -> None:
        """Put see-through actors into the renderer again, farthest first: their order is the order of blending.

        towards : (3,) unit, from the body to the eye
        """
        glassy: list[tuple[float, vtkActor]] = []
        for name in self.looks:
            part = self._parts[name]
            if part.is_glassy:
                glassy.append((float(part.centre @ towards), part.actor))
        glassy.sort(key=lambda pair: pair[0])
        self._draw_last([a for _, a in glassy] + self._floors.glassy + self._portal.glassy)

    def _draw_last(self, actors: Sequence[vtkActor]) -> None:
        """Draw actors, which are in the renderer, after all others, in this order.

        The renderer's own list is put in order: an actor that leaves the renderer gives back what was uploaded for it.
        """
        drawn = self.renderer.GetViewProps()
        for actor in actors:
            drawn.RemoveItem(actor)
            drawn.AddItem(actor)


def reach_of(body: Body, centre: Array) -> float:
    """How far from a point (3,) anything is drawn, mm: the body, and what a portal stands out of it."""
    return AROUND_MM + max(float(np.linalg.norm(s.vertices - centre, axis=1).max()) for s in body.surfaces.values())


def meshes_of(body: Body, at_once: Collection[bool] = ()) -> dict[str, Meshes]:
    """The meshes of a body, by id, made when each is first drawn.

    at_once : of which what they are made of is worked out now, in any thread: light copies (True), full ones (False)
    """
    meshes = {i: Meshes(body.surfaces[i], s, body.centrelines.get(i)) for i, s in body.structures.items()}
    if "skin" in body.surfaces:
        meshes[FAT.id] = Meshes(body.surfaces["skin"], FAT)
    for one in meshes.values():
        for light in at_once:
            one.prepare(light)
    return meshes


def _set_up(renderer: vtkRenderer) -> None:
    renderer.SetUseDepthPeeling(False)
    renderer.SetUseOIT(False)
    renderer.SetAutomaticLightCreation(False)
    renderer.RemoveAllLights()
    for position, strength in LIGHTS:
        light = vtkLight()
        light.SetLightTypeToCameraLight()
        light.SetPosition(*np.array(position))
        light.SetFocalPoint(0.0, 0.0, 0.0)
        light.SetIntensity(strength)
        renderer.AddLight(light)
    renderer.SetUseFXAA(True)
