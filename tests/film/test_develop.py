"""What the detector makes of what passes, and the inner surface of a bone."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.curves import Array
from meshes.errors import FurcalError
from meshes.film.beam import beam_for
from meshes.film.develop import Response, automatic_level, blurred, broad, developed
from meshes.film.lengths import MATERIALS, lengths, solids, weighed
from meshes.film.shell import inner, thickness
from meshes.normals import vertex_normals
from tests.film.shapes import ball, box

STILL = Response(focal_mm=0.0, screen_mm=0.0, even=0.0, level=2.0)


@given(st.lists(st.floats(0, 300), min_size=7, max_size=7), st.lists(st.floats(0, 1), min_size=7, max_size=7))
def test_what_passes_is_beer_lambert(mm: list[float], mu: list[float]) -> None:
    paths: dict[str, Array] = {name: np.full((1, 1), length) for name, length in zip(MATERIALS, mm, strict=True)}
    table = dict(zip(MATERIALS, mu, strict=True))
    expected = math.exp(-sum(a * b for a, b in zip(mm, mu, strict=True)))
    assert math.exp(-weighed(paths, table)[0, 0]) == pytest.approx(expected, rel=1e-9)
    assert weighed(paths, table)[0, 0] == pytest.approx(sum(a * b for a, b in zip(mm, mu, strict=True)))


def test_a_step_wedge_gives_its_steps_back() -> None:
    steps = np.arange(1, 9) * 5.0
    parts = [
        ("cortex", box((10.0 * k - 40, -20, -30), (10.0 * k - 30, -20 + high, 30))) for k, high in enumerate(steps)
    ]
    shot = beam_for("front", size=100, field_mm=100.0, parallel=True)
    passed = np.exp(-weighed(lengths(solids(parts), shot), {"cortex": 0.05}))
    row = -np.log(passed[50]) / 0.05
    assert row[10:90] == pytest.approx(np.repeat(steps, 10), abs=1e-7)
    assert not row[:10].any()
    grey = developed(passed, 1.0, STILL)[50, 10:90:10]
    assert (np.diff(grey) > 0).all()


def test_bone_is_white_air_is_black_and_the_level_is_middle_grey() -> None:
    grey = developed(np.exp([[-9.0, -2.0, 0.0]]), 1.0, STILL)
    assert grey.dtype == np.float32
    assert grey[0, 1] == pytest.approx(0.5)
    assert grey[0, 0] > 0.99
    assert grey[0, 2] < 0.05


def test_automatic_exposure_goes_by_the_middle() -> None:
    met = np.zeros((60, 60))
    met[20:40, 20:40] = 3.0
    assert automatic_level(met) == pytest.approx(3.0)


def test_noise_is_drawn_by_the_seed_and_as_wide_as_poissons_law() -> None:
    passed = np.full((400, 400), math.exp(-2.0))
    how = Response(focal_mm=0, screen_mm=0, even=0, level=2.0, span=4.0, photons=4000.0, seed=5)
    one, same = developed(passed, 1.0, how), developed(passed, 1.0, how)
    assert np.array_equal(one, same)
    # Around middle grey a grey of slope 1 / span follows the attenuation.
    spread = float((one.astype(float) * how.span).std())
    assert spread == pytest.approx(1.0 / math.sqrt(4000.0 * math.exp(-2.0)), rel=0.02)
    few = Response(focal_mm=0, screen_mm=0, even=0, level=2.0, photons=0.001)
    assert np.isfinite(developed(passed, 1.0, few)).all()


def test_few_quanta_are_whole_ones_by_poissons_law() -> None:
    """Poisson's law: whole numbers whose variance is their mean; none is shown as a half, to have a logarithm."""
    how = Response(focal_mm=0, screen_mm=0, even=0, level=0.0, span=8.0, photons=5.0, seed=2)
    grey = developed(np.ones((300, 300)), 1.0, how).astype(float)
    count = 5.0 * (grey / (1.0 - grey)) ** (-how.span / 4.0)
    assert np.abs(count - np.maximum(np.round(count), 0.5))[count > 0.75].max() < 0.01
    assert count.min() == pytest.approx(0.5, abs=0.01)
    count[count < 0.75] = 0.0
    assert count.mean() == pytest.approx(5.0, rel=0.02)
    assert count.var() == pytest.approx(5.0, rel=0.03)


