"""Where a film is taken from: source, detector, and what falls on which pixel.

Frame: mm, +x left, +y back, +z head. A film hangs as it is read: on a front film the patient's left is on the
picture's right, on a side film one looks at that side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from meshes.curves import Array
from meshes.errors import FurcalError, unknown_word
from meshes.film.limits import FILM_VIEWS, RANGES
from meshes.surfaces import Surface

#: Middle ray and picture's right of each view, before it is turned. Front: the source stands before the patient and
#: the picture is read from the source's side; side films are read from the detector's side.
_AXES = {
    "front": ((0.0, 1.0, 0.0), (1.0, 0.0, 0.0)),
    "left": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    "right": ((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
}


@dataclass(frozen=True)
class Beam:
    """A source and a flat detector.

    source_mm    : (3,) point source, or None: then all rays run along `direction`
    direction    : (3,) unit, the middle ray, from the source towards the detector
    origin_mm    : (3,) centre of the pixel in row 0, column 0
    u, v         : (3,) unit, along the columns (picture's right) and along the rows (picture's foot); u is across v
    pixel_mm     : side of a pixel
    width, height: pixels
    """

    source_mm: Array | None
    direction: Array
    origin_mm: Array
    u: Array
    v: Array
    pixel_mm: float
    width: int
    height: int

    @property
    def normal(self) -> Array:
        """Unit (3,) across the detector, away from the source."""
        across = np.cross(self.u, self.v)
        return across * math.copysign(1.0, float(across @ self.direction))

    @property
    def from_behind(self) -> bool:
        """Whether the picture is read from the detector's side, against the rays."""
        return bool(np.cross(self.u, self.v) @ self.direction < 0.0)

    @property
    def reach_mm(self) -> float:
        """Distance from the source to the detector's plane; infinite for a parallel beam."""
        if self.source_mm is None:
            return math.inf
        return float((self.origin_mm - self.source_mm) @ self.normal)

    def on_detector(self, points: Array) -> tuple[Array, Array, Array]:
        """Column, row and depth (n,) of points (n, 3), mm.

        The depth is counted along `normal`: from the source, or from the frame's origin where the beam is parallel.
        A ray that goes one unit deeper gets `stretch()` units longer.
        """
        if self.source_mm is None:
            depth = points @ self.normal
            # A parallel ray may meet the detector aslant: go back along it to the detector's plane.
            down = (depth - self.origin_mm @ self.normal) / float(self.direction @ self.normal)
            lean_u, lean_v = float(self.direction @ self.u), float(self.direction @ self.v)
            col = points @ self.u - float(self.origin_mm @ self.u) - (down * lean_u if lean_u else 0.0)
            row = points @ self.v - float(self.origin_mm @ self.v) - (down * lean_v if lean_v else 0.0)
            return col / self.pixel_mm, row / self.pixel_mm, depth
        seen = points - self.source_mm
        depth = seen @ self.normal
        grown = self.reach_mm / depth
        start = self.origin_mm - self.source_mm
        col = (seen @ self.u * grown - float(start @ self.u)) / self.pixel_mm
        row = (seen @ self.v * grown - float(start @ self.v)) / self.pixel_mm
        return col, row, depth

    def project(self, points: Array) -> Array:
        """Column and row (n, 2) at which points (n, 3), mm, fall on the detector; whole numbers are pixel centres."""
        col, row, _ = self.on_detector(np.atleast_2d(np.asarray(points, dtype=np.float64)))
        return np.stack([col, row], axis=1)

    def pixel_of(self, point: Array) -> tuple[int, int] | None:
        """Row and column of the pixel that a point (3,), mm, falls on; None beside the film."""
        col, row = np.floor(self.project(point)[0] + 0.5).astype(int).tolist()
        return (row, col) if 0 <= row < self.height and 0 <= col < self.width else None

    def pixel_centres(self) -> Array:
        """Centres (h, w, 3) of all pixels, mm."""
        cols = np.arange(self.width)[None, :, None] * self.pixel_mm * self.u
        rows = np.arange(self.height)[:, None, None] * self.pixel_mm * self.v
        out: Array = self.origin_mm + rows + cols
        return out

    def rays(self) -> tuple[Array, Array]:
        """Start (h, w, 3), mm, and unit direction (h, w, 3) of the ray of every pixel.

        Rays of a parallel beam start on the detector; go back along them as far as need be.
        """
        centres = self.pixel_centres()
        if self.source_mm is None:
            return centres, np.broadcast_to(self.direction, centres.shape)
        away = centres - self.source_mm
        return np.broadcast_to(self.source_mm, centres.shape), away / np.linalg.norm(away, axis=2, keepdims=True)

    def stretch(self) -> Array:
        """How much longer a pixel's ray is than the depth that it gains: (h, w), or (1, 1) for a parallel beam."""
        if self.source_mm is None:
            return np.full((1, 1), 1.0 / float(self.direction @ self.normal))
        start = self.origin_mm - self.source_mm
        across = float(start @ self.u) + self.pixel_mm * np.arange(self.width)
        down = float(start @ self.v) + self.pixel_mm * np.arange(self.height)
        out: Array = np.sqrt(self.reach_mm**2 + across[None, :] ** 2 + down[:, None] ** 2) / self.reach_mm
        return out

    def magnification(self, point: Array) -> float:
        """How many times larger a thing at a point (3,), mm, is on the detector: the ratio of the distances."""
        if self.source_mm is None:
            return 1.0
        return self.reach_mm / float((np.asarray(point, dtype=np.float64) - self.source_mm) @ self.normal)


