"""Table parts become the shapes that they describe: volumes and distances against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.curves import Array
from meshes.fields import to_surface
from meshes.lofts import Loft, loft_distance
from meshes.nets import Net, dense_net
from meshes.solids import (
    Balls,
    draw,
    keep_largest,
    read_parts,
    soften,
    solid_field,
)
from tests.meshes.drawing import build_solid
from tests.meshes.lines import MIRROR
from tests.meshes.madeup import Row, at, built, drum, made_up, part


def superellipse_area(half_width: float, half_depth: float, power: float) -> float:
    """Closed form by the gamma function."""
    from scipy.special import gamma

    share = gamma(1.0 + 1.0 / power) ** 2 / gamma(1.0 + 2.0 / power)
    return float(4.0 * half_width * half_depth * share)


@pytest.mark.parametrize("radius", [6.0, 12.0])
def test_a_ball_has_the_volume_of_a_ball(radius: float) -> None:
    surface = built(part("ball", points=[at(radius=radius)]))
    assert surface.is_closed()
    assert surface.volume() == pytest.approx(4.0 / 3.0 * np.pi * radius**3, rel=0.02)


def test_a_straight_sweep_is_a_capsule_and_a_tapering_one_the_hull_of_its_balls() -> None:
    capsule = built(part("sweep", points=[at(0.0, radius=6.0), at(25.0, radius=6.0), at(50.0, radius=6.0)]))
    assert capsule.volume() == pytest.approx(np.pi * 36.0 * 50.0 + 4.0 / 3.0 * np.pi * 216.0, rel=0.02)
    cone = built(part("sweep", points=[at(0.0, radius=10.0), at(60.0, radius=5.0)]))
    sine = 5.0 / 60.0  # of the cone that touches both balls: closed form of their hull
    cosine = np.sqrt(1.0 - sine**2)
    wide, thin, high = 10.0 * cosine, 5.0 * cosine, 60.0 - 5.0 * sine
    frustum = np.pi * high / 3.0 * (wide**2 + wide * thin + thin**2)

    def cap(radius: float, beyond: float) -> float:
        return float(np.pi * (radius - beyond) ** 2 * (2.0 * radius + beyond) / 3.0)

    whole = frustum + cap(10.0, -10.0 * sine) + cap(5.0, 5.0 * sine)
    assert cone.volume() == pytest.approx(whole, rel=0.02)


def test_a_closed_sweep_is_a_ring() -> None:
    """Torus: 2 pi^2 R r^2; eight controls of Catmull-Rom stand within 1 % of the circle."""
    angle = np.linspace(0.0, 2.0 * np.pi, 9)[:-1]
    points = [at(0.0, 40.0 * np.cos(a), 40.0 * np.sin(a), radius=6.0) for a in angle]
    ring = built(part("sweep", points=points, closed=True))
    assert ring.is_closed()
    assert len(ring.vertices) - len(ring.faces) // 2 == 0, "Euler: a ring has one hole"
    assert ring.volume() == pytest.approx(2.0 * np.pi**2 * 40.0 * 36.0, rel=0.04)
    open_ring = built(part("sweep", points=points))
    assert open_ring.volume() < 0.95 * ring.volume()


def test_a_sheet_is_a_slab_with_round_edges() -> None:
    """A rectangle grown by a radius: slab, half cylinders along its edges, one ball at its corners."""
    rows = [[at(z, x, radius=4.0) for x in (0.0, 20.0, 40.0)] for z in (0.0, 30.0, 60.0)]
    slab = built(part("sheet", rows=rows))
    want = 40.0 * 60.0 * 8.0 + np.pi * 16.0 * (40.0 + 60.0) + 4.0 / 3.0 * np.pi * 64.0
    assert slab.volume() == pytest.approx(want, rel=0.02)


def test_a_plate_is_as_thick_as_it_says_and_its_edges_are_round() -> None:
    rows = [[at(z, x, radius=2.0) for x in (0.0, 30.0, 60.0)] for z in (0.0, 40.0, 80.0)]
    plate = built(part("plate", rows=rows), spacing=0.8)
    corner = np.pi * 4.0 * (60.0 + 80.0) + 4.0 / 3.0 * np.pi * 8.0
    assert plate.volume() == pytest.approx(60.0 * 80.0 * 4.0 + corner, rel=0.02)
    inner = plate.vertices[(np.abs(plate.vertices[:, 0] - 30.0) < 25.0) & (np.abs(plate.vertices[:, 2] - 40.0) < 35.0)]
    np.testing.assert_allclose(np.abs(inner[:, 1]), 2.0, atol=0.1)


def test_a_plate_of_varying_thickness_is_measured_by_its_own_closed_form() -> None:
    controls = np.array([[[x, 0.0, z, 1.0 + x / 20.0] for x in (0.0, 20.0, 40.0)] for z in (0.0, 20.0, 40.0)])
    measure = dense_net(controls).distance()
    probe = np.array([[x, y, 20.0] for x in np.linspace(2.0, 38.0, 19) for y in (-6.0, -1.0, 0.0, 3.0, 6.0)])
    np.testing.assert_allclose(measure(probe), np.abs(probe[:, 1]) - (1.0 + probe[:, 0] / 20.0), atol=0.06)
    beyond = np.array([[-5.0, 0.0, 20.0], [-3.0, 4.0, 20.0], [43.0, -4.0, 20.0], [20.0, 3.0, 44.0]])
    np.testing.assert_allclose(measure(beyond), [4.0, 4.0, 2.0, 3.0], atol=0.06)


@pytest.mark.parametrize("power", [2.0, 3.0, 4.0])
@pytest.mark.parametrize(("width", "depth"), [(14.0, 14.0), (20.0, 10.0)])
def test_a_loft_has_the_volume_of_its_section_times_its_height(width: float, depth: float, power: float) -> None:
    surface = built(drum(width, depth, 40.0, power))
    assert surface.is_closed()
    assert surface.volume() == pytest.approx(40.0 * superellipse_area(width, depth, power), rel=0.02)
    assert np.ptp(surface.vertices, axis=0) == pytest.approx([2.0 * width, 2.0 * depth, 40.0], abs=0.8)


def test_a_loft_that_widens_is_a_frustum() -> None:
    sections = [at(z, half_width=8.0 + z / 5.0, half_depth=8.0 + z / 5.0) for z in (0.0, 20.0, 40.0)]
    frustum = np.pi * 40.0 / 3.0 * (64.0 + 8.0 * 16.0 + 256.0)
    assert built(part("loft", sections=sections)).volume() == pytest.approx(frustum, rel=0.02)


def test_a_loft_across_its_path_has_sections_square_to_it() -> None:
    """Pappus, for a quarter ring; with sections held level it would be thinner where it runs level."""
    angle = np.linspace(0.0, np.pi / 2.0, 7)
    sections = [at(40.0 * np.sin(a), 0.0, 40.0 * np.cos(a), half_width=6.0, half_depth=6.0) for a in angle]
    across = built(part("loft", sections=sections, plane="path"))
    assert across.volume() == pytest.approx(np.pi * 36.0 * 40.0 * np.pi / 2.0, rel=0.03)


def test_hollow_ends_take_a_bowl_from_a_loft() -> None:
    """A paraboloid of depth `sink` and the loft's own radius: half of its cylinder, at both ends."""
    flat, sunk = built(drum(15.0, 15.0, 30.0)), built(drum(15.0, 15.0, 30.0, sink=3.0))
    assert flat.volume() - sunk.volume() == pytest.approx(2.0 * np.pi * 225.0 * 3.0 / 2.0, rel=0.06)


