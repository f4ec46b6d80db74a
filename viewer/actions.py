"""Every action of the window in one table: its words, its keys, its place in the menus, and what it calls."""

from __future__ import annotations

from dataclasses import dataclass

from lessons.view import COLOURINGS
from meshes.structures import APPROACHES, LEVELS, POSTURES
from viewer.picture import VIEW_WORDS


@dataclass(frozen=True)
class Action:
    """One action.

    menu   : the menu it is listed in
    says   : its words
    keys   : key sequences, as Qt writes them; the first is shown
    calls  : name of the window's method
    gives  : what the method is called with, if anything
    toggle : it has a state that can be on or off
    bar    : its short words on the tool bar; empty leaves it out
    """

    menu: str
    says: str
    keys: tuple[str, ...]
    calls: str
    gives: str = ""
    toggle: bool = False
    bar: str = ""

    @property
    def name(self) -> str:
        """What tests and the tool bar find it by."""
        return f"{self.calls} {self.gives}".strip()


def plain(says: str) -> str:
    """Words of a menu without the mark of the letter to type and the dots of a question to come."""
    return says.replace("&", "").rstrip(".")


VIEW_KEYS = {
    "home": "H", "front": "F", "back": "B", "left": "L", "right": "R", "side_lying": "S", "portal": "P",
}  # fmt: skip
VIEW_BAR = {
    "home": "Home", "front": "Front", "back": "Back", "left": "Left", "right": "Right",
    "side_lying": "Side-lying", "portal": "Down the portal",
}  # fmt: skip
COLOURING_WORDS = {
    "print": "Nerves as in print",
    "by_nerve": "By nerve",
    "by_root": "By root",
    "by_division": "By division",
}

