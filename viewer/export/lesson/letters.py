"""The letters of hand-outs: a font that is there on every machine, how wide its letters are, and text made fit for it.

DejaVu Sans comes with matplotlib, on which vtk and pyvista stand, so that no machine has to have fonts of its own. What
it lacks is shown by the last resort beside it, whose signs name the script of a letter.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from PIL import ImageFont

from meshes.errors import FurcalError

#: Package and folder of the fonts; the regular and the heavy face, and the one for letters that those lack.
HOME = ("matplotlib", "mpl-data/fonts/ttf")
REGULAR, HEAVY, LAST_RESORT = "DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "LastResortHE-Regular.ttf"
#: Size at which letters are measured, pixels: large, so that hinting rounds nothing.
_MEASURED = 1000
#: What a letter of full width takes at least, in sizes of the font, whichever font shows it in the end.
_FULL = 1.0
#: Letters that join their neighbours; the other format characters turn or hide text, and are left out.
_JOINERS = frozenset("\u200c\u200d")


def font_file(name: str) -> Path:
    """The file of a font. Raises FurcalError when the package that brings it is not whole."""
    spec = find_spec(HOME[0])
    for folder in (spec.submodule_search_locations or []) if spec else []:
        path = Path(folder) / HOME[1] / name
        if path.is_file():
            return path
    raise FurcalError(f"{name}: the font is missing; repair it with: pip install --force-reinstall {HOME[0]}")


@cache
def font(size: int, heavy: bool = False) -> ImageFont.FreeTypeFont:
    """The font of pictures, at a size in pixels."""
    return ImageFont.truetype(str(font_file(HEAVY if heavy else REGULAR)), size, layout_engine=ImageFont.Layout.BASIC)


def width_of(text: str, heavy: bool = False) -> float:
    """How wide a text is, in sizes of its font."""
    return sum(_letter(letter, heavy) for letter in text)


@cache
def _letter(letter: str, heavy: bool) -> float:
    width = float(font(_MEASURED, heavy).getlength(letter)) / _MEASURED
    return max(width, _FULL) if unicodedata.east_asian_width(letter) in "WF" else width


def printable(text: str) -> str:
    """The text on one line, fit for any file: what controls a device becomes a sign, what turns text is left out."""
    return "".join(map(_sign, text))


def _sign(letter: str) -> str:
    kind, code = unicodedata.category(letter), ord(letter)
    if letter.isspace() and letter != "\u00a0":
        return " "
    if kind == "Cc":  # Unicode has a picture for each of the old ones
        return chr(0x2421) if code == 0x7F else chr(0x2400 + code) if code < 0x20 else "\ufffd"
    if kind == "Cs" or code & 0xFFFE == 0xFFFE:  # halves of letters, and what is none
        return "\ufffd"
    return "" if kind == "Cf" and letter not in _JOINERS else letter


def runs_left(text: str) -> bool:
    """Whether its first letter with a direction runs from right to left."""
    for letter in text:
        way = unicodedata.bidirectional(letter)
        if way in ("L", "R", "AL"):
            return way != "L"
    return False


def as_seen(text: str, leftward: bool) -> str:
    """A line in the order in which its letters stand on the page; `leftward` is the way of its paragraph."""
    if not any(unicodedata.bidirectional(letter) in ("R", "AL", "AN") for letter in text):
        return text
    from fpdf.bidi import BidiParagraph
    from fpdf.enums import TextDirection

    way = TextDirection.RTL if leftward else TextDirection.LTR
    return BidiParagraph(text=text, base_direction=way).get_reordered_string()