@settings(max_examples=40)
@given(st.floats(5.0, 30.0), st.floats(5.0, 30.0), st.integers(0, 2**32 - 1))
def test_the_distance_to_an_elliptic_loft_is_exact_to_first_order_near_its_wall(
    width: float, depth: float, seed: int
) -> None:
    """Against steps along the wall's own normal: closed form of an ellipse."""
    axes = np.repeat(np.eye(3)[None], 2, axis=0)
    loft = Loft(np.array([[0.0, 0, -50], [0, 0, 50]]), axes, np.array([[width, depth]] * 2), np.array([2.0, 2.0]), 0.0)
    angle = np.random.default_rng(seed).uniform(0.0, 2.0 * np.pi, 60)
    wall = np.stack([width * np.cos(angle), depth * np.sin(angle), 0.0 * angle], axis=1)
    normal = np.stack([np.cos(angle) / width, np.sin(angle) / depth, 0.0 * angle], axis=1)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    np.testing.assert_allclose(loft_distance(loft, wall), 0.0, atol=1e-9)
    step = 0.001
    for sign in (1.0, -1.0):
        found = loft_distance(loft, wall + sign * step * normal)
        np.testing.assert_allclose(found, sign * step, rtol=0.05)


def test_the_distance_to_a_round_loft_is_exact_outside_wall_and_rim() -> None:
    axes = np.repeat(np.eye(3)[None], 2, axis=0)
    loft = Loft(np.array([[0.0, 0, 0], [0, 0, 20]]), axes, np.full((2, 2), 10.0), np.array([2.0, 2.0]), 0.0)
    probe = np.array([[14.0, 0, 10], [0, -8, 10], [0, 0, 24], [0, 0, -3], [13, 0, 24], [0, 13, -4], [0, 0, 10]])
    np.testing.assert_allclose(loft_distance(loft, probe), [4.0, -2.0, 4.0, 3.0, 5.0, 5.0, -10.0], atol=1e-6)
    many = np.tile(probe, (4000, 1))
    np.testing.assert_array_equal(loft_distance(loft, many), np.tile(loft_distance(loft, probe), 4000))


