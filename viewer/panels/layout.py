"""The arrangement: field and readout above, dissection and depth log below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QLabel,
    QMainWindow,
    QProgressBar,
    QScrollArea,
    QSplitter,
    QTabBar,
    QTabWidget,
    QToolBar,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.caution import CAUTION
from viewer.panels.approach import ApproachPage
from viewer.panels.card import StructureCard
from viewer.panels.depthlog import DepthLog
from viewer.panels.discface import DiscFace
from viewer.panels.dress import text_height
from viewer.panels.field import Field
from viewer.panels.filmbar import FilmBar
from viewer.panels.filmfield import FilmField
from viewer.panels.lesson import LessonPage
from viewer.panels.lessonedit import LessonEditor
from viewer.panels.message import Message
from viewer.panels.patient import PatientPage
from viewer.panels.portalform import PortalForm
from viewer.panels.readout import Readout
from viewer.panels.spot import SpotPage
from viewer.panels.strip import DissectionStrip
from viewer.session import Session

#: Width of the readout, and the least of it, in heights of the text; and the most of it, as a share of the window.
READOUT, LEAST_READOUT, MOST_READOUT = 28.6, 18.0, 0.45
#: How far a body is built is told after this long, milliseconds: one that was built before is there sooner.
LATE_MS = 300
PAGES = ("portal", "approach", "structure", "patient", "lesson", "spot test")
SPOT = "spot test"
#: Pages that a spot test puts away to its end.
APART = ("approach", "lesson")


@dataclass(frozen=True)
class Hush:
    """What stays for an item of a spot test; the field keeps its size until the next one.

    asking : it is asked: all else that tells names is put away
    layers : the dissection, where no layer gives the answer
    portal : the portal's boxes and the disc face, where a portal is to be placed
    """

    asking: bool
    layers: bool
    portal: bool


class Places(QWidget):
    """The four places, each answering one question."""

    def __init__(self, window: QMainWindow) -> None:
        super().__init__(window)
        self._window = window
        # What is taught, and who lies there: the title of the window.
        self.title = self._who = ""
        self.message = Message()
        self.progress = QProgressBar()
        self.progress.setAccessibleName("Building the body")
        self.progress.setRange(0, 100)
        self._progress = 1.0, ""
        self._late = QTimer(self, singleShot=True, interval=LATE_MS)
        self._late.timeout.connect(self._show_late)
        self.field = Field()
        self.film, self.film_bar = FilmField(), FilmBar()
        self.readout, self.face, self.form = Readout(), DiscFace(), PortalForm()
        self.strip, self.log = DissectionStrip(), DepthLog()
        self.card, self.patient, self.pages = StructureCard(), PatientPage(), QTabWidget()
        self.approach = ApproachPage()
        self.lesson, self.editor, self.spot = LessonPage(), LessonEditor(), SpotPage()
        # Whether the bars are there, and what is put away for the item of a spot test.
        self._bars = True
        self.hush: Hush | None = None
        self.editor.hide()
        # Once it has its size: only then is it known where it lies.
        self.lesson.look_at.connect(lambda part: QTimer.singleShot(0, part, lambda: self._scroll_to("lesson", part)))
        self.spot.look_at.connect(lambda part: QTimer.singleShot(0, part, lambda: self._scroll_to(SPOT, part)))
        self.specimen, self.hover = QLabel(), QLabel()
        for gives_way in (self.specimen, self.hover):
            gives_way.setMinimumWidth(1)  # so that the caution beside them is never cut
        window.addToolBarBreak()
        window.addToolBar(self.form)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        self._across = across = QSplitter(Qt.Orientation.Horizontal)
        across.setChildrenCollapsible(False)
        across.addWidget(self._middle())
        self.right = self._right()
        across.addWidget(self.right)
        across.setStretchFactor(0, 1)
        across.setStretchFactor(1, 0)
        across.setSizes([2000, round(READOUT * text_height(self))])
        layout.addWidget(across, 1)
        self._below = (
            _panel("Dissection", self.strip),
            _panel("Depth log, mm from the skin along the portal", self.log),
        )
        for panel in self._below:
            layout.addWidget(panel)
        window.statusBar().addPermanentWidget(QLabel(CAUTION))
        window.statusBar().addWidget(self.specimen)
        window.statusBar().addWidget(self.hover)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave more than half of the width to the field, however large the text is."""
        super().resizeEvent(event)
        most = max(self.pages.minimumWidth(), round(MOST_READOUT * self.width()))
        if self.pages.width() > most:
            self._across.setSizes([self.width() - most, most])

    def show_session(self, session: Session, at_rest: bool = True) -> None:
        """Follow a session; `at_rest` is false while its portal is being moved."""
        self.strip.show_view(session.view, session.body)
        self.show_portal(session)
        self.readout.show_docking(session.docking, at_rest)
        self.log.show_docking(session.docking, session.body)
        self.form.show_placement(session.view.portal)
        specimen = session.body.specimen if session.body else session.specimen
        words = [specimen.name, specimen.posture.replace("_", "-")]
        if specimen.table_break_deg:
            words.append(f"table break {specimen.table_break_deg:g}°")
        self.specimen.setText("  ".join((", ".join(words), "Lengths in mm.")))
        self._who = specimen.name
        self.entitle()

    def entitle(self) -> None:
        """Write on the window who lies there, and what is taught."""
        who = "" if self.is_asking else self._who
        self._window.setWindowTitle(" - ".join(word for word in (self.title, who, "furcal") if word))

    def show_portal(self, session: Session) -> None:
        """Only the circle on the disc, which the hand may be holding."""
        self.face.show_docking(session.docking, session.body)

    def show_film(self, session: Session) -> None:
        """The film in place of the field or beside it, if the view has one."""
        film = session.view.film
        for widget, shown in (
            (self.film, film is not None),
            (self.film_bar, film is not None and self.hush is None),
            (self.field, film is None or film.beside),
        ):
            if widget.isHidden() == shown:
                widget.setVisible(shown)
        if film is not None:
            self.film_bar.show_film(film)
        portal = session.docking.portal if session.docking is not None else None
        self.film.show_film(film, session.body, portal, session.view.highlighted, session.view.labels)

    def _scroll_to(self, page: str, part: QWidget) -> None:
        """Bring a part of a page into sight."""
        scroll = self.pages.widget(PAGES.index(page))
        assert isinstance(scroll, QScrollArea)
        scroll.ensureWidgetVisible(part)

    def show_editor(self, shown: bool) -> None:
        """The editor of a lesson in place of its step, or the step."""
        self.editor.setVisible(shown)
        self.lesson.setVisible(not shown)

    @property
    def bars_are_shown(self) -> bool:
        """Whether the bars and what lies below the field are there."""
        return self._bars

    def show_bars(self, shown: bool) -> None:
        """The bars above and what lies below the field, or only pictures and readout, for a room."""
        self._bars = shown
        for bar in self._window.findChildren(QToolBar):
            bar.setVisible(shown)
        self._show_panels()

    def _show_panels(self) -> None:
        hush = self.hush
        for panel, stays in (
            (self._below[0], hush is None or hush.layers),
            (self._below[1], hush is None),
            (self.form, hush is None or hush.portal),
        ):
            panel.setVisible(self._bars and stays)

    # --- a spot test

    @property
    def is_asking(self) -> bool:
        """Whether an item is asked, and nothing may tell a name."""
        return self.hush is not None and self.hush.asking

    def show_spot(self, hush: Hush | None) -> None:
        """The page of a spot test in place of that of a lesson, and what stays beside it; None at its end."""
        self.hush = hush
        asking = self.is_asking
        if hush is None:
            self._show_tabs([name for name in PAGES if name != SPOT], PAGES[0])
        else:
            self._show_tabs([SPOT] if asking else [name for name in PAGES if name not in APART], SPOT)
        self._show_panels()
        self.form.hold(asking)
        self.face.names_shown = self.film.names_shown = not asking
        self.face.update()
        self._lend_face(hush is not None and hush.portal)
        self.specimen.setVisible(not asking)
        self.hover.clear()
        self.entitle()

    def _show_tabs(self, kept: Sequence[str], front: str) -> None:
        """The tabs that are there, one of them in front.

        It comes to the front before the last one goes: else each page would be in front for a moment and tell what it
        tells. And there are never more of them than fit, for the bar would be scrolled and stay so.
        """
        before = PAGES[self.pages.currentIndex()]

        def show(name: str, there: bool) -> None:
            self.pages.setTabEnabled(PAGES.index(name), there)
            self.pages.setTabVisible(PAGES.index(name), there)

        for name in PAGES:
            if name not in kept and name != before:
                show(name, False)
        show(front, True)
        self.pages.setCurrentIndex(PAGES.index(front))
        for name in sorted(PAGES, key=lambda name: name in kept):
            show(name, name in kept)

    def _lend_face(self, lent: bool) -> None:
        """The disc face stands on the page of the spot test while a portal is to be placed, else beside the readout."""
        if lent != (self.face.parentWidget() is self.spot):
            page = self.readout.parentWidget()
            home = page.layout() if page is not None else None
            assert home is not None
            (self.spot.lent if lent else home).addWidget(self.face)

    def order_tabs(self, bar: QToolBar) -> None:
        """Tab goes round as the eye does: the field, the bars above it, the right, then what lies below."""
        stops = [
            self.field,
            self.film,
            *_stops(self.film_bar),
            *_stops(bar),
            *_stops(self.form),
            *_stops(self.right),
            self.strip,
            self.log,
        ]
        for before, after in pairwise(stops):
            QWidget.setTabOrder(before, after)

    def show_progress(self, share: float, stage: str) -> None:
        """How far the body is built; hidden when it is there."""
        if share >= 1.0:
            self._late.stop()
            self.progress.hide()
        elif self.progress.isHidden() and not self._late.isActive():
            self._late.start()
        self._progress = share, stage
        if self.progress.isVisible():
            self._tell_progress()

    def _show_late(self) -> None:
        self.progress.show()
        self._tell_progress()

    def _tell_progress(self) -> None:
        share, stage = self._progress
        self.progress.setValue(round(100 * share))
        self.progress.setFormat(f"Building the body: {stage}  %p%" if stage else "Building the body  %p%")

    def _middle(self) -> QWidget:
        column = QWidget()
        layout = QVBoxLayout(column)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.progress)
        layout.addWidget(self.film_bar)
        self.pictures = both = QSplitter(Qt.Orientation.Horizontal)
        both.setChildrenCollapsible(False)
        both.addWidget(self.field)
        both.addWidget(self.film)
        both.setSizes([1000, 1000])
        layout.addWidget(both, 1)
        self.message.float_over(both)
        return column

    def _right(self) -> QWidget:
        pages: tuple[tuple[QWidget, ...], ...] = (
            (self.readout, self.face), (self.approach,), (self.card,), (self.patient,), (self.lesson, self.editor),
            (self.spot,),
        )  # fmt: skip
        for name, parts in zip(PAGES, pages, strict=True):
            self.pages.addTab(_scrolled(_page(*parts), f"Readout: {name}"), name.capitalize())
        self.pages.setTabVisible(PAGES.index(SPOT), False)
        self.pages.setAccessibleName("Readout")
        self.pages.tabBar().setAccessibleName("Pages of the readout")
        self.pages.setDocumentMode(True)
        self.pages.setMinimumWidth(round(LEAST_READOUT * text_height(self)))
        return self.pages

    @property
    def page(self) -> str:
        """The page of the readout that is looked at."""
        return PAGES[self.pages.currentIndex()]

    def show_page(self, name: str) -> None:
        """Bring one of PAGES to the front; while an item is asked there is only one."""
        self.pages.setCurrentIndex(PAGES.index(SPOT if self.is_asking else name))