def beam_for(
    view: str,
    turn_deg: float = 0.0,
    cranial_deg: float = 0.0,
    *,
    centre_mm: Array | None = None,
    distance_mm: float = 1050.0,
    source_to_centre_mm: float = 700.0,
    field_mm: float = 430.0,
    size: int = 512,
    parallel: bool = False,
) -> Beam:
    """The beam of a named view; `centre_mm` (3,) always falls on the picture's middle.

    turn_deg     : turns source and detector about the long axis; positive carries the reader's eye to the patient's
                   left on a front film, to the back on a left film, to the front on a right film
    cranial_deg  : tilts the middle ray towards the head
    distance_mm  : source to detector (common practice about 1000 to 1100, no source)
    source_to_centre_mm : source to `centre_mm`
    field_mm     : side of the square detector; at the centre where the beam is parallel
    size         : pixels a side
    Raises FurcalError for an unknown view or a number out of range.
    """
    if view not in _AXES:
        raise unknown_word(view, FILM_VIEWS, "view")
    given = {"turn_deg": turn_deg, "cranial_deg": cranial_deg, "field_mm": field_mm, "size": size}
    if not parallel:
        given |= {"distance_mm": distance_mm, "source_to_centre_mm": source_to_centre_mm}
    for name, value in given.items():
        _check(name, value)
    if not parallel and source_to_centre_mm >= distance_mm:
        raise FurcalError(
            f"source_to_centre_mm: {source_to_centre_mm:g} leaves no room before the detector; "
            f"stay under distance_mm, {distance_mm:g}."
        )
    centre = np.zeros(3) if centre_mm is None else np.asarray(centre_mm, dtype=np.float64)
    if centre.shape != (3,) or not np.isfinite(centre).all():
        raise FurcalError("centre_mm: expected three finite numbers, mm.")
    along, u, v = _turned(view, turn_deg, cranial_deg)
    pixel = field_mm / int(size)
    corner = (int(size) - 1) / 2.0 * pixel
    behind = 0.0 if parallel else distance_mm - source_to_centre_mm
    return Beam(
        source_mm=None if parallel else centre - source_to_centre_mm * along,
        direction=along,
        origin_mm=centre + behind * along - corner * u - corner * v,
        u=u,
        v=v,
        pixel_mm=pixel,
        width=int(size),
        height=int(size),
    )


def check_outside(beam: Beam, skin: Surface) -> None:
    """Raise FurcalError where the source stands inside the skin, or beside it so that a part lies behind the source.

    A parallel beam comes from far away and always passes.
    """
    if beam.source_mm is None:
        return
    if abs(winding(skin, beam.source_mm)) > 0.5:
        raise FurcalError("The beam starts inside the body: move its source further from the centre.")
    depth = (skin.vertices - beam.source_mm) @ beam.normal
    if float(depth.min()) < 0.01 * beam.reach_mm:
        raise FurcalError("A part of the body lies behind the source: move the source further from the centre.")
    if float(depth.max()) > beam.reach_mm:
        raise FurcalError("The detector stands inside the body: move it further from the source.")


def winding(surface: Surface, point: Array) -> float:
    """How often a closed surface winds round a point (3,): 1 inside, 0 outside.

    Sum of the solid angles of its triangles (van Oosterom, Strackee, IEEE Trans Biomed Eng 1983;30(2):125).
    """
    a, b, c = np.moveaxis(surface.triangles() - point, 1, 0)
    la, lb, lc = (np.linalg.norm(corner, axis=1) for corner in (a, b, c))
    top = np.einsum("ij,ij->i", a, np.cross(b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    return float(np.arctan2(top, la * lb * lc + ab * lc + bc * la + ca * lb).sum() / (2.0 * np.pi))


def _check(name: str, value: float) -> None:
    low, high, unit = RANGES[name]
    if not math.isfinite(value):
        raise FurcalError(f"{name}: expected a number from {low:g} to {high:g} {unit}.")
    if not low <= value <= high:
        raise FurcalError(f"{name}: {value:g} is outside {low:g} to {high:g} {unit}.")
    if name == "size" and value != int(value):
        raise FurcalError(f"{name}: expected a whole number of pixels, found {value:g}.")


def _turned(view: str, turn_deg: float, cranial_deg: float) -> tuple[Array, Array, Array]:
    """Middle ray, picture's right and picture's foot (3,) of a view, turned and tilted."""
    turn, tilt = math.radians(turn_deg), math.radians(cranial_deg)
    c, s = math.cos(turn), math.sin(turn)
    about = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    level, right = (about @ np.array(axis) for axis in _AXES[view])
    head = np.array([0.0, 0.0, 1.0])
    along = level * math.cos(tilt) + head * math.sin(tilt)
    foot = level * math.sin(tilt) - head * math.cos(tilt)
    return along, right, foot
