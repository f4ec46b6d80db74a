"""A picture as the bytes of a file: JPEG or PNG, whichever is smaller."""

from __future__ import annotations

from io import BytesIO

from PIL.Image import Image

#: So that names on a picture keep clean edges: little loss, and colours at full resolution.
QUALITY, FULL_COLOUR = 90, 0


def encoded(image: Image) -> BytesIO:
    """The smaller file of the two. PNG loses nothing, and is smaller where areas are flat."""
    files = BytesIO(), BytesIO()
    image.save(files[0], format="PNG")
    image.save(files[1], format="JPEG", quality=QUALITY, subsampling=FULL_COLOUR)
    smaller = min(files, key=lambda file: file.getbuffer().nbytes)
    smaller.seek(0)
    return smaller
