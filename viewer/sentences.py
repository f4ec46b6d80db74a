"""What the window tells a person of an error."""

from __future__ import annotations

import re

from meshes.errors import FurcalError

#: What the boxes of the window are called where the command line has options.
BOXES = {
    "--level": "level", "--side": "side", "--approach": "approach", "--at": "position", "--radius": "radius",
    "--depth": "past disc", "--cranial": "tilt to head", "--anterior": "tilt to front",
}  # fmt: skip


def sentence_of(error: BaseException) -> str:
    """What a person is told of an error."""
    if isinstance(error, FurcalError):
        return re.sub("|".join(BOXES), lambda option: BOXES[option.group()], str(error))
    return f"Something went wrong inside furcal ({type(error).__name__}: {error}); what you see is the last good state."
