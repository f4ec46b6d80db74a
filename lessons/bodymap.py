"""The body map: our own drawing of the lower half of a person, on which areas of skin are lit, as SVG text.

Skin of nerves and dermatomes are two layers that answer two questions; a picture holds one of them. The areas are our
own construction (meshes/anatomy/map), and the picture says so wherever it is large enough to be read.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from lessons.mapchains import XY, centre
from lessons.mapink import Ground, Move, Piece, Style, chain_path, curve_path, dot, fill, paint, shared, stroke, words
from lessons.maptable import Drawing, Figure, Part, Patch, View, drawing
from meshes.errors import FurcalError, unknown_word
from meshes.structures import SIDES

__all__ = [
    "CAUTION",
    "NARROWEST_PX",
    "WORDS_FROM_PX",
    "Ground",
    "Style",
    "body_map",
    "check_lit",
    "described",
    "patches_of",
]

#: What has to stand beside the map, whatever its size.
CAUTION = {
    "nerves": "Areas are our own construction from textbook words; in life neighbours overlap.",
    "dermatomes": "Areas are our own construction, from memory; published maps disagree. Below S1 none are drawn.",
}
#: Widths in pixels: the narrowest picture, and from where on words within it can be read.
NARROWEST_PX, WORDS_FROM_PX = 40, 480
#: The width that is drawn with a pen of 1; the pen's bounds: narrower pictures take thicker lines.
_PEN_PX, _THICKEST = 750.0, 1.8
#: The smallest letters of titles and of the letters of the sides, pixels, and their sizes in drawing units.
_TITLE_PX, _MARK_PX, _TITLE, _MARK = 10.5, 10.0, (4.2, 7.6), (4.6, 6.8)
#: Below the figures: where titles stand, letters of the caution, and letters of a figure's note.
_TITLE_Y, _SMALL, _NOTE = 109.0, 3.0, 2.6
#: A key of few rows has one column and large letters: (letters, height of a row, columns).
_FEW, _LARGE_KEY, _SMALL_KEY = 4, (4.8, 7.0, 1), (3.1, 5.4, 2)


@dataclass(frozen=True)
class _Order:
    """What is to be drawn, and how: as in `body_map`."""

    drawing: Drawing
    lit: Sequence[tuple[Patch, Style]]
    sides: tuple[str, ...]
    layer: str
    ground: Ground
    names: bool
    width_px: float

    @property
    def pen(self) -> float:
        """How much thicker than on a slide lines are."""
        return min(_THICKEST, max(1.0, math.sqrt(_PEN_PX / self.width_px)))

    @property
    def wordy(self) -> bool:
        """Whether words within the picture can be read."""
        return self.width_px >= WORDS_FROM_PX

    @property
    def keyed(self) -> list[tuple[Patch, Style]]:
        """What the key lists: areas whose name is too long to stand at them."""
        return [(p, s) for p, s in self.lit if len(p.name) > 3] if self.names else []

    def size(self, least_px: float, units: tuple[float, float]) -> float:
        """Letters in drawing units: as large as `least_px` asks for, within bounds."""
        return min(units[1], max(units[0], least_px * self.drawing.page[2] / self.width_px))

    def number(self, patch: Patch) -> str:
        """What stands in the gutter beside an area: a short name itself, else its number in the key."""
        ids = [p.id for p, _ in self.lit]
        return patch.name if len(patch.name) <= 3 else str(ids.index(patch.id) + 1)


def body_map(
    lit: Mapping[str, Style],
    sides: Iterable[str],
    *,
    ground: Ground,
    layer: str = "nerves",
    names: bool = False,
    width_px: float = 800.0,
) -> str:
    """SVG text of the body with areas of skin lit.

    lit      : id of each lit area (skin of nerves: patch ids; dermatomes: "T12".."S1") and how it is drawn
    sides    : of the body on which they are lit, any of "left", "right"
    layer    : "nerves" or "dermatomes"; one a picture
    names    : numbers beside the figures, and a key below them
    width_px : how wide it will be shown; lines and letters are drawn for that

    Raises FurcalError for an unknown layer, area or side, and for areas of both layers.
    """
    order = _ordered(lit, sides, ground, layer, names, width_px)
    lines = [line for figure in order.drawing.figures for line in _figure(figure, order)]
    below, height = _below(order)
    return _page(order, [*lines, *below], height)


def body_map_shape(
    lit: Mapping[str, Style],
    sides: Iterable[str],
    *,
    ground: Ground,
    layer: str = "nerves",
    names: bool = False,
    width_px: float = 800.0,
) -> float:
    """Height over width of what `body_map` draws, without drawing it. Raises FurcalError as it does."""
    order = _ordered(lit, sides, ground, layer, names, width_px)
    return _below(order)[1] / order.drawing.page[2]


def _ordered(
    lit: Mapping[str, Style], sides: Iterable[str], ground: Ground, layer: str, names: bool, width_px: float
) -> _Order:
    if not (math.isfinite(width_px) and width_px >= NARROWEST_PX):
        raise FurcalError(f"body map: a width of {width_px:g} pixels cannot be drawn; it starts at {NARROWEST_PX}.")
    areas = check_lit(lit, layer)
    rows = [(areas[i], style) for i, style in lit.items()]
    return _Order(drawing(), rows, _sides(sides), layer, ground, names, width_px)


def check_lit(lit: Iterable[str], layer: str) -> Mapping[str, Patch]:
    """The areas of a layer. Raises FurcalError when one of `lit` is not of it."""
    layers = drawing().layers
    if layer not in layers:
        raise unknown_word(layer, layers, "layer", "body map")
    for i in lit:
        if i not in layers[layer]:
            other = next((name for name, areas in layers.items() if i in areas), "")
            if other:
                raise FurcalError(
                    f"body map: one layer a picture, and {i!r} is of {other}; leave it out or ask for layer {other!r}."
                )
            raise unknown_word(i, layers[layer], "skin patch" if layer == "nerves" else "dermatome", "body map")
    return layers[layer]


def patches_of(nerve: str) -> tuple[str, ...]:
    """Ids of the areas that a nerve (id without side) serves; none for one without skin of its own."""
    return tuple(i for i, patch in drawing().layers["nerves"].items() if patch.nerve == nerve)


def described(lit: Iterable[str], sides: Iterable[str], layer: str = "nerves") -> str:
    """The lit areas in words, for who cannot see the picture. Raises FurcalError as `body_map` does."""
    chosen, shown = list(lit), _sides(sides)
    areas = check_lit(chosen, layer)
    if not chosen or not shown:
        return "No skin is marked."
    kind = "Skin of nerves" if layer == "nerves" else "Dermatomes"
    rows = (f"{areas[i].name}{' (variable)' if areas[i].variable else ''}: {areas[i].words}" for i in chosen)
    return f"{kind}, {' and '.join(shown)}. " + " ".join(rows)


def _sides(sides: Iterable[str]) -> tuple[str, ...]:
    asked = [sides] if isinstance(sides, str) else list(sides)
    for side in asked:
        if side not in SIDES:
            raise unknown_word(side, SIDES, "side", "body map")
    return tuple(side for side in SIDES if side in asked)


# --- figures


def _figure(figure: Figure, order: _Order) -> list[str]:
    drawn = []
    for part in figure.parts:
        drawn += _part(part, figure.at, order)
        if order.names:
            drawn += _gutter(part, figure.at, order)
    size = order.size(_MARK_PX, _MARK)
    drawn += [words((figure.at + x, y), side, order.ground.text, size) for side, (x, y) in figure.marks.items()]
    if order.wordy and figure.note:
        spot = (figure.at + figure.note_at[0], figure.note_at[1])
        drawn.append(words(spot, figure.note, order.ground.text, _NOTE, "end" if figure.note_at[0] > 0 else "start"))
    title = (figure.at + figure.title_dx, _TITLE_Y)
    return [*drawn, words(title, figure.title, order.ground.text, order.size(_TITLE_PX, _TITLE))]


def _part(part: Part, at: float, order: _Order) -> list[str]:
    """One outline with its lit areas and inner lines; inner lines lie over the areas, so that the body stays seen."""
    view, ground, move = order.drawing.views[part.view], order.ground, Move(part.way, at)
    drawn = [fill(f"{curve_path(view.whole, move)}Z", ground.skin)]
    for lit_move in _lit_moves(part, at, order):
        drawn += paint(_pieces(view, order), lit_move, ground, order.pen)
    for line in view.lines:
        for way in (1, -1) if view.mirror and not line.midline else (1,):
            drawn.append(stroke(curve_path(line.points, Move(part.way * way, at)), ground.fine, 0.45 * order.pen))
    drawn.append(stroke(curve_path(view.whole, move), ground.line, 0.65 * order.pen))
    if order.layer == "dermatomes":
        for lit_move in _lit_moves(part, at, order):
            drawn += _key_points(view, lit_move, order)
    return drawn


def _lit_moves(part: Part, at: float, order: _Order) -> list[Move]:
    """How each lit side of a part comes onto the page; the right half of a mirrored view is turned over."""
    if part.side == "both":
        return [Move(part.way if side == "left" else -part.way, at) for side in order.sides]
    return [Move(part.way, at)] if part.side in order.sides else []


def _pieces(view: View, order: _Order) -> list[Piece]:
    return [Piece(patch, style, chain) for patch, style in order.lit for chain in patch.pieces.get(view.name, ())]


def _key_points(view: View, move: Move, order: _Order) -> list[str]:
    """The lit dermatomes' key points."""
    keys = (order.drawing.keys.get(patch.id) for patch, _ in order.lit)
    spots = [move.put(key.place) for key in keys if key is not None and key.view == view.name]
    return [dot(spot, 0.75 * order.pen, order.ground.text, order.ground.skin) for spot in spots]


