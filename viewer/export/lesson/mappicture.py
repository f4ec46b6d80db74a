"""The body map of a step as a picture, drawn without a window: the few marks of its SVG, laid on one by one."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from itertools import pairwise
from xml.etree import ElementTree as ET

from PIL import Image, ImageColor, ImageDraw

from lessons.bodymap import CAUTION, WORDS_FROM_PX, body_map, described
from lessons.mapchains import XY
from lessons.maptable import drawing
from lessons.stepmap import skin_of
from meshes.specimen import Specimen
from viewer.export.lesson.letters import font, printable
from viewer.mapstyles import ground_of, styles
from viewer.palette import THEMES

#: What has to stand beside the map.
MAP_CAUTION = CAUTION["nerves"]
#: Its lines and letters are drawn for that width on paper or on a screen, in pixels of 1/96 inch.
SHOWN_PX = 240.0
#: Drawn at so many times the size and scaled down, for smooth edges; straight pieces that a bend is drawn with.
_OVERSIZE, _PIECES = 3, 12
_MARKS = re.compile(r"([MLCZ])([^MLCZ]*)")
_ANCHORS = {"start": "ls", "middle": "ms", "end": "rs"}


def map_aspect() -> float:
    """Width of the map for each unit of its height."""
    return drawing().page[2] / drawing().page[3]


def map_picture(nerve: str, specimen: Specimen, height_px: int, theme: str = "light") -> Image.Image:
    """The skin of a nerve (id with its side) on the body, as an RGB picture. MAP_CAUTION has to stand beside it.

    Raises FurcalError for an id that is no nerve with skin of this specimen.
    """
    assert SHOWN_PX < WORDS_FROM_PX  # words within it would be too small
    areas, side, ground = skin_of(nerve, specimen), nerve.rpartition("_")[2], ground_of(THEMES[theme])
    lit = styles((i for i, _ in areas), THEMES[theme], uncertain=[i for i, partly in areas if partly])
    page = ET.fromstring(body_map(lit, [side], ground=ground, width_px=SHOWN_PX))
    left, top, wide, high = (float(n) for n in page.attrib["viewBox"].split())
    scale = _OVERSIZE * height_px / high
    image = Image.new("RGB", (round(wide * scale), round(high * scale)), ground.page)
    _Pen(image, scale, (left, top)).draw(page)
    return image.resize((round(wide * scale / _OVERSIZE), height_px), Image.Resampling.LANCZOS)


def map_words(nerve: str, specimen: Specimen) -> str:
    """The map in words, for whoever cannot see it."""
    return f"Body map. {described([i for i, _ in skin_of(nerve, specimen)], [nerve.rpartition('_')[2]])}"


class _Pen:
    """Draws the marks that `lessons.mapink` writes."""

    def __init__(self, image: Image.Image, scale: float, corner: XY) -> None:
        self.image, self.scale, self.corner = image, scale, corner
        self.draw_on = ImageDraw.Draw(image)

    def draw(self, page: ET.Element) -> None:
        """Every mark of the page, in order."""
        for mark in page:
            kind, given = mark.tag.rpartition("}")[2], mark.attrib
            if kind == "path":
                self._path(given)
            elif kind == "circle":
                self._dot(given)
            elif kind == "text":
                self._words(given, printable(mark.text or ""))

    def _at(self, x: float, y: float) -> XY:
        return (x - self.corner[0]) * self.scale, (y - self.corner[1]) * self.scale

    def _path(self, given: Mapping[str, str]) -> None:
        chains = [[self._at(*point) for point in chain] for chain in _chains(given["d"])]
        if given["fill"] != "none":
            for chain in chains:
                self._fill(chain, given["fill"], float(given.get("fill-opacity", "1")))
        if given.get("stroke", "none") != "none":
            dash = [float(n) * self.scale for n in given.get("stroke-dasharray", "").split()]
            wide = max(1, round(float(given["stroke-width"]) * self.scale))
            for chain in chains:
                for piece in _dashed(chain, dash) if dash else [chain]:
                    self._line(piece, given["stroke"], wide)

    def _fill(self, chain: list[XY], colour: str, opacity: float) -> None:
        left, top = (math.floor(min(p[k] for p in chain)) for k in (0, 1))
        right, bottom = (math.ceil(max(p[k] for p in chain)) + 1 for k in (0, 1))
        dense = Image.new("L", (right - left, bottom - top))
        ImageDraw.Draw(dense).polygon([(x - left, y - top) for x, y in chain], fill=round(255 * opacity))
        self.image.paste(ImageColor.getrgb(colour), (left, top), dense)

    def _line(self, chain: list[XY], colour: str, wide: int) -> None:
        self.draw_on.line(chain, fill=colour, width=wide, joint="curve")
        for x, y in (chain[0], chain[-1]):  # round ends
            self.draw_on.ellipse((x - wide / 2, y - wide / 2, x + wide / 2, y + wide / 2), fill=colour)

    def _dot(self, given: Mapping[str, str]) -> None:
        x, y = self._at(float(given["cx"]), float(given["cy"]))
        r = float(given["r"]) * self.scale
        rim = given.get("stroke", "none")
        self.draw_on.ellipse(
            (x - r, y - r, x + r, y + r), fill=given["fill"], outline=None if rim == "none" else rim,
            width=round(float(given.get("stroke-width", "0")) * self.scale),
        )  # fmt: skip

    def _words(self, given: Mapping[str, str], text: str) -> None:
        letters = font(max(1, round(float(given["font-size"]) * self.scale)))
        at = self._at(float(given["x"]), float(given["y"]))
        self.draw_on.text(at, text, fill=given["fill"], font=letters, anchor=_ANCHORS[given["text-anchor"]])


def _chains(d: str) -> Iterator[list[XY]]:
    """The chains of points of a path of M, L, C and Z."""
    chain: list[XY] = []
    for kind, numbers in _MARKS.findall(d):
        values = [float(n) for n in numbers.replace(",", " ").split()]
        points = list(zip(values[::2], values[1::2], strict=True))
        if kind == "M":
            if chain:
                yield chain
            chain = points
        elif kind == "L":
            chain += points
        elif kind == "C":
            chain += _bend(chain[-1], *points)
        elif chain:
            chain.append(chain[0])
    if chain:
        yield chain


def _bend(a: XY, b: XY, c: XY, d: XY) -> Iterator[XY]:
    for k in range(1, _PIECES + 1):
        t = k / _PIECES
        w = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        yield (
            sum(share * p[0] for share, p in zip(w, (a, b, c, d), strict=True)),
            sum(share * p[1] for share, p in zip(w, (a, b, c, d), strict=True)),
        )


def _dashed(chain: list[XY], dash: list[float]) -> Iterator[list[XY]]:
    """The inked pieces of a broken line."""
    ink, left, piece = True, dash[0], [chain[0]]
    turn = 0
    for (x0, y0), (x1, y1) in pairwise(chain):
        length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        done = 0.0
        while length - done > left:
            done += left
            spot = (x0 + (x1 - x0) * done / length, y0 + (y1 - y0) * done / length)
            if ink:
                yield [*piece, spot]
            ink, turn = not ink, turn + 1
            left, piece = dash[turn % len(dash)], [spot]
        left -= length - done
        piece.append((x1, y1))
    if ink and len(piece) > 1:
        yield piece
