"""The field: the body, the portal and labels, turned by mouse and keys."""

from __future__ import annotations

import time
from collections.abc import Mapping

import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (registers how to draw)
from PySide6.QtCore import QEvent, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QCloseEvent,
    QEnterEvent,
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)  # fmt: skip
from PySide6.QtWidgets import QApplication, QWidget
from pyvistaqt.rwi import QVTKRenderWindowInteractor
from vtkmodules.vtkRenderingCore import vtkRenderer

from lessons.view import View
from meshes.body import Body
from meshes.portal import Portal
from viewer.cameras import Eye, between, eye_of, moved, turned, zoomed
from viewer.columns import Label, column_width, columns_beside, lay_out
from viewer.labels import one_of_each_pair
from viewer.overlay import Shape, label_shapes, orientation_shapes, scale_shapes
from viewer.palette import THEMES
from viewer.panels.brush import brush
from viewer.panels.dress import text_height
from viewer.part import Meshes
from viewer.portalparts import Marks
from viewer.scene import Scene
from viewer.seen import anchors, drawn_between, drawn_depth

#: After this long without motion the picture is drawn at its best, milliseconds.
REST_MS = 180
#: One picture of an animated change of view, and how many there are.
STEP_MS, STEPS = 16, 14
TURN_DEG_PER_PIXEL = 0.35
KEY_TURN_DEG = 5.0
ZOOM_PER_NOTCH = 1.12
#: Share of the height that the body may fill.
FILL = 0.94


class Overlay(QWidget):
    """A see-through sheet over the field that words and lines are painted on."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        self.shapes: list[Shape] = []

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the shapes."""
        painter = QPainter(self)
        brush(painter, self.shapes, self.font())
        painter.end()


