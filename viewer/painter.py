"""Paints overlay shapes onto an exported picture."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from viewer.overlay import Box, Shape, Spot, Stroke, Words

#: Where a font for letters beyond plain English is looked for, as (package, path inside it) or a system path.
WIDE_FONT = ("matplotlib", "mpl-data/fonts/ttf/DejaVuSans.ttf")
SYSTEM_FONT = Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf")
#: The font that comes with the imaging library knows these.
PLAIN = frozenset(map(chr, range(32, 127))) | frozenset("°·±")
#: How much thicker heavy letters are on every side, in heights of the text: the same weight at every size.
HEAVY = 0.022
ANCHORS = {"left": "lm", "right": "rm", "centre": "mm"}
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont


def paint(image: Image.Image, shapes: Iterable[Shape]) -> None:
    """Draw shapes, in order, onto an RGB picture."""
    draw = ImageDraw.Draw(image)
    for shape in shapes:
        if isinstance(shape, Box):
            draw.rectangle((shape.left, shape.top, shape.right, shape.bottom), fill=shape.colour)
        elif isinstance(shape, Stroke):
            draw.line(shape.points, fill=shape.colour, width=max(1, round(shape.width)), joint="curve")
        elif isinstance(shape, Spot):
            _spot(draw, shape)
        else:
            _words(draw, shape)


def text_width(text: str, height: float) -> float:
    """Width in pixels of a text of that height, in heavy letters."""
    return float(font(round(height), _is_plain(text)).getlength(text)) + 2.0 * HEAVY * height


def _spot(draw: ImageDraw.ImageDraw, spot: Spot) -> None:
    r = spot.radius
    box = (spot.x - r, spot.y - r, spot.x + r, spot.y + r)
    if spot.filled:
        draw.ellipse(box, fill=spot.colour)
    else:
        draw.ellipse(box, outline=spot.colour, width=max(1, round(spot.width)))


def _words(draw: ImageDraw.ImageDraw, words: Words) -> None:
    draw.text(
        (words.x, words.y), words.text, fill=words.colour, anchor=ANCHORS[words.align],
        font=font(round(words.height), _is_plain(words.text)),
        stroke_width=HEAVY * words.height if words.bold else 0.0,
    )  # fmt: skip


@cache
def font(size: int, plain: bool = True) -> Font:
    """A font of that size in pixels; one with more letters when the text is not plain, if there is one."""
    wide = None if plain else _wide_font()
    return ImageFont.truetype(str(wide), size) if wide else ImageFont.load_default(size)


def _wide_font() -> Path | None:
    spec = find_spec(WIDE_FONT[0])
    folders = list(spec.submodule_search_locations or []) if spec else []
    for path in [*(Path(folder) / WIDE_FONT[1] for folder in folders), SYSTEM_FONT]:
        if path.is_file():
            return path
    return None


def _is_plain(text: str) -> bool:
    return PLAIN.issuperset(text)
