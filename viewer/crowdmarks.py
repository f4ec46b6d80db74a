"""The film of where the wires crowd: each wire numbered at the discs from L4 to S1, and the names front to back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from lessons.filmcrowd import CrowdRow, disc_ends
from meshes.body import Body
from meshes.curves import Array
from meshes.film.beam import Beam
from meshes.outline import disc_outline
from meshes.structures import level_key
from viewer.columns import Width, spread
from viewer.filmmarks import THEME, on_picture
from viewer.labels import short_name
from viewer.overlay import Box, Point, Shape, Spot, Stroke, Words

#: The letters of the lists and of the numbers, in heights of the text.
LIST, NUMBER = 0.7, 0.6
#: The lists begin so far down the film, in shares of its height, under the marks of the sides.
TOP = 0.25
COUNTS = "0 = back of the disc, 1 = its front"


def crowd_shapes(
    beam: Beam,
    size: tuple[int, int],
    body: Body,
    rows: Mapping[str, Sequence[CrowdRow]],
    text: float,
    width_of: Width,
) -> list[Shape]:
    """A line through each disc with its wires numbered, and under the front mark what the numbers mean.

    rows : level -> its wires, front to back
    """
    front_is_left = float(np.array([0.0, -1.0, 0.0]) @ beam.u) < 0.0
    shapes: list[Shape] = []
    y = TOP * size[1]
    for level, found in rows.items():
        shapes += _numbered(beam, size, body, level, found, text, width_of)
        made, y = _list(level, found, y, size, front_is_left, text, width_of)
        shapes += made
    return shapes


def _numbered(
    beam: Beam,
    size: tuple[int, int],
    body: Body,
    level: str,
    rows: Sequence[CrowdRow],
    text: float,
    width_of: Width,
) -> list[Shape]:
    """The disc's mid-plane with ticks at its borders, spots on the wires, and a number over each spot."""
    disc = f"disc_{level_key(level)}"
    back, front = on_picture(beam, size, disc_ends(disc_outline(body.surfaces[disc], body.landmarks.frames[disc])))
    along = (front - back) / np.linalg.norm(front - back)
    across = np.array([along[1], -along[0]])
    across = across if across[1] < 0.0 else -across  # towards the head
    half = 0.3 * text * across
    shapes: list[Shape] = []
    for line in ((back, front), (back - half, back + half), (front - half, front + half)):
        shapes += _line(_points(*line), text)
    if not rows:
        return shapes
    spots = np.stack([back + row.on_film * (front - back) for row in rows])
    # Numbers stand in one line over the disc, clear of each other, in the order of their wires.
    where = (spots - back) @ along
    order = np.argsort(where, kind="stable")
    room = np.array([width_of(str(i + 1), NUMBER * text) + 0.4 * text for i in order])
    reach = 4.0 * float(np.ptp(where)) + 20.0 * text
    placed = spread(where[order], room, float(where.min()) - reach, float(where.max()) + reach)
    for i, at in zip(order.tolist(), placed.tolist(), strict=True):
        number = back + at * along + 1.9 * text * across
        shapes += _line(_points(spots[i], number), text, 0.05)
        x, y = (float(v) for v in spots[i])
        shapes += [Spot(x, y, 0.26 * text, THEME.background), Spot(x, y, 0.17 * text, THEME.text)]
        half_wide = 0.5 * width_of(str(i + 1), NUMBER * text) + 0.1 * text
        nx, ny = (float(v) for v in number)
        shapes.append(Box(nx - half_wide, ny - 0.42 * text, nx + half_wide, ny + 0.42 * text, THEME.background))
        shapes.append(Words(nx, ny, str(i + 1), THEME.text, NUMBER * text, "centre", True))
    return shapes


def _list(
    level: str,
    rows: Sequence[CrowdRow],
    top: float,
    size: tuple[int, int],
    at_left: bool,
    text: float,
    width_of: Width,
) -> tuple[list[Shape], float]:
    """A level's wires by number, share of the disc's depth and name; and where the next list may begin."""
    small = LIST * text
    step, number, share = 1.3 * small, 1.3 * small, 4.1 * small  # where numbers and shares end
    heads = [f"{level}, front to back", COUNTS]
    names = [short_name(row.name) for row in rows]
    wide = max([width_of(head, small) for head in heads] + [share + 0.5 * small + width_of(n, small) for n in names])
    left = 0.6 * text if at_left else size[0] - 0.6 * text - wide
    bottom = top + (len(heads) + len(rows) + 0.4) * step
    shapes: list[Shape] = [Box(left - 0.25 * text, top, left + wide + 0.25 * text, bottom, THEME.background)]
    for i, head in enumerate(heads):
        shapes.append(Words(left, top + (i + 0.7) * step, head, THEME.text, small, "left", i == 0))
    for i, (row, name) in enumerate(zip(rows, names, strict=True), start=1):
        y = top + (i + len(heads) - 0.3) * step
        shapes.append(Words(left + number, y, str(i), THEME.text, small, "right", True))
        shapes.append(Words(left + share, y, f"{row.on_film:.2f}", THEME.text, small, "right"))
        shapes.append(Words(left + share + 0.5 * small, y, name, THEME.text, small, "left"))
    return shapes, bottom + 0.9 * step


def _line(points: tuple[Point, ...], text: float, width: float = 0.08) -> list[Shape]:
    return [
        Stroke(points, THEME.background, (width + 0.1) * text),
        Stroke(points, THEME.text, width * text),
    ]


def _points(*pixels: Array) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in pixels)
