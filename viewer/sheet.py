"""The contact sheet: every named view at three depths of dissection on one small picture."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import astuple
from pathlib import Path

from lessons.view import Camera, Placement, View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.structures import VIEWS

#: Depths of the sheet's columns: the wall, psoas in place, bone and nerves alone.
DEPTHS = ("external_oblique", "psoas", "vertebrae")
TILE = (640, 360)
NAME = "sheet.png"
#: A README's picture stays below this; fewer colours are tried until it does.
LARGEST_BYTES = 400_000
COLOURS = (192, 128, 96, 64, 48, 32)


def sheet_views(theme: str = "light") -> Iterator[View]:
    """The views of the sheet, row by row: a row a named view, a column a depth."""
    for name in VIEWS:
        for depth in DEPTHS:
            view = View(camera=Camera(name), dissection=depth, theme=theme, labels=False)
            yield view.docked(Placement()) if name in ("portal", "side_lying") else view


def save_sheet(body: Body, folder: Path | str, theme: str = "light") -> Path:
    """Draw the contact sheet of a body into a folder (made if need be); the file written.

    Raises FurcalError before drawing when the folder cannot be written.
    """
    target = _checked_folder(Path(folder)) / NAME
    from PIL import Image

    from meshes.contact import Ready, dock
    from meshes.portal import place
    from viewer.palette import THEMES
    from viewer.picture import write_png
    from viewer.studio import Studio

    views, ready = list(sheet_views(theme)), Ready.of(body)
    sheet = Image.new("RGB", (TILE[0] * len(DEPTHS), TILE[1] * len(VIEWS)), THEMES[theme].line)
    with Studio(body, TILE) as studio:
        for i, view in enumerate(views):
            docking = dock(body, place(body, *astuple(view.portal)), ready) if view.portal else None
            tile = studio.picture(view, docking)
            sheet.paste(
                tile.crop((0, 0, TILE[0] - 2, TILE[1] - 2)), (i % len(DEPTHS) * TILE[0], i // len(DEPTHS) * TILE[1])
            )
    for colours in COLOURS:
        write_png(sheet, target, colours)
        if target.stat().st_size <= LARGEST_BYTES:
            break
    return target


def _checked_folder(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FurcalError(f"{folder}: cannot be made ({error.strerror}); choose another folder.") from None
    if not os.access(folder, os.W_OK):
        raise FurcalError(f"{folder}: cannot be written; choose another folder.")
    return folder
