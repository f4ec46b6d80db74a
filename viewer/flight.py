"""Ways of the eye from one place to another, as a function of the share of time gone. No window, no clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from viewer.cameras import PERSPECTIVE_DEG, Array, Eye, between, placed_at

#: A change of view takes this long, seconds; following a nerve takes this long a metre of it, within bounds.
CHANGE_S = 0.45
FOLLOW_S_PER_M, FOLLOW_LEAST_S, FOLLOW_MOST_S = 45.0, 4.0, 16.0
#: Half of what is seen in height while a nerve is followed, mm.
FOLLOW_HALF_MM = 75.0
#: Coming near to the way before it is followed takes this long, seconds.
COME_S = 0.8
#: From one step of a lesson to the next, seconds: slow enough for a room to keep left and right.
STEP_S = 1.2
#: What is kept in the picture stays within this share of its half width and half height.
KEPT_WITHIN = 0.94


@dataclass(frozen=True)
class Flight:
    """seconds : how long it takes;  at : share of the time 0..1 -> Eye;  end : where it ends

    along : share of the time -> share of the way of what is followed, or nothing
    """

    seconds: float
    at: Callable[[float], Eye]
    end: Eye
    along: Callable[[float], float] | None = None


def straight(start: Eye, end: Eye, seconds: float = CHANGE_S) -> Flight:
    """From one eye to another, the shortest way, slow at both ends."""
    return Flight(seconds, lambda t: between(start, end, eased(t)), end)


def keeping(flight: Flight, points: Array, aspect: float) -> Flight:
    """The same flight, from further away wherever it would lose what is in the picture at its beginning and its end.

    points : (n, 3) mm, of what is to stay in the picture
    aspect : width of the picture over its height
    """
    held = points
    for eye in (flight.at(0.0), flight.end):
        held = held[_needed_mm(held, eye, aspect) <= eye.half_height_mm]
    if not len(held):
        return flight

    def at(t: float) -> Eye:
        eye = flight.at(t)
        half_mm = float(_needed_mm(held, eye, aspect).max())
        return eye if half_mm <= eye.half_height_mm else placed_at(eye, eye.focus, half_mm)

    return Flight(flight.seconds, at, flight.end, flight.along)


def chained(first: Flight, second: Flight) -> Flight:
    """One flight after the other, nothing told on the way."""
    seconds = first.seconds + second.seconds
    change = first.seconds / seconds

    def at(t: float) -> Eye:
        return first.at(t / change) if t < change else second.at((t - change) / (1.0 - change))

    return Flight(seconds, at, second.end)


def _needed_mm(points: Array, eye: Eye, aspect: float) -> Array:
    """Half of what the picture has to be high to hold each of the points (n, 3) within KEPT_WITHIN, (n,) mm.

    A perspective eye that is further away stands further back, which helps what lies behind the focus less.
    """
    right, up, towards = eye.axes()
    local = points - eye.focus
    flat: Array = np.maximum(np.abs(local @ right) / aspect, np.abs(local @ up)) / KEPT_WITHIN
    return flat if eye.parallel else flat + (local @ towards) * np.tan(np.radians(PERSPECTIVE_DEG / 2.0))


def following(start: Eye, points: Array, length_mm: float, begin: float = 0.0) -> Flight:
    """Near to a way, and along its points (n, 3), evenly spaced, to the last one, where the eye stays.

    begin : share of the way at which it begins

    The direction one looks in stays, so that nobody loses left and right.
    """
    whole_s = float(np.clip(FOLLOW_S_PER_M * length_mm / 1000.0, FOLLOW_LEAST_S, FOLLOW_MOST_S))
    seconds = COME_S + whole_s * (1.0 - begin)
    come, half = COME_S / seconds, min(FOLLOW_HALF_MM, start.half_height_mm)

    def near(share: float) -> Eye:
        i = share * (len(points) - 1)
        k = min(int(i), len(points) - 2)
        return placed_at(start, points[k] + (i - k) * (points[k + 1] - points[k]), half)

    def along(t: float) -> float:
        return begin + (1.0 - begin) * float(np.clip((t - come) / (1.0 - come), 0.0, 1.0))

    def at(t: float) -> Eye:
        return between(start, near(begin), eased(t / come)) if t < come else near(along(t))

    return Flight(seconds, at, near(1.0), along)


def evenly(points: Array, count: int = 120) -> Array:
    """A polyline (n, 3) as so many points, evenly spaced along it, its corners taken off."""
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    spots = np.linspace(0.0, arc[-1], count)
    line = np.stack([np.interp(spots, arc, points[:, k]) for k in range(3)], axis=1)
    weights = np.exp(-0.5 * (np.arange(-12, 13) / 5.0) ** 2)
    # Carried on straight beyond its ends, so that they stay where they are.
    padded = np.concatenate([2.0 * line[0] - line[12:0:-1], line, 2.0 * line[-1] - line[-2:-14:-1]])
    return np.stack([np.convolve(padded[:, k], weights / weights.sum(), "valid") for k in range(3)], axis=1)


def eased(t: float) -> float:
    """Slow at both ends: 0 -> 0, 1 -> 1."""
    t = min(max(t, 0.0), 1.0)
    return t * t * (3.0 - 2.0 * t)
