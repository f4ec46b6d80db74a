"""An approach on one picture: a tile for each layer of the dissection that the portal opens, from the skin inwards."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from lessons.caution import CAUTION
from lessons.leaves import Leaf, Leaves, leaves_of, opened_at, stops
from lessons.readout import capital
from lessons.view import Camera, Placement, View
from lessons.walk import Walk
from meshes.structures import LAYER_WORDS
from viewer.cameras import DIRECTIONS
from viewer.overlay import Shape, Words
from viewer.painter import paint, text_width
from viewer.palette import THEMES, Theme

if TYPE_CHECKING:
    from PIL.Image import Image

    from meshes.contact import Docking

TILE, COLUMNS, GAP = (760, 620), 3, 6
#: Heights of the words over the sheet, over a tile, and of the caution, in lines of text of this height, pixels.
TEXT = 22.0
HEAD, OVER, FOOT = 2.6, 4.4, 1.8
#: Lines of what is near that stand over a tile; more are counted.
NEAR_LINES = 2
#: Half of what a tile is high, mm: from the lowest rib to the thigh.
HALF_HIGH_MM = 200.0
#: The named views that a path is looked along, whichever is nearest.
ALONG = ("left", "right", "front", "back")


def save_walk(walked: Walk, where: Placement, path: Path, theme: str = "light") -> None:
    """Draw the walk into a PNG, whole or not at all. `viewer.picture.checked_target` judges the path before."""
    from viewer.picture import write_png

    write_png(draw_walk(walked, where, theme), path)


def draw_walk(walked: Walk, where: Placement, theme: str = "light") -> Image:
    """The walk as a picture."""
    from PIL import Image

    from viewer.studio import Studio

    leaves, docking = leaves_of(walked), walked.docking
    opened = list(stops(leaves.leaves))
    high = TILE[1] + round(OVER * TEXT) + GAP
    rows = -(-len(opened) // COLUMNS)
    size = (COLUMNS * (TILE[0] + GAP), round((HEAD + FOOT) * TEXT) + rows * high)
    sheet = Image.new("RGB", size, THEMES[theme].panel)
    base = View(camera=Camera(_along(docking), half_height_mm=HALF_HIGH_MM), portal=where, theme=theme)
    structures = tuple(docking.ready.body.structures.values())
    shapes = _around(leaves, size, THEMES[theme])
    with Studio(docking.ready.body, TILE, tile=True) as studio:
        for i, (layer, group) in enumerate(opened):
            left, top = i % COLUMNS * (TILE[0] + GAP), round(HEAD * TEXT) + i // COLUMNS * high
            shapes += _over(layer, group, left, top, THEMES[theme])
            at_risk = frozenset(name for leaf in group for name in leaf.at_risk)
            view = replace(opened_at(base, group[0], structures), highlighted=at_risk)
            sheet.paste(studio.picture(view, docking), (left, top + round(OVER * TEXT)))
    paint(sheet, shapes)
    return sheet


def _along(docking: Docking) -> str:
    """The named view that looks most nearly along the portal."""
    return max(ALONG, key=lambda name: -float(np.dot(DIRECTIONS[name][0], docking.portal.direction)))


def _around(leaves: Leaves, size: tuple[int, int], theme: Theme) -> list[Shape]:
    """The approach and whether it reaches the disc over the sheet, the caution under it."""
    first, last = leaves.head[0], leaves.head[-1]
    return [
        Words(0.6 * TEXT, 0.75 * TEXT, first, theme.text, 1.15 * TEXT, "left", True),
        Words(0.6 * TEXT, 1.95 * TEXT, shortened(last, size[0] - 1.2 * TEXT, TEXT), theme.text, TEXT),
        Words(size[0] / 2.0, size[1] - 0.5 * FOOT * TEXT, CAUTION, theme.quiet, TEXT, "centre"),
    ]


def _over(layer: str, group: list[Leaf], left: int, top: int, theme: Theme) -> list[Shape]:
    """Over a tile: what is opened, at what depth, and what is near there."""
    start, end = group[0].from_mm, max(leaf.to_mm for leaf in group)
    x, room = left + 0.6 * TEXT, TILE[0] - 1.2 * TEXT
    lines = [words for leaf in group for _, words in leaf.near]
    if len(lines) > NEAR_LINES:
        lines = [*lines[: NEAR_LINES - 1], f"{lines[NEAR_LINES - 1]} (and {len(lines) - NEAR_LINES} more)"]
    ink = theme.accent if any(leaf.touched for leaf in group) else theme.text
    depth = f"{start:.0f} mm" if round(start) == round(end) else f"{start:.0f} to {end:.0f} mm"
    return [
        Words(x, top + 0.8 * TEXT, f"{capital(LAYER_WORDS[layer])}, {depth}", theme.text, TEXT, "left", True),
        *(
            Words(x, top + (2.05 + 1.2 * i) * TEXT, shortened(line, room, 0.9 * TEXT), ink, 0.9 * TEXT)
            for i, line in enumerate(lines or ["nothing near"])
        ),
    ]


def shortened(words: str, room: float, height: float) -> str:
    """Words that fit into so many pixels, cut at a word where they are longer."""
    while text_width(words, height) > room and " " in words:
        words = words.removesuffix(" ...").rpartition(" ")[0] + " ..."
    return words