@pytest.mark.parametrize("even", [0.0, 0.75])
def test_what_is_far_from_a_wire_stays_as_it_is_when_the_wire_comes(even: float) -> None:
    met = 2.0 + 0.3 * np.sin(np.indices((120, 120)).sum(axis=0) / 15.0)
    wired = met.copy()
    wired[:, 50:70] += 3.0
    how = Response(even=even)
    without, with_it = (developed(np.exp(-shown), 1.0, how, bare=met) for shown in (met, wired))
    assert np.array_equal(without[:, :40], with_it[:, :40])
    assert (with_it[:, 55:65] > without[:, 55:65]).all()
    unguided = developed(np.exp(-wired), 1.0, how)
    assert not np.allclose(without[:, :40], unguided[:, :40], atol=0.01)


@given(st.floats(0.8, 4.0))
def test_a_blur_keeps_the_sum_and_spreads_by_its_sd(sd: float) -> None:
    spot = np.zeros((61, 61))
    spot[30, 30] = 1.0
    out = blurred(spot, sd)
    assert out.sum() == pytest.approx(1.0)
    variance = (out.sum(axis=0) * (np.arange(61) - 30) ** 2).sum()
    assert variance == pytest.approx(sd**2, rel=0.01)
    assert blurred(np.full((5, 7), 3.0), sd) == pytest.approx(3.0)


def test_broad_shades_are_those_of_a_wide_blur() -> None:
    rows, cols = np.indices((120, 90)) / 30.0
    picture = np.sin(rows) + np.cos(1.3 * cols)
    assert np.abs(broad(picture, 8.0) - blurred(picture, 8.0))[25:-25, 25:-25].max() < 0.02
    assert broad(np.full((40, 40), 2.0), 9.0) == pytest.approx(2.0)


@pytest.mark.parametrize("words", [{"span": 0.0}, {"photons": math.nan}, {"even": 1.5}, {"focal_mm": -1.0}])
def test_a_response_out_of_range_is_refused(words: dict[str, Any]) -> None:
    with pytest.raises(FurcalError, match=next(iter(words))):
        Response(**words)


def test_the_shell_of_a_ball_is_a_ball_less_its_cortex() -> None:
    shape = ball(20.0, finer=3)
    inside = inner(shape, 1.5)
    assert np.linalg.norm(inside.vertices, axis=1) == pytest.approx(18.5, abs=0.02)
    assert inside.is_closed()
    wide = thickness(shape, vertex_normals(shape))
    # The normal at a corner is not quite the radius, and a corner beside it stops the ball early.
    assert wide.min() > 34.0
    assert wide.max() < 40.1


def test_the_shell_of_a_thin_plate_stays_inside_it() -> None:
    fine = ball(20.0, finer=4)
    plate = fine.moved(fine.vertices * [1.0, 0.05, 1.0])  # 2 mm thick at its middle
    inside = inner(plate, 1.5)
    middle = np.hypot(plate.vertices[:, 0], plate.vertices[:, 2]) < 12.0
    assert (inside.vertices[middle, 1] * plate.vertices[middle, 1] >= 0.0).all()
    assert 0.0 < inside.volume() < 0.6 * plate.volume()
    shot = beam_for("front", 90.0, size=200, field_mm=50.0, parallel=True)
    both, outer = (
        lengths(solids([("cortex", plate), ("spongy_spine", inside)]), shot),
        lengths(solids([("cortex", plate)]), shot),
    )
    assert np.abs(both["cortex"] + both["spongy_spine"] - outer["cortex"]).max() < 0.05