def _gutter(part: Part, at: float, order: _Order) -> list[str]:
    """The number or short name of each lit area beside the figure, with a leader line to the area.

    With both sides lit, one of them is numbered: the other is its mirror image.
    """
    view, ink = order.drawing.views[part.view], order.ground.text
    size = 4.4 if len(order.lit) <= _FEW else 3.2
    spots = sorted((centre(p.chain), order.number(p.patch)) for p in _pieces(view, order))
    spots.sort(key=lambda row: row[0][1])
    heights = _spread([spot[1] for spot, _ in spots], 1.12 * size, view.gutter_end)
    drawn = []
    for move in _lit_moves(part, at, replace(order, sides=order.sides[:1])):
        for (spot, word), height in zip(spots, heights, strict=True):
            short = view.gutter - math.copysign(0.25 * size + 0.28 * size * len(word), view.gutter)
            drawn.append(stroke(chain_path([spot, (short, height)], move, False), ink, 0.2 * order.pen))
            drawn.append(dot(move.put(spot), 0.5, ink))
            drawn.append(words(move.put((view.gutter, height + 0.34 * size)), word, ink, size))
    return drawn


def _spread(heights: Sequence[float], gap: float, end: float) -> list[float]:
    """Rising heights moved apart to at least `gap`, the last not below `end`."""
    out: list[float] = []
    for y in heights:
        out.append(max(y, out[-1] + gap) if out else y)
    shift = (sum(out) - sum(heights)) / (2.0 * max(1, len(heights)))
    out = [y - shift for y in out]
    for k in reversed(range(len(out))):
        out[k] = min(out[k], end if k == len(out) - 1 else out[k + 1] - gap)
    return out


