"""What is written and drawn over a picture of the body, as a list of shapes in pixels.

One list serves both the exported picture and the window; each has its own painter. Pixels count from the left and the
top; sizes follow the height of the text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from viewer.cameras import Array, Eye, projected
from viewer.columns import LINE, Label, Width
from viewer.palette import RGB, Theme

Point = tuple[float, float]
#: Directions of the frame and the words for both their ends.
ARROWS = (((0.0, 0.0, 1.0), "Head", "Feet"), ((0.0, -1.0, 0.0), "Front", "Back"), ((1.0, 0.0, 0.0), "Left", "Right"))
#: An arrow that is shorter than this on the screen points at the reader, or away.
FLAT = 0.36
#: Arrows whose directions on the screen have at least this cosine share one arrow and its words.
SAME_WAY = 0.9
SCALE_STEPS_MM = (5, 10, 20, 50, 100, 200)


@dataclass(frozen=True)
class Stroke:
    """A line through points."""

    points: tuple[Point, ...]
    colour: RGB
    width: float


@dataclass(frozen=True)
class Words:
    """Text on its middle line; align is where x is: "left", "right" or "centre"."""

    x: float
    y: float
    text: str
    colour: RGB
    height: float
    align: str = "left"
    bold: bool = False


@dataclass(frozen=True)
class Spot:
    """A disc, or a ring when it is not filled."""

    x: float
    y: float
    radius: float
    colour: RGB
    filled: bool = True
    width: float = 1.0


@dataclass(frozen=True)
class Box:
    """A filled rectangle."""

    left: float
    top: float
    right: float
    bottom: float
    colour: RGB


Shape = Stroke | Words | Spot | Box


def label_shapes(labels: Sequence[Label], theme: Theme, text: float, width_of: Width) -> list[Shape]:
    """Text, leader line and end point of every label; a marked one also has a ring, a word and heavier letters.

    text     : height of the letters
    width_of : how wide a text of a height is
    While something is traced, the names of the rest are quiet.
    """
    tracing = any(label.anchor.traced for label in labels)
    lines: list[Shape] = []
    words: list[Shape] = []
    for label in reversed(labels):
        quiet = theme.quiet if tracing else theme.text
        colour = theme.accent if label.anchor.marked else quiet
        lines += _leader(label, colour, theme, text)
        words += _written(label, colour, theme, text, width_of)
    return lines + words


def _leader(label: Label, colour: RGB, theme: Theme, text: float) -> list[Shape]:
    """A line with a halo from the text to the point it names."""
    anchor, sign = label.anchor, 1.0 if label.column == "right" else -1.0
    start = (label.text_x - sign * 0.35 * text, label.text_y)
    knee = (label.text_x - sign * 0.9 * text, label.text_y)
    end = (anchor.x, anchor.y)
    width = text * (0.10 if anchor.marked else 0.055)
    shapes: list[Shape] = [
        Stroke((start, knee, end), theme.background, width * 2.2),
        Stroke((start, knee, end), colour, width),
        Spot(*end, 0.24 * text, theme.background),
        Spot(*end, 0.16 * text, colour),
    ]
    if anchor.marked:
        shapes.append(Spot(*end, 0.42 * text, colour, filled=False, width=0.1 * text))
    return shapes


def _written(label: Label, colour: RGB, theme: Theme, text: float, width_of: Width) -> list[Shape]:
    """The lines of a label on a ground of their own, so that they can be read where the body reaches under them."""
    sign = 1.0 if label.column == "right" else -1.0
    align = "left" if label.column == "right" else "right"
    first = label.text_y - (len(label.lines) - 1) / 2.0 * LINE * text
    gap, far = 0.25 * text, label.text_x + sign * max(width_of(line, text) for line in label.lines)
    above, below = first - 0.62 * text, 2.0 * label.text_y - first + 0.62 * text
    ground = Box(min(label.text_x, far) - gap, above, max(label.text_x, far) + gap, below, theme.background)
    return [
        ground,
        *(
            Words(label.text_x, first + i * LINE * text, line, colour, text, align, label.anchor.marked)
            for i, line in enumerate(label.lines)
        ),
    ]


def orientation_shapes(
    eye: Eye, centre: Point, reach: float, theme: Theme, text: float, width_of: Width
) -> list[Shape]:
    """The orientation mark: lettered arrows to the head, the front and the left, as they lie on the screen.

    A direction that runs along the line of sight is no arrow: a ring names the side of the body that faces the reader.
    centre : where the arrows start, unless words would then leave the picture on its left or hang lower than the panel
    """
    arrows, facing = _ways(eye)
    side, above, below = reach + 3.2 * text, reach + 1.4 * text, 1.4 * text
    # Where one arrow points up and another down, both get shorter rather than the panel higher.
    ends = [0.0, *(y for _, y in arrows.values())]
    length = reach / max(1.0, max(ends) - min(ends))

    def drawn(at: Point) -> list[Shape]:
        shapes = _facing(at, facing, theme, text) if facing else []
        for word, (u, v) in arrows.items():
            shapes += _arrow(at, (u * length, v * length), word, theme, text)
        return shapes

    left, top, right, bottom = _bounds(drawn((0.0, 0.0)), width_of)
    edge = 0.3 * text
    x = max(centre[0], edge - left + max(0.0, centre[0] - side))
    y = min(centre[1], centre[1] + below - bottom)
    first, last = min(centre[0] - side, x + left - edge), max(centre[0] + side, x + right + edge)
    panel = Box(first, min(centre[1] - above, y + top), last, centre[1] + below, theme.background)
    return [panel, *drawn((x, y))]


def _ways(eye: Eye) -> tuple[dict[str, Point], str]:
    """How far arrows reach to the right and down the screen, by their words; and what side faces the reader, if any."""
    right, up, towards = eye.axes()
    arrows: dict[str, Point] = {}
    facing = ""
    for direction, word, opposite in ARROWS:
        d = np.array(direction)
        x, y, z = float(d @ right), float(-(d @ up)), float(d @ towards)
        if np.hypot(x, y) < FLAT:
            facing = word if z > 0 else opposite
            continue
        same = next((w for w, way in arrows.items() if _same_way(way, (x, y))), "")
        longer = max((x, y), arrows.pop(same, (0.0, 0.0)), key=lambda way: np.hypot(*way))
        arrows[f"{same}, {word.lower()}" if same else word] = longer
    return arrows, facing


def _bounds(shapes: Sequence[Shape], width_of: Width) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of what is written."""
    boxes = []
    for s in shapes:
        if isinstance(s, Words):
            wide = width_of(s.text, s.height)
            left = s.x - wide * {"left": 0.0, "centre": 0.5, "right": 1.0}[s.align]
            boxes.append((left, s.y - 0.65 * s.height, left + wide, s.y + 0.65 * s.height))
    low, high = np.min(boxes, axis=0), np.max(boxes, axis=0)
    return float(low[0]), float(low[1]), float(high[2]), float(high[3])


