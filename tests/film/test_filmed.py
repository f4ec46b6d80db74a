"""Films of Alder: signs, places, silhouettes, cortex, wires, portals, and the true side film."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.body import Body
from meshes.curves import Array
from meshes.film.attenuation import attenuation
from meshes.film.beam import beam_for
from meshes.film.crossings import crossings, merged
from meshes.film.filmed import (
    ENERGY_KEV,
    Filmed,
    centre_mm,
    coefficients,
    cortex_mm,
    expose,
    portal_metal,
    wired_nerves,
    wires,
)
from meshes.film.lengths import MATERIALS, lengths, solids
from meshes.film.limits import FILM_VIEWS
from meshes.portal import Portal, place
from meshes.surfaces import Surface
from tests.film.shapes import ball
from tests.meshes.refusals import refused

#: Vertebral endplates by the disc that lies between them.
DISCS = ("l1_2", "l2_3", "l3_4", "l4_5")


@pytest.fixture(scope="module")
def filmed(alder: Body) -> Filmed:
    return Filmed.of(alder)


@pytest.fixture(scope="module")
def portal(alder: Body) -> Portal:
    return place(alder, "L4-5", "left", "lateral", 0.5, 11.0)


@pytest.mark.parametrize("parallel", [True, False])
@pytest.mark.parametrize(("view", "turn"), [("front", 0.0), ("left", 0.0), ("right", 8.0), ("front", 35.0)])
def test_ins_and_outs_cancel_at_every_pixel_of_alder_with_wires_and_portal(
    filmed: Filmed, portal: Portal, view: str, turn: float, parallel: bool
) -> None:
    body = filmed.body
    everything = merged(filmed.ready, wires(body, wired_nerves(body), 1.0), portal_metal(portal))
    found = crossings(everything, filmed.beam(view, turn, size=256, parallel=parallel))
    assert len(found.keys) > 100_000
    of_each = found.pixel() * len(MATERIALS) + found.material()
    assert not np.bincount(of_each, found.sign()).any()


def direct(view: str, points: Array, centre: Array, field: float, size: int, far: float, near: float) -> Array:
    """Column and row of points by similar triangles, written axis by axis: from memory, the pinhole's rule."""
    x, y, z = (points - centre).T
    deep, right = {"front": (y, x), "left": (x, y), "right": (-x, -y)}[view]
    grown = far / (near + deep)
    middle = (size - 1) / 2
    return np.stack([middle + right * grown * size / field, middle - z * grown * size / field], axis=1)


@pytest.mark.parametrize("view", FILM_VIEWS)
def test_landmarks_of_alder_fall_where_similar_triangles_put_them(filmed: Filmed, view: str) -> None:
    points = np.array(list(filmed.body.landmarks.points.values()))
    beam = filmed.beam(view, size=512, field_mm=600.0, distance_mm=1100.0, source_to_centre_mm=800.0)
    expected = direct(view, points, centre_mm(filmed.body, view), 600.0, 512, 1100.0, 800.0)
    assert np.abs(beam.project(points) - expected).max() < 1e-8


@pytest.mark.parametrize("name", ["l3", "hip_left", "skin"])
def test_silhouettes_and_lengths_of_alder_agree_with_another_librarys_rays(filmed: Filmed, name: str) -> None:
    """trimesh's own ray query, which knows nothing of pixels."""
    import trimesh
    from trimesh.ray.ray_triangle import RayMeshIntersector

    surface = filmed.body.surfaces[name]
    beam = filmed.beam("left", 10.0, size=24, field_mm=560.0 if name == "skin" else 260.0)
    start, along = (part.reshape(-1, 3) for part in beam.rays())
    caster = RayMeshIntersector(trimesh.Trimesh(surface.vertices, surface.faces, process=False))
    where, ray, face = caster.intersects_location(start, along)
    faced = np.einsum("ij,ij->i", caster.mesh.face_normals[face], along[ray])
    far = np.einsum("ij,ij->i", where - start[ray], along[ray])
    inside = np.bincount(ray, np.sign(faced) * far, minlength=24 * 24).reshape(24, 24)
    ours = lengths(solids([("soft", surface)]), beam)["soft"]
    assert np.count_nonzero(ours) > 5
    assert np.array_equal(ours > 0.0, inside > 0.0)
    assert np.abs(ours - inside).max() < 1e-5


def test_materials_of_alder_fill_its_skin_and_no_more(filmed: Filmed) -> None:
    beam = filmed.beam("front", size=128)
    paths = lengths(filmed.ready, beam)
    skin = lengths(solids([("fat", filmed.body.surfaces["skin"])]), beam)["fat"]
    whole = np.sum(list(paths.values()), axis=0)
    assert np.abs(whole - skin).max() < 1e-9
    assert not paths["air"].any()
    assert not paths["metal"].any()
    assert all(paths[name].max() > 5.0 for name in ("fat", "soft", "cortex", "spongy_spine", "spongy_pelvis"))


