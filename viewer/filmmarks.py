"""What is written and drawn over a film: the view in the trade's words, the side, the scale, the caution, the quarters.

Plain shapes, as `viewer.overlay` has them: the command paints them on a picture, the window over its film. A pixel of
the detector (column, row) has its middle at half a step; the picture is filled by the film.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from lessons.caution import CAUTION
from lessons.film import Film
from meshes.body import Body
from meshes.branches import nerve_of
from meshes.contact import Docking
from meshes.film.beam import Beam
from meshes.film.filmed import SAC
from meshes.outline import disc_outline
from meshes.portal import QUARTERS, Portal
from viewer.cameras import Array
from viewer.columns import Columns, Width, lay_out
from viewer.labels import Anchor, label_name, point_at, priority
from viewer.overlay import ARROWS, Box, Point, Shape, Stroke, Words, label_shapes
from viewer.palette import THEMES

#: A film is dark: its words are light on a dark ground of their own, so that they can be read over bone.
THEME = THEMES["dark"]
#: What a scale and its magnification are told for: a point of the spine.
SPINE = "disc_l4_5_centre"
SCALE_STEPS_MM = (10, 20, 50, 100, 200)
#: The patient's left is marked where at least this much of it lies across the film, the front where it does not.
ACROSS = 0.5
#: The quarters of a disc stand side by side where at least this much of its depth lies across the film.
DEPTH_ACROSS = 0.5
#: How much of a disc beside a line tells how high it is there, mm.
BESIDE_MM = 2.5
#: The caution's letters, and those beside a mark, in heights of the text.
SMALL, QUIET = 0.68, 0.8
#: Where the marks of the sides stand, and where the names under them begin, in shares of the height.
MARKS, NAMES = 0.18, 0.27
#: How long a line of a name may be, in heights of its letters.
ROOM = 8.6


def film_shapes(
    beam: Beam,
    size: tuple[int, int],
    body: Body,
    film: Film,
    docking_or_portal: Docking | Portal | None,
    text: float,
    width_of: Width,
    disc: str = "",
) -> list[Shape]:
    """All that a film says of itself; with quarters where they are asked for and there is a disc to draw them on.

    size     : width and height of the picture that the film fills, pixels
    text     : height of the letters
    width_of : how wide a text of a height is
    disc     : id of the disc whose quarters are drawn; empty for the one that the portal stands on
    """
    portal = docking_or_portal.portal if isinstance(docking_or_portal, Docking) else docking_or_portal
    disc = disc or (portal.disc if portal is not None else "")
    shapes = quarter_shapes(beam, size, body, disc, text, width_of) if film.quarters and disc else []
    foot, top = caution_shapes(size, text, width_of)
    return [
        *shapes,
        *_head(body, film, text, width_of),
        *side_shapes(beam, size, text, width_of),
        *foot,
        *scale_shapes(beam, size, body.landmarks[SPINE], top, text, width_of),
    ]


def on_picture(beam: Beam, size: tuple[int, int], points: Array) -> Array:
    """Where points (n, 3), mm, lie on the picture: (n, 2), pixels from the left and the top."""
    out: Array = (beam.project(points) + 0.5) * np.array([size[0] / beam.width, size[1] / beam.height])
    return out


# --- words


def written(
    x: float, y: float, words: str, text: float, width_of: Width, align: str = "left", bold: bool = False
) -> list[Shape]:
    """Light words on a dark ground of their own, on their middle line."""
    wide = width_of(words, text)
    left = x - wide * {"left": 0.0, "centre": 0.5, "right": 1.0}[align]
    ground = Box(left - 0.25 * text, y - 0.68 * text, left + wide + 0.25 * text, y + 0.68 * text, THEME.background)
    return [ground, Words(x, y, words, THEME.text, text, align, bold)]


def _head(body: Body, film: Film, text: float, width_of: Width) -> list[Shape]:
    """The view in heavy words; under it whose film it is, how the specimen lies, and that nobody was exposed."""
    specimen = body.specimen
    lying = specimen.posture.replace("_", "-")
    shapes = written(0.6 * text, 0.95 * text, film.words, 1.1 * text, width_of, bold=True)
    for i, words in enumerate((f"{specimen.name}, {lying}", "synthetic")):
        shapes += written(0.6 * text, (2.3 + 1.15 * i) * text, words, QUIET * text, width_of)
    return shapes


def caution_shapes(size: tuple[int, int], text: float, width_of: Width) -> tuple[list[Shape], float]:
    """The caution along the bottom, on as few lines as hold it, and how high it reaches."""
    small, room = SMALL * text, size[0] - 1.2 * text
    lines = [CAUTION]
    while max(width_of(line, small) for line in lines) > room and len(lines) < 4:
        lines = _broken(CAUTION.split(" "), len(lines) + 1, small, width_of)
    step = 1.25 * small
    first = size[1] - (len(lines) - 0.35) * step
    top = first - 0.6 * step
    shapes: list[Shape] = [Box(0.0, top, float(size[0]), float(size[1]), THEME.background)]
    for i, line in enumerate(lines):
        shapes.append(Words(size[0] / 2.0, first + i * step, line, THEME.text, small, "centre"))
    return shapes, top


def _broken(words: Sequence[str], lines: int, height: float, width_of: Width) -> list[str]:
    """Words on so many lines of about the same length, as they come."""
    share = width_of(" ".join(words), height) / lines
    out: list[str] = []
    line = ""
    for word in words:
        longer = f"{line} {word}".strip()
        if line and len(out) < lines - 1 and width_of(longer, height) > 1.04 * share:
            out.append(line)
            longer = word
        line = longer
    return [*out, line]


# --- where is what


def side_shapes(beam: Beam, size: tuple[int, int], text: float, width_of: Width) -> list[Shape]:
    """A letter at the patient's left, as lead on the cassette, or an arrow to the front; and an arrow to the head."""
    shapes: list[Shape] = []
    across = {word: float(np.array(way) @ beam.u) for way, word, _ in ARROWS}
    high = MARKS * size[1]
    if abs(across["Left"]) >= ACROSS:
        at_right = across["Left"] > 0.0
        x, tall = (size[0] - 1.6 * text if at_right else 1.6 * text), 2.2 * text
        ground = Box(x - 0.5 * tall, high - 0.6 * tall, x + 0.5 * tall, high + 0.6 * tall, THEME.background)
        shapes += [ground, Words(x, high, "L", THEME.text, tall, "centre", True)]
    else:
        shapes += _arrow(high, across["Front"] > 0.0, size, text, width_of)
    return [*shapes, *_head_arrow(beam, size, text, width_of)]