def _same_way(a: Point, b: Point) -> bool:
    return (a[0] * b[0] + a[1] * b[1]) > SAME_WAY * float(np.hypot(*a) * np.hypot(*b))


def _arrow(centre: Point, way: Point, word: str, theme: Theme, text: float) -> list[Shape]:
    tip = (centre[0] + way[0], centre[1] + way[1])
    length = float(np.hypot(*way))
    u, v = way[0] / length, way[1] / length
    barb, half = 0.42 * text, 0.2 * text
    back = (tip[0] - u * barb, tip[1] - v * barb)
    wings = ((back[0] - v * half, back[1] + u * half), tip, (back[0] + v * half, back[1] - u * half))
    away = 0.75 * text
    align = "left" if u > 0.5 else "right" if u < -0.5 else "centre"
    x = tip[0] + u * 0.4 * text if align != "centre" else tip[0]
    y = tip[1] + v * away if align == "centre" else tip[1]
    return [
        Stroke((centre, tip), theme.text, 0.1 * text),
        Stroke(wings, theme.text, 0.1 * text),
        Words(x, y, word, theme.text, text, align, True),
    ]


def _facing(centre: Point, word: str, theme: Theme, text: float) -> list[Shape]:
    """The side of the body that the reader looks at, named under the mark."""
    return [
        Spot(*centre, 0.26 * text, theme.background),
        Spot(*centre, 0.26 * text, theme.text, filled=False, width=0.1 * text),
        Spot(*centre, 0.09 * text, theme.text),
        Words(centre[0], centre[1] + 0.85 * text, word, theme.text, 0.85 * text, "centre", False),
    ]


