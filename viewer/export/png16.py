"""A film as a greyscale PNG of 8 or 16 bits, that says in its text chunks what it is; written whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from lessons.caution import CAUTION
from meshes.errors import FurcalError

if TYPE_CHECKING:
    from PIL.Image import Image

BITS = (8, 16)


def write_film_png(values: npt.NDArray[np.float32], target: Path, bits: int, pixel_mm: float | None = None) -> None:
    """Write a film.

    values   : (height, width), 0 (black) to 1 (white)
    bits     : 8 or 16
    pixel_mm : size of a pixel on the detector; kept as pixels a metre (pHYs, whole numbers)

    Raises FurcalError naming the file when it cannot be written.
    """
    from PIL.Image import fromarray

    # An array of 16-bit whole numbers becomes mode I;16, which a PNG keeps as 16-bit greyscale.
    write_image_png(fromarray(grey(values, bits)), target, pixel_mm)


def write_image_png(image: Image, target: Path, pixel_mm: float | None = None) -> None:
    """Write a picture of a film, marked or not; see `write_film_png`."""
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    for key, said in (("Software", "furcal"), ("Title", "synthetic radiograph"), ("Disclaimer", CAUTION)):
        info.add_text(key, said)
    more = {} if pixel_mm is None else {"dpi": (25.4 / pixel_mm, 25.4 / pixel_mm)}
    beside = target.with_name(f".{target.name}.part")
    try:
        image.save(beside, format="PNG", pnginfo=info, **more)
        beside.replace(target)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise FurcalError(f"{target}: cannot be written ({error.strerror or error}).") from None


def grey(values: npt.NDArray[np.float32], bits: int) -> npt.NDArray[np.unsignedinteger]:
    """Values from 0 to 1 as whole numbers of 8 or 16 bits, to the nearest. Raises ValueError for others."""
    if bits not in BITS:
        raise ValueError(f"bits must be 8 or 16, not {bits}")
    if values.ndim != 2 or not bool(np.all((values >= 0.0) & (values <= 1.0))):
        raise ValueError("a film is an array (height, width) of values from 0 to 1")
    levels: npt.NDArray[np.float64] = np.rint(values.astype(np.float64) * (2**bits - 1))
    return levels.astype(np.uint8) if bits == 8 else levels.astype(np.uint16)
