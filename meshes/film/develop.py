"""From what passes to a film: what the detector makes of it, and the grey that is shown. Scatter is left out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from meshes.curves import Array
from meshes.errors import FurcalError
from meshes.threads import one_thread

Picture = NDArray[np.float32]


@dataclass(frozen=True)
class Response:
    """What detector and display do.

    focal_mm, screen_mm : spread (1 SD) on the detector by the focal spot, before the quanta are counted, and by the
               screen, after it; noise is grained by the screen
    photons  : quanta a mm2 of detector in the open beam; 0 leaves noise out
    seed     : draws the noise
    level    : attenuation that is shown as middle grey; None: exposed automatically, by the field in the middle
    span     : attenuation from deep black to full white about the level
    even     : 0 to 1, how much of the broad shades is taken off so that thick and thin parts show on one film
    broad_mm : how broad such shades are (1 SD), on the detector
    """

    focal_mm: float = 0.25
    screen_mm: float = 0.2
    photons: float = 0.0
    seed: int = 0
    level: float | None = None
    span: float = 1.5
    even: float = 0.75
    broad_mm: float = 35.0

    def __post_init__(self) -> None:
        limits = {
            "focal_mm": (0.0, 10.0), "screen_mm": (0.0, 10.0), "photons": (0.0, 1e12), "span": (0.05, 50.0),
            "even": (0.0, 1.0), "broad_mm": (1.0, 1000.0),
        }  # fmt: skip
        for name, (low, high) in limits.items():
            value = getattr(self, name)
            if not math.isfinite(value) or not low <= value <= high:
                raise FurcalError(f"{name}: {value:g} is outside {low:g} to {high:g}.")


def developed(passed: Array, pixel_mm: float, response: Response | None = None, bare: Array | None = None) -> Picture:
    """The film (h, w), 0 black to 1 white, from what passes (h, w), 0 to 1: bone is white, air is black.

    bare : attenuation (h, w) of the body alone, without metal; exposure and broad shades go by it, so that they stay
           as they are when wires come and go; None: by what passes
    """
    how = Response() if response is None else response
    seen = blurred(passed, how.focal_mm / pixel_mm)
    if how.photons:
        seen = _counted(seen, how.photons * pixel_mm**2, how.seed)
    seen = blurred(seen, how.screen_mm / pixel_mm)
    log = -np.log(np.maximum(seen, 1e-12))
    guide = log if bare is None else bare
    level = automatic_level(guide) if how.level is None else how.level
    log = log - level
    if how.even:
        log -= how.even * broad(np.clip(guide - level, -how.span, how.span), how.broad_mm / pixel_mm)
    # A film's own curve: straight in its middle, where grey changes by 1 in one span, with a toe and a shoulder.
    grey = 1.0 / (1.0 + np.exp(log * (-4.0 / how.span)))
    return grey.astype(np.float32)


def automatic_level(attenuation: Array, share: float = 0.3) -> float:
    """Mean attenuation (h, w) of the field in the middle, `share` of the sides: what an automatic exposure goes by."""
    h, w = attenuation.shape
    rows, cols = (max(1, round(share * side)) for side in (h, w))
    return float(attenuation[(h - rows) // 2 : (h + rows + 1) // 2, (w - cols) // 2 : (w + cols + 1) // 2].mean())


def _counted(passed: Array, open_beam: float, seed: int) -> Array:
    """What passes (h, w), counted in quanta, `open_beam` of them where nothing stands in the way.

    Poisson's law for few, its normal limit for many; no pixel counts under half a quantum, so that its logarithm is
    finite.
    """
    draw = np.random.default_rng(seed)
    mean = passed * open_beam
    few = mean < 50.0
    count = mean + np.sqrt(mean) * draw.standard_normal(mean.shape)
    count[few] = draw.poisson(mean[few])
    out: Array = np.maximum(count, 0.5) / open_beam
    return out


def blurred(picture: Array, sd_px: float) -> Array:
    """The picture (h, w) spread by a Gaussian of so many pixels; its rim goes on outside."""
    reach = math.ceil(4.0 * sd_px)
    if sd_px < 0.1 or reach < 1:
        return picture
    taps = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sd_px) ** 2)
    taps /= taps.sum()
    for axis in (0, 1):
        n = picture.shape[axis]
        wide = np.pad(picture, [(reach, reach) if k == axis else (0, 0) for k in (0, 1)], mode="edge")
        picture = taps[reach] * wide.take(range(reach, reach + n), axis=axis)
        for k in range(reach):
            before, after = (wide[s : s + n] if axis == 0 else wide[:, s : s + n] for s in (k, 2 * reach - k))
            picture += taps[k] * (before + after)
    return picture


def broad(picture: Array, sd_px: float) -> Array:
    """The picture's (h, w) broad shades: as `blurred`, for a wide spread, on a coarse grid and back."""
    down = [_coarse(n, sd_px) for n in picture.shape]
    with one_thread():
        out: Array = down[0][1] @ (down[0][0] @ picture @ down[1][0].T) @ down[1][1].T
    return out


def _coarse(n: int, sd_px: float) -> tuple[Array, Array]:
    """Matrices (s, n) from n pixels to s Gaussian means, and (n, s) linearly back."""
    s = int(np.clip(math.ceil(2.0 * n / sd_px), 2, n))
    places = np.linspace(0.0, n - 1.0, s)
    apart = places[:, None] - np.arange(n)
    means = np.exp(-0.5 * (apart / sd_px) ** 2)
    back = np.maximum(1.0 - np.abs(apart.T) * (s - 1) / (n - 1.0), 0.0)
    return means / means.sum(axis=1, keepdims=True), back
