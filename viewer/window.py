"""The desktop window: field, readout, dissection and depth log around one session."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QApplication, QMenu, QToolBar, QToolButton

from lessons.scenefile import SceneFile
from lessons.view import Placement, View
from meshes.body import Body, load_body
from meshes.specimen import ALDER, Specimen
from viewer.actions import ACTIONS, MENUS, plain
from viewer.doing import Doings
from viewer.doing.files import dropped
from viewer.doing.views import TURN_STEP_DEG
from viewer.loader import Load, Loader
from viewer.panels.dress import dress, system_theme
from viewer.panels.focusframe import FocusFrame
from viewer.panels.layout import Places
from viewer.panels.rows import Rows
from viewer.part import Meshes
from viewer.portalparts import Marks, marks_of
from viewer.sentences import sentence_of
from viewer.session import Session
from viewer.settings import Settings, settings_folder

SIZE = (1280, 800)
#: While a portal is dragged the words and figures follow after this long, and the disc face after this, seconds.
READ_S, FACE_S = 0.14, 0.06
#: What is seen is written down this long after the last change, milliseconds.
KEEP_MS = 2000
#: A portal that a held mouse button has not moved for this long rests, milliseconds.
STILL_MS = 150


class MainWindow(Doings):
    """One window on one session.

    specimen : None for the one of the last time
    load     : builds or fetches a body; tests give their own
    settings : folder of the settings file
    opened   : a scene file to begin with, and what it holds
    """

    def __init__(
        self,
        specimen: Specimen | None = None,
        load: Load = load_body,
        settings: Path | None = None,
        opened: tuple[Path, SceneFile] | None = None,
    ) -> None:
        super().__init__()
        self.settings = Settings(settings or settings_folder())
        theme = self.settings.theme(system_theme(_app()))
        kept = self.settings.view() or View(portal=Placement())
        self.session = Session(specimen or self.settings.specimen() or ALDER, replace(kept, theme=theme))
        self._keeping = QTimer(self, singleShot=True, interval=KEEP_MS)
        self._keeping.timeout.connect(self.guarded(self.keep_scene))
        self._marks: tuple[object, Marks | None] = (None, None)
        self._theme = ""
        self._read_at = self._faced_at = self._dragged_at = 0.0
        self._still = QTimer(self, singleShot=True, interval=STILL_MS)
        self._still.timeout.connect(self.guarded(self._portal_rests))
        self.loader = Loader(load, self)
        self.actions_by_name: dict[str, QAction] = {}
        self._make_actions()
        self.places = Places(self)
        self.setCentralWidget(self.places)
        self.field = self.places.field
        self.field.animated = self.settings.switch("animated")
        self.field.turn_step_deg = TURN_STEP_DEG if self.settings.switch("turn_steps") else 0.0
        self.snaps = self.settings.switch("snap")
        self.field.setAcceptDrops(False)  # a file that is dropped on it is for the window
        self.setAcceptDrops(True)
        self._connect()
        # Return is for the field alone: everywhere else it takes what was typed or chosen.
        self.actions_by_name["follow"].setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        self.field.addAction(self.actions_by_name["follow"])
        self.places.order_tabs(self.bar)
        FocusFrame(self, own=(self.field,), at_once=False)
        self.field.setFocus()
        self.resize(*SIZE)
        self.settings.place(self)
        if opened is not None:
            self._show_file(*opened)
        self.session.on_change = self.refresh
        if self.settings.is_new:  # once the window is there: showing it would bring back what a message hides
            QTimer.singleShot(0, self, self._greet)
        self.refresh()

    # --- set up

    def _make_actions(self) -> None:
        menus = {title: self.menuBar().addMenu(title) for title in MENUS}
        self.bar = bar = QToolBar("Views")
        bar.setMovable(False)
        self.addToolBar(bar)
        rows = Rows(gap=0.1)
        bar.addWidget(rows)
        for row in ACTIONS:
            method: Callable[..., None] = getattr(self, row.calls)
            action = QAction(row.says, self)
            action.setShortcuts([QKeySequence(k) for k in row.keys])
            action.setCheckable(row.toggle)
            action.setIconText(row.bar or plain(row.says))
            action.setStatusTip(plain(row.says))
            action.setToolTip(plain(row.says) + (f" ({row.keys[0]})" if row.keys else ""))
            action.triggered.connect(self.guarded(partial(method, row.gives) if row.gives else method))
            menus[row.menu].addAction(action)
            self.actions_by_name[row.name] = action
            if row.bar:
                button = QToolButton()
                button.setDefaultAction(action)
                button.setAccessibleName(plain(row.says))
                button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
                rows.add(button, apart=row.name in ("see_from home", "toggle_labels", "toggle_dark"))

        self._recent = QMenu("&Recent", self)
        self._recent.aboutToShow.connect(self._list_recent)
        menus["&File"].insertMenu(self.actions_by_name["save_scene"], self._recent)

    def _list_recent(self) -> None:
        self._recent.clear()
        paths = self.settings.recent()
        for i, path in enumerate(paths, start=1):
            name = f"{path.name}  ({path.parent})".replace("&", "&&")
            action = self._recent.addAction(f"&{i}  {name}")
            action.triggered.connect(self.guarded(partial(self.open_recent, path)))
        if not paths:
            self._recent.addAction("No file was opened or saved yet").setEnabled(False)

    def _connect(self) -> None:
        places = self.places
        self._connect_field()
        places.strip.valueChanged.connect(self.guarded(self.dissect_to))
        places.strip.state_asked.connect(self.guarded(self.set_state))
        places.strip.parts_asked.connect(self.guarded(self.show_layer_parts_of))
        places.form.placed.connect(self.guarded(self._placed_by_hand))
        places.face.at_dragged.connect(self.guarded(self._at_dragged))
        places.readout.chosen.connect(self.guarded(self.pick))
        places.readout.tilt_asked.connect(self.guarded(self.tilt_to_head))
        places.readout.break_asked.connect(self.guarded(self.break_table))
        places.log.depth_pointed.connect(self.guarded(self._depth_pointed))
        self._connect_film()
        self._connect_lesson()
        self._connect_writing()
        self._connect_spot()
        places.approach.opened.connect(self.guarded(self._open_layer))
        places.pages.currentChanged.connect(self.guarded(lambda _: self._tell_pages()))
        self.loader.built.connect(self.guarded(self._built))
        self.loader.failed.connect(self._failed)
        self.loader.progress.connect(self._building)

    def _connect_field(self) -> None:
        """The field's hand, and the card of what it picks."""
        hand, card = self.field.hand, self.places.card
        for signal, work in (
            (self.field.eye_moved, self._eye_moved),
            (self.field.followed, self._followed),
            (hand.pulled, self._pulled),
            (hand.let_go, self._let_go),
            (hand.clicked, self._clicked),
            (hand.asked, self._asked),
            (hand.hovered, self._hovered),
            (hand.nudged, self._nudged),
            (hand.sized, self._sized),
            (self.places.face.let_go, self._let_go),
            (self.places.face.nudged, self._nudged_on_face),
            (self.places.face.sized, self._sized),
            (card.follow_asked, self.follow),
            (card.cross_asked, self.cross),
            (card.closed, self.end_trace),
            (card.moved, self.go_along),
            (card.chosen, self.pick),
        ):
            signal.connect(self.guarded(work))

    def guarded(self, work: Callable[..., object]) -> Callable[..., None]:
        """The same work; whatever stops it becomes one sentence in the window, and the last good state stays."""

        def run(*given: object) -> None:
            # A menu's action hands over whether it is checked, which no method of ours asks for.
            given = () if given and isinstance(given[0], bool) else given
            try:
                work(*given)
            except Exception as error:  # noqa: BLE001  (an exception in a slot would vanish in silence)
                self.tell(sentence_of(error))
                self.refresh()

        return run

    def _greet(self) -> None:
        self.statusBar().showMessage("New here? Shift+F1 shows the first steps, F1 all keys.", 30_000)

    # --- following the session

    def refresh(self) -> None:
        """Make everything on the screen agree with the session."""
        view, docking = self.session.view, self.session.docking
        if view.theme != self._theme:
            self._theme = view.theme
            dress(_app(), view.theme)
        if self._marks[0] is not docking:
            self._note_drag()
            now = self._marks[1]
            read = now is None or not self._still.isActive() or self._is_to_read
            self._marks = (docking, self.told_marks(marks_of(docking, None if read or now is None else now.barring)))
        self.field.show_view(view, self._marks[1])
        self.places.show_film(self.session)
        self._show_places()
        self._note_script()
        if self._parts is not None:
            self._parts.show_view(view, self._part_list)
        if not self._still.isActive():
            self._show_card()
            self._show_states(view)
            self._tell_pages()
        self.need_body()
        self._keeping.start()

    def _show_places(self) -> None:
        """The places follow; what is only read does so a little less often than the picture while a portal is dragged.

        Painting it anew for every picture would cost a third of the pictures. `_still` brings it up to date.
        """
        at_rest, now = not self._still.isActive(), time.monotonic()
        if at_rest or self._is_to_read:
            self._read_at = self._faced_at = now
            self.places.show_session(self.session, at_rest)
        elif now - self._faced_at >= FACE_S:
            self._faced_at = now
            self.places.show_portal(self.session)

    @property
    def _is_to_read(self) -> bool:
        """Whether words and figures have not followed a dragged portal for long enough."""
        return time.monotonic() - self._read_at >= READ_S

    def _note_drag(self) -> None:
        """The portal has moved; under a held button it does not rest before the hand has paused."""
        if QApplication.mouseButtons() == Qt.MouseButton.NoButton:
            return
        now = time.monotonic()
        # Where a picture takes long, the next place of the hand is told late, and that is no pause.
        gap_ms = 1000.0 * min(now - self._dragged_at, 1.0)
        self._dragged_at = now
        self._still.start(max(STILL_MS, round(2.0 * gap_ms)) if self._still.isActive() else STILL_MS)

    def _let_go(self) -> None:
        """What was put off while something was dragged is told now; a turned body put nothing off."""
        if self._still.isActive():
            self._portal_rests()

    def _portal_rests(self) -> None:
        """Say what could not be said while the portal was dragged."""
        self._still.stop()
        self._marks = (self.session.docking, self.told_marks(marks_of(self.session.docking)))
        self.field.show_view(self.session.view, self._marks[1])
        self.places.show_session(self.session)
        self._show_card()
        self._show_states(self.session.view)
        self._tell_pages()

    def tell(self, sentence: str) -> None:
        """Show one sentence; empty takes it away."""
        self.places.message.tell(sentence)

    def _show_states(self, view: View) -> None:
        on = {
            "toggle_labels": view.labels,
            "toggle_perspective": not view.camera.parallel,
            "toggle_dark": view.theme == "dark",
            "toggle_animated": self.field.animated,
            "toggle_whole_screen": self.isFullScreen(),
            "toggle_portal": view.portal is not None,
            **self._film_states(view),
            **self._lesson_states(),
            "toggle_outermost_glassy": view.layer_state(view.dissection) == "glassy",
            "toggle_psoas_glassy": self._psoas_is_glassy(),
            "toggle_steps": self.field.turn_step_deg > 0.0,
            "toggle_snaps": self.snaps,
            "toggle_latin": view.language == "latin",
            "toggle_bodies": view.bodies_lifted,
            f"colour_nerves {view.colouring}": True,
            f"lie {self.session.specimen.posture}": True,
        }
        for name, action in self.actions_by_name.items():
            if action.isCheckable():
                action.setChecked(on.get(name, False))
        self.actions_by_name["undo"].setEnabled(bool(self.session.history.past))
        self.actions_by_name["redo"].setEnabled(bool(self.session.history.future))
        self.actions_by_name["see_from portal"].setEnabled(view.portal is not None)
        self.actions_by_name["end_trace"].setEnabled(bool(view.highlighted))
        for name in ("follow", "cross", "measure"):
            self.actions_by_name[name].setEnabled(self._traced is not None)
        self.actions_by_name["end_measure"].setEnabled(bool(view.measured))
        self.bar_actions()

    # --- bodies

    def need_body(self) -> None:
        """Build the body that is wanted, unless it is there or on its way; one that is not is built no further."""
        if not self.session.needs_body():
            if self.loader.wanted is not None:
                self.loader.drop()
                self.places.show_progress(1.0, "")
        elif self.loader.wanted != self.session.wanted_specimen():
            self.places.show_progress(0.0, "")
            self.loader.start(self.session.wanted_specimen())

    def _building(self, share: float, stage: str) -> None:
        if self.loader.wanted is not None:  # not what was still on its way from a build that was dropped
            self.places.show_progress(share, stage)

    def _built(self, body: Body, meshes: dict[str, Meshes]) -> None:
        if body.specimen != self.session.wanted_specimen():
            return
        first = self.session.body is None
        self.places.show_progress(1.0, "")
        self.judge_step(body)
        self.session.judge(body)
        self.field.set_body(body, meshes)
        self.session.take_body(body)
        if first or self.session.view.camera.name != "free":
            self.field.refit()
        if first and self.field.scene is not None:
            self._ahead.plan(self.field.scene.prepare_to_move(self.session.view))

    def _failed(self, sentence: str) -> None:
        self.places.show_progress(1.0, "")
        self.session.give_up_body()
        self.tell(sentence)

    # --- what outlives the window

    def keep_scene(self) -> None:
        """Write down what comes back with the next start."""
        scene = self.scene_to_keep()
        self.settings.keep_scene(scene.specimen, scene.view)
        self.settings.keep_switch("animated", self.field.animated)
        self.settings.keep_switch("turn_steps", self.field.turn_step_deg > 0.0)
        self.settings.keep_switch("snap", self.snaps)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take a file that may be a scene or a specimen."""
        if dropped(event) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open a file that is dropped on the window."""
        path = dropped(event)
        if path is not None:
            event.acceptProposedAction()
            self.guarded(partial(self.open_recent, path))()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrows and space step through a lesson, Return marks an answer, where nothing else wants them."""
        if not self.lesson_key(event):
            super().keyPressEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        """Follow a window that became the whole screen."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.WindowStateChange and self.actions_by_name:
            self._show_states(self.session.view)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Keep what is to be restored, stop building, and give the drawing memory back first."""
        if not self.may_close():
            event.ignore()
            return
        self._keeping.stop()
        self.keep_scene()
        self.settings.keep_place(self)
        self.session.on_change = lambda: None
        self.stop_lesson()
        self._still.stop()
        self.loader.stop()
        if self._parts is not None:
            self._parts.close()
        self.field.close()  # type: ignore[no-untyped-call]
        super().closeEvent(event)


def _app() -> QApplication:
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    return app
