"""What may be done while a spot test is going on, in one place: by name of the action.

While an item is asked only what is listed here can be done: turning, zooming, how it looks, and dissecting where no
layer gives the answer. Once it is explained everything can be looked at that tells more of it.
"""

from __future__ import annotations

from lessons.spot.item import Docked, Item, Named, Ordered, Pointed
from lessons.spot.round import Round
from meshes.body import Body
from viewer.actions import VIEW_KEYS

#: Actions that are there only while a spot test is going on.
ONLY_IN_SPOT = ("spot_on", "spot_skip", "spot_return", "spot_leave")
#: What gives nothing away, whatever is asked.
ALWAYS = frozenset({
    "close", "undo", "redo", "toggle_perspective", "toggle_dark", "toggle_steps", "toggle_animated",
    "toggle_whole_screen", "toggle_pointer", "words_larger", "words_smaller", "show_commands", "show_keys",
    "show_about", *ONLY_IN_SPOT, *(f"see_from {name}" for name in VIEW_KEYS),
})  # fmt: skip
#: What may be done behind the start page of a paper, where nothing has been asked yet.
AT_DESK = ALWAYS - {"undo", "redo", *ONLY_IN_SPOT}
#: Dissecting by the handle.
LAYERS = frozenset({
    "lift 1", "lift -1", "toggle_outermost_glassy", "toggle_psoas_glassy", "toggle_bodies", "forget_states",
})  # fmt: skip
#: Moving a portal along its disc.
PORTAL = frozenset({"shift_portal 0.25", "shift_portal -0.25", "toggle_snaps"})
#: What leads away from the spot test: another body, a file, a lesson; and Return, which goes on.
LEADS_AWAY = (
    "open_specimen", "use_alder", "open_scene", "lie ", "break_table_more ", "open_course", "open_lesson_file",
    "resume_lesson", "make_lesson", "toggle_for_room", "spot_test", "sit_paper", "follow", "walk_approach",
)  # fmt: skip


def layers_stay(item: Item, body: Body | None) -> bool:
    """Whether layers may be lifted while an item is asked: not where their order, or the name of one, is the answer.

    Of nerves no layer tells the name; of a muscle, a vessel or a bone the layer it goes with does.
    """
    match item.answer:
        case Ordered():
            return False
        case Named(asked) | Pointed(asked):
            structure = body.structures.get(asked) if body is not None else None
            return structure is None or structure.kind == "nerve"
    return True


def barred(name: str, round_: Round | None, body: Body | None, timed: bool = False) -> bool:
    """Whether an action may not be taken now."""
    if round_ is None:
        return name in ONLY_IN_SPOT
    if round_.phase != "asked" or round_.item is None:
        gone = name == "spot_skip" or (round_.phase == "ended" and name in ("spot_on", "spot_return"))
        return gone or (name not in ALWAYS if timed else name.startswith(LEADS_AWAY))
    allowed = ALWAYS
    if layers_stay(round_.item, body):
        allowed |= LAYERS
    if isinstance(round_.item.answer, Docked):
        allowed |= PORTAL
    return name not in allowed


def why_barred(name: str, round_: Round | None, timed: bool = False) -> str:
    """Why it may not; nothing where it may."""
    if round_ is None:
        return "no spot test is going on" if name in ONLY_IN_SPOT else ""
    if barred(name, round_, None, timed):
        if timed:
            return "not during a paper"
        return "not while an item is asked" if round_.phase == "asked" else "not during a spot test"
    return ""