ACTIONS: tuple[Action, ...] = (
    Action("&File", "&Open specimen...", ("Ctrl+O",), "open_specimen"),
    Action("&File", "Specimen &Alder (the average adult)", (), "use_alder"),
    Action("&File", "Open sc&ene...", ("Ctrl+Shift+O",), "open_scene"),
    Action("&File", "Save scene &as...", ("Ctrl+Shift+S",), "save_scene"),
    Action("&File", "&Save picture...", ("Ctrl+S",), "save_picture"),
    Action("&File", "&Copy picture", ("Ctrl+C",), "copy_picture"),
    Action("&File", "&Quit", ("Ctrl+Q",), "close"),
    *(Action("&Specimen", f"Lying {p.replace('_', '-')}", (), "lie", p, toggle=True) for p in POSTURES),
    Action("&Specimen", "Table break: 5° &more", ("Ctrl+B",), "break_table_more", "5"),
    Action("&Specimen", "Table break: 5° &less", ("Ctrl+Shift+B",), "break_table_more", "-5"),
    Action("&Edit", "&Undo", ("Ctrl+Z",), "undo", bar="Undo"),
    Action("&Edit", "&Redo", ("Ctrl+Shift+Z", "Ctrl+Y"), "redo", bar="Redo"),
    Action("&Edit", "&Find structure...", ("Ctrl+F",), "find_structure"),
    *(
        Action("&View", VIEW_WORDS[name], (key,), "see_from", name, bar=VIEW_BAR[name])
        for name, key in VIEW_KEYS.items()
    ),
    Action("&View", "Fil&m in place of the field", ("Shift+F",), "toggle_film", toggle=True, bar="Film"),
    Action("&View", "Film and field side b&y side", ("Shift+S",), "toggle_beside", toggle=True),
    Action("&View", "&Wires along the nerves on the film", ("Shift+W",), "toggle_wires", toggle=True),
    Action("&View", "La&bels", ("T",), "toggle_labels", toggle=True, bar="Labels"),
    Action("&View", "&Perspective", ("O",), "toggle_perspective", toggle=True),
    *(Action("&View", COLOURING_WORDS[c], (), "colour_nerves", c, toggle=True) for c in COLOURINGS),
    Action("&View", "&Dark", ("Ctrl+D",), "toggle_dark", toggle=True, bar="Dark"),
    Action("&View", "Turn in &steps of 15°", ("K",), "toggle_steps", toggle=True),
    Action("&View", "Lat&in names", ("N",), "toggle_latin", toggle=True),
    Action("&View", "&Animated", (), "toggle_animated", toggle=True),
    Action("&View", "&Whole screen", ("F11",), "toggle_whole_screen", toggle=True),
    Action("&Dissection", "&Lift the next layer", ("]",), "lift", "1"),
    Action("&Dissection", "&Put a layer back", ("[",), "lift", "-1"),
    Action("&Dissection", "Outermost layer &glassy", ("G",), "toggle_outermost_glassy", toggle=True),
    Action("&Dissection", "&Psoas glassy", ("Shift+G",), "toggle_psoas_glassy", toggle=True),
    Action("&Dissection", "&Single structures of the layer...", ("Ctrl+L",), "show_layer_parts"),
    Action("&Dissection", "&Nerves...", ("Ctrl+N",), "show_nerve_parts"),
    Action("&Dissection", "Lift the &bodies of the vertebrae", ("V",), "toggle_bodies", toggle=True),
    Action("&Dissection", "Put &everything back by the handle", ("Ctrl+E",), "forget_states"),
    Action("&Portal", "Portal &docked", ("D",), "toggle_portal", toggle=True),
    *(
        Action("&Portal", f"Dock at {level}", (f"Ctrl+{i}",), "dock_at", level)
        for i, level in enumerate(LEVELS, start=1)
    ),
    Action("&Portal", "Other &side", ("X",), "switch_side"),
    *(Action("&Portal", f"Approach: {a}", (f"Alt+{i}",), "use_approach", a) for i, a in enumerate(APPROACHES, start=1)),
    Action("&Portal", "&Walk the approach, layer by layer", ("Shift+A",), "walk_approach"),
    Action("&Portal", "S&nap to the quarters", ("Q",), "toggle_snaps", toggle=True),
    Action("&Portal", "To the &front by a quarter", (".",), "shift_portal", "0.25"),
    Action("&Portal", "To the &back by a quarter", (",",), "shift_portal", "-0.25"),
    Action("S&tructure", "&Trace it along its way", ("Return",), "follow"),
    Action("S&tructure", "What &crosses here?", ("C",), "cross"),
    Action("S&tructure", "What it costs the &patient", ("Shift+P",), "show_patient"),
    Action("S&tructure", "&From complaint to nerve...", ("Ctrl+J",), "find_by_complaint"),
    Action("S&tructure", "&Measure from here, or to here", ("M",), "measure"),
    Action("S&tructure", "Take the measure a&way", ("Shift+M",), "end_measure"),
    Action("S&tructure", "&End trace", ("Esc",), "end_trace"),
    Action("&Lesson", "&Open a lesson of the course...", ("Ctrl+Shift+L",), "open_course", bar="Lesson"),
    Action("&Lesson", "Open a lesson &file...", (), "open_lesson_file"),
    Action("&Lesson", "Begin or &resume", ("F5",), "resume_lesson"),
    Action("&Lesson", "&Next step", ("PgDown",), "step_on"),
    Action("&Lesson", "Step &before", ("PgUp",), "step_back"),
    Action("&Lesson", "Back &to the step, after leaving the script", ("Backspace",), "return_to_step"),
    Action("&Lesson", "&Go to a step...", ("Ctrl+G",), "go_to_step"),
    Action("&Lesson", "Window for the &speaker", ("F6",), "toggle_speaker", toggle=True),
    Action("&Lesson", "&Blank, the room is to listen", (".",), "toggle_blank", toggle=True),
    Action("&Lesson", "&Pointer, a ring round the mouse", ("Z",), "toggle_pointer", toggle=True),
    Action("&Lesson", "Words &larger", ("Ctrl++", "Ctrl+="), "words_larger"),
    Action("&Lesson", "Words s&maller", ("Ctrl+-",), "words_smaller"),
    Action("&Lesson", "For the room: onl&y pictures and readout", ("Shift+F11",), "toggle_for_room", toggle=True),
    Action("&Lesson", "&Write a new lesson...", (), "make_lesson"),
    Action("&Lesson", "Wr&ite in the open lesson", ("Ctrl+Shift+W",), "toggle_writing", toggle=True),
    Action("&Lesson", "&Keep this as a step", ("Ctrl+Return",), "keep_step"),
    Action("&Lesson", "Keep this in the open ste&p", ("Ctrl+Shift+Return",), "keep_scene_in_step"),
    Action("&Lesson", "Read the file &again", (), "reread_lesson"),
    Action("&Lesson", "&Hand out...", ("Ctrl+Shift+H",), "hand_out"),
    Action("&Lesson", "&End the lesson", ("Ctrl+Shift+E",), "end_lesson"),
    Action("Sp&ot test", "&Spot test...", ("Ctrl+Shift+T",), "spot_test"),
    Action("Sp&ot test", "Start page of the &paper...", (), "sit_paper"),
    Action("Sp&ot test", "&On: mark the answer, or the next item", ("PgDown",), "spot_on"),
    Action("Sp&ot test", "&I do not know", ("F7",), "spot_skip"),
    Action("Sp&ot test", "&Back to the item's view", ("Backspace",), "spot_return"),
    Action("Sp&ot test", "&Leave the spot test", ("Ctrl+Shift+E",), "spot_leave"),
    Action("&Help", "&Do...", ("Ctrl+K",), "show_commands"),
    Action("&Help", "&Keys", ("F1",), "show_keys"),
    Action("&Help", "&First steps", ("Shift+F1",), "show_first_steps"),
    Action("&Help", "&About furcal", (), "show_about"),
)
MENUS = (
    "&File",
    "&Edit",
    "&View",
    "&Dissection",
    "&Portal",
    "S&tructure",
    "&Specimen",
    "&Lesson",
    "Sp&ot test",
    "&Help",
)
