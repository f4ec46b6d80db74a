"""The film: a simulated radiograph, its beam turned by mouse and keys, its wires picked by a click."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QFont, QFontMetricsF, QImage, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QWidget

from lessons.film import LIMITS, Film
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.film.filmed import Exposed
from meshes.portal import Portal
from viewer.export.png16 import grey
from viewer.filmer import Filmer, lines_on, lit_shapes, named_shapes, nearest_wire, nerves_of
from viewer.filmmarks import film_shapes
from viewer.overlay import Shape
from viewer.panels.brush import brush
from viewer.panels.dress import text_height
from viewer.panels.hand import Hand

#: Pixels a side of a film that is being turned, and the most of one at rest.
COARSE, FINE = 256, 1024
#: After this long without motion the film is taken at its best, milliseconds.
REST_MS = 180
#: A click this near to a wire means it, pixels of the screen.
SLACK_PX = 8.0
#: Width of the line over a wire that is traced, pixels.
LIT_PX = 2.5


class FilmField(QWidget):
    """Shows the film of a view.

    turned : (Film, key) after every step of a gesture
    picked : (id, share of its length) of the wire that was clicked; an empty id beside all of them
    failed : a sentence: what stands in the way of a film
    """

    turned = Signal(object, str)
    picked = Signal(str, float)
    failed = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(240, 240)
        self.setAccessibleName("Film: the body as a radiograph")
        self.setAccessibleDescription("Arrow keys turn the beam; a click picks a wire.")
        self.filmer = Filmer()
        self.hand = Hand(self, lambda _: "")
        self.hand.turned.connect(self._turn)
        self.hand.clicked.connect(self._click)
        self._body: Body | None = None
        self._film: Film | None = None
        self._portal: Portal | None = None
        self._lit: frozenset[str] = frozenset()
        self._labels = False
        #: Whether the film says whose it is: not while an item is asked, for a specimen's name may tell its variant.
        self.names_shown = True
        self._named: list[Shape] = []
        self._exposed: Exposed | None = None
        self._image = QImage()
        self._shapes: list[Shape] = []
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._come_to_rest)

    # --- what is shown

    def show_film(
        self, film: Film | None, body: Body | None, portal: Portal | None, lit: frozenset[str], labels: bool
    ) -> None:
        """Follow a view: its film, on a body, with a portal as metal.

        lit    : ids of the nerves that are traced
        labels : whether wires are named at rest
        """
        before = (self._film, self._body, self._portal)
        if labels != self._labels:
            self._rest.start()
        self._lit, self._labels = lit, labels
        if film is None or body is None:
            self._film, self._body, self._portal = film, body, portal
            self._rest.stop()
            return
        if before != (film, body, portal) or before[1] is not body or before[2] is not portal:
            self._film, self._body, self._portal = film, body, portal
            self._take(COARSE, grain=False)
            self._named = []
            self._rest.start()
        self._mark()

    @property
    def is_resting(self) -> bool:
        """Whether the film is taken at its best."""
        return not self._rest.isActive()

    def _come_to_rest(self) -> None:
        if self._film is not None and self.isVisible():
            self._take(min(FINE, max(COARSE, round(self._side * self.devicePixelRatioF()))), grain=True)
            self._name()
            self._mark()

    def _name(self) -> None:
        """Name the wires beside the film."""
        self._named = []
        film, body = self._film, self._body
        if self._labels and self._exposed is not None and film is not None and body is not None and film.wires > 0.0:
            size = (round(self._side), round(self._side))
            self._named = named_shapes(self._exposed.beam, size, body, film, self._text, self._width_of)

    def _take(self, size: int, grain: bool) -> None:
        if self._film is None or self._body is None:
            return
        try:
            self._exposed = self.filmer.exposed(self._body, self._film, self._portal, size, roughly=not grain)
        except FurcalError as error:
            self.failed.emit(str(error))
            return
        rows = grey(self.filmer.picture(self._exposed, self._film, grain), 8)
        h, w = rows.shape
        self._image = QImage(rows.tobytes(), w, h, w, QImage.Format.Format_Grayscale8).copy()
        self.update()

    # --- where it lies

    @property
    def _side(self) -> float:
        return float(min(self.width(), self.height()))

    @property
    def _corner(self) -> tuple[float, float]:
        return (self.width() - self._side) / 2.0, (self.height() - self._side) / 2.0

    @property
    def _scale(self) -> float:
        """Pixels of the screen to one of the detector."""
        return self._side / self._exposed.beam.width if self._exposed is not None else 1.0

    @property
    def _text(self) -> float:
        """Height of the words, pixels."""
        return max(10.0, min(1.05 * text_height(self), self._side / 34.0))

    def _mark(self) -> None:
        """What is drawn over the film: the lines of what is traced, and what every film says."""
        if self._exposed is None or self._film is None or self._body is None:
            return
        beam, side = self._exposed.beam, round(self._side)
        shapes = lit_shapes(self._exposed, self._body, self._film, self._lit, self._side, LIT_PX)
        body = self._body
        if not self.names_shown:
            body = replace(body, specimen=replace(body.specimen, name="Specimen"))
        shapes += film_shapes(beam, (side, side), body, self._film, self._portal, self._text, self._width_of)
        shapes += self._named
        if shapes != self._shapes:
            self._shapes = shapes
        self.update()

    def _width_of(self, text: str, height: float) -> float:
        face = QFont(self.font())
        face.setPixelSize(max(1, round(height)))
        face.setBold(True)
        return QFontMetricsF(face).horizontalAdvance(text)

    def paintEvent(self, event: QPaintEvent) -> None:
        """The film in the middle of a black box, and over it what is said."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), Qt.GlobalColor.black)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        x, y = self._corner
        if not self._image.isNull():
            painter.drawImage(QRectF(x, y, self._side, self._side), self._image)
        painter.translate(x, y)
        brush(painter, self._shapes, self.font())
        painter.end()
        self.hand.drawn()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Sharpen anew in the new size."""
        super().resizeEvent(event)
        self._named = []
        self._mark()
        self._rest.start()

    # --- gestures

    def _turn(self, right_deg: float, up_deg: float) -> None:
        """Turn the beam as the eye would turn about the body."""
        if self._film is None:
            return
        low, high = LIMITS["cranial_deg"]
        turn = (self._film.turn_deg + right_deg + 180.0) % 360.0 - 180.0
        tilt = min(high, max(low, self._film.cranial_deg + up_deg))
        self.turned.emit(replace(self._film, turn_deg=round(turn, 1), cranial_deg=round(tilt, 1)), self.hand.gesture)

    def _click(self, spot: QPointF) -> None:
        if self._exposed is None or self._film is None or self._body is None or self._film.wires <= 0.0:
            return
        x, y = self._corner
        at = ((spot.x() - x) / self._scale - 0.5, (spot.y() - y) / self._scale - 0.5)
        lines = lines_on(self._exposed.beam, self._body, nerves_of(self._body, self._film))
        found = nearest_wire(lines, at, SLACK_PX / self._scale)
        self.picked.emit(*(found or ("", 0.0)))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave what the hand left to the window."""
        event.ignore()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop the clocks."""
        self._rest.stop()
        self.hand.stop()
        super().closeEvent(event)
