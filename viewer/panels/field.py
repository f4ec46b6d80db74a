"""The field: the body, the portal and labels, turned by mouse and keys."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (registers how to draw)
from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QFocusEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QApplication, QWidget
from vtkmodules.vtkRenderingCore import vtkRenderer

from lessons.view import View
from meshes.body import Body
from meshes.portal import Portal
from viewer.cameras import Array, Eye, eye_of, moved, stepped, turned, zoomed
from viewer.canvas import Canvas
from viewer.flight import CHANGE_S, Flight, eased, straight
from viewer.grain import Grain
from viewer.grips import grip_at
from viewer.labels import one_of_each_pair
from viewer.palette import THEMES
from viewer.panels.hand import Hand
from viewer.panels.motion import Motion
from viewer.panels.overlay import Overlay
from viewer.part import Meshes
from viewer.portalparts import Marks
from viewer.scene import Scene
from viewer.seen import anchors, drawn_between, drawn_depth

#: After this long without motion the picture is drawn at its best, milliseconds.
REST_MS = 180
#: How long a layer takes to go or to come, seconds.
FADE_S = 0.35
#: Share of the height that the body may fill.
FILL = 0.94


class Field(Canvas):
    """Draws one scene; a gesture moves the eye and is told to the window.

    eye_moved : (eye, key) after every step of a gesture; one gesture keeps one key
    followed  : share of a way that the eye has been carried along; 1 when it is there
    """

    eye_moved = Signal(object, str)
    followed = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)  # type: ignore[no-untyped-call]
        self._Iren.SetInteractorStyle(None)  # type: ignore[arg-type]  # None: gestures are ours; the stub forgets it
        self._Iren.Initialize()
        self.renderer = vtkRenderer()
        window = self.GetRenderWindow()  # type: ignore[no-untyped-call]
        window.SetMultiSamples(0)
        window.AddRenderer(self.renderer)
        self.scene: Scene | None = None
        self.eye: Eye | None = None
        self.animated = True
        #: Degrees that turning goes in; 0 turns freely.
        self.turn_step_deg = 0.0
        #: How the next changed camera is reached; None for at once.
        self.way_to: Callable[[Eye, Eye], Flight | None] = straight
        self._loose: Eye | None = None
        self._point: Array | None = None
        self._point_words = ""
        self._view = View()
        self._marks: Marks | None = None
        self.hand = Hand(self, self._grip_at)
        self._listen()
        self._labels_wanted = False
        self._grain = Grain()
        self._overlay = Overlay(self)
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._come_to_rest)
        self._after = QTimer(self, singleShot=True, interval=0)
        self._after.timeout.connect(self._refresh_overlay)
        self._flight, self._fading = Motion(self), Motion(self)
        self._flight.went.connect(self._fly_on)
        self._fading.went.connect(self._fade_on)
        self._way: Flight | None = None
        self.setMinimumSize(320, 240)
        self.setAccessibleName("Field: the body")
        self.setAccessibleDescription(
            "Arrow keys turn the body, with Control they move it, with Alt the portal; plus and minus zoom."
        )

    # --- what is shown

    def set_body(self, body: Body, meshes: Mapping[str, Meshes]) -> None:
        """Another body to draw."""
        if self.scene is None:
            self.scene = Scene(self.renderer, body, meshes)
        else:
            self.scene.set_body(body, meshes)

    def show_view(self, view: View, marks: Marks | None) -> None:
        """Draw a view; a changed camera is flown to, unless a gesture is moving it."""
        if self.scene is None:
            self._view = view
            self.renderer.SetBackground(*(c / 255.0 for c in THEMES[view.theme].background))
            return
        changed_camera = view.camera != self._view.camera or self.eye is None
        changed_marks = marks is not self._marks
        fades = self._fades_to(view)
        self._view, self._marks = view, marks
        change = self.scene.show(view, marks, fades)
        if fades and self.scene.is_fading:
            self._fading.last(FADE_S)
        target = self._eye_for(view) if changed_camera or view.camera.name == "portal" else self.eye
        assert target is not None
        if self.eye is not None and not target.is_close(self.eye):
            self._go(target)
        elif self.eye is None:  # nothing has moved: the first picture is the best one
            self._look(target)
            self._refresh_overlay()
            self._come_to_rest()
            return
        elif changed_marks or change.count:
            self._look(target)
        self._move()

    def point_at_depth(self, depth_mm: float) -> None:
        """Put a ring into the portal at a depth, or take it away (below 0)."""
        if self.scene is not None:
            self.scene.mark_depth(depth_mm)
            self.update()

    def show_stretches(self, name: str, edges_mm: Sequence[float]) -> None:
        """Tell the stretches of one nerve apart, or of none."""
        if self.scene is not None:
            self.scene.stretch(name, edges_mm)
            self.update()

    def show_point(self, point_mm: Array | None, words: str = "") -> None:
        """Mark a point (3,), mm, or none, and say something beside it."""
        self._point, self._point_words = point_mm, words
        self._refresh_overlay()

    def stand_still(self) -> None:
        """End every motion now and draw at once."""
        eye = self._way.end if self._way else self.eye
        self._flight.stop()
        self._fading.stop()
        self._way = None
        if self.scene is not None:
            self.scene.fade(1.0)
        if eye is not None:
            self._look(eye)
            self._refresh_overlay()
        self._come_to_rest()

    def refit(self) -> None:
        """Look again from where the view says, without flying: another body, another size.

        A flight that is on its way there goes on to where it has to end now.
        """
        if self.scene is None:
            return
        end = self._eye_for(self._view)
        if self._way is not None and self._way.along is None and self.eye is not None:
            self.fly(straight(self.eye, end, max(self._flight.left_s, CHANGE_S)))
            return
        self._look(end)
        self._move()

    @property
    def is_resting(self) -> bool:
        """True when nothing moves and the picture is drawn at its best."""
        return not (self._rest.isActive() or self._flight.isActive() or self._fading.isActive())

    @property
    def named(self) -> list[str]:
        """Ids that carry a label now."""
        return [label.anchor.id for label in self._overlay.labels] if self._overlay.names_are_shown else []

    def _eye_for(self, view: View) -> Eye:
        assert self.scene is not None
        side = view.portal.side if view.portal else "left"
        width = self.width() - (2.0 * self._overlay.column if view.labels else 0.0)
        return eye_of(
            view.camera, self.scene.region_for(view.camera), width / max(self.height(), 1), side, self._portal, FILL
        )

    @property
    def _size(self) -> tuple[int, int]:
        return self.width(), max(1, self.height())

    @property
    def _portal(self) -> Portal | None:
        return self._marks.portal if self._marks else None

    # --- motion

    def _go(self, target: Eye) -> None:
        if self.eye is None or not self.animated or not self.isVisible():
            self._look(target)
            return
        way, self.way_to = self.way_to, straight
        flight = way(self.eye, target)
        if flight is None:
            self._look(target)
        else:
            self.fly(flight)

    def _fades_to(self, view: View) -> bool:
        """Whether layers go and come little by little: where asked, and not while something is dragged."""
        same = replace(view, dissection=self._view.dissection, glassy=self._view.glassy, hidden=self._view.hidden,
                       shown=self._view.shown) == self._view  # fmt: skip
        return same and self.eye is not None and self.animated and self.isVisible() and not _a_button_is_held()

    def _fade_on(self, share: float) -> None:
        if self.scene is not None:
            self.scene.fade(eased(share))
            self._move()

    def fly(self, flight: Flight) -> None:
        """Carry the eye along; any gesture cuts it short."""
        self._way = flight
        self._flight.last(flight.seconds)

    @property
    def is_following(self) -> bool:
        """Whether the eye is being carried along a way."""
        return self._way is not None and self._way.along is not None

    def stay(self) -> None:
        """End a flight where the eye is now."""
        self._cut_short()
        self._move()

    def _fly_on(self, share: float) -> None:
        way = self._way
        if way is None:
            self._flight.stop()
            return
        if share >= 1.0:
            self._way = None
        self._look(way.at(share))
        if way.along is not None:
            self.followed.emit(way.along(share))
            if share >= 1.0:
                self.eye_moved.emit(way.end, "follow")
        self._move()

    def _look(self, eye: Eye) -> None:
        """Stand there; what lies over the picture follows in `_move`."""
        assert self.scene is not None
        self.eye = eye
        self.scene.look_from(eye)
        self.update()

    def _move(self) -> None:
        """Something changes: light copies now, the best picture when it is over."""
        if self.scene is not None:
            self.scene.set_moving(True)
        self._overlay.forget_names()
        self._refresh_overlay()
        self._rest.start()
        self.update()

    def _come_to_rest(self) -> None:
        self._rest.stop()
        if self.scene is None or self._flight.isActive() or self._fading.isActive() or _a_button_is_held():
            self._rest.start()
            return
        self._loose = None
        self.scene.set_moving(False)
        self._labels_wanted = self._view.labels
        self.update()

    # --- drawing

    def paintGL(self) -> None:
        """Draw; at rest, see from the depth what can be named."""
        moving = self.scene is not None and self.scene.is_moving
        share, scale = self._grain.share if moving else 1.0, self.devicePixelRatioF()
        size = [max(1, round(share * scale * side)) for side in (self.width(), self.height())]
        self.GetRenderWindow().SetSize(*size)  # type: ignore[no-untyped-call]
        start = time.perf_counter()
        super().paintGL()  # type: ignore[no-untyped-call]
        took = time.perf_counter() - start
        self.hand.drawn()
        if moving:
            self._grain.drawn(took)
        # Where drawing is slow, a pause between two steps of one motion is no rest.
        self._rest.setInterval(max(REST_MS, round(3000.0 * took)))
        if self._labels_wanted and self.scene is not None and self.eye is not None:
            self._labels_wanted = False
            self._name_what_is_seen()

    def _name_what_is_seen(self) -> None:
        assert self.scene is not None
        assert self.eye is not None
        depth = drawn_depth(self.GetRenderWindow(), self.renderer)  # type: ignore[no-untyped-call]
        words = self._marks.words if self._marks else {}
        share = self._overlay.column / self.width()
        found = anchors(
            self.scene.looks, self.scene.body, self.eye, depth, self._view, words, self._size, (share, 1.0 - share),
            self.scene.holds, self.scene.bore,
        )  # fmt: skip
        named = one_of_each_pair(found, self.scene.body.structures)
        self._overlay.name(named, drawn_between(depth), THEMES[self._view.theme])
        # Painting another widget has to wait until this one is done.
        self._after.start()

    def _refresh_overlay(self) -> None:
        self._overlay.show_over(self.eye, self._view, self._point, self._point_words)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the overlay as large as the field."""
        super().resizeEvent(event)
        self._overlay.resize(self.size())
        if self.scene is not None and self._view.camera.name != "free":
            self.refit()
        elif self.scene is not None:
            self._move()

    # --- gestures

    def _listen(self) -> None:
        hand = self.hand
        hand.began.connect(self._cut_short)
        hand.turned.connect(self._turn)
        hand.moved.connect(self._shift)
        hand.zoomed.connect(lambda factor: self._gestured(zoomed(self.eye, factor) if self.eye else None))

    def _grip_at(self, pixel: tuple[float, float]) -> str:
        portal = self._portal
        return grip_at(portal, self.eye, self._size, pixel) if portal is not None and self.eye is not None else ""

    def _turn(self, right_deg: float, up_deg: float) -> None:
        if self.eye is None:
            return
        if not self.turn_step_deg:
            self._gestured(turned(self.eye, right_deg, up_deg))
            return
        by_key = self.hand.gesture == "keys"
        if by_key:
            right_deg, up_deg = (float(np.sign(d)) * self.turn_step_deg for d in (right_deg, up_deg))
        self._loose = turned(self.eye if by_key or self._loose is None else self._loose, right_deg, up_deg)
        self._gestured(stepped(self._loose, self.turn_step_deg))

    def _shift(self, right: float, up: float, shares: bool) -> None:
        if self.eye is not None:
            mm = self.eye.half_height_mm if shares else 2.0 * self.eye.half_height_mm / max(1, self.height())
            self._gestured(moved(self.eye, right * mm, up * mm))

    def _cut_short(self) -> None:
        self._flight.stop()
        self._loose = None
        if self._way is not None:
            followed, self._way = self._way.along is not None, None
            if self.eye is not None:
                self.eye_moved.emit(self.eye, "follow" if followed else self.hand.gesture)

    def _gestured(self, eye: Eye | None) -> None:
        if eye is None:
            return
        if self._way is not None:
            self._cut_short()
        self._look(eye)
        self._move()
        self.eye_moved.emit(eye, self.hand.gesture)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave what the hand left to the window: VTK would take letters for commands of its own."""
        event.ignore()

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """Leave it to the window."""
        event.ignore()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show a focus that came by key."""
        by_hand = (Qt.FocusReason.MouseFocusReason, Qt.FocusReason.ActiveWindowFocusReason)
        self._overlay.framed = event.reason() not in by_hand
        self._refresh_overlay()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Show that it has gone."""
        self._overlay.framed = False
        self._refresh_overlay()

    # --- the end

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop the clocks before the drawing memory goes."""
        for clock in (self._rest, self._flight, self._fading, self._after, self.hand):
            clock.stop()
        super().closeEvent(event)  # type: ignore[no-untyped-call]


def _a_button_is_held() -> bool:
    """Whether a mouse button is down anywhere: something may be dragged, in the field or in a panel."""
    return QApplication.mouseButtons() != Qt.MouseButton.NoButton
