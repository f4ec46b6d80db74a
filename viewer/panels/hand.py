"""The hand on the field: what mouse and keys mean there. It knows gestures and pixels, nothing of the body.

One drag is one gesture with one number. While a picture is being drawn only the latest place of the mouse is kept, so
that the picture never falls behind the hand.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from PySide6.QtCore import QEvent, QObject, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

TURN_DEG_PER_PIXEL = 0.35
KEY_TURN_DEG = 5.0
KEY_MOVE_SHARE = 0.05
ZOOM_PER_NOTCH = 1.12
#: A press that moves less than this is a click, pixels.
CLICK_PX = 4.0
#: The mouse has to rest this long before what is under it is named, ms; and a lost picture stops nothing longer than
HOVER_MS, WAIT_MS = 60, 120

Grips = Callable[[tuple[float, float]], str]
ARROWS = {
    Qt.Key.Key_Left: (-1.0, 0.0), Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0), Qt.Key.Key_Down: (0.0, -1.0),
}  # fmt: skip
_CURSORS = {"inner": Qt.CursorShape.SizeHorCursor, "outer": Qt.CursorShape.SizeAllCursor}


class Hand(QObject):
    """Listens on a widget.

    turned, moved : (right, up) by which the eye turns (degrees) or moves (pixels, or shares of the height: True)
    zoomed        : factor
    pulled        : (grip, QPointF where it was taken, QPointF where the hand is now) while an end of the portal is held
    clicked, asked: QPointF of a click with the left or the right button
    hovered       : QPointF where the mouse rests; None when it has left
    nudged        : ("along" | "depth" | "lean", right, up)
    sized         : ("radius" | "depth", steps)
    let_go        : a drag is over

    `gesture` names the drag, or the kind of key or wheel, for one step of undo.
    """

    turned = Signal(float, float)
    moved = Signal(float, float, bool)
    zoomed = Signal(float)
    pulled = Signal(str, QPointF, QPointF)
    clicked = Signal(QPointF)
    asked = Signal(QPointF)
    hovered = Signal(object)
    nudged = Signal(str, float, float)
    sized = Signal(str, float)
    began = Signal()
    let_go = Signal()

    def __init__(self, widget: QWidget, grip_at: Grips) -> None:
        super().__init__(widget)
        self._widget, self._grip_at = widget, grip_at
        self.gesture = ""
        #: Whether arrow keys alone turn; else only those with Shift do.
        self.arrows_turn = True
        self._number = 0
        self._held = ""
        self._pressed, self._last = QPointF(), QPointF()
        self._latest: QPointF | None = None
        self._dragged = False
        self._waiting = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._waiting.timeout.connect(self._apply)
        self._idle = QTimer(self, singleShot=True, interval=HOVER_MS)
        self._idle.timeout.connect(lambda: self.hovered.emit(self._last))
        self._answers: dict[QEvent.Type, Callable[[QEvent], bool]] = {
            QEvent.Type.MouseButtonPress: lambda e: self._press(cast(QMouseEvent, e)),
            QEvent.Type.MouseButtonDblClick: lambda e: self._press(cast(QMouseEvent, e)),
            QEvent.Type.MouseMove: lambda e: self._move(cast(QMouseEvent, e)),
            QEvent.Type.MouseButtonRelease: lambda e: self._release(cast(QMouseEvent, e)),
            QEvent.Type.Wheel: lambda e: self._wheel(cast(QWheelEvent, e)),
            QEvent.Type.KeyPress: lambda e: self._key(cast(QKeyEvent, e)),
            QEvent.Type.Leave: lambda _: self._leave(),
            QEvent.Type.Enter: lambda _: True,
            QEvent.Type.ContextMenu: lambda _: True,
        }
        widget.setMouseTracking(True)
        widget.installEventFilter(self)

    @property
    def is_dragging(self) -> bool:
        """True while a button is held and the mouse has moved."""
        return bool(self._held) and self._dragged

    def drawn(self) -> None:
        """A picture has been drawn: what the mouse did meanwhile may follow."""
        if self._waiting.isActive():
            self._waiting.start(0)

    def stop(self) -> None:
        """Stop the clocks."""
        self._waiting.stop()
        self._idle.stop()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take what is ours; leave the rest to the widget."""
        answer = self._answers.get(event.type())
        return answer(event) if answer is not None else False

    # --- mouse

    def _press(self, event: QMouseEvent) -> bool:
        if self._held:
            return True
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        self._widget.setFocus(Qt.FocusReason.MouseFocusReason)
        self._pressed = self._last = event.position()
        self._dragged, self._latest = False, None
        if event.button() == Qt.MouseButton.LeftButton:
            self._held = "move" if shift else self._grip_at(_pixel(self._pressed)) or "turn"
        else:
            self._held = "ask" if event.button() == Qt.MouseButton.RightButton else "move"
        self._number += 1
        self.gesture = f"drag{self._number}"
        self.began.emit()
        return True

    def _move(self, event: QMouseEvent) -> bool:
        here = event.position()
        if not self._held:
            self._last = here
            cursor = _CURSORS.get(self._grip_at(_pixel(here)), Qt.CursorShape.ArrowCursor)
            self._widget.setCursor(cursor)
            self._idle.start()
            return True
        if not self._dragged and (here - self._pressed).manhattanLength() < CLICK_PX:
            return True
        self._dragged, self._latest = True, here
        if not self._waiting.isActive():
            self._apply()
            self._waiting.start(WAIT_MS)
        return True

    def _apply(self) -> None:
        here, self._latest = self._latest, None
        if here is None or not self._held:
            return
        self._waiting.start(WAIT_MS)
        step, self._last = here - self._last, here
        if self._held == "turn":
            self.turned.emit(-step.x() * TURN_DEG_PER_PIXEL, step.y() * TURN_DEG_PER_PIXEL)
        elif self._held in ("move", "ask"):
            self.moved.emit(-step.x(), step.y(), False)
        else:
            self.pulled.emit(self._held, self._pressed, here)

    def _release(self, event: QMouseEvent) -> bool:
        if not self._held:
            return True
        self._apply()
        self._waiting.stop()
        held, self._held = self._held, ""
        if self._dragged:
            self.let_go.emit()
        elif held == "ask":
            self.asked.emit(self._pressed)
        elif event.button() == Qt.MouseButton.LeftButton:
            self.clicked.emit(self._pressed)
        return True

    def _leave(self) -> bool:
        self._idle.stop()
        self.hovered.emit(None)
        return True

    def _wheel(self, event: QWheelEvent) -> bool:
        delta = event.angleDelta()
        notches = (delta.y() or delta.x()) / 120.0
        if not notches:
            return True
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.sized.emit("radius", notches)
        elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.sized.emit("depth", notches)
        else:
            self.gesture = "wheel"
            self.zoomed.emit(ZOOM_PER_NOTCH**notches)
        return True

    # --- keys

    def _key(self, event: QKeyEvent) -> bool:
        key, mods = Qt.Key(event.key()), event.modifiers()
        if key in ARROWS and not self.arrows_turn and not mods & ~Qt.KeyboardModifier.KeypadModifier:
            return False
        self.gesture = "keys"
        if key in ARROWS:
            self._arrow(*ARROWS[key], mods)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoomed.emit(ZOOM_PER_NOTCH)
        elif key == Qt.Key.Key_Minus:
            self.zoomed.emit(1.0 / ZOOM_PER_NOTCH)
        else:
            return False
        return True

    def _arrow(self, right: float, up: float, mods: Qt.KeyboardModifier) -> None:
        if mods & Qt.KeyboardModifier.AltModifier:
            lean = bool(mods & Qt.KeyboardModifier.ShiftModifier)
            self.nudged.emit("lean" if lean else "along" if right else "depth", right, up)
        elif mods & Qt.KeyboardModifier.ControlModifier:
            self.moved.emit(-right * KEY_MOVE_SHARE, -up * KEY_MOVE_SHARE, True)
        else:
            self.turned.emit(-right * KEY_TURN_DEG, -up * KEY_TURN_DEG)


def _pixel(spot: QPointF) -> tuple[float, float]:
    return spot.x(), spot.y()
