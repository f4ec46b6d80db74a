"""Options that several commands share, and a parser whose errors are one sentence."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import astuple
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from lessons.view import Placement
from meshes.errors import FurcalError, unknown_word
from meshes.structures import APPROACHES, LEVELS, SIDES

if TYPE_CHECKING:
    from lessons.scenefile import SceneFile
    from meshes.body import Body
    from meshes.contact import Docking
    from meshes.specimen import Specimen

#: Options without which there is no portal.
NEEDED = ("level", "side", "approach", "at", "radius")


class Parser(argparse.ArgumentParser):
    """An argument parser that raises FurcalError, takes no abbreviations and reads every negative number."""

    def __init__(self, prog: str, description: str, epilog: str = "", usage: str | None = None) -> None:
        super().__init__(
            prog=prog,
            usage=usage,
            description=description,
            epilog=epilog,
            allow_abbrev=False,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        # argparse takes -inf, -nan and -1e9 for options; as values they get the answer that their option gives.
        self._negative_number_matcher = re.compile(r"^-(\d|\.\d|inf|nan)", re.IGNORECASE)

    def error(self, message: str) -> NoReturn:
        """Argparse's own complaints: a missing value, a missing option."""
        raise FurcalError(f"{message}; see {self.prog} --help.")

    def _print_message(self, message: str, file: Any = None) -> None:
        # argparse drops what it cannot write; a full disk is to be told.
        (file or sys.stderr).write(message)

    def read(self, words: Sequence[str]) -> argparse.Namespace:
        """Parse; an unknown option or a word too many is an error that names it."""
        args, rest = self.parse_known_args(words)
        for word in rest:
            if word.startswith("-"):
                legal = sorted(option for option in self._option_string_actions if option.startswith("--"))
                raise unknown_word(word.split("=")[0], legal, "option", self.prog.removeprefix("furcal").strip())
            raise FurcalError(f"{word!r} is one word too many; see {self.prog} --help.")
        return args


def word_of(legal: Iterable[str], option: str) -> Callable[[str], str]:
    """A reader for an option that takes one of a few words."""
    words = tuple(legal)

    def read(text: str) -> str:
        if text not in words:
            raise unknown_word(text, words, option.lstrip("-"), option)
        return text

    return read


def number_of(option: str) -> Callable[[str], float]:
    """A reader for an option that takes a number; its range is judged where the number is used."""

    def read(text: str) -> float:
        try:
            return float(text)
        except ValueError:
            raise FurcalError(f"{option}: expected a number, found {text!r}.") from None

    return read


def whole_number_of(option: str) -> Callable[[str], int]:
    """A reader for an option that takes a whole number from 0."""

    def read(text: str) -> int:
        if not re.fullmatch(r"[0-9]{1,18}", text):
            raise FurcalError(f"{option}: expected a whole number from 0, found {text!r}.")
        return int(text)

    return read


def add_specimen(parser: argparse.ArgumentParser) -> None:
    """`--specimen FILE` and `--seed N`."""
    group = parser.add_argument_group("specimen (default: Alder, the average adult)")
    group.add_argument("--specimen", metavar="FILE", type=Path, help="a specimen file (TOML)")
    group.add_argument("--seed", metavar="N", type=whole_number_of("--seed"), help="draw a specimen by number")


def chosen_specimen(args: argparse.Namespace) -> Specimen:
    """The specimen that the options ask for. Raises FurcalError naming file and place."""
    from meshes import specimen

    if args.specimen is not None and args.seed is not None:
        raise FurcalError("--specimen and --seed: give one of them; a specimen file can hold a seed itself.")
    if args.specimen is not None:
        return specimen.load(args.specimen)
    return specimen.ALDER if args.seed is None else specimen.drawn(args.seed)


def add_scene(parser: argparse.ArgumentParser, says: str) -> None:
    """`--scene FILE`."""
    parser.add_argument("--scene", metavar="FILE", type=Path, help=says)


def chosen_scene(args: argparse.Namespace) -> SceneFile | None:
    """The scene that `--scene` names, with the specimen of the options where they name one; None without `--scene`.

    Raises FurcalError naming file and place.
    """
    from dataclasses import replace

    from lessons.scenefile import read_scene

    if args.scene is None:
        return None
    scene = read_scene(args.scene)
    return replace(scene, specimen=chosen_specimen(args)) if names_specimen(args) else scene


def names_specimen(args: argparse.Namespace) -> bool:
    """Whether the options name a specimen."""
    return args.specimen is not None or args.seed is not None


def body_of(specimen: Specimen, docked_side: str = "") -> Body:
    """The specimen's body, lying as the docked side wants it, with progress shown on a terminal."""
    from meshes.body import load_body
    from viewer.progress import Progress

    with Progress("building the body") as progress:
        return load_body(specimen.facing_up(docked_side) if docked_side else specimen, progress)


def docking_of(body: Body, where: Placement) -> Docking:
    """What a portal meets in a body."""
    from meshes.contact import dock
    from meshes.portal import place

    return dock(body, place(body, *astuple(where)))


def add_dock(parser: argparse.ArgumentParser) -> None:
    """The options that place a portal; the words of `Placement`."""
    group = parser.add_argument_group("portal")
    group.add_argument("--level", type=word_of(LEVELS, "--level"), metavar="LEVEL", help=", ".join(LEVELS))
    group.add_argument("--side", type=word_of(SIDES, "--side"), metavar="SIDE", help=", ".join(SIDES))
    group.add_argument("--approach", type=word_of(APPROACHES, "--approach"), metavar="NAME", help=", ".join(APPROACHES))
    group.add_argument(
        "--at", type=number_of("--at"), metavar="F", help="where on the disc the axis ends: 0 posterior .. 1 anterior"
    )
    group.add_argument("--radius", type=number_of("--radius"), metavar="MM", help="radius of the portal, mm")
    group.add_argument("--depth", type=number_of("--depth"), metavar="MM", help="mm past the disc's border (default 0)")
    group.add_argument("--cranial", type=number_of("--cranial"), metavar="DEG", help="tilt to the head (default 0)")
    group.add_argument("--anterior", type=number_of("--anterior"), metavar="DEG", help="tilt to the front (default 0)")


def placement(args: argparse.Namespace) -> Placement:
    """The portal that the options ask for. Raises FurcalError for what is missing or out of range."""
    from meshes.portal import check_numbers

    missing = [f"--{name}" for name in NEEDED if getattr(args, name) is None]
    if missing:
        raise FurcalError(f"a portal needs {' '.join('--' + n for n in NEEDED)}; missing here: {' '.join(missing)}.")
    numbers = args.at, args.radius, args.depth or 0.0, args.cranial or 0.0, args.anterior or 0.0
    check_numbers(*numbers)
    return Placement(args.level, args.side, args.approach, *numbers)


def placement_if_any(args: argparse.Namespace) -> Placement | None:
    """The same, or None when no option of the portal is given."""
    names = (*NEEDED, "depth", "cranial", "anterior")
    return placement(args) if any(getattr(args, name) is not None for name in names) else None
