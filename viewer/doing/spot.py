"""Doings with a spot test: choose how long, answer, be told why, go on. What else may be done: `viewer.spotmode`."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QDialog

from lessons.spot.item import Docked, Item, Pointed
from lessons.spot.onbody import lying
from lessons.spot.response import Placed, Response, Skipped
from lessons.spot.round import Round
from lessons.spot.sitting import asked_view, explained_view
from lessons.view import View
from meshes.errors import FurcalError
from viewer.cameras import Eye
from viewer.doing.spotstart import TITLE, SpotStart
from viewer.doing.trace import Picked
from viewer.flight import straight
from viewer.panels.cross import Cross
from viewer.panels.layout import Hush
from viewer.portalparts import Marks
from viewer.session import History, Scene
from viewer.spotmode import layers_stay

NO_ANSWER = "Nothing is answered yet. F7 if you do not know."


@dataclass(frozen=True, eq=False)
class Before:
    """What is brought back at the end."""

    scene: Scene
    history: History
    page: str
    picked: Picked | None


class SpotTests(SpotStart):
    """A spot test that is going on: `_round` is where it stands."""

    _marks: tuple[object, Marks | None]

    def __init__(self) -> None:
        super().__init__()
        self._before: Before | None = None
        self._asked_at = 0.0
        # Whether the scene of an item is being put up.
        self._putting_up = False

    def _connect_spot(self) -> None:
        page, field = self.places.spot, self.places.field
        self._cross_mark = Cross(field)
        page.on_asked.connect(self.guarded(lambda: self._pressed(self.spot_on)))
        page.skip_asked.connect(self.guarded(lambda: self._pressed(self.spot_skip)))
        page.return_asked.connect(self.guarded(self.spot_return))
        page.leave_asked.connect(self.guarded(self.spot_leave))
        page.again_asked.connect(self.guarded(self._see_again))
        field.hand.let_go.connect(self.guarded(self._back_to_typing))
        page.larger = self.places.lesson.larger

    @property
    def _title(self) -> str:
        return TITLE

    # --- beginning and leaving

    def begin_spot(self, count: int) -> None:
        """Ask so many items: what is due, then new ones."""
        self.keeping.prepare(self.session.body)
        picked = self.keeping.pick(count)
        self._tell_kept()
        if not picked:
            raise FurcalError("nothing is due today and every item has been asked; try again tomorrow.")
        self._begin_round(Round(picked, self.keeping.seed))

    def _begin_round(self, round_: Round) -> None:
        self._put_aside()
        self.tell("")
        self._round = round_
        self._put_up()

    def _put_aside(self) -> None:
        """Keep what is seen now for the end, and close what could be in the way."""
        if self._run is not None:
            self.end_lesson()
        for dialog in self.findChildren(QDialog):
            dialog.close()
        if self._before is None:
            picked = self._traced
            self._before = Before(self.session.scene, self.session.history, self.places.page, picked)
            self.session.history = History()
        self.statusBar().clearMessage()

    def spot_leave(self) -> None:
        """Leave the spot test: what was marked is in the record; what was seen before is seen again."""
        before, self._round, self._before = self._before, None, None
        if before is None:
            return
        self._clear_marks()
        self.places.spot.forget()
        self.statusBar().clearMessage()  # it would lie over what is shown again below
        self.places.show_spot(None)
        now, scene = self.session.view, before.scene
        self.places.field.way_to = at_once
        self.session.open_scene(scene.specimen, replace(scene.view, theme=now.theme, language=now.language), TITLE)
        self.places.field.way_to = straight
        self.session.history = before.history  # without the items
        self._picked = before.picked
        self.places.show_page(before.page)
        self._free_actions()
        self.tell("")
        self._give_keys()

    # --- what is seen

    def _put_up(self) -> None:
        """The scene and the page of where the round stands."""
        round_ = self._needed_round()
        item = round_.item
        self._putting_up = True
        self._clear_marks()
        self.places.show_spot(self._hush(item))
        try:
            if item is not None:
                self._show_item(item)
        except FurcalError as error:
            self._drop(str(error))
            return
        finally:
            self._putting_up = False
            self.places.field.way_to = straight
        self.session.history = History()
        self.places.spot.show_round(round_, self._where(), self.timed)
        self._free_actions()
        self._asked_at = time.monotonic()
        self._give_answer_keys()

    def _show_item(self, item: Item) -> None:
        asked = self._needed_round().phase == "asked"
        self.places.field.way_to = at_once if asked else straight
        where = f"{item.where or item.id}, view"
        self.session.open_scene(item.specimen, self._item_view(at_first=True), where)

    def _item_view(self, at_first: bool = False) -> View:
        """The view of the item in the reader's own theme and language; a portal that was placed stays where it is."""
        round_ = self._needed_round()
        item, last, now = round_.item, round_.last, self.session.view
        if item is None:
            return now
        view = asked_view(item) if round_.phase == "asked" else explained_view(item)
        if isinstance(item.answer, Docked):
            placed = last.response.portal if last is not None and isinstance(last.response, Placed) else None
            if placed is None and round_.phase == "asked" and not at_first:
                placed = now.portal
            view = replace(view, portal=placed or view.portal)
        return replace(view, theme=now.theme, language=now.language)

    def _where(self) -> str:
        round_ = self._needed_round()
        match round_.phase:
            case "ended":
                return "The spot test ends here"
            case "again":
                return f"Missed item {round_.again + 1} of {len(round_.missed)}"
        return f"Item {round_.index + 1} of {len(round_.items)}"

    def _hush(self, item: Item | None) -> Hush:
        docked = item is not None and isinstance(item.answer, Docked)
        layers = item is None or layers_stay(item, self.session.body)
        return Hush(self._is_quiet, layers, docked)

    def _clear_marks(self) -> None:
        """Nothing is picked, marked, or told of the portal."""
        self._ring, self._picked, self._near, self._from = None, None, None, None
        self._marks = (None, None)
        self._cross_mark.hide()

    def _note_script(self) -> None:
        """See whether the item's own view is on the screen; called after every change."""
        super()._note_script()
        round_ = self._round
        if round_ is None or self._putting_up:
            return
        item, portal = round_.item, self.session.view.portal
        if item is not None and self.session.specimen != item.specimen and round_.phase == "asked":
            # The body that was built cannot show it, or could not be built.
            QTimer.singleShot(0, self, self.guarded(lambda: self._drop(self.places.message.words.text(), item)))
            return
        if self.session.needs_body():
            self._asked_at = time.monotonic()  # nobody can answer what is not seen
        control = self.places.spot.control
        if control is not None and isinstance(item and item.answer, Docked) and portal is not None:
            control.give(Placed(portal))
        self.places.spot.show_turned(item is not None and self.session.view != self._item_view())

    def _drop(self, sentence: str, item: Item | None = None) -> None:
        """Go on without an item that cannot be shown."""
        round_ = self._round
        if round_ is None or (item is not None and round_.item is not item):
            return
        self._round = round_.dropped()
        self._put_up()
        self.tell(f"{sentence or 'It cannot be shown.'} This item is left out.")

    # --- answering

    def spot_on(self) -> None:
        """Mark the answer that stands; or go on to the next item."""
        round_, control = self._needed_round(), self.places.spot.control
        if round_.phase != "asked":
            self._round = round_.forward()
            self.tell("")
            self._put_up()
        elif control is not None and not isinstance(control.response, Skipped):
            self._take_answer(control.response)
        else:
            self.statusBar().showMessage(NO_ANSWER, 8000)

    def spot_skip(self) -> None:
        """Say that one does not know."""
        if self._is_asking:
            self._take_answer(Skipped())

    def _take_answer(self, response: Response) -> None:
        """Mark it, write it into the record, and explain it."""
        round_ = self._needed_round()
        item, body = round_.item, self._body()
        if item is None or self.session.needs_body():
            raise FurcalError("the body is still being built; wait until it is shown.")
        seconds = time.monotonic() - self._asked_at
        verdict = self.keeping.marked(item, response, body)
        self._round = round_.answered(response, verdict, seconds)
        self.statusBar().clearMessage()
        ring = self._ring
        self._put_up()
        self._ring = ring
        self._show_card()
        self.keeping.add(item, response, verdict, seconds)
        self._tell_kept()
        self._ahead.plan(self._prepared_item(self._round.next_item))

    def _tell_kept(self) -> None:
        """What the record has to say: each sentence once, and the test goes on."""
        if self.keeping.told:
            self.tell(" ".join(self.keeping.told))
            self.keeping.told.clear()

    def _prepared_item(self, item: Item | None) -> Iterator[object]:
        """Pieces of work that make the next item come at once."""
        scene = self.places.field.scene
        if item is None or scene is None:
            return
        if scene.body.specimen == lying(item):
            yield from scene.prepare(replace(asked_view(item), theme=self.session.view.theme))
        else:
            self.loader.build_ahead(lying(item))

    def spot_return(self) -> None:
        """The item's view again, exactly."""
        self.session.change(self._item_view())
        self._back_to_typing()

    def _see_again(self, number: int) -> None:
        self._round = self._needed_round().seen_again(number)
        self._put_up()

    # --- what may be done

    def _free_actions(self) -> None:
        """Begin anew with what may be done: another item, or none any more."""
        for action in self.actions_by_name.values():
            action.setEnabled(True)
        self._shown = ""
        self._show_run()
        asking = self._is_asking
        if self._round is not None:
            self.places.title = self._title
            self.places.entitle()
        self.setAcceptDrops(self._round is None)
        pointing = asking and isinstance(self._needed_round().items[self._needed_round().index].answer, Pointed)
        self.places.field.hand.arrows_turn = not pointing and self._run is None
        self.refresh()

    # --- what outlives the window

    def scene_to_keep(self) -> Scene:
        """What comes back with the next start: never the scene of an item."""
        before, now = self._before, self.session.view
        if before is None:
            return self.session.scene
        return Scene(before.scene.specimen, replace(before.scene.view, theme=now.theme, language=now.language))

    def may_close(self) -> bool:
        """Whether the window may be closed now: what was marked is in the record."""
        with suppress(FurcalError):  # it has been told that answers cannot be written
            self.keeping.close()
        return True


def at_once(_: Eye, __: Eye) -> None:
    """No flight."""