def test_an_outline_takes_centre_and_sizes_from_its_four_landmarks() -> None:
    """The name stands without _inner and side; what its landmarks span is the section."""
    names = {f"drum_{word}_left" for word in ("inner", "outer", "front", "back")}
    assert names <= set(made_up().points)
    row = part("loft", sections=[{"outline": "drum"}, at(40.0, 32.0, half_width=12.0, half_depth=15.0)])
    (drawn,) = read_parts([row], made_up(), "here")
    assert isinstance(drawn.drawing, Loft)
    np.testing.assert_allclose(drawn.drawing.centres[0], [32.0, 0.0, 10.0])
    np.testing.assert_allclose(drawn.drawing.half[0], [12.0, 15.0])
    np.testing.assert_allclose(drawn.drawing.half[-1], [12.0, 15.0])


def test_a_turned_section_swings_its_outer_end_to_the_back() -> None:
    size = {"half_width": 20.0, "half_depth": 5.0, "turn": 30.0}
    surface = built(part("loft", sections=[at(0.0, **size), at(20.0, **size)]))
    across = surface.vertices[:, :2] @ [np.cos(np.radians(30.0)), np.sin(np.radians(30.0))]
    along = surface.vertices[:, :2] @ [-np.sin(np.radians(30.0)), np.cos(np.radians(30.0))]
    assert np.ptp(across) == pytest.approx(40.0, abs=0.8)
    assert np.ptp(along) == pytest.approx(10.0, abs=0.8)


def test_what_is_carved_is_gone_and_what_is_joined_later_is_not_carved() -> None:
    ball, hole = part("ball", points=[at(radius=12.0)]), part("ball", points=[at(12.0, radius=6.0)], carve=True)
    carved = built(ball, hole)
    # lens of two balls, closed form: radii 12 and 6, centres 12 apart
    lens = np.pi * (12.0 + 6.0 - 12.0) ** 2 * (144.0 + 24.0 * 6.0 + 24.0 * 12.0 - 3.0 * (6.0 - 12.0) ** 2) / 144.0
    assert carved.volume() == pytest.approx(4.0 / 3.0 * np.pi * 1728.0 - lens, rel=0.02)
    assert np.linalg.norm(carved.vertices - [0.0, 0.0, 12.0], axis=1).min() > 5.5
    plugged = built(ball, hole, part("ball", points=[at(12.0, radius=6.0)]))
    assert plugged.volume() > built(ball).volume()


def test_a_fillet_adds_at_the_crease_and_nowhere_else() -> None:
    two = [part("ball", points=[at(radius=10.0)]), part("ball", points=[at(14.0, radius=10.0)])]
    filleted = [two[0], {**two[1], "blend": 4.0}]
    sharp, soft = built(*two), built(*filleted)
    assert soft.volume() > sharp.volume() + 20.0
    waist = [np.hypot(*s.vertices[np.abs(s.vertices[:, 2] - 7.0) < 0.6][:, :2].T).mean() for s in (sharp, soft)]
    assert waist[1] > waist[0] + 0.3
    assert soft.vertices[:, 2].min() == pytest.approx(sharp.vertices[:, 2].min(), abs=0.05)


def test_both_also_draws_the_other_side() -> None:
    row = part("sweep", points=[{"at": "hub", "radius": 8.0}, {"at": "hub", "up": 20, "lateral": 6, "radius": 5.0}])
    one, two = built(row), built({**row, "both": True})
    assert two.volume() == pytest.approx(2.0 * one.volume(), rel=1e-3)
    parts = read_parts([{**row, "both": True, "carve": True, "blend": 2.0}], made_up(), "here")
    assert [(p.takes_away, p.blend) for p in parts] == [(True, 2.0), (True, 2.0)]
    assert isinstance(parts[0].drawing, Balls)
    assert isinstance(parts[1].drawing, Balls)
    np.testing.assert_array_equal(parts[1].drawing.centres, parts[0].drawing.centres * MIRROR)