class Field(QVTKRenderWindowInteractor):
    """Draws one scene; a gesture moves the eye and is told to the window.

    eye_moved : (eye, key) after every step of a gesture; one gesture keeps one key
    """

    eye_moved = Signal(object, str)

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
        self._view = View()
        self._marks: Marks | None = None
        self._gesture, self._held, self._from = 0, "", QPointF()
        self._labels_wanted = False
        self._labels: list[Label] = []
        self._label_shapes: list[Shape] = []
        self._overlay = Overlay(self)
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._come_to_rest)
        self._after = QTimer(self, singleShot=True, interval=0)
        self._after.timeout.connect(self._refresh_overlay)
        self._flight = QTimer(self, interval=STEP_MS)
        self._flight.timeout.connect(self._fly_on)
        self._way: tuple[Eye, Eye] | None = None
        self._step = 0
        self.setMinimumSize(320, 240)
        self.setAccessibleName("Field: the body")
        self.setAccessibleDescription("Arrow keys turn the body, with Control they move it, plus and minus zoom.")

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
            return
        changed_camera = view.camera != self._view.camera or self.eye is None
        self._view, self._marks = view, marks
        self.scene.show(view, marks)
        target = self._eye_for(view) if changed_camera or view.camera.name == "portal" else self.eye
        assert target is not None
        if self.eye is None or target.is_close(self.eye):
            self._look(target)
        else:
            self._go(target)
        self._move()

    def point_at_depth(self, depth_mm: float) -> None:
        """Put a ring into the portal at a depth, or take it away (below 0)."""
        if self.scene is not None:
            self.scene.mark_depth(depth_mm)
            self.update()

    def stand_still(self) -> None:
        """End every motion now and draw at once."""
        eye = self._way[1] if self._way else self.eye
        self._flight.stop()
        self._way = None
        if eye is not None:
            self._look(eye)
        self._come_to_rest()

    def refit(self) -> None:
        """Look again from where the view says, without flying: another body, another size."""
        if self.scene is not None:
            self._look(self._eye_for(self._view))
            self._move()

    @property
    def is_resting(self) -> bool:
        """True when nothing moves and the picture is drawn at its best."""
        return not self._rest.isActive() and not self._flight.isActive()

    @property
    def named(self) -> list[str]:
        """Ids that carry a label now."""
        return [label.anchor.id for label in self._labels] if self._label_shapes else []

    def _eye_for(self, view: View) -> Eye:
        assert self.scene is not None
        side = view.portal.side if view.portal else "left"
        width = self.width() - (2.0 * self._column if view.labels else 0.0)
        return eye_of(view.camera, self.scene.region, width / max(self.height(), 1), side, self._portal, FILL)

    @property
    def _portal(self) -> Portal | None:
        return self._marks.portal if self._marks else None

    @property
    def _text(self) -> float:
        return text_height(self) * 1.05

    @property
    def _small(self) -> float:
        """Height of the words of the orientation mark and the scale: less where the field is small."""
        return min(self._text, self.height() / 22.0, self.width() / 26.0)

    @property
    def _column(self) -> float:
        """Width of a column of labels, pixels."""
        return column_width(self.width(), self._text)

    def _width_of(self, text: str, height: float) -> float:
        face = QFont(self.font())
        face.setPixelSize(max(1, round(height)))
        face.setBold(True)
        return QFontMetricsF(face).horizontalAdvance(text)

    # --- motion

    def _go(self, target: Eye) -> None:
        if self.eye is None or not self.animated or not self.isVisible():
            self._look(target)
            return
        self._way, self._step = (self.eye, target), 0
        self._flight.start()

    def _fly_on(self) -> None:
        if self._way is None:
            self._flight.stop()
            return
        self._step += 1
        share = self._step / STEPS
        self._look(between(*self._way, share * share * (3.0 - 2.0 * share)))
        self._move()
        if self._step >= STEPS:
            self._flight.stop()
            self._way = None

    def _look(self, eye: Eye) -> None:
        assert self.scene is not None
        self.eye = eye
        self.scene.look_from(eye)
        self._refresh_overlay()
        self.update()

    def _move(self) -> None:
        """Something changes: light copies now, the best picture when it is over."""
        if self.scene is not None:
            self.scene.set_moving(True)
        self._label_shapes = []
        self._refresh_overlay()
        self._rest.start()
        self.update()

    def _come_to_rest(self) -> None:
        self._rest.stop()
        if self.scene is None or self._flight.isActive() or _a_button_is_held():
            self._rest.start()
            return
        self.scene.set_moving(False)
        self._labels_wanted = self._view.labels
        self.update()

    # --- drawing

    def paintGL(self) -> None:
        """Draw; at rest, see from the depth what can be named."""
        start = time.perf_counter()
        super().paintGL()  # type: ignore[no-untyped-call]
        # Where drawing is slow, a pause between two steps of one motion is no rest.
        self._rest.setInterval(max(REST_MS, round(3000.0 * (time.perf_counter() - start))))
        if self._labels_wanted and self.scene is not None and self.eye is not None:
            self._labels_wanted = False
            self._name_what_is_seen()

    def _name_what_is_seen(self) -> None:
        assert self.scene is not None
        assert self.eye is not None
        depth = drawn_depth(self.GetRenderWindow(), self.renderer)  # type: ignore[no-untyped-call]
        words = self._marks.words if self._marks else {}
        body, text, width, height = self.scene.body, self._text, self.width(), self.height()
        share = self._column / width
        found = anchors(
            self.scene.looks, body, self.eye, depth, self._view, words, (width, height), (share, 1.0 - share)
        )
        low, high = drawn_between(depth)
        bottoms = (height - 7.6 * self._small, height - 3.0 * self._small)
        columns = columns_beside(width, 0.4 * text, bottoms, text, (low * width, high * width))
        self._labels, letters = lay_out(one_of_each_pair(found, body.structures), columns, self._width_of)
        self._label_shapes = label_shapes(self._labels, THEMES[self._view.theme], letters, self._width_of)
        # Painting another widget has to wait until this one is done.
        self._after.start()

    def _refresh_overlay(self) -> None:
        shapes = list(self._label_shapes)
        if self.eye is not None:
            theme, text = THEMES[self._view.theme], self._text
            small = self._small
            corner = (6.0 * small, self.height() - 3.6 * small)
            shapes += orientation_shapes(self.eye, corner, 2.2 * small, theme, small)
            ends = (self.width() - 1.2 * small, self.height() - 1.0 * small)
            shapes += scale_shapes(self.eye, *ends, self.height(), theme, small)
        self._overlay.shapes = shapes
        self._overlay.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the overlay as large as the field."""
        super().resizeEvent(event)
        self._overlay.resize(self.size())
        if self.scene is not None and self._view.camera.name != "free":
            self.refit()
        elif self.scene is not None:
            self._move()

    # --- gestures

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Left turns, right or middle (or with Shift) moves."""
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        left = event.button() == Qt.MouseButton.LeftButton
        self._held = "turn" if left and not shift else "move"
        self._from = event.position()
        self._begin()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Carry the eye along."""
        if not self._held or self.eye is None:
            return
        step = event.position() - self._from
        self._from = event.position()
        if self._held == "turn":
            self._gestured(turned(self.eye, -step.x() * TURN_DEG_PER_PIXEL, step.y() * TURN_DEG_PER_PIXEL))
        else:
            mm = 2.0 * self.eye.half_height_mm / max(1, self.height())
            self._gestured(moved(self.eye, -step.x() * mm, step.y() * mm))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go."""
        self._held = ""

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom."""
        if self.eye is not None and event.angleDelta().y():
            self._gestured(zoomed(self.eye, ZOOM_PER_NOTCH ** (event.angleDelta().y() / 120.0)), "wheel")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrows turn, with Control they move; plus and minus zoom."""
        arrows = {
            Qt.Key.Key_Left: (1.0, 0.0), Qt.Key.Key_Right: (-1.0, 0.0),
            Qt.Key.Key_Up: (0.0, -1.0), Qt.Key.Key_Down: (0.0, 1.0),
        }  # fmt: skip
        key = Qt.Key(event.key())
        if self.eye is None:
            return
        if key in arrows:
            x, y = arrows[key]
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                mm = 0.05 * self.eye.half_height_mm
                self._gestured(moved(self.eye, x * mm, y * mm), "keys")
            else:
                self._gestured(turned(self.eye, x * KEY_TURN_DEG, y * KEY_TURN_DEG), "keys")
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._gestured(zoomed(self.eye, ZOOM_PER_NOTCH), "keys")
        elif key == Qt.Key.Key_Minus:
            self._gestured(zoomed(self.eye, 1.0 / ZOOM_PER_NOTCH), "keys")
        else:
            event.ignore()

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """Leave it to the window."""
        event.ignore()

    def enterEvent(self, event: QEnterEvent) -> None:
        """Tell VTK nothing: gestures are ours."""

    def leaveEvent(self, event: QEvent) -> None:
        """Tell VTK nothing: gestures are ours."""

    def _begin(self) -> None:
        self._gesture += 1
        self._flight.stop()
        self._way = None

    def _gestured(self, eye: Eye, kind: str = "") -> None:
        if self._way is not None:
            self._begin()
        self._look(eye)
        self._move()
        self.eye_moved.emit(eye, kind or f"drag{self._gesture}")

    # --- the end

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop the clocks before the drawing memory goes."""
        self._rest.stop()
        self._flight.stop()
        self._after.stop()
        super().closeEvent(event)  # type: ignore[no-untyped-call]


def _a_button_is_held() -> bool:
    """Whether a mouse button is down anywhere: something may be dragged, in the field or in a panel."""
    return QApplication.mouseButtons() != Qt.MouseButton.NoButton
