"""Gauges of vertebrae and discs, on their built surfaces."""

from __future__ import annotations

import numpy as np

from meshes.body import Body
from meshes.curves import Array
from meshes.gauges.parts import AbsentError, surface_of
from meshes.gauges.sections import Section, section
from meshes.landmarks import Frame
from meshes.nearby import crossings
from meshes.structures import level_key
from meshes.surfaces import Surface

#: Rims are rounded: a border is looked for within this of the end of a body, mm.
_RIM_MM = 4.0
LUMBAR = ("l1", "l2", "l3", "l4", "l5")
LOWER_FOUR = LUMBAR[1:]
DISCS_BETWEEN = ("L2-3", "L3-4", "L4-5")


def endplate_width(body: Body, vertebra: str) -> float:
    """Widest measure across the rim of the upper endplate, mm."""
    frame, middle = _frame(body, vertebra), _sagittal_body(body, vertebra)
    top, back = float(middle.points[:, 1].max()), float(middle.points[:, 0].max())
    widths = []
    for height in np.arange(top - _RIM_MM, top, 0.5):
        points = section(surface_of(body, vertebra), _lifted(frame, height)).points
        points = points[points[:, 1] < back - 8.0]
        if len(points):
            widths.append(float(points[:, 0].max() - points[:, 0].min()))
    return max(widths)


def endplate_depth(body: Body, vertebra: str) -> float:
    """Longest measure front to back in the midline at the upper endplate, mm."""
    points = _sagittal_body(body, vertebra).points
    rim = points[points[:, 1] > points[:, 1].max() - _RIM_MM]
    return float(rim[:, 0].max() - rim[:, 0].min())


def body_height(body: Body, vertebra: str, border: str) -> float:
    """Height of the vertebral body at its anterior or posterior border in the midline, mm."""
    points = _sagittal_body(body, vertebra).points
    front, back = points[:, 0].min(), points[:, 0].max()
    share = 0.25 * (back - front)
    rim = points[points[:, 0] < front + share] if border == "anterior" else points[points[:, 0] > back - share]
    return float(rim[:, 1].max() - rim[:, 1].min())


def body_width(body: Body, vertebra: str) -> float:
    """Width of the vertebral body, mm: the mean of rim and waist."""
    frame, points = _frame(body, vertebra), _sagittal_body(body, vertebra).points
    back, (low, high) = float(points[:, 0].max()), (float(points[:, 1].min()), float(points[:, 1].max()))
    widths = []
    for height in np.linspace(low + 1.0, high - 1.0, 9):
        across = section(surface_of(body, vertebra), _lifted(frame, float(height))).points
        across = across[across[:, 1] < back - 8.0]
        widths.append(float(across[:, 0].max() - across[:, 0].min()))
    return float(np.mean(widths))


def canal_width(body: Body, vertebra: str) -> float:
    """Narrowest width of the canal between the pedicles, mm."""
    return min(_free_width(cut, back) for cut, back in _canal_cuts(body, vertebra))


def canal_depth(body: Body, vertebra: str) -> float:
    """Least depth of the canal in the midline, from the body to the lamina, mm."""
    frame, surface = _frame(body, vertebra), surface_of(body, vertebra)
    depths = []
    reach = 0.6 * body_height(body, vertebra, "posterior") / 2.0
    for height in np.arange(-reach, reach, 1.0):
        walls = section(surface, _lifted(frame, float(height))).across(0, 0.0)
        # From front to back: in and out of the body, then in and out of lamina and spinous process.
        if len(walls) >= 4 and walls[0] < 0.0 < walls[1]:
            depths.append(float(walls[2] - walls[1]))
    if not depths:
        raise AbsentError(f"{vertebra}: no lamina behind the body.")
    return min(depths)


def process_span(body: Body, vertebra: str) -> float:
    """From tip to tip of the transverse processes, mm."""
    left = _frame(body, vertebra).local(surface_of(body, vertebra).vertices)[:, 0]
    return float(left.max() - left.min())


def widest_span_lead(body: Body, vertebra: str) -> float:
    """How much wider tip to tip one vertebra is than the widest other lumbar one, mm."""
    return process_span(body, vertebra) - max(process_span(body, v) for v in LUMBAR if v != vertebra)


