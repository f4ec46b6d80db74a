"""A view of the body as a PNG file, labelled, with its orientation, its scale and its caution."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from lessons.view import View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.structures import LAYER_WORDS

if TYPE_CHECKING:
    from PIL.Image import Image

    from meshes.contact import Docking

SIZE = (1920, 1080)
#: Drawn at this many times the size and scaled down: the smoothest edges that software drawing gives.
OVERSIZE = 2
#: Height of the text, as a share of the height of the picture: readable from the back row.
TEXT = 1 / 36
#: In a picture narrower than that, it follows this share of the width, so that the caution fits on its line.
NARROW = 0.6
#: The same for a tile of a sheet.
TILE_TEXT = 1 / 25
#: Share of the height that the body may fill, between the title and the caution.
FILL = 0.86
#: The same for a tile, whose mark and scale have a strip of their own at the bottom, and how far up the body moves.
TILE_FILL, TILE_UP = 0.72, 0.06
VIEW_WORDS = {
    "home": "From in front, a little from the left",
    "front": "From in front",
    "back": "From behind",
    "left": "From the left",
    "right": "From the right",
    "side_lying": "Side-lying, as the surgeon stands",
    "portal": "Down the portal",
    "free": "Turned freely",
}


def save_picture(
    body: Body,
    view: View,
    path: Path | str,
    size: tuple[int, int] = SIZE,
    docking: Docking | None = None,
    labels: bool = True,
) -> None:
    """Write one view as a PNG; its film, if it has one.

    size    : width and height, pixels
    docking : what `meshes.contact.dock` answered, to draw the portal and mark what it touches
    Raises FurcalError for a name that does not end in .png and a folder that cannot be written, before drawing.
    """
    target = checked_target(path)
    view = replace(view, labels=view.labels and labels)
    if view.film is not None:
        from viewer.filmview import draw_view

        write_png(draw_view(body, view, docking, size), target)
        return
    from viewer.studio import Studio

    with Studio(body, size) as studio:
        image = studio.picture(view, docking)
    write_png(image, target)


def checked_target(path: Path | str, what: str = "picture", suffixes: tuple[str, ...] = (".png",)) -> Path:
    """The path, if a file of that kind can be written there. Raises FurcalError."""
    target = Path(path)
    if target.suffix.lower() not in suffixes:
        raise FurcalError(f"{target}: a {what}'s name must end in {' or '.join(suffixes)}.")
    if target.is_dir():
        raise FurcalError(f"{target}: is a folder; name a file in it.")
    folder = target.parent
    if not folder.is_dir():
        raise FurcalError(f"{folder}: no such folder; make it first.")
    if not os.access(target if target.exists() else folder, os.W_OK):
        raise FurcalError(f"{target}: cannot be written; choose another folder.")
    return target


def write_png(image: Image, target: Path, colours: int = 0) -> None:
    """Write a picture whole or not at all; with fewer colours, small enough for a README."""
    beside = target.with_name(f".{target.name}.part")
    try:
        if colours:
            image = fewer_colours(image, colours)
        image.save(beside, format="PNG", optimize=True)
        beside.replace(target)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise FurcalError(f"{target}: cannot be written ({error.strerror or error}).") from None


def fewer_colours(image: Image, colours: int) -> Image:
    """The picture with so many colours; rare bright ones (a thin nerve) are kept."""
    from PIL.Image import Dither, Quantize

    return image.quantize(colours, method=Quantize.MAXCOVERAGE, kmeans=1, dither=Dither.NONE)


def title_of(view: View) -> str:
    """What is seen, in heavy words."""
    camera = view.camera
    turned = f", turned {abs(camera.turn_deg):g}° to the {'right' if camera.turn_deg > 0.0 else 'left'}"
    raised = f", {abs(camera.raise_deg):g}° from {'above' if camera.raise_deg > 0.0 else 'below'}"
    return f"{VIEW_WORDS[camera.name]}{turned if camera.turn_deg else ''}{raised if camera.raise_deg else ''}"


def notes_of(body: Body, view: View) -> list[str]:
    """The rest of the title strip: specimen, how it lies, how far it is dissected, the portal."""
    specimen = body.specimen
    words = [f"{specimen.name}, {specimen.posture.replace('_', '-')}", dissection_words(view)]
    if view.portal is not None:
        p = view.portal
        words.append(f"portal {p.level} {p.side}, {p.approach}, at {p.at:g}, radius {p.radius_mm:g} mm")
    return words


def dissection_words(view: View) -> str:
    """How far the body is dissected."""
    if view.dissection == "skin":
        return "undissected"
    side = "" if view.side == "both" else f" ({view.side} side)"
    lifted = ", vertebral bodies lifted" if view.bodies_lifted else ""
    return f"dissected to the {LAYER_WORDS[view.dissection]}{side}{lifted}"