# --- the true side film: from memory of the craft, and geometry


@pytest.mark.parametrize("disc", DISCS)
@pytest.mark.parametrize("view", ["left", "right"])
def test_on_a_true_side_film_both_edges_of_an_endplate_superpose(filmed: Filmed, view: str, disc: str) -> None:
    beam = filmed.beam(view, size=512, parallel=True)
    marks = filmed.body.landmarks
    left, right = beam.project(np.array([marks[f"disc_{disc}_{side}"] for side in ("left", "right")]))
    assert left == pytest.approx(right, abs=1e-9)


@pytest.mark.parametrize("pair", ["hip_centre", "lesser_trochanter", "pedicle_l4"])
def test_on_a_true_side_film_both_femoral_heads_superpose_only_when_the_beam_is_parallel(
    filmed: Filmed, pair: str
) -> None:
    marks = np.array([filmed.body.landmarks[f"{pair}_{side}"] for side in ("left", "right")])
    apart = [np.ptp(filmed.beam("left", size=512, parallel=p).project(marks), axis=0).max() for p in (True, False)]
    assert apart[0] == pytest.approx(0.0, abs=1e-9)
    assert apart[1] > 0.1


@given(turn=st.floats(-30.0, 30.0))
def test_a_turned_beam_parts_the_contours_by_the_width_times_the_sine(alder: Body, turn: float) -> None:
    """Orthographic projection: points w apart along the beam's true axis fall w sin(turn) apart."""
    beam = beam_for("left", turn, size=500, field_mm=500.0, parallel=True)
    for name in (*(f"disc_{disc}" for disc in DISCS), "hip_centre"):
        left, right = alder.landmarks[f"{name}_left"], alder.landmarks[f"{name}_right"]
        fell = beam.project(np.array([left, right]))
        wide = float(left[0] - right[0])
        assert abs(fell[0, 0] - fell[1, 0]) == pytest.approx(wide * abs(np.sin(np.radians(turn))), abs=1e-8)
        assert fell[0, 1] == pytest.approx(fell[1, 1], abs=1e-8)


def test_eight_degrees_part_an_endplate_of_alder_by_more_than_six_millimetres(filmed: Filmed) -> None:
    beam = filmed.beam("left", 8.0, size=560, field_mm=560.0, parallel=True)
    marks = filmed.body.landmarks
    fell = beam.project(np.array([marks["disc_l3_4_left"], marks["disc_l3_4_right"]]))
    assert abs(fell[0, 0] - fell[1, 0]) == pytest.approx(47.75 * np.sin(np.radians(8.0)), abs=1e-6)


@pytest.mark.parametrize("tilt", [8.0, -8.0])
def test_a_tilted_beam_makes_two_lines_of_an_endplate(filmed: Filmed, tilt: float) -> None:
    beam = filmed.beam("left", 0.0, tilt, size=560, field_mm=560.0, parallel=True)
    marks = filmed.body.landmarks
    fell = beam.project(np.array([marks["disc_l3_4_left"], marks["disc_l3_4_right"]]))
    assert abs(fell[0, 1] - fell[1, 1]) == pytest.approx(47.75 * np.sin(np.radians(8.0)), abs=1e-6)


# --- cortex


def test_a_vertebra_has_a_thin_shell_before_its_pedicles_and_a_thick_one_behind(alder: Body) -> None:
    rows = attenuation().bones
    thin, thick = rows["vertebral_body"].cortex_mm, rows["posterior_elements"].cortex_mm
    for bone in ("l1", "l2", "l3", "l4", "l5"):
        at, cortex = alder.surfaces[bone].vertices, cortex_mm(alder, bone)
        assert set(cortex.tolist()) == {thin, thick}
        front, tip = at[:, 1].argmin(), at[:, 1].argmax()
        assert (cortex[front], cortex[tip]) == (thin, thick)


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_cortex_of_a_femur_thickens_evenly_from_neck_to_shaft(alder: Body, side: str) -> None:
    rows = attenuation().bones
    z, cortex = alder.surfaces[f"femur_{side}"].vertices[:, 2], cortex_mm(alder, f"femur_{side}")
    top = alder.landmarks[f"lesser_trochanter_{side}"][2]
    assert (cortex[z >= top] == rows["femur_neck"].cortex_mm).all()
    assert cortex[z.argmin()] == pytest.approx(rows["femur_shaft"].cortex_mm)
    assert (np.diff(cortex[np.argsort(-z)]) >= 0.0).all()