def longest_process_lead(body: Body, vertebra: str) -> float:
    """How much longer, from the pedicle to its tip, one vertebra's process is than the longest other one, mm."""

    def length(name: str) -> float:
        pedicle = body.landmarks.frames[name].local(body.landmarks[f"pedicle_{name}_left"])
        return process_span(body, name) / 2.0 - float(pedicle[0])

    return length(vertebra) - max(length(v) for v in LUMBAR if v != vertebra)


def centre_spacing(body: Body, above: str, below: str) -> float:
    """Distance between the centres of two vertebral bodies, mm."""
    return float(np.linalg.norm(body.landmarks[f"body_{above}_centre"] - body.landmarks[f"body_{below}_centre"]))


def disc_height(body: Body, level: str) -> float:
    """Height of a disc in its middle, mm, between the vertebrae that it lies between."""
    name = f"disc_{level_key(level)}"
    frame = body.landmarks.frames[name]
    above, below = level_key(level).split("_", maxsplit=1)
    lower = "sacrum" if below == "s1" else below if below[0] in "lt" else above[0] + below
    up = crossings(surface_of(body, above), frame.origin, frame.axes[2])[0]
    down = crossings(surface_of(body, lower), frame.origin, frame.axes[2])[0]
    if not (up > 0.0).any() or not (down < 0.0).any():
        raise AbsentError(f"{name}: no bone above or below its middle.")
    return float(up[up > 0.0].min() - down[down < 0.0].max())


def mean_of(body: Body, quantity: str) -> float:
    """Mean over L2 to L5 (or the discs between them) of one quantity, as a series of whole spines gives it."""
    if quantity == "disc_height":
        return float(np.mean([disc_height(body, level) for level in DISCS_BETWEEN]))
    if quantity == "body_height":
        heights = [body_height(body, v, border) for v in LOWER_FOUR for border in ("anterior", "posterior")]
        return float(np.mean(heights))
    gauges = {
        "body_width": body_width,
        "endplate_depth": endplate_depth,
        "canal_width": canal_width,
        "canal_depth": canal_depth,
    }
    return float(np.mean([gauges[quantity](body, v) for v in LOWER_FOUR]))


def _frame(body: Body, vertebra: str) -> Frame:
    return body.landmarks.frames[vertebra]


def _lifted(frame: Frame, up_mm: float) -> Frame:
    return Frame(frame.point(0.0, 0.0, up_mm), frame.axes)


def _sagittal_body(body: Body, vertebra: str) -> Section:
    """The vertebral body in the midline: (back, up) in mm, its own directions."""
    frame = _frame(body, vertebra)
    middle = Frame(frame.origin, np.ascontiguousarray(frame.axes[[1, 2, 0]]))
    loops = [loop for loop in _cut(surface_of(body, vertebra), middle).loops() if loop.holds(np.zeros(2))]
    if not loops:
        raise AbsentError(f"{vertebra}: its surface does not hold the centre of its body.")
    return loops[0]


def _cut(surface: Surface, frame: Frame) -> Section:
    return section(surface, frame)


def _canal_cuts(body: Body, vertebra: str) -> list[tuple[Section, Array]]:
    """Cuts through the pedicles, each with the back coordinates (k,), mm, to look across the canal at."""
    frame, surface = _frame(body, vertebra), surface_of(body, vertebra)
    pedicle = frame.local(body.landmarks[f"pedicle_{vertebra}_left"])
    wall = float(_sagittal_body(body, vertebra).points[:, 0].max())
    back = np.arange(wall + 2.0, wall + 12.0, 1.0)
    return [(section(surface, _lifted(frame, float(pedicle[2] + step))), back) for step in (-2.0, 0.0, 2.0)]


def _free_width(cut: Section, back: Array) -> float:
    """Widest free way across the canal at any of some depths, mm."""
    widths = []
    for value in back:
        walls = cut.across(1, float(value))
        left, right = walls[walls > 0.0], walls[walls < 0.0]
        if len(left) and len(right):
            widths.append(float(left.min() - right.max()))
    if not widths:
        raise AbsentError("no pedicle beside the canal.")
    return max(widths)
