"""The contact sheet: every named view at three depths of dissection on one small picture."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import astuple, replace
from pathlib import Path
from typing import TYPE_CHECKING

from lessons.view import Camera, Placement, View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.structures import VIEWS

if TYPE_CHECKING:
    from PIL.Image import Image

    from viewer.overlay import Shape
    from viewer.palette import Theme

#: Depths of the sheet's rows: the wall, psoas in place, bone and nerves alone.
DEPTHS = ("external_oblique", "psoas", "vertebrae")
TILE = (380, 400)
#: Height of the words over each row and under the last.
WORDS = 20
GAP = 2
NAME = "sheet.png"
#: A README's picture stays below this; fewer colours are tried until it does.
LARGEST_BYTES = 400_000
COLOURS = (192, 128, 96, 64, 48, 32)


def sheet_views(theme: str = "light") -> Iterator[View]:
    """The views of the sheet, row by row: a row a depth, a column a named view."""
    for depth in DEPTHS:
        for name in VIEWS:
            view = View(camera=Camera(name), dissection=depth, theme=theme, labels=False)
            yield replace(view, portal=Placement()) if name in ("portal", "side_lying") else view


def save_sheet(body: Body, folder: Path | str, theme: str = "light") -> Path:
    """Draw the contact sheet of a body into a folder (made if need be); the file written.

    Raises FurcalError before drawing when the folder cannot be written.
    """
    target = _checked_folder(Path(folder)) / NAME
    from viewer.picture import write_png

    sheet = draw_sheet(body, theme)
    for colours in COLOURS:
        write_png(sheet, target, colours)
        if target.stat().st_size <= LARGEST_BYTES:
            break
    return target


def draw_sheet(body: Body, theme: str = "light") -> Image:
    """The sheet as a picture."""
    from PIL import Image

    from meshes.contact import Ready, dock
    from meshes.portal import place
    from viewer.painter import paint
    from viewer.palette import THEMES
    from viewer.studio import Studio

    views, ready = list(sheet_views(theme)), Ready.of(body)
    row_height = WORDS + TILE[1] + GAP
    size = (len(VIEWS) * (TILE[0] + GAP), len(DEPTHS) * row_height + WORDS)
    sheet = Image.new("RGB", size, THEMES[theme].panel)
    with Studio(body, TILE, tile=True) as studio:
        for i, view in enumerate(views):
            docking = dock(body, place(body, *astuple(view.portal)), ready) if view.portal else None
            corner = (i % len(VIEWS) * (TILE[0] + GAP), i // len(VIEWS) * row_height + WORDS)
            sheet.paste(studio.picture(view, docking), corner)
    paint(sheet, _words(body, size, THEMES[theme]))
    return sheet


def _words(body: Body, size: tuple[int, int], theme: Theme) -> list[Shape]:
    """The depth over each row, and the caution under the last."""
    from lessons.caution import CAUTION
    from viewer.overlay import Words
    from viewer.picture import dissection_words

    text = 0.72 * WORDS
    row_height = WORDS + TILE[1] + GAP
    heads: list[Shape] = []
    for row, depth in enumerate(DEPTHS):
        words = dissection_words(View(dissection=depth))
        line = f"{body.specimen.name}: {words}"
        heads.append(Words(8.0, row * row_height + WORDS / 2.0, line, theme.text, text, "left", True))
    return [*heads, Words(size[0] / 2.0, size[1] - WORDS / 2.0, CAUTION, theme.quiet, 0.9 * text, "centre")]


def _checked_folder(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FurcalError(f"{folder}: cannot be made ({error.strerror}); choose another folder.") from None
    if not os.access(folder, os.W_OK):
        raise FurcalError(f"{folder}: cannot be written; choose another folder.")
    return folder
