"""A click is judged along the surface of what was clicked, never through it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.spot.along import along_mm, ways_over
from meshes.body import Body
from meshes.curves import Array
from meshes.landmarks import Landmarks
from meshes.specimen import ALDER
from meshes.structures import Structure
from meshes.surfaces import Surface, tube
from tests.contact.bodies import box, ellipsoid, line


def body_of(**surfaces: Surface) -> Body:
    structures = {n: Structure(n, n, n, "nerve" if n.startswith("nerve") else "muscle") for n in surfaces}
    return Body(ALDER, Landmarks({}, {}, {}, {}), structures, surfaces, {})


#: A slab with its front at y = -10 and its back at y = 10; one nerve on either face, one within, one over a gap.
SLAB = body_of(
    muscle=box((-40.0, -10.0, -60.0), (40.0, 10.0, 60.0), step=5.0),
    nerve_front=tube(line([(0, -11, -60), (0, -11, 60)], 1.0)),
    nerve_back=tube(line([(0, 11, -60), (0, 11, 60)], 1.0)),
    nerve_within=tube(line([(0, -7, -60), (0, -7, 60)], 1.0)),
    nerve_off=tube(line([(0, -16, -60), (0, -16, 60)], 1.0)),
)
#: A sheet 3 mm thick, with a nerve on its inner face.
SHEET = body_of(
    muscle=box((-40.0, -1.5, -60.0), (40.0, 1.5, 60.0), step=5.0), nerve=tube(line([(0, 2.5, -60), (0, 2.5, 60)], 1.0))
)


def at(*point: float) -> Array:
    return np.array(point, dtype=float)


@pytest.mark.parametrize("x", [2.0, 6.0, 11.5, 17.0])
def test_a_nerve_that_lies_on_a_face_is_as_far_as_one_walks(x: float) -> None:
    away = along_mm(SLAB, "muscle", at(x, -10.0, 3.0), "nerve_front", 30.0)
    straight = np.hypot(x, 1.0) - 1.0
    assert straight - 0.1 <= away <= 1.1 * x + 0.1


def test_a_nerve_behind_a_muscle_is_far_however_near_it_is_through_it() -> None:
    assert along_mm(SLAB, "muscle", at(0.0, -10.0, 0.0), "nerve_back", 30.0) == np.inf
    assert along_mm(SHEET, "muscle", at(0.0, -1.5, 0.0), "nerve", 20.0) == np.inf
    assert along_mm(SHEET, "muscle", at(0.0, 1.5, 0.0), "nerve", 20.0) == pytest.approx(0.0, abs=0.2)


def test_a_way_round_the_border_is_the_whole_way() -> None:
    """From the front, 4 mm from the border, round a sheet 3 mm thick, and 4 mm back to a nerve on the other face."""
    body = body_of(
        muscle=box((-40.0, -1.5, -60.0), (40.0, 1.5, 60.0), step=4.0),
        nerve=tube(line([(36, 2.5, -60), (36, 2.5, 60)], 1.0)),
    )
    away = along_mm(body, "muscle", at(36.0, -1.5, 0.0), "nerve", 20.0)
    assert 10.0 <= away <= 12.3


def test_a_nerve_within_a_muscle_is_not_on_it() -> None:
    assert along_mm(SLAB, "muscle", at(0.0, -10.0, 0.0), "nerve_within", 6.0) == np.inf


def test_a_gap_in_front_is_counted_straight() -> None:
    assert along_mm(SLAB, "muscle", at(0.0, -10.0, 0.0), "nerve_off", 10.0) == pytest.approx(5.0, abs=0.3)
    assert along_mm(SLAB, "muscle", at(0.0, -10.0, 0.0), "nerve_off", 4.0) == np.inf


def test_what_was_asked_for_itself_is_no_way() -> None:
    assert along_mm(SLAB, "nerve_front", at(0.0, -12.0, 0.0), "nerve_front", 1.0) == 0.0


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.floats(2.0, 20.0))
def test_no_way_on_a_body_is_shorter_than_the_straight_line(alder: Body, seed: int, most: float) -> None:
    """The naive distance to the nearest corner or the middle of any edge of the target is the lower bound."""
    clicked, target = ("psoas_major_left", "genitofemoral_left") if seed % 2 else ("iliacus_left", "femoral_left")
    surface, aimed = alder.surfaces[clicked], alder.surfaces[target]
    near = np.linalg.norm(surface.vertices[:, None] - aimed.vertices[None, ::12], axis=2).min(axis=1)
    start = surface.vertices[np.argsort(near)[seed % 300]]
    away = along_mm(alder, clicked, start, target, most)
    if away < np.inf:
        corners = aimed.triangles()
        share = np.array([[a, b, 8 - a - b] for a in range(9) for b in range(9 - a)]) / 8.0
        straight = np.linalg.norm(np.einsum("sk,tkj->tsj", share, corners) - start, axis=2).min()
        assert away >= straight - 0.15
        assert away <= most


def test_ways_over_a_sphere_are_those_of_great_circles() -> None:
    ball = ellipsoid((0.0, 0.0, 0.0), (20.0, 20.0, 20.0), rings=60)
    start = ball.vertices[1234]
    ways = ways_over(ball.vertices, ball.faces.astype(np.int64), start)
    true = 20.0 * np.arccos(np.clip(ball.vertices @ start / 400.0, -1.0, 1.0))
    far = true > 5.0
    ratio = ways[far] / true[far]
    assert ratio.min() >= 0.995  # chords of the triangles cut a little off the sphere
    assert ratio.max() <= 1.12
    assert np.all(ways >= np.linalg.norm(ball.vertices - start, axis=1) - 1e-6)


def test_on_alder_a_nerve_on_psoas_is_near_along_it_and_one_behind_it_is_not(alder: Body) -> None:
    psoas = alder.surfaces["psoas_major_left"].vertices
    front = psoas[psoas[:, 1] < np.median(psoas[:, 1])]
    nerve = alder.centrelines["genitofemoral_left"].points
    gaps = np.linalg.norm(front[:, None] - nerve[None], axis=2).min(axis=1)
    on = front[gaps.argmin()]
    assert along_mm(alder, "psoas_major_left", on, "genitofemoral_left", 6.0) <= 3.0
    trunk = alder.surfaces["lumbosacral_trunk_left"].vertices
    assert np.linalg.norm(trunk - on, axis=1).min() > 6.0
    assert along_mm(alder, "psoas_major_left", on, "lumbosacral_trunk_left", 6.0) == np.inf