def _arrow(y: float, to_right: bool, size: tuple[int, int], text: float, width_of: Width) -> list[Shape]:
    """An arrow at the edge of the film that the front lies towards."""
    sign = 1.0 if to_right else -1.0
    tip = size[0] - 0.6 * text if to_right else 0.6 * text
    tail = tip - sign * 2.2 * text
    line = (tail, y), (tip, y)
    barbs = (tip - sign * 0.5 * text, y - 0.35 * text), (tip, y), (tip - sign * 0.5 * text, y + 0.35 * text)
    words = written(tip, y + 1.2 * text, "Front", QUIET * text, width_of, "right" if to_right else "left")
    return [*words, *_haloed(line, text), *_haloed(barbs, text)]


def _head_arrow(beam: Beam, size: tuple[int, int], text: float, width_of: Width) -> list[Shape]:
    """An arrow along the upper right edge to the head, or to the feet where the picture is the other way up."""
    up = float(-beam.v[2]) >= 0.0
    x, y = size[0] - 0.9 * text, 0.7 * text
    tip, tail = ((x, y), (x, y + 2.2 * text)) if up else ((x, y + 2.2 * text), (x, y))
    back = 0.5 * text if up else -0.5 * text
    barbs = (x - 0.35 * text, tip[1] + back), tip, (x + 0.35 * text, tip[1] + back)
    words = written(x - 0.7 * text, y + 0.5 * text, "Head", QUIET * text, width_of, "right")
    return [*words, *_haloed((tail, tip), text), *_haloed(barbs, text)]