@pytest.mark.parametrize(("bone", "row"), [("sacrum", "sacrum"), ("hip_left", "hip"), ("rib_12_right", "rib")])
def test_other_bones_have_one_thickness(alder: Body, bone: str, row: str) -> None:
    assert set(cortex_mm(alder, bone).tolist()) == {attenuation().bones[row].cortex_mm}


# --- wires


def straight(body: Body, nerve: str) -> tuple[Array, Array]:
    """Middle and unit direction (3,) of the straightest inner stretch of a nerve."""
    points = body.centrelines[nerve].points
    ways = np.diff(points, axis=0)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    at = 2 + int(np.einsum("ij,ij->i", ways[2:-3], ways[3:-2]).argmax())
    return 0.5 * (points[at] + points[at + 1]), ways[at]


@pytest.mark.parametrize("gauge", [0.6, 1.0, 2.0])
@pytest.mark.parametrize(("nerve", "gauges"), [("femoral_left", 2), ("iliohypogastric_left", 1)])
def test_a_wire_is_as_thick_as_its_gauge_and_twice_that_along_a_big_nerve(
    alder: Body, nerve: str, gauges: int, gauge: float
) -> None:
    """The longest path across a straight wire is its diameter, over the cosine of its slant: a cylinder's own form."""
    middle, way = straight(alder, nerve)
    view = "front" if abs(way[1]) < abs(way[0]) else "left"
    beam = beam_for(view, centre_mm=middle, size=800, field_mm=20.0, parallel=True)
    # 2 mm about the middle.
    metal = lengths(wires(alder, [nerve], gauge), beam)["metal"][360:440, 360:440]
    slant = np.sqrt(1.0 - float(way @ beam.direction) ** 2)
    # Eight sides: between the circle's diameter and what its flat sides leave, cos 22.5 degrees of it.
    assert 0.90 * gauges * gauge / slant <= metal.max() <= 1.03 * gauges * gauge / slant


def test_two_gauges_go_by_the_thickness_of_the_nerve(alder: Body) -> None:
    """How far a wire's corners lie from the nerve's own line is its radius: half a gauge, or a whole one."""
    from scipy.spatial import cKDTree

    thick = attenuation().metal.thick_from_mm
    for name in wired_nerves(alder):
        line = alder.centrelines[name]
        radius = float(np.median(cKDTree(line.points).query(wires(alder, [name], 1.0).vertices)[0]))
        assert (radius > 0.75) == (float(line.radius.max()) >= thick), name
    assert float(alder.centrelines["femoral_left"].radius.max()) >= thick
    assert float(alder.centrelines["iliohypogastric_left"].radius.max()) < thick


def test_the_sac_has_no_wire_and_every_other_nerve_may(alder: Body) -> None:
    assert set(wired_nerves(alder)) == set(alder.ids("nerve")) - {"dural_sac"}


@pytest.mark.parametrize("gauge", [0.19, 5.01, float("nan"), -1.0])
def test_a_gauge_out_of_range_is_refused(alder: Body, gauge: float) -> None:
    assert "must lie between 0.2 and 5 mm" in refused(wires, alder, ["femoral_left"], gauge)


# --- portal


def test_a_portal_is_a_wall_of_metal_round_what_was_there(alder: Body) -> None:
    """Across a pipe: 2 sqrt(R2 - d2) less 2 sqrt(r2 - d2), the closed form of two cylinders."""
    wall = attenuation().metal.wall_mm
    pipe = straight_portal(alder)
    beam = beam_for("front", size=400, field_mm=40.0, centre_mm=np.array([100.0, 0.0, 0.0]), parallel=True)
    metal = lengths(portal_metal(pipe), beam)["metal"]
    off = np.abs(beam.pixel_centres()[..., 2])
    chord = [2.0 * np.sqrt(np.maximum(r**2 - off**2, 0.0)) for r in (11.0 + wall, 11.0)]
    # 64 sides take 0.12 % of a radius off at the most; at the rim a chord is steep, and there it is not compared.
    calm = np.abs(off - 11.0) > 0.6
    calm &= off < 11.0
    assert np.abs(metal - (chord[0] - chord[1]))[calm].max() < 0.06
    assert not metal[off > 11.0 + wall].any()
    middle = metal[200]
    assert middle == pytest.approx(2.0 * wall, abs=0.002)


def test_what_a_portal_holds_aside_stays_in_the_beam(alder: Body) -> None:
    pipe = straight_portal(alder)
    beam = beam_for("front", size=100, field_mm=40.0, centre_mm=np.array([100.0, 0.0, 0.0]), parallel=True)
    tissue = solids([("soft", ball(60.0, (100.0, 0.0, 0.0)))])
    with_it, without = lengths(merged(tissue, portal_metal(pipe)), beam), lengths(tissue, beam)
    assert np.abs(with_it["soft"] + with_it["metal"] - without["soft"]).max() < 1e-6
    assert with_it["metal"].max() > 0.5
    assert not with_it["air"].any()


