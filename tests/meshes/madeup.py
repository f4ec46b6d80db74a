"""Made-up landmarks, and rows of a table of solids on them, written as briefly as they are read."""

from __future__ import annotations

from typing import Any

import numpy as np

from meshes.landmarks import Frame, Landmarks
from meshes.surfaces import Surface
from tests.meshes.drawing import build_solid

Row = dict[str, Any]
UP = Frame(np.zeros(3), np.eye(3))


def made_up() -> Landmarks:
    """A hub on both sides and a drum on the left, around the middle."""
    points = {
        "middle": np.zeros(3),
        "hub_left": np.array([40.0, 5.0, 0.0]),
        "hub_right": np.array([-40.0, 5.0, 0.0]),
        "drum_inner_left": np.array([20.0, 0.0, 10.0]),
        "drum_outer_left": np.array([44.0, 0.0, 10.0]),
        "drum_front_left": np.array([32.0, -15.0, 10.0]),
        "drum_back_left": np.array([32.0, 15.0, 10.0]),
    }
    return Landmarks(points, {"up": UP}, dict.fromkeys(points, "up"), dict.fromkeys(points, "judgement"))


def at(up: float = 0.0, left: float = 0.0, back: float = 0.0, **words: Any) -> Row:
    """A place of a row, so far from the middle."""
    return {"at": "middle", "up": up, "left": left, "back": back, **words}


def part(shape: str, **words: Any) -> Row:
    """A part, with all that its shape wants as words."""
    return {"shape": shape, "source": "judgement", **words}


def built(*rows: Row, spacing: float = 1.0, **words: Any) -> Surface:
    """The surface that some parts make."""
    return build_solid(rows, made_up(), "here", spacing=spacing, **words)[1]


def drum(half_width: float, half_depth: float, height: float, power: float = 2.0, **words: Any) -> Row:
    """A straight loft from z = 0 up."""
    size = {"half_width": half_width, "half_depth": half_depth, "power": power}
    return part("loft", sections=[at(0.0, **size), at(height / 2.0, **size), at(height, **size)], **words)
