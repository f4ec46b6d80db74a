"""The film of a view as a picture: by itself, or with the body in 3D beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from lessons.view import View
from meshes.body import Body
from viewer.filmer import Filmer, lit_shapes, named_shapes
from viewer.filmmarks import film_shapes
from viewer.filmpicture import TEXT, film_picture
from viewer.painter import text_width

if TYPE_CHECKING:
    from PIL.Image import Image

    from meshes.contact import Docking


def draw_view(body: Body, view: View, docking: Docking | None, size: tuple[int, int]) -> Image:
    """A view that has a film, width and height in pixels: the film as large as fits; the body beside it if asked."""
    from PIL import Image

    assert view.film is not None
    side = min(size) if not view.film.beside else min(size[1], round(0.58 * size[0]))
    film = draw_film(body, view, docking, side)
    picture = Image.new("RGB", size, (0, 0, 0))
    top = (size[1] - side) // 2
    if not view.film.beside:
        picture.paste(film, ((size[0] - side) // 2, top))
        return picture
    from viewer.studio import Studio

    room = size[0] - side
    with Studio(body, (room, size[1])) as studio:
        picture.paste(studio.picture(replace(view, film=None), docking), (0, 0))
    picture.paste(film, (room, top))
    return picture


def draw_film(body: Body, view: View, docking: Docking | None, side: int) -> Image:
    """The film of a view, `side` pixels a side, with what stands on it and its wires named."""
    assert view.film is not None
    film, filmer, size = view.film, Filmer(), (side, side)
    portal = docking.portal if docking is not None else None
    exposed = filmer.exposed(body, film, portal, side)
    text = TEXT * side
    shapes = lit_shapes(exposed, body, film, view.highlighted, side, side / 240.0)
    shapes += film_shapes(exposed.beam, size, body, film, portal, text, text_width)
    if view.labels and film.wires > 0.0:
        shapes += named_shapes(exposed.beam, size, body, film, text, text_width)
    return film_picture(filmer.picture(exposed, film, grain=True), shapes)
