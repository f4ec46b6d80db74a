"""Items handed on as a package of QTI 3, with the pictures that they ask about."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from pathlib import Path

from lessons.spot.item import Item, Pointed
from lessons.spot.onbody import by_body
from lessons.spot.qti import NEEDS_PICTURE, SEED, Drawn, Region, packed
from meshes.errors import FurcalError
from viewer.export.whole import whole_file
from viewer.spotshots import Sitter

#: Width and height of a picture, and how far around the middle of a lettered spot it can be clicked, pixels.
SIZE_PX, REACH_PX = (960, 720), 18
LETTERS = "ABCDEFGH"


def write_qti(
    items: Sequence[Item], target: Path, progress: Callable[[float, str], None] = lambda *_: None
) -> tuple[tuple[str, str], ...]:
    """Write a zip, whole or not at all; gives (id, why) of the items that have no form in QTI.

    Raises FurcalError for a file that cannot be written and for items that cannot be told apart.
    """
    from viewer.display import prepare_offscreen

    if target.suffix.lower() != ".zip":
        raise FurcalError(f"{target}: a package of QTI is a zip; end its name in .zip.")
    prepare_offscreen()
    ordered = by_body(items)
    done = iter(range(len(ordered)))
    with Sitter(SIZE_PX) as sitter:

        def draw(item: Item) -> Drawn | None:
            progress(next(done) / len(ordered), item.id)
            return _drawn(sitter, item) if item.kind in NEEDS_PICTURE else None

        package = packed(ordered, draw)
    with whole_file(target) as beside:
        beside.write_bytes(package.data)
    return package.left_out


def _drawn(sitter: Sitter, item: Item) -> Drawn:
    if not isinstance(item.answer, Pointed):
        image = sitter.asked(item)
        return Drawn(_png(image), *image.size)
    spots = sitter.spots(item, SEED)
    image = sitter.asked(item, spots)
    places = sitter.pixels(item, [spot.point_mm for spot in spots])
    regions = [
        Region("circle", (max(0, round(x)), max(0, round(y)), REACH_PX), letter)
        for letter, (x, y) in zip(LETTERS, places, strict=False)
    ]
    right = next(n for n, spot in enumerate(spots) if spot.structure == item.answer.target)
    others = tuple(region for n, region in enumerate(regions) if n != right)
    return Drawn(_png(image), *image.size, regions[right], others)


def _png(image: object) -> bytes:
    from PIL.Image import Image

    assert isinstance(image, Image)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()
