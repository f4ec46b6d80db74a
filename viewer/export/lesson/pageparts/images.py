"""Pictures as the page holds them: data in the page itself, so that nothing is ever fetched."""

from __future__ import annotations

import base64
import io
from collections.abc import Container
from pathlib import Path
from urllib.parse import quote

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from lessons.bodymap import CAUTION, WORDS_FROM_PX, body_map, described
from lessons.stepmap import skin_of
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from viewer.fibres import fibre_texture
from viewer.mapstyles import ground_of, styles
from viewer.palette import THEMES
from viewer.sawn import spongy_texture

#: Width of a body map, pixels: a little narrower than one with words in it.
MAP_PX = WORDS_FROM_PX - 40.0
#: Longest side of a step's own picture, pixels.
OWN_PX = 1600
QUALITY = 82


def jpeg(image: Image.Image, quality: int = QUALITY) -> str:
    """A picture as the address of itself."""
    held = io.BytesIO()
    image.convert("RGB").save(held, "JPEG", quality=quality, optimize=True, progressive=True)
    return _address("image/jpeg", held.getvalue())


def own_picture(path: Path, where: str) -> str:
    """A step's own picture, not larger than a page needs. Raises FurcalError for a file that cannot be read."""
    try:
        with Image.open(path) as own:
            image = own.convert("RGB")
    except (OSError, ValueError, Image.DecompressionBombError) as error:
        raise FurcalError(f"{where}, picture: {path.name} cannot be read as a picture ({error}); save it anew as PNG "
                          "or JPEG.") from None  # fmt: skip
    image.thumbnail((OWN_PX, OWN_PX), Image.Resampling.LANCZOS)
    drawn, photographed = _png(image), jpeg(image, 88)
    return min(drawn, photographed, key=len)


def map_of(nerve: str, specimen: Specimen) -> dict[str, str]:
    """The skin of a nerve in both themes, in words, and what has to stand beside it."""
    skin, side = skin_of(nerve, specimen), nerve.rpartition("_")[2]
    areas, partly = [i for i, _ in skin], [i for i, some in skin if some]
    drawn = {}
    for name, theme in THEMES.items():
        lit = styles(areas, theme, uncertain=partly)
        svg = body_map(lit, [side], ground=ground_of(theme), names=True, width_px=MAP_PX)
        drawn[name] = f"data:image/svg+xml,{quote(svg, safe=' ()/:;,=-.')}"
    return {**drawn, "says": described(areas, [side]), "caution": CAUTION["nerves"]}


def textures(asked: Container[str]) -> dict[str, str]:
    """Those pictures of `fibres`, `bands` and `spongy` (sawn bone) that surfaces are covered with."""
    bands = np.full((4, 64), 255, dtype=np.uint8)
    bands[:, 40:] = 105
    made = {"fibres": fibre_texture, "bands": lambda: bands, "spongy": spongy_texture}
    return {name: _png(_few(_image(make()))) for name, make in made.items() if name in asked}


def _few(image: Image.Image) -> Image.Image:
    """The picture with fewer colours, which nobody sees on a surface."""
    return image.quantize(64, dither=Image.Dither.NONE) if image.mode == "RGB" else image


def _image(values: NDArray[np.uint8]) -> Image.Image:
    """As VTK reads a texture: the first row is the lowest."""
    return Image.fromarray(values[::-1].copy())


def _png(image: Image.Image) -> str:
    held = io.BytesIO()
    image.save(held, "PNG", optimize=True)
    return _address("image/png", held.getvalue())


def _address(kind: str, held: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(held).decode()}"
