"""Named views as places of the eye. Directions come from the frame: +x left, +y back, +z head."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lessons.view import Camera
from meshes.body import Body
from meshes.errors import unknown_word
from meshes.portal import Portal
from meshes.surfaces import Surface

Array = NDArray[np.float64]
FAR_MM = 2000.0
#: A parallel picture and a perspective one show the same at the focus with this opening (full angle).
PERSPECTIVE_DEG = 20.0
#: How high the surgeon's eye stands over the table in `side_lying`: the angle from straight behind to straight above.
SURGEON_DEG = 52.0
#: In the portal view the outermost ring takes this share of the height of the picture, so that one knows where one is.
PORTAL_SHARE = 0.5
MARGIN = 1.06
#: Room around structures that fill a picture, so that one sees where they are, mm.
ROOM_MM = 15.0
#: name -> (from where one looks, what is up), as directions of the frame; for the left side, mirrored for the right.
_S, _C = float(np.sin(np.radians(SURGEON_DEG))), float(np.cos(np.radians(SURGEON_DEG)))
DIRECTIONS: dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "front": ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0)),
    "home": ((0.42, -0.9, 0.12), (0.0, 0.0, 1.0)),
    "back": ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "left": ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "right": ((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "side_lying": ((_S, _C, 0.0), (1.0, 0.0, 0.0)),
}


@dataclass(frozen=True)
class Eye:
    """Where the eye stands.

    position, focus : (3,) mm
    up              : (3,) unit direction, up on the screen
    half_height_mm  : half of what the picture is high at the focus
    """

    position: Array
    focus: Array
    up: Array
    half_height_mm: float
    parallel: bool = True

    def axes(self) -> tuple[Array, Array, Array]:
        """Unit directions on the screen: right, up, towards the eye; each (3,)."""
        return self._axes

    @cached_property
    def _axes(self) -> tuple[Array, Array, Array]:
        towards = _unit(self.position - self.focus)
        right = _unit(_cross(self.up, towards))
        return right, _cross(towards, right), towards

    def is_close(self, other: Eye) -> bool:
        """Whether two eyes see the same, but for rounding."""
        return (
            self.parallel == other.parallel
            and bool(np.allclose(self.position, other.position, atol=1e-6))
            and bool(np.allclose(self.focus, other.focus, atol=1e-6))
            and bool(np.allclose(self.up, other.up, atol=1e-9))
            and abs(self.half_height_mm - other.half_height_mm) < 1e-6
        )


@dataclass(frozen=True)
class Region:
    """The box that a picture of the whole body must hold: lower and upper corner, each (3,) mm."""

    low: Array
    high: Array

    @property
    def centre(self) -> Array:
        """Middle of the box (3,), mm."""
        middle: Array = (self.low + self.high) / 2.0
        return middle


def region_of(surfaces: Mapping[str, Surface], leave_out: str = "skin") -> Region:
    """The box around all surfaces but one; the same whatever is shown, so that the picture never jumps."""
    corners = [(s.vertices.min(axis=0), s.vertices.max(axis=0)) for name, s in surfaces.items() if name != leave_out]
    if not corners:
        return Region(np.full(3, -200.0), np.full(3, 200.0))
    low, high = zip(*corners, strict=True)
    return Region(np.min(low, axis=0), np.max(high, axis=0))


def region_about(names: Iterable[str], body: Body) -> Region:
    """The box around structures and landmarks of a body, with some room. Raises FurcalError for a name it lacks."""
    points = []
    for name in sorted(names):
        if name in body.surfaces:
            points.append(body.surfaces[name].vertices)
        elif name in body.landmarks.points:
            points.append(np.asarray(body.landmarks.points[name])[None, :])
        else:
            legal = [*body.surfaces, *body.landmarks.points]
            raise unknown_word(name, legal, "structure or landmark", "camera, on")
    return Region(
        np.min([p.min(axis=0) for p in points], axis=0) - ROOM_MM,
        np.max([p.max(axis=0) for p in points], axis=0) + ROOM_MM,
    )


def eye_of(
    camera: Camera, region: Region, aspect: float, side: str = "left", portal: Portal | None = None, fill: float = 1.0
) -> Eye:
    """The eye for a camera of a view.

    region : the box that the picture is about
    aspect : usable width over whole height of the picture
    fill   : share of the height that may be used
    side   : which side is up in `side_lying`
    portal : where the portal stands; without one, `portal` looks from the side
    """
    if camera.name == "free":
        return _free(camera)
    if camera.name == "portal" and portal is not None:
        return _down(portal, camera)
    name = side if camera.name == "portal" else camera.name
    towards, up = (np.array(d) for d in DIRECTIONS[name])
    if name == "side_lying" and side == "right":
        towards[0], up[0] = -towards[0], -up[0]
    towards = _unit(towards)
    up = _unit(up - towards * (up @ towards))
    focus = region.centre
    half = camera.half_height_mm or _fit(region, towards, up, aspect, fill)
    eye = Eye(focus + towards * _distance(half, camera.parallel), focus, up, half, camera.parallel)
    if not (camera.turn_deg or camera.raise_deg):
        return eye
    eye = turned(eye, camera.turn_deg, camera.raise_deg)
    half = camera.half_height_mm or _fit(region, eye.axes()[2], eye.up, aspect, fill)
    return placed_at(eye, focus, half)


def free_camera(eye: Eye) -> Camera:
    """The camera that says in numbers where the eye stands."""
    p, f, u = (_triple(v) for v in (eye.position, eye.focus, eye.up))
    return Camera("free", p, f, u, eye.parallel, float(eye.half_height_mm))


def turned(eye: Eye, right_deg: float, up_deg: float) -> Eye:
    """The eye carried about the focus: to the right about the body's long axis, and up; the head stays up.

    Views that have something else upwards (side-lying, portal) turn about what is up there.
    """
    right, _, towards = eye.axes()
    pole = _pole(eye)
    tilt = float(np.degrees(np.arcsin(np.clip(towards @ pole, -1.0, 1.0))))
    step = float(np.clip(up_deg, -85.0 - tilt, 85.0 - tilt))
    towards = _rotated(towards, right, -step)
    towards = _rotated(towards, pole, right_deg)
    up = _unit(pole - towards * (pole @ towards))
    distance = float(np.linalg.norm(eye.position - eye.focus))
    return Eye(eye.focus + towards * distance, eye.focus, up, eye.half_height_mm, eye.parallel)


def moved(eye: Eye, right_mm: float, up_mm: float) -> Eye:
    """The eye and its focus shifted along the screen."""
    right, up, _ = eye.axes()
    shift = right * right_mm + up * up_mm
    return Eye(eye.position + shift, eye.focus + shift, eye.up, eye.half_height_mm, eye.parallel)


def zoomed(eye: Eye, factor: float) -> Eye:
    """The eye nearer by a factor (above 1: everything grows), within 10 mm and 2 m of height."""
    half = float(np.clip(eye.half_height_mm / factor, 5.0, 1000.0))
    towards = eye.axes()[2]
    return Eye(eye.focus + towards * _distance(half, eye.parallel), eye.focus, eye.up, half, eye.parallel)


def placed_at(eye: Eye, focus: Array, half_height_mm: float) -> Eye:
    """The same direction of looking, at another place and from another nearness."""
    towards = eye.axes()[2]
    return Eye(focus + towards * _distance(half_height_mm, eye.parallel), focus, eye.up, half_height_mm, eye.parallel)


def between(a: Eye, b: Eye, t: float) -> Eye:
    """An eye on the way from one to the other, t in 0..1, turning evenly."""
    if t >= 1.0:
        return b
    focus = a.focus + (b.focus - a.focus) * t
    half = a.half_height_mm * (b.half_height_mm / a.half_height_mm) ** t
    first, second = (np.stack(e.axes(), axis=1) for e in (a, b))
    turn = second @ first.T
    angle = float(np.arccos(np.clip((np.trace(turn) - 1.0) / 2.0, -1.0, 1.0)))
    spin = np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]])
    if np.linalg.norm(spin) < 1e-9:  # no turn at all, or half a turn, whose axis is every column of this
        columns = turn + np.eye(3)
        spin = columns[:, int(np.argmax(np.linalg.norm(columns, axis=0)))]
    now = np.stack([_rotated(column, _unit(spin), float(np.degrees(angle * t))) for column in first.T], axis=1)
    return Eye(focus + now[:, 2] * _distance(half, b.parallel), focus, now[:, 1], half, b.parallel)


def projected(points: Array, eye: Eye, size: tuple[int, int]) -> Array:
    """Pixels (n, 2), from the left and from the top, of points (n, 3), mm."""
    right, up, towards = eye.axes()
    local = points - eye.focus
    scale: float | Array = size[1] / 2.0 / eye.half_height_mm
    if not eye.parallel:
        distance = float(np.linalg.norm(eye.position - eye.focus))
        scale = scale * distance / np.maximum(distance - local @ towards, 1e-6)
    return np.stack([size[0] / 2.0 + (local @ right) * scale, size[1] / 2.0 - (local @ up) * scale], axis=-1)


def unprojected(pixel: tuple[float, float], eye: Eye, size: tuple[int, int], like: Array) -> Array:
    """The point (3,), mm, under a pixel that is as far from the eye as another point (3,)."""
    start, towards = ray_through(pixel, eye, size)
    facing = eye.axes()[2]
    depth = float((eye.position - like) @ facing)
    out: Array = start + towards * ((depth - float((eye.position - start) @ facing)) / -float(towards @ facing))
    return out


def ray_through(pixel: tuple[float, float], eye: Eye, size: tuple[int, int]) -> tuple[Array, Array]:
    """Where the line of sight through a pixel starts (3,), mm, and its unit direction (3,), away from the eye."""
    right, up, towards = eye.axes()
    scale = 2.0 * eye.half_height_mm / size[1]
    across = right * ((pixel[0] - size[0] / 2.0) * scale) + up * ((size[1] / 2.0 - pixel[1]) * scale)
    if eye.parallel:
        return eye.position + across, -towards
    return eye.position, _unit(eye.focus + across - eye.position)


def stepped(eye: Eye, step_deg: float) -> Eye:
    """The eye at the nearest whole step of turning and of height about what is up, seen from straight in front."""
    pole = _pole(eye)
    towards = eye.axes()[2]
    height = float(np.degrees(np.arcsin(np.clip(towards @ pole, -1.0, 1.0))))
    zero = np.array([0.0, -1.0, 0.0]) if abs(pole[1]) < 0.5 else np.array([0.0, 0.0, 1.0])
    side = np.cross(pole, zero)
    turn = float(np.degrees(np.arctan2(towards @ side, towards @ zero)))
    most = step_deg * np.floor(85.0 / step_deg)
    height = np.radians(np.clip(round(height / step_deg) * step_deg, -most, most))
    turn = np.radians(round(turn / step_deg) * step_deg)
    now = np.cos(height) * (np.cos(turn) * zero + np.sin(turn) * side) + np.sin(height) * pole
    up = _unit(pole - now * (pole @ now))
    distance = float(np.linalg.norm(eye.position - eye.focus))
    return Eye(eye.focus + now * distance, eye.focus, up, eye.half_height_mm, eye.parallel)


def _free(camera: Camera) -> Eye:
    position, focus, up = (np.array(v, dtype=float) for v in (camera.position_mm, camera.focus_mm, camera.up))
    distance = float(np.linalg.norm(position - focus))
    half = camera.half_height_mm or distance * float(np.tan(np.radians(PERSPECTIVE_DEG / 2.0)))
    towards = _unit(position - focus) if distance > 1e-6 else np.array([0.0, -1.0, 0.0])
    if np.linalg.norm(np.cross(up, towards)) < 1e-6:
        up = np.array([0.0, 0.0, 1.0]) if abs(towards[2]) < 0.9 else np.array([0.0, -1.0, 0.0])
    up = _unit(up - towards * (up @ towards))
    return Eye(focus + towards * _distance(half, camera.parallel), focus, up, half or 1.0, camera.parallel)


def up_of(portal: Portal) -> Array:
    """What is up on the screen (3,), unit, for whoever looks down a portal.

    The surgeon behind a patient lying on the side sees the front at the far edge; from the front, the head.
    """
    up = np.array([0.0, -1.0, 0.0]) if portal.approach in ("lateral", "oblique") else np.array([0.0, 0.0, 1.0])
    return _unit(up - portal.direction * (up @ portal.direction))


def _down(portal: Portal, camera: Camera) -> Eye:
    towards, up, focus = -portal.direction, up_of(portal), portal.end_mm
    half = portal.radius_mm / PORTAL_SHARE
    if not camera.parallel:  # the ring at the skin is the larger one: the eye stands as far from it
        half += portal.length_mm * float(np.tan(np.radians(PERSPECTIVE_DEG / 2.0)))
    half = camera.half_height_mm or half
    return Eye(focus + towards * _distance(half, camera.parallel), focus, up, half, camera.parallel)


def _fit(region: Region, towards: Array, up: Array, aspect: float, fill: float) -> float:
    right = np.cross(up, towards)
    sizes = (region.high - region.low) / 2.0
    half_width, half_height = float(np.abs(right) @ sizes), float(np.abs(up) @ sizes)
    return MARGIN * max(half_height / fill, half_width / aspect)


def _distance(half_mm: float, parallel: bool) -> float:
    return FAR_MM if parallel else half_mm / float(np.tan(np.radians(PERSPECTIVE_DEG / 2.0)))


def _pole(eye: Eye) -> Array:
    """The axis of the frame (3,) that is kept upwards while the eye turns: the head's, unless another one is up.

    The pole is always square to what is right on the screen. Where two axes are, the head's goes first: high above the
    body, what is up on the screen lies nearer to another axis.
    """
    right, up, _ = eye.axes()
    if abs(right[2]) < 1e-6 and abs(up[2]) > 0.05:
        return np.array([0.0, 0.0, np.sign(up[2])])
    i = int(np.argmax(np.where(np.abs(right) < 1e-6, 2.0, 0.0) + np.abs(up)))
    out: Array = np.eye(3)[i] * np.sign(up[i])
    return out


def _rotated(vector: Array, axis: Array, degrees: float) -> Array:
    a = np.radians(degrees)
    turned_: Array = vector * np.cos(a) + _cross(axis, vector) * np.sin(a) + axis * (axis @ vector) * (1 - np.cos(a))
    return turned_


def _cross(a: Array, b: Array) -> Array:
    """The product of two vectors (3,): numpy's own takes ten times as long, several times in every picture."""
    (ax, ay, az), (bx, by, bz) = a, b
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def _unit(vector: Array) -> Array:
    out: Array = vector / np.linalg.norm(vector)
    return out


def _triple(vector: Array) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