def scale_shapes(
    beam: Beam, size: tuple[int, int], at: Array, bottom: float, text: float, width_of: Width
) -> list[Shape]:
    """A bar of so many mm for what lies as deep as a point (3,), and how many times larger that is on the detector."""
    grown = beam.magnification(at)
    pixels_per_mm = grown / beam.pixel_mm * size[0] / beam.width
    fitting = [s for s in SCALE_STEPS_MM if s * pixels_per_mm <= 0.25 * size[0]] or [SCALE_STEPS_MM[0]]
    length, right, y = fitting[-1] * pixels_per_mm, size[0] - 0.8 * text, bottom - 0.6 * text
    left, tick = right - length, 0.35 * text
    told = "parallel beam" if beam.source_mm is None else f"magnified {grown:.2f} times"
    line = (left, y - tick), (left, y), (right, y), (right, y - tick)
    ground = Box(left - 0.4 * text, y - 0.6 * text, right + 0.4 * text, y + 0.4 * text, THEME.background)
    rows = (f"{fitting[-1]} mm at the spine", told)
    words = [
        shape
        for i, row in enumerate(rows)
        for shape in written(right, y - (2.25 - 1.1 * i) * text, row, QUIET * text, width_of, "right")
    ]
    return [*words, ground, Stroke(line, THEME.text, 0.12 * text)]


def _haloed(points: tuple[Point, ...], text: float, width: float = 0.12) -> list[Shape]:
    return [
        Stroke(points, THEME.background, 2.2 * width * text),
        Stroke(points, THEME.text, width * text),
    ]


# --- the quarters of a disc


def quarter_shapes(
    beam: Beam, size: tuple[int, int], body: Body, disc: str, text: float, width_of: Width
) -> list[Shape]:
    """The border of a disc as it falls on the film, and its quarters, numbered under it.

    Where its depth is seen end on the quarters lie behind one another: then there is its border only.
    """
    frame, surface = body.landmarks.frames[disc], body.surfaces[disc]
    border = _hull(on_picture(beam, size, surface.vertices))
    shapes = _haloed((*border, border[0]), text, 0.07)
    if abs(float(frame.axes[1] @ beam.u)) < DEPTH_ACROSS:
        return shapes
    outline, local = disc_outline(surface, frame), frame.local(surface.vertices)
    for share in (0.25, 0.5, 0.75):
        ends = _upright(local, outline.back_mm + share * (outline.front_mm - outline.back_mm))
        shapes += _haloed(_points(on_picture(beam, size, np.stack([frame.point(*end) for end in ends]))), text, 0.07)
    for k, name in enumerate(QUARTERS):
        back = outline.back_mm + (k + 0.5) / 4.0 * (outline.front_mm - outline.back_mm)
        ((x, y),) = on_picture(beam, size, frame.point(*_upright(local, back)[0])[None]).tolist()
        shapes += written(x, y + 0.75 * text, name, 0.6 * text, width_of, "centre", True)
    return shapes


def _upright(local: Array, back: float) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Lower and upper end of a disc in its middle, so far back, in its frame's directions, mm."""
    height = local[np.abs(local[:, 1] - back) < BESIDE_MM, 2]
    low, high = (float(height.min()), float(height.max())) if len(height) else (0.0, 0.0)
    return (0.0, back, low), (0.0, back, high)


def _points(pixels: Array) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in pixels)