def scale_shapes(eye: Eye, right_x: float, y: float, height: int, theme: Theme, text: float) -> list[Shape]:
    """A bar of a round number of mm that ends at right_x; none in perspective, where lengths cannot be compared."""
    if not eye.parallel:
        return []
    pixels_per_mm = height / 2.0 / eye.half_height_mm
    fitting = [s for s in SCALE_STEPS_MM if s * pixels_per_mm <= 9.0 * text] or [SCALE_STEPS_MM[0]]
    length = fitting[-1] * pixels_per_mm
    left, tick = right_x - length, 0.28 * text
    ground = Box(left - 0.5 * text, y - 1.5 * text, right_x + 0.5 * text, y + 0.5 * text, theme.background)
    line = ((left, y - tick), (left, y), (right_x, y), (right_x, y - tick))
    words = Words((left + right_x) / 2.0, y - 0.75 * text, f"{fitting[-1]} mm", theme.text, 0.85 * text, "centre")
    return [ground, Stroke(line, theme.text, 0.1 * text), words]


def point_shapes(
    point: Array | None, words: str, eye: Eye, size: tuple[int, int], theme: Theme, text: float, width_of: Width
) -> list[Shape]:
    """A cross in a ring on a point (3,), mm, and words under it."""
    if point is None:
        return []
    ((x, y),) = projected(np.atleast_2d(point), eye, size).tolist()
    r = 0.5 * text
    arms = [((x + u * r, y + v * r), (x + 2 * u * r, y + 2 * v * r)) for u, v in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    shapes: list[Shape] = []
    for ink, width in ((theme.background, 0.3 * text), (theme.accent, 0.13 * text)):
        shapes += [Spot(x, y, r, ink, False, width), *(Stroke(arm, ink, width) for arm in arms)]
    if words:
        half, low = 0.5 * width_of(words, text) + 0.4 * text, y + 2.6 * text
        middle = min(max(x, half), size[0] - half)
        shapes.append(Box(middle - half, low - 0.8 * text, middle + half, low + 0.8 * text, theme.background))
        shapes.append(Words(middle, low, words, theme.text, text, "centre", True))
    return shapes


def span_shapes(
    points: Sequence[Sequence[float]], eye: Eye, size: tuple[int, int], theme: Theme, text: float, width_of: Width
) -> list[Shape]:
    """The straight line between two measured points and its length in mm."""
    if len(points) != 2:
        return []
    ends = np.array(points, dtype=float)
    (a, b) = [(float(x), float(y)) for x, y in projected(ends, eye, size)]
    words = f"{np.linalg.norm(ends[1] - ends[0]):.1f} mm"
    x, y, half = (a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0, 0.5 * width_of(words, text) + 0.35 * text
    # Beside the line, on its upper side, so that it covers neither.
    along = np.array([b[0] - a[0], b[1] - a[1]])
    across = np.array([along[1], -along[0]]) / max(float(np.hypot(*along)), 1e-9)
    across = -across if across[1] > 0.0 else across
    x, y = x + across[0] * (half + 0.3 * text), y + across[1] * 1.3 * text
    lines: list[Shape] = [Stroke((a, b), theme.background, 0.34 * text), Stroke((a, b), theme.text, 0.14 * text)]
    for px, py in (a, b):
        lines += [Spot(px, py, 0.32 * text, theme.background), Spot(px, py, 0.22 * text, theme.text)]
    ground = Box(x - half, y - 0.7 * text, x + half, y + 0.7 * text, theme.background)
    return [*lines, ground, Words(x, y, words, theme.text, text, "centre", True)]


def strip_shapes(size: tuple[int, int], title: str, notes: Sequence[str], theme: Theme, text: float) -> list[Shape]:
    """The title strip: what is seen in heavy words, and beside it the rest."""
    height = 2.0 * text
    shapes: list[Shape] = [
        Box(0, 0, size[0], height, theme.panel),
        Stroke(((0, height), (size[0], height)), theme.line, 0.06 * text),
        Words(0.8 * text, height / 2.0, title, theme.text, 1.05 * text, "left", True),
    ]
    if notes:
        words = "  ·  ".join(notes)
        shapes.append(Words(size[0] - 0.8 * text, height / 2.0, words, theme.quiet, 0.85 * text, "right"))
    return shapes


def caution_shapes(size: tuple[int, int], words: str, theme: Theme, text: float) -> list[Shape]:
    """The caution line in small print along the bottom."""
    y = size[1] - 0.75 * text
    ground = Box(0, size[1] - 1.3 * text, size[0], size[1], theme.background)
    return [ground, Words(size[0] / 2.0, y, words, theme.quiet, 0.68 * text, "centre")]