def _page(*parts: QWidget) -> QWidget:
    page = QWidget()
    page.setObjectName("panel")
    layout = QVBoxLayout(page)
    layout.setContentsMargins(12, 10, 12, 10)
    layout.setSpacing(8)
    for part in parts:
        layout.addWidget(part)
    return page


def _scrolled(page: QWidget, name: str) -> QScrollArea:
    scroll = QScrollArea()
    scroll.setObjectName("panel")
    scroll.setWidgetResizable(True)
    scroll.setAccessibleName(name)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setWidget(page)
    return scroll


def _stops(place: QWidget) -> list[QWidget]:
    """What Tab stops at in a place: itself, and its controls in the order in which they were laid out."""
    inside = [w for w in (place, *place.findChildren(QWidget)) if w.window() is place.window()]
    stops = [w for w in inside if w.focusPolicy() & Qt.FocusPolicy.TabFocus]
    # A tab widget hands its focus to its tabs, and makes them after its pages.
    return sorted(stops, key=lambda w: (w is not place, not isinstance(w, QTabBar)))


def _panel(title: str, widget: QWidget) -> QFrame:
    """A place below the field, with its name."""
    frame = QFrame()
    frame.setObjectName("panel")
    layout = QVBoxLayout(frame)
    layout.setContentsMargins(8, 4, 8, 4)
    layout.setSpacing(2)
    name = QLabel(title)
    face = name.font()
    face.setBold(True)
    name.setFont(face)
    name.setBuddy(widget)
    layout.addWidget(name)
    layout.addWidget(widget)
    return frame
