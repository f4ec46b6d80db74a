"""What the window works on, without any window: one specimen, its body, the view now, and the scenes before it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple, dataclass, field, replace

from lessons.scenefile import check_ids, portal_error
from lessons.view import Placement, View
from meshes.body import Body
from meshes.contact import Docking, Ready, dock
from meshes.errors import FurcalError
from meshes.portal import place
from meshes.specimen import ALDER, Specimen

#: Steps that can be undone. A scene is a few hundred bytes; the bound only keeps a day's work from growing for ever.
STEPS_MAX = 500


@dataclass(frozen=True)
class Scene:
    """Who lies on the table, and what is seen."""

    specimen: Specimen
    view: View


@dataclass
class History:
    """The scenes gone through, at most STEPS_MAX. One long gesture is one step: its scenes carry the same key."""

    past: list[Scene] = field(default_factory=list)
    future: list[Scene] = field(default_factory=list)
    key: str = ""

    def record(self, before: Scene, key: str = "") -> None:
        """Remember the scene that is about to be left; what was undone before is forgotten."""
        if not (key and key == self.key and self.past):
            self.past.append(before)
            del self.past[:-STEPS_MAX]
        self.future.clear()
        self.key = key

    def back(self, now: Scene) -> Scene | None:
        """The scene before, or None."""
        return self._step(self.past, self.future, now)

    def forth(self, now: Scene) -> Scene | None:
        """The scene that was undone last, or None."""
        return self._step(self.future, self.past, now)

    def forget(self, specimen: Specimen, now: Scene) -> None:
        """Drop every scene of a specimen that cannot be built, and steps that would then lead nowhere."""
        for scenes in (self.past, self.future):
            scenes[:] = [scene for scene in scenes if scene.specimen != specimen]
            while scenes and scenes[-1] == now:
                scenes.pop()
        self.key = ""

    def cut(self, steps: int) -> None:
        """Keep only the first steps."""
        del self.past[steps:]
        self.future.clear()
        self.key = ""

    def _step(self, source: list[Scene], target: list[Scene], now: Scene) -> Scene | None:
        if not source:
            return None
        target.append(now)
        self.key = ""
        return source.pop()


@dataclass(frozen=True)
class Opened:
    """A scene file that is on the screen on trial: its body, once built, may lack what it names.

    where  : the file
    before : the scene to go back to
    steps  : how many steps to undo there were
    """

    where: str
    before: Scene
    steps: int


class Session:
    """The state of one window. Every change goes through here; a change that cannot be made leaves all as it was.

    The specimen may be ahead of the body: while another body is built, the last one stays.

    on_change : called after the specimen, the view, the body or the docking changed
    """

    def __init__(self, specimen: Specimen = ALDER, view: View | None = None) -> None:
        self.specimen = specimen
        self.view = view or View()
        self.body: Body | None = None
        self.docking: Docking | None = None
        self.history = History()
        self.on_change: Callable[[], None] = lambda: None
        self._ready: Ready | None = None
        self._built: Specimen | None = None
        self._opened: Opened | None = None

    @property
    def ready(self) -> Ready | None:
        """The body prepared for questions, or None while it is being built."""
        return self._ready

    @property
    def scene(self) -> Scene:
        """Specimen and view now."""
        return Scene(self.specimen, self.view)

    # --- the view

    def change(self, view: View, key: str = "") -> None:
        """Go to another view. Raises FurcalError, all unchanged, for a portal that cannot be placed."""
        if view == self.view:
            return
        docking = self._docking_moved(view.portal)
        self.history.record(self.scene, key)
        self._take(self.specimen, view, docking)

    def look(self, view: View) -> None:
        """Go to another view without a step to undo: a picture on the way to one."""
        self._take(self.specimen, view, self._docking_moved(view.portal))

    def undo(self) -> bool:
        """Back to the scene before; False when there is none."""
        return self._travel(self.history.back(self.scene))

    def redo(self) -> bool:
        """Forth again; False when nothing was undone."""
        return self._travel(self.history.forth(self.scene))

    def place_portal(self, where: Placement | None, key: str = "") -> None:
        """Dock a portal, move it, or take it away. Raises FurcalError, all unchanged, when it cannot be placed."""
        self.change(replace(self.view, portal=where), key)

    # --- the specimen

    def use_specimen(self, specimen: Specimen, key: str = "") -> None:
        """Another specimen, posture or table break, as a step to undo; its body is then needed."""
        if specimen == self.specimen:
            return
        self.history.record(self.scene, key)
        self._opened = None
        self._take(specimen, self.view, self.docking)

    def open_scene(self, specimen: Specimen, view: View, where: str, key: str = "") -> None:
        """A scene from a file, as one step to undo.

        where : the file, as errors name it, and the place in it
        key   : scenes of one key, one after the other, are one step to undo
        Raises FurcalError, all unchanged, when the body that is here lacks what the scene names. Where another body
        has to be built first, `judge` finds out.
        """
        if Scene(specimen, view) == self.scene:
            return
        opened = Opened(where, self.scene, len(self.history.past))
        there = self.body is not None and self.body.specimen == _lying(specimen, view)
        if there and self.body is not None:
            docking = self._tried(opened, view, self.body, self._ready)
        else:
            docking = self._docking_if_any(view.portal)
        self.history.record(self.scene, key)
        self._opened = None if there else opened
        self._take(specimen, view, docking)

    # --- the body

    def wanted_specimen(self) -> Specimen:
        """The specimen as it must lie for the portal: the docked side up, where that matters."""
        return _lying(self.specimen, self.view)

    def needs_body(self) -> bool:
        """True while the body on the screen is not the one that is wanted."""
        return self.body is None or self.body.specimen != self.wanted_specimen()

    def judge(self, body: Body) -> None:
        """Raises FurcalError, and goes back to the scene before, when an opened scene does not fit this body."""
        opened = self._opened
        if opened is None or body.specimen != self.wanted_specimen():
            return
        try:
            self._tried(opened, self.view, body, Ready.of(body))
        except FurcalError:
            self._go_back(opened)
            raise
        self._opened = None

    def take_body(self, body: Body) -> None:
        """Use a body that has been built. A portal that it cannot hold is taken away, and the error raised."""
        self.body = body
        self._built = self.specimen
        self._ready = Ready.of(body)
        self.docking = None
        try:
            self.docking = self._docking_for(self.view.portal)
        except FurcalError:
            self.view = replace(self.view, portal=None)
            raise
        finally:
            self.on_change()

    def give_up_body(self) -> None:
        """The wanted body cannot be built: back to the specimen on the screen, or to Alder when there is none."""
        if self._opened is not None:
            self._go_back(self._opened)
            return
        bad, good = self.specimen, self._built or ALDER
        if bad == good:
            # Only the side that lies up has changed; with that of the body on the screen nothing is wanted any more.
            self.specimen = self.body.specimen if self.body is not None else good
            return
        self.specimen = good
        self.history.forget(bad, self.scene)
        self.on_change()

    # --- inside

    def _go_back(self, opened: Opened) -> None:
        """As if the scene had never been opened."""
        self._opened = None
        self.history.cut(opened.steps)
        before = opened.before
        self._take(before.specimen, before.view, self._docking_if_any(before.view.portal))

    def _tried(self, opened: Opened, view: View, body: Body, ready: Ready | None) -> Docking | None:
        """The docking of an opened scene. Raises FurcalError, naming its file, for what this body lacks."""
        check_ids(view, body, opened.where)
        if view.portal is None:
            return None
        try:
            return dock(body, place(body, *astuple(view.portal)), ready)
        except FurcalError as error:
            raise portal_error(error, opened.where) from None

    def _travel(self, scene: Scene | None) -> bool:
        if scene is None:
            return False
        self._opened = None
        self._take(scene.specimen, scene.view, self._docking_if_any(scene.view.portal))
        return True

    def _take(self, specimen: Specimen, view: View, docking: Docking | None) -> None:
        self.specimen, self.view, self.docking = specimen, view, docking
        self.on_change()

    def _docking_moved(self, where: Placement | None) -> Docking | None:
        """Raises FurcalError for a portal that cannot be placed; one that has not moved is not asked again."""
        return self._docking_if_any(where) if where == self.view.portal else self._docking_for(where)

    def _docking_if_any(self, where: Placement | None) -> Docking | None:
        """None also where this body cannot hold the portal: it was placed in another, which is on its way."""
        try:
            return self._docking_for(where)
        except FurcalError:
            return None

    def _docking_for(self, where: Placement | None) -> Docking | None:
        if where is None or self.body is None:
            return None
        if self.docking is not None and where == self.view.portal and self.docking.specimen == self.body.specimen:
            return self.docking
        return dock(self.body, place(self.body, *astuple(where)), self._ready)


def _lying(specimen: Specimen, view: View) -> Specimen:
    return specimen.facing_up(view.portal.side) if view.portal else specimen
