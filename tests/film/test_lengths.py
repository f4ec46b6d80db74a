"""Path lengths against closed forms and another library's rays; overlaps and ranks against counted cells."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.curves import Centreline
from meshes.errors import FurcalError
from meshes.film.beam import Beam, beam_for
from meshes.film.crossings import crossings, merged
from meshes.film.lengths import MATERIALS, lengths, solids
from meshes.film.limits import FILM_VIEWS
from meshes.surfaces import Surface, tube
from tests.film.shapes import ball, box, rotation, through_ball, through_box

#: Steps of depth that two ends of an interval may each be off by, mm.
EXACT_MM = 2e-9


def beam(
    view: str = "front",
    turn: float = 0.0,
    cranial: float = 0.0,
    size: int = 64,
    field: float = 128.0,
    parallel: bool = True,
) -> Beam:
    return beam_for(view, turn, cranial, size=size, field_mm=field, parallel=parallel)


def odd_meshes(seed: int) -> list[Surface]:
    """Closed surfaces that try the rule: corners on pixel centres, on rows only, needles, flat and folded ones."""
    draw = np.random.default_rng(seed)
    corner = draw.integers(-30, 0, 3)
    sphere = ball(25.0, finer=1)
    crumpled = ball(1.0, finer=2)
    hair = draw.integers(-3, 4, crumpled.vertices.shape) * 1e-14 * (draw.random(crumpled.vertices.shape) < 0.5)
    line = np.cumsum(draw.normal(0, 6, (6, 3)), axis=0)
    c, s = np.cos(np.pi / 2), np.sin(np.pi / 2)  # not quite 0: edges that all but lie on a row
    quarter = np.array([[c, -s, 0], [0, 0, 1], [-s, -c, 0]])
    return [
        box(corner, corner + draw.integers(1, 40, 3)),
        box(corner + 0.5, corner + 20.5),
        box(corner, corner + 30, quarter),
        box(corner, corner + draw.integers(1, 40, 3), rotation(seed)),
        sphere.moved(np.round(sphere.vertices)),
        sphere.moved(np.round(sphere.vertices @ rotation(seed).T) * [1, 1, 0]),
        sphere.moved(draw.normal(0, 20, sphere.vertices.shape)),
        # Some last digits off the pixel centres: rounding may carry an edge over a column that its corners stop at.
        crumpled.moved(np.round(draw.normal(0, 5, crumpled.vertices.shape)) + hair),
        tube(Centreline(line, np.full(6, 2.0))),
    ]


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 2**31),
    view=st.sampled_from(FILM_VIEWS),
    parallel=st.booleans(),
    turn=st.sampled_from([0.0, 45.0, 90.0, 17.3]),
    size=st.sampled_from([64, 65]),
    field=st.sampled_from([63.0, 64.0, 65.0, 20.0]),
)
def test_ins_and_outs_cancel_at_every_pixel_of_any_closed_surface(
    seed: int, view: str, parallel: bool, turn: float, size: int, field: float
) -> None:
    shot = beam(view, turn, size=size, field=field, parallel=parallel)
    for mesh in odd_meshes(seed):
        found = crossings(solids([("soft", mesh)]), shot)
        assert not np.bincount(found.pixel(), found.sign(), minlength=1).any()


@given(seed=st.integers(0, 2**31), view=st.sampled_from(FILM_VIEWS), parallel=st.booleans())
@settings(max_examples=30, deadline=None)
def test_a_turned_box_is_as_long_as_its_slabs_overlap(seed: int, view: str, parallel: bool) -> None:
    shot = beam(view, 20.0, -10.0, parallel=parallel, field=128.0 if parallel else 190.0)
    turn, low, high = rotation(seed), (-30.0, -11.0, -24.0), (17.0, 22.0, 31.0)
    ours = lengths(solids([("soft", box(low, high, turn))]), shot)["soft"]
    assert np.abs(ours - through_box(shot, low, high, turn)).max() < 1e-8


def test_a_straight_box_is_exact_and_counts_each_pixel_once() -> None:
    shot = beam(size=64, field=64.0)  # pixel centres at whole and a half mm
    left, right = box((-10.5, -7, -5.5), (0.5, 9, 4.5)), box((0.5, -7, -5.5), (8.5, 9, 4.5))
    one, other = (lengths(solids([("soft", part)]), shot)["soft"] for part in (left, right))
    for part, wide in ((one, 11), (other, 8)):
        assert np.count_nonzero(part) == wide * 10
        assert np.abs(part[part > 0] - 16.0).max() < EXACT_MM
    assert not (one * other).any()


@pytest.mark.parametrize("parallel", [True, False])
def test_a_ball_of_triangles_lies_between_the_spheres_inside_and_around_it(parallel: bool) -> None:
    shape = ball(40.0, (3.0, -5.0, 2.0), finer=4)
    a, b, c = np.moveaxis(shape.triangles() - np.array([3.0, -5.0, 2.0]), 1, 0)
    across = np.cross(b - a, c - a)
    least = float((np.einsum("ij,ij->i", a, across) / np.linalg.norm(across, axis=1)).min())
    shot = beam("left", parallel=parallel, field=100.0 if parallel else 160.0, size=101)
    ours = lengths(solids([("soft", shape)]), shot)["soft"]
    assert (ours <= through_ball(shot, 40.0, (3.0, -5.0, 2.0)) + EXACT_MM).all()
    assert (ours >= through_ball(shot, least, (3.0, -5.0, 2.0)) - EXACT_MM).all()
    assert 40.0 - least < 0.1


def test_the_mean_length_times_the_area_is_the_volume() -> None:
    shape = ball(40.0, finer=2)
    shot = beam(size=800, field=100.0)
    total = lengths(solids([("soft", shape)]), shot)["soft"].sum() * shot.pixel_mm**2
    assert total == pytest.approx(shape.volume(), rel=1e-4)


#: Material, low corner, sides.
Drawn = tuple[str, tuple[int, int, int], tuple[int, int, int]]
BOXES = st.lists(
    st.tuples(
        st.sampled_from(MATERIALS),
        st.tuples(*[st.integers(-20, 19)] * 3),
        st.tuples(*[st.integers(1, 25)] * 3),
    ),
    min_size=1,
    max_size=12,
)


@settings(max_examples=60, deadline=None)
@given(BOXES)
def test_overlapping_boxes_give_each_place_to_the_highest_rank_once(drawn: list[Drawn]) -> None:
    shot = beam("left", size=40, field=40.0)  # looks along x; pixels at whole and a half mm of y and z
    off = np.array([0, 0.25, 0.25])
    parts = [(m, box(off + at, off + at + size)) for m, at, size in drawn]
    ours = lengths(solids(parts), shot)
    cells = np.zeros((64, 40, 40), dtype=int)  # 1 mm of x, row, column
    y = np.arange(40) - 19.5
    z = 19.5 - np.arange(40)
    x = np.arange(-20, 44)
    for m, at, size in drawn:
        inside = [(v >= a) & (v < a + s) for v, a, s in zip((x, y - 0.25, z - 0.25), at, size, strict=True)]
        block = inside[0][:, None, None] & inside[2][None, :, None] & inside[1][None, None, :]
        cells = np.where(block, np.maximum(cells, MATERIALS.index(m) + 1), cells)
    for k, name in enumerate(MATERIALS):
        assert np.abs(ours[name] - (cells == k + 1).sum(axis=0)).max() < 64 * EXACT_MM


@pytest.mark.parametrize("shift", [0.0, 1e-7, 13.0, 60.0])
def test_two_balls_of_one_material_count_once(shift: float) -> None:
    shot = beam(size=80, field=100.0)
    one, other = ball(20.0), ball(20.0, (0.0, shift, 0.0))
    both = lengths(solids([("cortex", one), ("cortex", other)]), shot)["cortex"]
    alone = lengths(solids([("cortex", one)]), shot)["cortex"]
    # Along the ray the second is the first, moved: they are apart, or they make one piece longer by the shift.
    assert both == pytest.approx(np.where(alone > 0, alone + np.minimum(alone, shift), 0.0), abs=1e-7)


def test_metal_that_sticks_out_of_the_skin_is_metal_and_takes_only_what_it_fills() -> None:
    shot = beam(size=50, field=50.0)
    parts = [
        ("soft", box((-20, -20, -20), (20, 20, 20))),
        ("air", box((-5, -15, -5), (5, -5, 5))),
        ("cortex", box((-10, -10, -10), (10, 10, 10))),
        ("spongy_spine", box((-8, -8, -8), (8, 8, 8))),
        ("metal", box((-2, -30, -2), (2, 0, 2))),
    ]
    middle = {name: path[25, 25] for name, path in lengths(solids(parts), shot).items()}
    none = dict.fromkeys(MATERIALS, 0.0)
    filled = {"metal": 30, "spongy_spine": 8, "cortex": 2, "soft": 10}
    assert middle == pytest.approx(none | filled, abs=1e-8)
    beside = {name: path[25, 28] for name, path in lengths(solids(parts), shot).items()}
    filled = {"spongy_spine": 16, "cortex": 4, "air": 5, "soft": 15}
    assert beside == pytest.approx(none | filled, abs=1e-8)


def test_a_surface_turned_inside_out_is_nothing() -> None:
    shot = beam(size=50, field=50.0)
    outer = box((-20, -20, -20), (20, 20, 20))
    inside_out = box((-10, -10, -10), (10, 10, 10))
    inside_out = Surface(inside_out.vertices.copy(), np.ascontiguousarray(inside_out.faces[:, ::-1]))
    for low, high in (("soft", "metal"), ("metal", "soft"), ("cortex", "spongy_spine")):
        ours = lengths(solids([(low, outer), (high, inside_out)]), shot)
        assert ours[low][25, 25] == pytest.approx(40.0, abs=1e-8)
        assert ours[high][25, 25] == 0.0


def test_a_body_and_its_wires_may_be_made_ready_apart() -> None:
    shot = beam(size=50, field=50.0)
    body, wires = [("soft", ball(20.0))], [("metal", box((-1, -30, -15), (1, 0, 15))), ("soft", ball(5.0, (0, 18, 0)))]
    apart, whole = lengths(merged(solids(body), solids(wires)), shot), lengths(solids(body + wires), shot)
    for name in MATERIALS:
        assert np.array_equal(apart[name], whole[name])


@pytest.mark.parametrize("parallel", [True, False])
def test_silhouette_and_length_agree_with_another_librarys_rays(parallel: bool) -> None:
    import trimesh
    from trimesh.ray.ray_triangle import RayMeshIntersector

    shape = tube(Centreline(np.array([[-30.0, 5, -25], [-5, -10, 0], [10, 20, 10], [35, 0, 28]]), np.full(4, 7.0)))
    shot = beam("right", 33.0, 12.0, size=24, field=90.0 if parallel else 140.0, parallel=parallel)
    start, along = (part.reshape(-1, 3) for part in shot.rays())
    if parallel:
        start = start - 500.0 * along
    mesh = trimesh.Trimesh(shape.vertices, shape.faces, process=False)
    where, ray, _ = RayMeshIntersector(mesh).intersects_location(start, along)
    far = np.einsum("ij,ij->i", where - start[ray], along[ray])
    face_in = np.zeros(24 * 24)
    for pixel in np.unique(ray):
        ends = np.sort(far[ray == pixel])
        face_in[pixel] = (ends[1::2] - ends[0::2]).sum()
    ours = lengths(solids([("metal", shape)]), shot)["metal"]
    assert np.array_equal(ours > 0, face_in.reshape(24, 24) > 0)
    assert np.abs(ours - face_in.reshape(24, 24)).max() < 1e-6


def test_nothing_and_what_falls_beside_the_film_leave_it_empty() -> None:
    shot = beam(size=32, field=32.0)
    for parts in ([], [("soft", ball(10.0, (200.0, 0, 0)))], [("soft", ball(10.0, (0, 0, 200.0)))]):
        assert not any(path.any() for path in lengths(solids(parts), shot).values())


def test_a_part_that_reaches_over_the_films_rim_is_cut_not_moved() -> None:
    wide, narrow = beam(size=200, field=200.0), beam(size=100, field=100.0)
    body = solids([("soft", ball(70.0))])
    assert np.abs(lengths(body, wide)["soft"][50:150, 50:150] - lengths(body, narrow)["soft"]).max() < 1e-8


def test_what_lies_behind_the_source_and_an_unknown_material_are_refused() -> None:
    with pytest.raises(FurcalError, match="behind the source"):
        crossings(solids([("soft", ball(10.0, (0, -900.0, 0)))]), beam(parallel=False))
    with pytest.raises(FurcalError, match="unknown material"):
        solids([("bone", ball(10.0))])
