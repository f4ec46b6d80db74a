"""The body map drawn without a window: the areas of its SVG, as large and as coloured as they are there."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from lessons.bodymap import body_map, patches_of
from lessons.stepmap import skin_of
from meshes.errors import FurcalError
from meshes.specimen import ALDER
from viewer.export.lesson.mappicture import SHOWN_PX, map_aspect, map_picture, map_words
from viewer.mapstyles import ground_of, styles
from viewer.palette import THEMES, hex_rgb

HIGH = 480
THEME = THEMES["light"]
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def pixels(nerve: str) -> NDArray[np.float64]:
    return np.asarray(map_picture(nerve, ALDER, HIGH), dtype=np.float64)


def near(picture: NDArray[np.float64], colour: tuple[float, ...]) -> NDArray[np.bool_]:
    """Where a picture has a colour."""
    return np.asarray((np.abs(picture - colour) <= 3.0).all(axis=2))


def paint_of(nerve: str) -> tuple[str, str, tuple[float, ...]]:
    """Colour and edge of a nerve's skin, and its colour as it lies on the skin."""
    style = next(iter(styles([patches_of(nerve)[0]], THEME).values()))
    fill = ground_of(THEME).fill
    lit = tuple(fill * c + (1.0 - fill) * s for c, s in zip(hex_rgb(style.colour), THEME.panel, strict=True))
    return style.colour, style.edge, lit


def test_size_and_ground() -> None:
    picture = pixels("femoral_left")
    assert picture.shape == (HIGH, round(HIGH * map_aspect()), 3)
    assert near(picture, THEME.background).mean() > 0.3
    assert near(picture, THEME.panel).mean() > 0.2
    assert near(picture, THEME.text).mean() > 0.01  # outlines and letters


@pytest.mark.parametrize("nerve", ["genitofemoral", "iliohypogastric", "lateral_femoral_cutaneous"])
def test_lit_areas_are_as_large_as_in_the_drawing(nerve: str) -> None:
    """By the shoelace formula, with half the edge around them; the mirrored maps differ by twice as much."""
    colour, edge, _ = paint_of(nerve)
    areas = [i for i, _ in skin_of(f"{nerve}_left", ALDER)]
    page = ET.fromstring(body_map(styles(areas, THEME), ["left"], ground=ground_of(THEME), width_px=SHOWN_PX))
    scale = HIGH / float(page.attrib["viewBox"].split()[3])
    wanted = 0.0
    for path in page:
        values = [float(v) for v in NUMBER.findall(path.get("d", ""))]
        chain = list(zip(values[::2], values[1::2], strict=True))
        if path.get("fill") == colour:
            wanted += abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairwise([*chain, chain[0]]))) / 2.0
        elif path.get("stroke") == edge:
            wanted += sum(math.dist(a, b) for a, b in pairwise(chain)) * float(path.attrib["stroke-width"]) / 2.0
    assert wanted > 0.0
    differs = np.abs(pixels(f"{nerve}_left") - pixels(f"{nerve}_right")).max(axis=2) > 40.0
    # Lines of the body lie over the areas and are the same in both.
    assert 0.8 * wanted < differs.sum() / scale**2 / 2.0 < 1.1 * wanted


def test_right_is_the_other_side_of_left_seen_from_in_front() -> None:
    lit = paint_of("genitofemoral")[2]
    front = slice(0, round(0.27 * HIGH * map_aspect()))
    middles = [
        float(np.nonzero(near(pixels(f"genitofemoral_{side}"), lit)[:, front])[1].mean()) for side in ("left", "right")
    ]
    assert middles[0] > middles[1] + 5.0  # the left of the body is on the right


def test_what_is_not_certain_is_hatched() -> None:
    _, edge, lit = paint_of("obturator")
    picture = pixels("obturator_left")
    assert near(picture, lit).sum() < 20  # soft edges may come near it
    assert near(picture, hex_rgb(edge)).sum() > 50


def test_words_and_refusal() -> None:
    assert map_words("obturator_left", ALDER).startswith("Body map. Skin of nerves, left. Obturator (variable): ")
    with pytest.raises(FurcalError, match="Nearest: femoral_left"):
        map_picture("femoral_lft", ALDER, HIGH)
