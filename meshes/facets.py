"""How close a portal comes to a closed surface that is no tube (a kidney, a bone): rigorous to a stated width.

The cylinder's signed distance is convex, so over a triangle it lies above each of its tangent planes. A triangle whose
plane at its middle stays above the best value found so far is done; the others are cut in four and asked again. What
is left undecided is narrower than `FACET_MM`. Triangles are meant as flat: the answer is for the surface as meshed.

The lowest value on the surface is the lowest in the solid as well, unless the portal's axis lies in it from end to end.
"""

from __future__ import annotations

import numpy as np

from meshes.curves import Array
from meshes.cylinder import Cylinder
from meshes.nearby import reach
from meshes.tolerances import FACET_MM

#: Cuts in four; each halves a triangle, so that the last ones of a 100 mm triangle are smaller than 1e-4 mm.
_MOST_CUTS = 20


def lowest_on(cylinder: Cylinder, corners: Array, enough_mm: float = -np.inf) -> tuple[float, Array]:
    """Lowest signed distance, mm, of triangles (t, 3, 3) to the cylinder, and the point (3,) where it is reached.

    enough_mm : stop as soon as a value below this is found, or none can be; the value is then only an upper bound

    Returns infinity and NaNs for no triangles.
    """
    best, point = np.inf, np.full(3, np.nan)
    # Where only a value below `enough_mm` counts, so do only triangles that may have one.
    max_floor = enough_mm if enough_mm > -np.inf else np.inf
    for _ in range(_MOST_CUTS):
        if not len(corners):
            break
        value = cylinder.sdf(cylinder.seen(corners))
        low = np.unravel_index(int(np.argmin(value)), value.shape)
        if value[low] < best:
            best, point = float(value[low]), corners[low]
        if best < enough_mm:
            break
        corners = corners[value[:, 0] - reach(*np.moveaxis(corners, 1, 0)) < best]
        corners = cut_in_four(corners[_floors(cylinder, corners) < min(best - FACET_MM, max_floor)])
    return best, point


def _floors(cylinder: Cylinder, corners: Array) -> Array:
    """Lower bound (t,) of the signed distance over each triangle: its tangent plane at the middle."""
    seen = cylinder.seen(corners)
    middle = (seen[..., 0] + seen[..., 1] + seen[..., 2]) / 3.0
    value, gradient = cylinder.slopes(middle)
    rise = ((seen - middle[..., None]) * gradient[..., None]).sum(axis=0)
    floor: Array = value + np.minimum(np.minimum(rise[:, 0], rise[:, 1]), rise[:, 2])
    return floor


def cut_in_four(corners: Array) -> Array:
    """Each triangle (t, 3, 3) as four of half its size."""
    a, b, c = np.moveaxis(corners, 1, 0)
    ab, bc, ca = 0.5 * (a + b), 0.5 * (b + c), 0.5 * (c + a)
    parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return np.concatenate([np.stack(p, axis=1) for p in parts])
