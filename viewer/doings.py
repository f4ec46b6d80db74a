"""What can be done in the window: every action of the table, every answer to a panel, each a step of the session."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QApplication, QFileDialog, QMainWindow

from lessons.view import Placement
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import ALDER, RANGES, Specimen, load
from meshes.structures import DISSECTION, Structure, other_side
from viewer.actors import stem
from viewer.cameras import Eye, free_camera
from viewer.labels import priority
from viewer.panels.dialogs import about, key_list
from viewer.panels.layout import Places
from viewer.panels.parts import PartsDialog
from viewer.picture import LAYER_WORDS
from viewer.session import Session

#: After a pause this long the next small change is a step of its own, seconds.
PAUSE_S = 1.0


class Doings(QMainWindow):
    """The methods that actions and panels call. `MainWindow` sets up what they work on."""

    session: Session
    places: Places
    actions_by_name: dict[str, QAction]

    def __init__(self) -> None:
        super().__init__()
        self._last_gesture = ("", 0.0, 0)
        self._parts: PartsDialog | None = None
        self._part_list: list[Structure] = []

    # --- what MainWindow gives

    def guarded(self, work: Callable[..., object]) -> Callable[..., None]:
        """The same work, errors told in the window."""
        raise NotImplementedError

    def refresh(self) -> None:
        """Make everything on the screen agree with the session."""
        raise NotImplementedError

    def tell(self, sentence: str) -> None:
        """Show one sentence."""
        raise NotImplementedError

    def need_body(self) -> None:
        """Build the body that is wanted, unless it is there."""
        raise NotImplementedError

    # --- specimens

    def use_specimen(self, specimen: Specimen) -> None:
        """Another specimen; the last one stays on the screen until it is built."""
        self.session.specimen = specimen
        self.tell("")
        self.need_body()
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

    def _gesture(self, name: str) -> str:
        """A key for one step of undo: the same while the same thing is moved again without a pause."""
        now = time.monotonic()
        last, since, number = self._last_gesture
        number += last != name or now - since > PAUSE_S
        self._last_gesture = (name, now, number)
        return f"{name} {number}"

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
        self.places.field.animated = not self.places.field.animated
        self.refresh()

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
        self.places.field.point_at_depth(depth)

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
        if self.places.field.eye is not None and view.camera.name == "free":
            view = replace(view, camera=free_camera(self.places.field.eye))
        save_picture(body, view, path, docking=self.session.docking)
        self.statusBar().showMessage(f"{path}: written.", 8000)

    def copy_picture(self) -> None:
        """The field as it is seen, onto the clipboard."""
        QApplication.clipboard().setPixmap(self.places.field.grab())
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
