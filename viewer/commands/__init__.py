"""The commands of furcal: a table of words, each with the module that carries it out, imported when it is called.

A command's module has `add_options(parser)` and `run(args) -> int`, and imports what is heavy inside `run`.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from types import ModuleType

from meshes.errors import unknown_word


@dataclass(frozen=True)
class Command:
    """One word of the command line.

    says   : what it does, in a line of `furcal --help`
    hidden : left out of the help
    file   : its module's name where that is not the word, which Python may keep for itself
    """

    name: str
    says: str
    hidden: bool = False
    file: str = ""

    def module(self) -> ModuleType:
        """The module that carries it out."""
        return import_module(f"viewer.commands.{self.file or self.name}")


COMMANDS = (
    Command("dock", "dock a portal; print what it passes, what it touches and how close the rest is"),
    Command("approach", "walk an approach layer by layer: what is at risk at each, how often harm was reported"),
    Command("picture", "draw a named view of the body, with or without a portal, to a picture file"),
    Command("film", "take a radiograph of the body with its nerves as wires, as PNG or DICOM"),
    Command("body", "write the body: landmarks, centrelines, surfaces and one model file"),
    Command("findings", "from what is numb, weak or sore back to the nerve, and where it was hurt"),
    Command("supply", "what a nerve serves, and what is lost when it is hurt at a place of its way"),
    Command("trace", "follow a nerve from its root to its end: place by place, how deep, and what endangers it there"),
    Command("lesson", "list, read, check, begin and hand out lessons: PDF, slides, a page in 3D, pictures, video"),
    Command("items", "list, read, check, look at and hand on the items of spot tests"),
    Command("paper", "freeze an examination, print it with its key, and mark what was written on it"),
    Command("class", "what a class's results say: items that fail, options nobody takes, objectives", file="classes"),
    Command("record", "a learner's own answers: where they lie, all of them as JSON or xAPI, and gone"),
    Command("measure", "the body's own figures beside the published ones"),
    Command("window", "open the window (also: furcal alone)", hidden=True),
    Command("demo", "what `make run` shows: the window, or pictures where there is no display", hidden=True),
)


def find(word: str) -> Command:
    """The command of that name. Raises FurcalError with the nearest words."""
    for command in COMMANDS:
        if command.name == word:
            return command
    raise unknown_word(word, [c.name for c in COMMANDS if not c.hidden], "command")