def straight_portal(alder: Body) -> Portal:
    """A portal of 22 mm along x, from 160 to 40 mm."""
    docked = place(alder, "L4-5", "left", "lateral", 0.5, 11.0)
    return replace(
        docked,
        entry_mm=np.array([160.0, 0.0, 0.0]),
        end_mm=np.array([40.0, 0.0, 0.0]),
        direction=np.array([-1.0, 0.0, 0.0]),
    )


def test_the_pipe_is_closed_and_has_the_volume_of_two_prisms(alder: Body) -> None:
    ready = portal_metal(straight_portal(alder))
    surface = Surface(ready.vertices, np.ascontiguousarray(ready.corners.T).astype(np.int32))
    assert surface.is_closed()
    wall = attenuation().metal.wall_mm
    ring = 0.5 * 64 * np.sin(2.0 * np.pi / 64) * ((11.0 + wall) ** 2 - 11.0**2)
    assert surface.volume() == pytest.approx(120.0 * ring, rel=1e-9)


# --- exposure


def test_an_exposure_with_metal_and_without(filmed: Filmed, portal: Portal) -> None:
    beam = filmed.beam("left", size=128)
    laid, metal = wires(filmed.body, wired_nerves(filmed.body), 1.0), portal_metal(portal)
    alone = expose(filmed, beam)
    both = expose(filmed, beam, laid, metal)
    assert np.array_equal(alone.bare, alone.plain)
    assert np.array_equal(alone.plain, alone.wired)
    assert (both.wired >= both.plain - 1e-9).all()
    assert (both.wired - both.plain).max() > 0.05
    assert np.array_equal(both.passed(0.0), np.exp(-both.plain))
    assert np.array_equal(both.passed(1.0), np.exp(-both.wired))
    half = both.passed(0.5)
    assert np.allclose(half**2, both.passed(0.0) * both.passed(1.0), rtol=1e-9)
    assert (half > 0.0).all()
    assert (half <= 1.0).all()


def test_bare_leaves_out_the_metal_of_a_portal_and_nothing_else(filmed: Filmed, portal: Portal) -> None:
    beam = filmed.beam("front", size=128)
    shown = expose(filmed, beam, portal=portal_metal(portal))
    metal = lengths(portal_metal(portal), beam)["metal"]
    assert metal.max() > 1.0
    assert np.abs(shown.plain - shown.bare - coefficients(ENERGY_KEV)["metal"] * metal).max() < 1e-7
    assert (shown.bare <= expose(filmed, beam).bare + 1e-7).all()


def test_bare_is_the_body_as_it_is_where_no_metal_stands(filmed: Filmed, portal: Portal) -> None:
    beam = filmed.beam("front", size=128)
    alone = expose(filmed, beam)
    laid = wires(filmed.body, wired_nerves(filmed.body), 1.0)
    paths = lengths(merged(filmed.ready, laid, portal_metal(portal)), beam)
    clear = paths["metal"] == 0.0
    assert clear.mean() > 0.3
    for roughly in (False, True):
        both = expose(filmed, beam, laid, portal_metal(portal), roughly=roughly)
        for shown in (both.bare, both.plain, both.wired):
            assert np.abs(shown - alone.bare)[clear].max() < 1e-7


def test_a_rough_exposure_is_whole_with_wires_and_near_without(filmed: Filmed) -> None:
    beam = filmed.beam("front", size=128)
    laid = wires(filmed.body, wired_nerves(filmed.body), 1.0)
    fine, rough = expose(filmed, beam, laid), expose(filmed, beam, laid, roughly=True)
    assert np.abs(rough.wired - fine.wired).max() < 1e-9
    # What a wire takes the place of lies between fat and cortex, not beyond them.
    mu = coefficients(ENERGY_KEV)
    metal = lengths(merged(filmed.ready, laid), beam)["metal"]
    most = max(mu["cortex"] - mu["soft"], mu["soft"]) * metal
    assert (np.abs(rough.plain - fine.plain) <= most + 1e-7).all()


def test_a_hard_beam_is_weakened_less_and_an_energy_out_of_range_is_refused(filmed: Filmed) -> None:
    beam = filmed.beam("front", size=64)
    soft, hard = (expose(filmed, beam, energy_kev=energy).plain for energy in (50.0, 90.0))
    met = soft > 0.0
    assert met.any()
    assert (hard[met] < soft[met]).all()
    assert "must lie between 40 and 100 keV" in refused(expose, filmed, beam, energy_kev=101.0)


def test_a_beam_from_inside_alder_is_refused(filmed: Filmed) -> None:
    assert "inside the body" in refused(filmed.beam, "front", source_to_centre_mm=100.0)
    assert "unknown view" in refused(filmed.beam, "back")