@pytest.mark.parametrize(
    "row",
    [
        part("ball", points=[{"at": "hub", "radius": 9.0}]),
        part("plate", rows=[[at(z, 30.0 + x, radius=2.0) for x in (0.0, 10.0, 20.0)] for z in (0.0, 20.0)]),
        part("loft", sections=[at(z, 30.0, half_width=9.0, half_depth=6.0, turn=20.0) for z in (0.0, 9.0, 20.0)]),
        part(
            "loft", sections=[at(z, 30.0, half_width=9.0, half_depth=6.0) for z in (0.0, 9.0, 20.0)], hollow=2, sink=1
        ),
    ],
    ids=["ball", "plate", "turned loft", "dented loft"],
)
def test_the_other_side_is_measured_as_the_mirror_image(row: Row) -> None:
    one, other = (p.drawing for p in read_parts([{**row, "both": True}], made_up(), "here"))
    probe = np.random.default_rng(1).uniform([10.0, -25.0, -20.0], [60.0, 25.0, 40.0], (500, 3))

    def measured(drawing: Balls | Loft | Net, points: Array) -> Array:
        if isinstance(drawing, Balls):
            away = np.linalg.norm(points[:, None] - drawing.centres, axis=2) - drawing.radii
            return np.asarray(away.min(axis=1))
        return drawing.distance()(points) if isinstance(drawing, Net) else loft_distance(drawing, points)

    np.testing.assert_allclose(measured(other, probe * MIRROR), measured(one, probe), atol=1e-9)


def test_a_drawing_fills_the_box_it_reaches_and_nothing_beyond_it() -> None:
    parts = read_parts([drum(12.0, 9.0, 30.0), part("ball", points=[at(60.0, radius=5.0)])], made_up(), "here")
    field = solid_field(parts, 1.5)
    assert field.values.shape == tuple(np.ceil((field.grid()[-1, -1, -1] - field.origin) / 1.5).astype(int) + 1)
    for one in parts:
        box, values = draw(field, one.drawing)
        assert values.shape == field.values[box].shape
        for axis in range(3):
            for end in (0, -1):
                assert np.take(values, end, axis=axis).min() > 0.5 * field.band


def test_softening_keeps_the_volume_and_takes_the_edge() -> None:
    parts = read_parts([drum(15.0, 15.0, 30.0)], made_up(), "here")
    hard = solid_field(parts, 1.0)
    soft = soften(hard, 2.0)
    assert to_surface(soft).volume() == pytest.approx(to_surface(hard).volume(), rel=0.06)
    rim = np.array([[15.0, 0.0, 30.0]])
    assert soft.at(rim)[0] > hard.at(rim)[0] + 0.3
    np.testing.assert_array_equal(soft.origin, hard.origin)


def test_crumbs_are_dropped_and_the_largest_piece_stays() -> None:
    parts = read_parts(
        [part("ball", points=[at(radius=10.0)]), part("ball", points=[at(40.0, radius=4.0)])], made_up(), "here"
    )
    field = solid_field(parts, 1.0)
    both = to_surface(field).volume()
    keep_largest(field)
    alone = to_surface(field)
    assert both - alone.volume() == pytest.approx(4.0 / 3.0 * np.pi * 64.0, rel=0.1)
    assert alone.vertices[:, 2].max() < 11.0
    before = field.values.copy()
    keep_largest(field)
    np.testing.assert_array_equal(field.values, before)


def test_a_solid_keeps_clear_of_another_by_the_gap() -> None:
    ball = part("ball", points=[at(radius=10.0)])
    wall, _ = build_solid([drum(20.0, 20.0, 30.0)], made_up(), "wall", spacing=1.0)
    _, surface = build_solid([ball], made_up(), "here", spacing=1.0, clear_of=[(wall, 1.5)])
    assert surface.is_closed()
    assert surface.vertices[:, 2].max() == pytest.approx(-1.5, abs=0.2)
    assert wall.at(surface.vertices).min() == pytest.approx(1.5, abs=0.2)
    assert surface.volume() < 2.0 / 3.0 * np.pi * 1000.0
