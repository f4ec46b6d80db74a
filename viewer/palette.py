"""Colours. The print convention, two themes and one published colour-blind safe set; nothing else.

Every colour is an (r, g, b) triple of 0..255. What must be seen differs by at least 3:1 from the background, either by
its fill or by the dark (light theme) or light (dark theme) edge that every solid is drawn with; a test asserts it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

RGB = tuple[int, int, int]


def hex_rgb(text: str) -> RGB:
    """`#rrggbb` as numbers."""
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def rgb_hex(colour: RGB) -> str:
    """Numbers as `#rrggbb`."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


@dataclass(frozen=True)
class Theme:
    """Colours of the page: behind the body, text on it, quiet text, lines, and the one accent."""

    background: RGB
    text: RGB
    quiet: RGB
    line: RGB
    accent: RGB
    panel: RGB
    #: What the colour of a solid is multiplied with where its surface turns away.
    edge: float


THEMES = {
    "light": Theme(
        hex_rgb("#eef1f3"), hex_rgb("#14202b"), hex_rgb("#4a5965"), hex_rgb("#76838d"),
        hex_rgb("#a3195b"), hex_rgb("#ffffff"), 0.42,
    ),
    "dark": Theme(
        hex_rgb("#11171c"), hex_rgb("#eef2f4"), hex_rgb("#a9b6bf"), hex_rgb("#7c8a95"),
        hex_rgb("#ff7ab8"), hex_rgb("#1b242b"), 0.62,
    ),
}  # fmt: skip

#: The print convention: nerves yellow, arteries red, veins blue, muscle red-brown, bone ivory.
PRINT: dict[str, RGB] = {
    "bone": hex_rgb("#e6dcc0"),
    "disc": hex_rgb("#b9c6c4"),
    "ligament": hex_rgb("#cfd0b4"),
    "muscle": hex_rgb("#a8543f"),
    "wall": hex_rgb("#b0624b"),
    "tendon": hex_rgb("#e3d2bd"),
    "artery": hex_rgb("#cf3030"),
    "vein": hex_rgb("#3f6fc4"),
    "kidney": hex_rgb("#a0565e"),
    "ureter": hex_rgb("#c9b3a6"),
    "viscus": hex_rgb("#a0565e"),
    "nerve": hex_rgb("#f2c21b"),
    "dura": hex_rgb("#d9cf8c"),
    "skin": hex_rgb("#d8a487"),
    "fat": hex_rgb("#e8cb79"),
    "portal": hex_rgb("#5aa7a7"),
}
#: Okabe and Ito, "Color Universal Design" (2008): the eight colours without black and yellow-on-white trouble.
OKABE_ITO: dict[str, RGB] = {
    "orange": hex_rgb("#e69f00"),
    "sky_blue": hex_rgb("#56b4e9"),
    "bluish_green": hex_rgb("#009e73"),
    "yellow": hex_rgb("#f0e442"),
    "blue": hex_rgb("#0072b2"),
    "vermillion": hex_rgb("#d55e00"),
    "reddish_purple": hex_rgb("#cc79a7"),
    "grey": hex_rgb("#999999"),
}
#: Line styles that go with the colours, so that no two nerves are told apart by colour alone.
STYLES = ("plain", "banded")


@dataclass(frozen=True)
class Paint:
    """A colour and the second cue beside it: plain, or banded across its length."""

    colour: RGB
    style: str = "plain"


_O = OKABE_ITO
#: One paint a nerve; two nerves that share a colour differ in style. Keys are ids without side.
BY_NERVE: dict[str, Paint] = {
    "subcostal": Paint(_O["grey"]),
    "iliohypogastric": Paint(_O["sky_blue"]),
    "ilioinguinal": Paint(_O["sky_blue"], "banded"),
    "genitofemoral": Paint(_O["bluish_green"]),
    "lateral_femoral_cutaneous": Paint(_O["orange"]),
    "femoral": Paint(_O["vermillion"]),
    "saphenous": Paint(_O["vermillion"], "banded"),
    "obturator": Paint(_O["blue"]),
    "accessory_obturator": Paint(_O["blue"], "banded"),
    "furcal": Paint(_O["orange"], "banded"),
    "lumbosacral_trunk": Paint(_O["reddish_purple"]),
    "sympathetic_trunk": Paint(_O["yellow"]),
    "dural_sac": Paint(_O["grey"], "banded"),
}
#: One paint a root; a nerve of several roots takes the one that gives it most (the middle of its list).
BY_ROOT: dict[str, Paint] = {
    "T12": Paint(_O["grey"]),
    "L1": Paint(_O["sky_blue"]),
    "L2": Paint(_O["bluish_green"]),
    "L3": Paint(_O["orange"]),
    "L4": Paint(_O["vermillion"]),
    "L5": Paint(_O["blue"]),
    "S1": Paint(_O["reddish_purple"]),
}
BY_DIVISION: dict[str, Paint] = {
    "anterior": Paint(_O["bluish_green"]),
    "posterior": Paint(_O["vermillion"], "banded"),
    "undivided": Paint(_O["grey"]),
}


def luminance(colour: RGB) -> float:
    """Relative luminance, 0..1 (WCAG 2.2, "relative luminance")."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255.0 for v in colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: RGB, b: RGB) -> float:
    """Contrast ratio, 1..21 (WCAG 2.2, "contrast ratio")."""
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def shaded(colour: RGB, factor: float) -> RGB:
    """The colour times a factor; what an edge looks like."""
    r, g, b = (min(255, round(c * factor)) for c in colour)
    return r, g, b


def seen_contrast(colour: RGB, theme: Theme) -> float:
    """How well a solid of this colour stands out: the better of its fill and its edge."""
    return max(contrast(colour, theme.background), contrast(shaded(colour, theme.edge), theme.background))


def all_colours() -> Iterable[tuple[str, RGB]]:
    """Every colour a structure may be drawn in, with its name."""
    yield from PRINT.items()
    for table in (BY_NERVE, BY_ROOT, BY_DIVISION):
        yield from ((name, paint.colour) for name, paint in table.items())
