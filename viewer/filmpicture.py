"""A film as a picture with its marks painted on."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from meshes.film.develop import Picture
from viewer.overlay import Shape

if TYPE_CHECKING:
    from PIL.Image import Image

#: Height of the text, as a share of the height of the picture: readable from the back row.
TEXT = 1 / 36


def film_picture(film: Picture, shapes: Iterable[Shape]) -> Image:
    """A film (h, w), 0 black to 1 white, with shapes painted over it."""
    from PIL.Image import fromarray

    from viewer.export.png16 import grey
    from viewer.painter import paint

    image = fromarray(grey(film, 8)).convert("RGB")
    paint(image, shapes)
    return image
