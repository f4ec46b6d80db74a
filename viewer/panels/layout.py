"""The arrangement: field and readout above, dissection and depth log below."""

from __future__ import annotations

from itertools import pairwise

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFrame,
    QLabel,
    QMainWindow,
    QProgressBar,
    QScrollArea,
    QSplitter,
    QToolBar,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from lessons.caution import CAUTION
from viewer.panels.depthlog import DepthLog
from viewer.panels.discface import DiscFace
from viewer.panels.field import Field
from viewer.panels.message import Message
from viewer.panels.portalform import PortalForm
from viewer.panels.readout import Readout
from viewer.panels.strip import DissectionStrip
from viewer.session import Session

READOUT_WIDTH = 344


class Places(QWidget):
    """The four places, each answering one question."""

    def __init__(self, window: QMainWindow) -> None:
        super().__init__(window)
        self._window = window
        self.message = Message()
        self.progress = QProgressBar()
        self.progress.setAccessibleName("Building the body")
        self.progress.setRange(0, 100)
        self.field = Field()
        self.readout, self.face, self.form = Readout(), DiscFace(), PortalForm()
        self.strip, self.log = DissectionStrip(), DepthLog()
        self.specimen = QLabel()
        window.addToolBarBreak()
        window.addToolBar(self.form)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        across = QSplitter(Qt.Orientation.Horizontal)
        across.setChildrenCollapsible(False)
        across.addWidget(self._middle())
        self.right = self._right()
        across.addWidget(self.right)
        across.setStretchFactor(0, 1)
        across.setStretchFactor(1, 0)
        across.setSizes([2000, READOUT_WIDTH])
        layout.addWidget(across, 1)
        layout.addWidget(_panel("Dissection", self.strip))
        layout.addWidget(_panel("Depth log, mm from the skin along the portal", self.log))
        window.statusBar().addPermanentWidget(QLabel(CAUTION))
        window.statusBar().addWidget(self.specimen)

    def show_session(self, session: Session, at_rest: bool = True) -> None:
        """Follow a session; `at_rest` is false while its portal is being moved."""
        self.strip.show_view(session.view, session.body)
        self.readout.show_docking(session.docking, at_rest)
        self.face.show_docking(session.docking, session.body)
        self.log.show_docking(session.docking, session.body)
        self.form.show_placement(session.view.portal)
        specimen = session.body.specimen if session.body else session.specimen
        words = [specimen.name, specimen.posture.replace("_", "-")]
        if specimen.table_break_deg:
            words.append(f"table break {specimen.table_break_deg:g}°")
        self.specimen.setText("  ".join((", ".join(words), "Lengths in mm.")))
        self._window.setWindowTitle(f"{specimen.name} - furcal")

    def order_tabs(self, bar: QToolBar) -> None:
        """Tab goes round as the eye does: the field, the bars above it, the right, then what lies below."""
        stops = [self.field, *_stops(bar), *_stops(self.form), *_stops(self.right), self.strip, self.log]
        for before, after in pairwise(stops):
            QWidget.setTabOrder(before, after)

    def show_progress(self, share: float, stage: str) -> None:
        """How far the body is built; hidden when it is there."""
        self.progress.setVisible(share < 1.0)
        self.progress.setValue(round(100 * share))
        self.progress.setFormat(f"Building the body: {stage}  %p%" if stage else "Building the body  %p%")

    def _middle(self) -> QWidget:
        column = QWidget()
        layout = QVBoxLayout(column)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.message)
        layout.addWidget(self.progress)
        layout.addWidget(self.field, 1)
        return column

    def _right(self) -> QWidget:
        column = QWidget()
        column.setObjectName("panel")
        layout = QVBoxLayout(column)
        layout.setContentsMargins(12, 10, 12, 10)
        layout.setSpacing(8)
        layout.addWidget(self.readout, 1)
        layout.addWidget(self.face)
        scroll = QScrollArea()
        scroll.setObjectName("panel")
        scroll.setWidgetResizable(True)
        scroll.setAccessibleName("Readout")
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setMinimumWidth(READOUT_WIDTH - 40)
        scroll.setWidget(column)
        return scroll


def _stops(place: QWidget) -> list[QWidget]:
    """What Tab stops at in a place: itself, and its controls in the order in which they were laid out."""
    inside = [w for w in (place, *place.findChildren(QWidget)) if w.window() is place.window()]
    return [w for w in inside if w.focusPolicy() & Qt.FocusPolicy.TabFocus and w.focusProxy() is None]


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
