"""The desktop window: field, readout, dissection and depth log around one session."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QAction, QCloseEvent, QKeySequence
from PySide6.QtWidgets import QApplication, QFileDialog, QMainWindow, QToolBar, QToolButton

from lessons.view import Placement, View
from meshes.body import Body, load_body
from meshes.errors import FurcalError
from meshes.specimen import ALDER, RANGES, Specimen, load
from meshes.structures import DISSECTION, Structure, other_side
from viewer.actions import ACTIONS, MENUS
from viewer.actors import stem
from viewer.cameras import Eye, free_camera
from viewer.labels import priority
from viewer.loader import Load, Loader
from viewer.panels.dialogs import about, key_list
from viewer.panels.dress import dress, system_theme
from viewer.panels.layout import Places
from viewer.panels.parts import PartsDialog
from viewer.part import Meshes
from viewer.picture import LAYER_WORDS
from viewer.portalparts import Marks, marks_of
from viewer.session import Session
from viewer.settings import Settings, settings_folder

SIZE = (1280, 800)
#: After a pause this long the next small change is a step of its own, seconds.
PAUSE_S = 1.0


class MainWindow(QMainWindow):
    """One window on one session.

    load     : builds or fetches a body; tests give their own
    settings : folder of the settings file
    """

    def __init__(self, specimen: Specimen = ALDER, load: Load = load_body, settings: Path | None = None) -> None:
        super().__init__()
        self._settings = Settings(settings or settings_folder())
        theme = self._settings.theme(system_theme(_app()))
        kept = self._settings.view() or View().docked(Placement())
        self.session = Session(specimen, replace(kept, theme=theme))
        self._marks: tuple[object, Marks | None] = (None, None)
        self._theme = ""
        self._last_gesture = ("", 0.0, 0)
        self._parts: PartsDialog | None = None
        self._part_list: list[Structure] = []
        self.loader = Loader(load, self)
        self.actions_by_name: dict[str, QAction] = {}
        self._make_actions()
        self.places = Places(self)
        self.setCentralWidget(self.places)
        self.field = self.places.field
        self.field.animated = self._settings.animated()
        self._connect()
        self.resize(*SIZE)
        self._settings.place(self)
        self.session.on_change = self.refresh
        self.refresh()
        self._need_body()

    # --- set up

    def _make_actions(self) -> None:
        menus = {title: self.menuBar().addMenu(title) for title in MENUS}
        bar = QToolBar("Views")
        bar.setMovable(False)
        self.addToolBar(bar)
        for row in ACTIONS:
            method: Callable[..., None] = getattr(self, row.calls)
            action = QAction(row.says, self)
            action.setShortcuts([QKeySequence(k) for k in row.keys])
            action.setCheckable(row.toggle)
            action.setIconText(row.bar or row.says.replace("&", ""))
            action.triggered.connect(self.guarded(partial(method, row.gives) if row.gives else method))
            menus[row.menu].addAction(action)
            self.actions_by_name[row.name] = action
            if row.bar:
                button = QToolButton()
                button.setDefaultAction(action)
                keys = f" ({row.keys[0]})" if row.keys else ""
                button.setToolTip(row.says.replace("&", "") + keys)
                button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
                bar.addWidget(button)
            if row.name in ("redo", "see_from portal", "toggle_labels"):
                bar.addSeparator()

    def _connect(self) -> None:
        places = self.places
        self.field.eye_moved.connect(self.guarded(self._eye_moved))
        places.strip.valueChanged.connect(self.guarded(self.dissect_to))
        places.strip.state_asked.connect(self.guarded(self.set_state))
        places.strip.parts_asked.connect(self.guarded(self.show_layer_parts_of))
        places.form.placed.connect(self.guarded(self._placed_by_hand))
        places.face.at_dragged.connect(self.guarded(self._at_dragged))
        places.readout.chosen.connect(self.guarded(self.trace))
        places.readout.tilt_asked.connect(self.guarded(self.tilt_to_head))
        places.readout.break_asked.connect(self.guarded(self.break_table))
        places.log.depth_pointed.connect(self.guarded(self._depth_pointed))
        self.loader.built.connect(self.guarded(self._built))
        self.loader.failed.connect(self._failed)
        self.loader.progress.connect(places.show_progress)

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

    def _gesture(self, name: str) -> str:
        """A key for one step of undo: the same while the same thing is moved again without a pause."""
        now = time.monotonic()
        last, since, number = self._last_gesture
        number += last != name or now - since > PAUSE_S
        self._last_gesture = (name, now, number)
        return f"{name} {number}"

    # --- following the session

    def refresh(self) -> None:
        """Make everything on the screen agree with the session."""
        view, docking = self.session.view, self.session.docking
        if view.theme != self._theme:
            self._theme = view.theme
            dress(_app(), view.theme)
        if self._marks[0] is not docking:
            self._marks = (docking, marks_of(docking))
        self.field.show_view(view, self._marks[1])
        self.places.show_session(self.session)
        if self._parts is not None:
            self._parts.show_view(view, self._part_list)
        self._show_states(view)
        if self.session.needs_body():
            self._need_body()

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
            "toggle_outermost_glassy": view.layer_state(view.dissection) == "glassy",
            "toggle_psoas_glassy": bool(view.glassy & {"psoas", "psoas_major_left", "psoas_major_right"}),
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

    # --- bodies

    def _need_body(self) -> None:
        if self.session.needs_body() and self.loader.wanted != self.session.wanted_specimen():
            self.places.show_progress(0.0, "")
            self.loader.start(self.session.wanted_specimen())

    def _built(self, body: Body, meshes: dict[str, Meshes]) -> None:
        first = self.session.body is None
        self.field.set_body(body, meshes)
        self.places.show_progress(1.0, "")
        self.session.take_body(body)
        if first or self.session.view.camera.name != "free":
            self.field.refit()

    def _failed(self, sentence: str) -> None:
        self.places.show_progress(1.0, "")
        body = self.session.body
        if body is not None:
            self.session.specimen = body.specimen
        self.tell(sentence)

    def use_specimen(self, specimen: Specimen) -> None:
        """Another specimen; the last one stays on the screen until it is built."""
        self.session.specimen = specimen
        self.tell("")
        self._need_body()
        self.refresh()

    def open_specimen(self) -> None:
        """Ask for a specimen file and use it."""
        path, _ = QFileDialog.getOpenFileName(self, "Open specimen", "", "Specimen (*.toml)")
        if path:
            self.use_specimen(load(Path(path)))

    def use_alder(self) -> None:
        """The average adult."""
        self.use_specimen(ALDER)

    def lie(self, posture: str) -> None:
        """The same specimen in another posture; only on its side is there a table break."""
        specimen = self.session.specimen
        opened = specimen.table_break_deg if posture == "side_lying" else 0.0
        self.use_specimen(replace(specimen, posture=posture, table_break_deg=opened))

    def break_table(self, degrees: float) -> None:
        """The same specimen on its side, on a table broken so far."""
        low, high = RANGES["table_break_deg"]
        opened = min(high, max(low, degrees))
        self.use_specimen(replace(self.session.specimen, posture="side_lying", table_break_deg=opened))

    def break_table_more(self, degrees: str) -> None:
        """The table broken by so much more, or less."""
        self.break_table(self.session.specimen.table_break_deg + float(degrees))

    # --- views

    def see_from(self, name: str) -> None:
        """A named view."""
        self.session.change(self.session.view.seen_from(name))

    def _eye_moved(self, eye: Eye, key: str) -> None:
        key = key if key.startswith("drag") else self._gesture(key)
        self.session.change(replace(self.session.view, camera=free_camera(eye)), key)

    def toggle_labels(self) -> None:
        """Labels on or off."""
        self.session.change(replace(self.session.view, labels=not self.session.view.labels))

    def toggle_perspective(self) -> None:
        """Perspective or parallel."""
        camera = self.session.view.camera
        self.session.change(replace(self.session.view, camera=replace(camera, parallel=not camera.parallel)))

    def colour_nerves(self, colouring: str) -> None:
        """How nerves are coloured."""
        self.session.change(replace(self.session.view, colouring=colouring))

    def toggle_dark(self) -> None:
        """Dark or light."""
        theme = "light" if self.session.view.theme == "dark" else "dark"
        self.session.change(replace(self.session.view, theme=theme))

    def toggle_animated(self) -> None:
        """Fly to a new view, or be there at once."""
        self.field.animated = not self.field.animated
        self._show_states(self.session.view)

    def toggle_whole_screen(self) -> None:
        """The whole screen, or a window."""
        self.setWindowState(self.windowState() ^ Qt.WindowState.WindowFullScreen)

    # --- dissection

    def dissect_to(self, index: int) -> None:
        """Make a band the outermost one that is on."""
        self.session.change(replace(self.session.view, dissection=DISSECTION[index]), self._gesture("dissection"))

    def lift(self, steps: str) -> None:
        """Take the next layer off, or put one back."""
        self.session.change(self.session.view.lifted(int(steps)))

    def set_state(self, word: str, state: str) -> None:
        """A structure, or a whole layer, shown, glassy or off; as the handle says when that is the same."""
        inside = {s.id for s in self._structures() if s.layer == word and s.kind != "nerve"}
        plain = self.session.view.with_state({word} | inside, None)
        wanted = plain.with_state(word, state)  # type: ignore[arg-type]  # the panels only send the three states
        if word in DISSECTION and plain.layer_state(word) == state:
            wanted = plain
        self.session.change(wanted)

    def toggle_outermost_glassy(self) -> None:
        """The outermost layer that is on, glassy or solid."""
        band = self.session.view.dissection
        self.set_state(band, "on" if self.session.view.layer_state(band) == "glassy" else "glassy")

    def toggle_psoas_glassy(self) -> None:
        """Both psoas muscles glassy or solid."""
        view = self.session.view
        words = {"psoas", "psoas_major_left", "psoas_major_right"}
        glassy = bool(view.glassy & words)
        self.session.change(view.with_state(words, None).with_state("psoas", None if glassy else "glassy"))

    def forget_states(self) -> None:
        """Let the handle alone decide again."""
        nothing: frozenset[str] = frozenset()
        self.session.change(replace(self.session.view, glassy=nothing, hidden=nothing, shown=nothing))

    def show_layer_parts(self) -> None:
        """The single structures of the outermost layer that is on."""
        corner = self.places.strip.mapToGlobal(QPoint(20, -300))
        self.show_layer_parts_of(self.session.view.dissection, corner)

    def show_layer_parts_of(self, band: str, where: QPoint) -> None:
        """The single structures of a layer."""
        self._open_parts(
            f"Layer: {LAYER_WORDS[band]}",
            [s for s in self._structures() if s.layer == band and s.kind != "nerve"],
            where,
        )

    def show_nerve_parts(self) -> None:
        """The nerves, one by one."""
        nerves = [s for s in self._structures() if s.kind == "nerve"]
        stems = {stem(s.id) for s in nerves}
        nerves.sort(key=lambda s: (priority(s, stems), stem(s.id), s.side))
        self._open_parts("Nerves", nerves, self.mapToGlobal(QPoint(60, 120)))

    def _structures(self) -> list[Structure]:
        return list(self.session.body.structures.values()) if self.session.body else []

    def _open_parts(self, title: str, structures: list[Structure], where: QPoint) -> None:
        if self._parts is not None:
            self._parts.close()
        self._part_list = structures
        dialog = PartsDialog(title, structures, self.session.view, self)
        dialog.state_asked.connect(self.guarded(self.set_state))
        dialog.finished.connect(self._parts_closed)
        dialog.move(where.x(), max(0, where.y() - dialog.height() - 8))
        self._parts = dialog
        dialog.show()

    def _parts_closed(self) -> None:
        self._parts = None

    # --- portal

    def place_portal(self, where: Placement | None, key: str = "") -> None:
        """Dock a portal, move it or take it away."""
        self.session.place_portal(where, key)
        self.tell("")

    def _placed_by_hand(self, where: Placement | None) -> None:
        self.place_portal(where, self._gesture("boxes"))

    def toggle_portal(self) -> None:
        """Dock a portal where the boxes say, or take it away."""
        self.place_portal(None if self.session.view.portal else self.places.form.placement)

    def dock_at(self, level: str) -> None:
        """The same portal at another level."""
        self.place_portal(replace(self._placement(), level=level))

    def switch_side(self) -> None:
        """The same portal on the other side."""
        where = self._placement()
        self.place_portal(replace(where, side=other_side(f"_{where.side}")[1:]))

    def shift_portal(self, share: str) -> None:
        """Along the disc, in steps of a quarter."""
        where = self._placement()
        self.place_portal(replace(where, at=min(1.0, max(0.0, where.at + float(share)))))

    def _placement(self) -> Placement:
        return self.session.view.portal or self.places.form.placement

    def tilt_to_head(self, degrees: float) -> None:
        """The same portal, leaned to the head."""
        self.place_portal(replace(self._placement(), cranial_deg=degrees))

    def _at_dragged(self, at: float) -> None:
        self.place_portal(replace(self._placement(), at=round(at, 3)), self._gesture("disc face"))

    def _depth_pointed(self, depth: float) -> None:
        self.field.point_at_depth(depth)

    def trace(self, structure_id: str) -> None:
        """Light one structure and dim the rest; again ends it."""
        view = self.session.view
        traced = frozenset() if view.highlighted == {structure_id} else frozenset({structure_id})
        self.session.change(replace(view, highlighted=traced))

    def end_trace(self) -> None:
        """Light everything again."""
        self.session.change(replace(self.session.view, highlighted=frozenset()))

    # --- the rest

    def undo(self) -> None:
        """Back one step."""
        self.session.undo()

    def redo(self) -> None:
        """Forth one step."""
        self.session.redo()

    def save_picture(self) -> None:
        """Write what is seen as a PNG."""
        path, _ = QFileDialog.getSaveFileName(self, "Save picture", "furcal.png", "Picture (*.png)")
        if path:
            self.write_picture(Path(path if Path(path).suffix else f"{path}.png"))

    def write_picture(self, path: Path) -> None:
        """Write what is seen as a PNG, 1920 x 1080."""
        from viewer.picture import save_picture

        body = self._body()
        view = self.session.view
        if self.field.eye is not None and view.camera.name == "free":
            view = replace(view, camera=free_camera(self.field.eye))
        save_picture(body, view, path, docking=self.session.docking)
        self.statusBar().showMessage(f"{path}: written.", 8000)

    def copy_picture(self) -> None:
        """The field as it is seen, onto the clipboard."""
        _app().clipboard().setPixmap(self.field.grab())
        self.statusBar().showMessage("Picture copied.", 4000)

    def _body(self) -> Body:
        if self.session.body is None:
            raise FurcalError("the body is still being built; wait until it is shown.")
        return self.session.body

    def show_keys(self) -> None:
        """All keys on one sheet."""
        key_list(self).show()

    def show_about(self) -> None:
        """What this is, and what it is not for."""
        about(self).show()

    def changeEvent(self, event: QEvent) -> None:
        """Follow a window that became the whole screen."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.WindowStateChange and self.actions_by_name:
            self._show_states(self.session.view)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Keep what is to be restored, stop building, and give the drawing memory back first."""
        self._settings.keep(self, replace(self.session.view, highlighted=frozenset()), self.field.animated)
        self.session.on_change = lambda: None
        self.loader.stop()
        if self._parts is not None:
            self._parts.close()
        self.field.close()  # type: ignore[no-untyped-call]
        super().closeEvent(event)


def sentence_of(error: BaseException) -> str:
    """What a person is told of an error."""
    if isinstance(error, FurcalError):
        return str(error)
    return f"Something went wrong inside furcal ({type(error).__name__}: {error}); what you see is the last good state."


def open_window(specimen: Specimen = ALDER) -> int:
    """Open the window and stay until it is closed; the exit code. Call `viewer.display.prepare_window` first."""
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("furcal")
    window = MainWindow(specimen)

    def tell(_: type[BaseException], error: BaseException, __: TracebackType | None) -> None:
        window.tell(sentence_of(error))

    sys.excepthook = tell
    window.show()
    return app.exec()


def _app() -> QApplication:
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    return app