def _hull(pixels: Array) -> tuple[Point, ...]:
    """The corners of the smallest convex outline round points (n, 2), in order (Andrew's monotone chain)."""
    ordered = sorted(set(_points(pixels)))

    def chain(points: Iterable[Point]) -> list[Point]:
        out: list[Point] = []
        for p in points:
            while len(out) > 1 and _turn(out[-2], out[-1], p) <= 0.0:
                out.pop()
            out.append(p)
        return out[:-1]

    return (*chain(ordered), *chain(reversed(ordered)))


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


# --- the names of the wires


def wire_names(
    beam: Beam, size: tuple[int, int], body: Body, nerves: Iterable[str], text: float, width_of: Width
) -> list[Shape]:
    """Names of wires beside the film with a line to each, none over another; a pair is named once.

    nerves : ids of those that carry wires
    What only makes up a nerve that is named itself goes without a name. Where there is no room for all, main nerves
    come before branches, as on any picture.
    """
    columns = _columns(size, caution_shapes(size, text, width_of)[1], text)
    bare = {nerve_of(name)[0] for name in body.ids("nerve")}
    anchors: list[Anchor] = []
    for name in named_wires(body, nerves):
        pixels, depth = _seen(beam, size, body.centrelines[name].points, columns)
        if len(pixels):
            at = point_at(pixels, [(a.x, a.y) for a in anchors], size)
            x, y = (float(v) for v in pixels[at])
            structure = body.structures[name]
            rank = priority(structure, bare)
            anchors.append(Anchor(name, label_name(structure), x, y, rank, away_mm=float(depth[at])))
    labels, height = lay_out(_one_of_each_pair(anchors, beam), columns, width_of)
    return label_shapes(labels, THEME, height, width_of)


def _one_of_each_pair(anchors: Sequence[Anchor], beam: Beam) -> list[Anchor]:
    """Each paired nerve once: from in front in turns on both sides, from the side the one next to the reader."""
    across = abs(float(beam.u[0])) >= ACROSS
    pairs: dict[str, list[Anchor]] = {}
    for anchor in sorted(anchors, key=lambda a: (a.y, a.id)):
        pairs.setdefault(nerve_of(anchor.id)[0], []).append(anchor)
    rows = enumerate(pairs.values())
    return [min(row, key=lambda a: (a.x if i % 2 else -a.x) if across else a.away_mm) for i, row in rows]


def named_wires(body: Body, nerves: Iterable[str]) -> list[str]:
    """Those of some nerves that get names: not what makes up another of them, unless nothing else has wires."""
    wired = [name for name in nerves if name in body.centrelines and name != SAC]
    whole = [name for name in wired if "_".join(nerve_of(name)).rstrip("_") == name]
    return whole or wired


def _columns(size: tuple[int, int], bottom: float, text: float) -> Columns:
    """Room for names along both edges, under the marks of the sides; the scale stands under the right one."""
    small, edge = QUIET * text, 0.6 * text
    room = min(ROOM * small, 0.3 * size[0])
    bottoms = bottom - 0.5 * text, bottom - 4.0 * text
    return Columns(edge + room, size[0] - edge - room, NAMES * size[1], *bottoms, small, room)


def _seen(beam: Beam, size: tuple[int, int], points: Array, columns: Columns) -> tuple[Array, Array]:
    """What of a line (n, 3) falls well inside the film: pixels (k, 2), and how far from the reader each lies (k,).

    Between the columns of names, where any of it does.
    """
    pixels = on_picture(beam, size, points)
    depth = beam.on_detector(points)[2] * (-1.0 if beam.from_behind else 1.0)
    high = (pixels[:, 1] > 0.1 * size[1]) & (pixels[:, 1] < 0.93 * size[1])
    inside = high & (pixels[:, 0] > 0.03 * size[0]) & (pixels[:, 0] < 0.97 * size[0])
    gap = 1.5 * columns.text
    between = inside & (pixels[:, 0] > columns.left_x + gap) & (pixels[:, 0] < columns.right_x - gap)
    kept = between if between.any() else inside
    return pixels[kept], depth[kept]