# --- below the figures, and the page


def _below(order: _Order) -> tuple[list[str], float]:
    """The caution and the key, and how high the page is with them."""
    left, top, width, height = order.drawing.page
    drawn, ink = [], order.ground.text
    if order.wordy and order.lit:
        for line in _cautions(order):
            height += 1.4 * _SMALL
            drawn.append(words((left + width / 2.0, top + height - 0.4 * _SMALL), line, ink, _SMALL))
        height += 0.3 * _SMALL
    if not order.keyed:
        return drawn, height
    size, step, columns = _LARGE_KEY if len(order.keyed) <= _FEW else _SMALL_KEY
    for k, (patch, style) in enumerate(order.keyed):
        x, y = left + 4.0 + 88.0 * (k % columns), top + height + step * (1 + k // columns)
        drawn += _swatch((x, y), size, Piece(patch, style, []), order)
        text = f"{order.number(patch)}  {patch.name}" + (" (variable)" if patch.variable else "")
        drawn.append(words((x + 2.1 * size, y - 0.1 * size), text, ink, size, "start"))
    return drawn, height + step * math.ceil(len(order.keyed) / columns) + 2.5


def _swatch(corner: XY, size: float, piece: Piece, order: _Order) -> list[str]:
    (x, y), high, wide = corner, 0.9 * size, 1.6 * size
    box = [(x, y - high), (x + wide, y - high), (x + wide, y + 0.1), (x, y + 0.1)]
    return paint([Piece(piece.patch, piece.style, box)], Move(1, 0.0), order.ground, order.pen)


def _cautions(order: _Order) -> list[str]:
    """The caution, and what the strokes and dots that are there mean."""
    notes = []
    if any(Piece(p, s, []).hatched for p, s in order.lit):
        notes.append("Falling strokes, broken edge: varies, or partly lost.")
    if any(shared(_pieces(view, order)) for view in order.drawing.views.values()):
        notes.append("Rising strokes: two nerves overlap.")
    if order.layer == "dermatomes":
        notes.append("Dots: key sensory points of the international standard for spinal cord injury.")
    return [CAUTION[order.layer], *([" ".join(notes)] if notes else [])]


def _page(order: _Order, lines: Sequence[str], height: float) -> str:
    left, top, width, _ = order.drawing.page
    high_px = order.width_px * height / width
    told = described([p.id for p, _ in order.lit], order.sides, order.layer)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:g} {top:g} {width:g} {height:.1f}" '
        f'width="{order.width_px:.0f}" height="{high_px:.0f}" stroke-linecap="round" stroke-linejoin="round">\n'
        f"<title>Body map</title>\n<desc>{html.escape(f'{told} {CAUTION[order.layer]}')}</desc>\n"
        f'<rect x="{left:g}" y="{top:g}" width="{width:g}" height="{height:.1f}" fill="{order.ground.page}"/>\n'
        + "\n".join(lines)
        + "\n</svg>\n"
    )
