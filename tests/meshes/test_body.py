"""The built body: whole, closed, legal and connected, in every posture, size and variant."""

from __future__ import annotations

import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import cKDTree

from meshes import body as module
from meshes import store
from meshes.body import Body, build, load_body
from meshes.curves import Array, Centreline
from meshes.posture import landmarks_for
from meshes.reference import all_courses, ends, reference
from meshes.specimen import ALDER, VARIANTS, Specimen
from meshes.spine import VERTEBRAE
from meshes.structures import DISSECTION, KINDS, LEVELS, SIDES, level_key, other_side, side_of
from meshes.surfaces import tube
from tests.meshes.lines import MIRROR

EVERYONE = {
    "alder": ALDER,
    "supine": Specimen(posture="supine"),
    "prone": Specimen(posture="prone"),
    "broken left": Specimen(table_break_deg=30.0, up="left"),
    "broken right": Specimen(table_break_deg=30.0, up="right"),
    "tall woman": Specimen(sex="female", stature_mm=1850.0),
    "small, bulky": Specimen(stature_mm=1450.0, psoas_scale=1.6),
    "slight": Specimen(psoas_scale=0.5),
    "variants": Specimen(variants=frozenset(VARIANTS)),
    "variants, supine": Specimen(posture="supine", variants=frozenset(VARIANTS)),
}
#: Ids that the contract promises, written without their side.
PAIRED = [
    "hip", "rib_11", "rib_12", "femur", "psoas_major", "iliacus", "quadratus_lumborum", "transversus_abdominis",
    "internal_oblique", "external_oblique", "erector_spinae", "diaphragm_crus", "inguinal_ligament",
    "iliolumbar_ligament", "common_iliac_artery", "external_iliac_artery", "internal_iliac_artery", "femoral_artery",
    "common_iliac_vein", "external_iliac_vein", "internal_iliac_vein", "femoral_vein", "kidney", "ureter", "subcostal",
    "subcostal_lateral_cutaneous", "iliohypogastric", "iliohypogastric_lateral_cutaneous", "ilioinguinal",
    "genitofemoral", "genitofemoral_genital", "genitofemoral_femoral", "lateral_femoral_cutaneous", "femoral",
    "saphenous", "obturator", "obturator_anterior", "obturator_posterior", "furcal", "lumbosacral_trunk",
    "sympathetic_trunk",
    *(f"{v}_{w}" for v in ("t12", "l1", "l2", "l3", "l4", "l5") for w in ("root", "ganglion", "ramus")),
]  # fmt: skip
MIDLINE = [*VERTEBRAE, "sacrum", "aorta", "inferior_vena_cava", "dural_sac", "skin"]
REQUIRED = {
    *MIDLINE, *(f"{name}_{side}" for name in PAIRED for side in SIDES), *(f"disc_{level_key(x)}" for x in LEVELS),
}  # fmt: skip
OPTIONAL = {f"{name}_{side}" for name in ("accessory_obturator", "t12_share") for side in SIDES}
#: A body's surfaces are built from grids of a millimetre or so.
BUILT_MM = 0.6
#: Left and right differ by rounding alone: a warp works out distances from squares.
SIDES_MM = 1e-3


@cache
def body_of(name: str) -> Body:
    return load_body(EVERYONE[name])


@pytest.fixture(scope="module", params=EVERYONE)
def body(request: pytest.FixtureRequest) -> Body:
    return body_of(request.param)


def nearest_on(line: Centreline, point: Array) -> tuple[float, float]:
    """Distance of a point (3,) to a line's middle, and the radius there, mm."""
    a, b = line.points[:-1], line.points[1:]
    share = np.clip(((point - a) * (b - a)).sum(axis=1) / ((b - a) ** 2).sum(axis=1), 0.0, 1.0)
    away = np.linalg.norm(a + share[:, None] * (b - a) - point, axis=1)
    i = int(away.argmin())
    return float(away[i]), float(line.radius[i] + share[i] * (line.radius[i + 1] - line.radius[i]))


def test_every_part_of_the_contract_is_there() -> None:
    present = set(body_of("alder").structures)
    assert not REQUIRED - present
    assert not OPTIONAL & present, "off by default"
    assert set(body_of("variants").structures) - present == OPTIONAL


def test_ids_and_words_are_legal(body: Body) -> None:
    for name, structure in body.structures.items():
        assert structure.id == name
        assert name == name.lower()
        assert name.replace("_", "a").isalnum()
        assert structure.kind in KINDS
        assert structure.layer in DISSECTION
        assert structure.side == side_of(name)
        assert structure.name
        assert structure.latin or structure.kind == "skin"
        if structure.side:
            assert other_side(name) in body.structures
    assert body.ids("skin") == ["skin"]
    assert sum(len(body.ids(kind)) for kind in KINDS) == len(body.structures)
    assert list(body.surfaces) == list(body.structures)


def test_every_structure_is_one_closed_surface_that_looks_outwards(body: Body) -> None:
    for name, surface in body.surfaces.items():
        assert np.isfinite(surface.vertices).all(), name
        assert surface.is_closed(), name
        assert surface.volume() > 0.0, name
        assert set(np.unique(surface.faces)) == set(range(len(surface.vertices))), name


def test_lines_are_finite_long_and_thick(body: Body) -> None:
    kinds = {body.structures[name].kind for name in body.centrelines}
    assert kinds == {"nerve", "vessel", "viscus"}
    assert set(body.ids("nerve")) <= set(body.centrelines)
    assert set(body.ids("vessel")) <= set(body.centrelines)
    for name, line in body.centrelines.items():
        assert np.isfinite(line.points).all(), name
        assert np.isfinite(line.radius).all(), name
        assert line.radius.min() >= 0.2, name
        assert line.radius.max() < 15.0, name
        assert np.diff(line.arc).min() > 0.0, name
        assert line.length > 3.0, name


def test_a_tube_is_the_surface_of_its_line(body: Body) -> None:
    for name in ("femoral_left", "aorta", "l4_ramus_right", "dural_sac", "ureter_left"):
        again = tube(body.centrelines[name])
        np.testing.assert_allclose(body.surfaces[name].vertices, again.vertices, atol=1e-6)


def test_tubes_do_not_run_into_themselves(body: Body) -> None:
    """Where a line leaves the body of what it hangs on, it bends more gently than its tube is thick."""
    for name, line in body.centrelines.items():
        course = all_courses().get(name.removesuffix("_left").removesuffix("_right")) or all_courses()[name]
        steps = np.diff(line.points, axis=0)
        size = np.linalg.norm(steps, axis=1)
        heading = steps / size[:, None]
        turn = np.arccos(np.clip((heading[:-1] * heading[1:]).sum(axis=1), -1.0, 1.0))
        bend = turn / (0.5 * (size[:-1] + size[1:]))
        inside = (line.arc < (12.0 if course.parent else 0.0)) | (
            line.length - line.arc < (12.0 if course.target else 0)
        )
        free = ~inside[1:-1]
        assert (bend[free] * line.radius[1:-1][free]).max(initial=0.0) < 1.0, name


def hanging(body: Body) -> list[tuple[str, str, int]]:
    """Every branch, what it leaves or joins, and the end (0 or -1) at which it does."""
    out = []
    for bare, course in all_courses().items():
        for side in [f"_{s}" for s in SIDES] if course.paired else [""]:
            for other, end in ((course.parent, 0), (course.target, -1)):
                if other and bare + side in body.centrelines:
                    paired = all_courses()[other].paired
                    out.append((bare + side, other + (side if paired else ""), end))
    return out


def test_no_branch_leaves_a_gap_to_what_it_leaves_or_joins(body: Body) -> None:
    assert len(hanging(body)) > 60
    for branch, other, end in hanging(body):
        line, parent = body.centrelines[branch], body.centrelines[other]
        away, radius = nearest_on(parent, line.points[end])
        assert away < 0.1 * radius + 0.02, f"{branch} at {other}: {away:.2f} mm off a tube of {radius:.2f} mm"
        assert line.radius[end] < radius + 0.5, f"{branch} is thicker than {other}"


def test_in_the_default_body_branches_begin_on_the_middle_line() -> None:
    body = body_of("alder")
    for branch, other, end in hanging(body):
        away, _ = nearest_on(body.centrelines[other], body.centrelines[branch].points[end])
        assert away < 0.02, branch


def test_the_body_ends_flat_where_its_table_says() -> None:
    """Tubes, muscles and skin are cut there; nothing stands out of the cut."""
    top, bottom = ends()["top_mm"], ends()["bottom_mm"]
    for variant in ("alder", "variants"):
        for name, surface in body_of(variant).surfaces.items():
            low, high = surface.vertices[:, 2].min(), surface.vertices[:, 2].max()
            beyond = BUILT_MM + (0.3 if name == "skin" else 0.0)  # the skin is cut so much later than what it covers
            assert high < top + beyond, f"{name}: {high - top:.2f} mm above the cut"
            assert low > bottom - beyond, f"{name}: {bottom - low:.2f} mm below the cut"
    skin = body_of("alder").surfaces["skin"].vertices
    assert skin[:, 2].max() == pytest.approx(top + 0.3, abs=BUILT_MM)
    assert skin[:, 2].min() == pytest.approx(bottom - 0.3, abs=BUILT_MM)


def test_what_leaves_the_body_ends_flush_in_the_cut() -> None:
    body = body_of("alder")
    top, bottom = ends()["top_mm"], ends()["bottom_mm"]
    leaving = {name: line for name, line in body.centrelines.items() if any(line.flat)}
    assert {"aorta", "inferior_vena_cava", "dural_sac", "femoral_artery_left", "saphenous_right"} <= set(leaving)
    for name, line in leaving.items():
        for end, flat in zip((0, -1), line.flat, strict=True):
            if flat:
                assert line.points[end, 2] in (top, bottom), name
                ring = tube(line).vertices[[-2, -1][end]]
                assert abs(ring[2] - line.points[end, 2]) < 1e-6, name
    assert not any(body.centrelines["obturator_left"].flat)
    assert not any(body.centrelines["l4_ganglion_left"].flat)


def test_all_lies_within_the_skin_but_where_it_is_cut(body: Body) -> None:
    """By the skin's own box, level by level: the widest and deepest point of everything else is inside it."""
    skin = body.surfaces["skin"].vertices
    for name, surface in body.surfaces.items():
        low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
        assert (low > skin.min(axis=0) - BUILT_MM).all(), name
        assert (high < skin.max(axis=0) + BUILT_MM).all(), name


def mirrored_pairs(body: Body) -> list[str]:
    """Left ids of what is symmetric by contract: nerves, muscles and bones."""
    kinds = ("bone", "disc", "ligament", "muscle", "nerve")
    asymmetric = {"diaphragm_crus_left"}  # the right crus is the longer one
    return [
        name for name, s in body.structures.items()
        if s.side == "left" and s.kind in kinds and name not in asymmetric
    ]  # fmt: skip


@pytest.mark.parametrize("name", ["alder", "supine", "prone", "tall woman", "small, bulky", "variants"])
def test_the_right_side_is_the_mirror_image_of_the_left(name: str) -> None:
    body = body_of(name)
    assert len(mirrored_pairs(body)) > 50
    for left in mirrored_pairs(body):
        right = other_side(left)
        if left in body.centrelines:
            one, other = body.centrelines[left], body.centrelines[right]
            np.testing.assert_allclose(other.points, one.points * MIRROR, atol=SIDES_MM, err_msg=left)
            np.testing.assert_array_equal(other.radius, one.radius)
        else:
            one_s, other_s = body.surfaces[left], body.surfaces[right]
            np.testing.assert_allclose(other_s.vertices, one_s.vertices * MIRROR, atol=SIDES_MM, err_msg=left)


def test_a_table_break_to_the_left_is_the_mirror_image_of_one_to_the_right() -> None:
    left, right = body_of("broken left"), body_of("broken right")
    names = mirrored_pairs(left) + [other_side(n) for n in mirrored_pairs(left)]
    for name in names:
        there = other_side(name)
        if name in left.centrelines:
            here, other = left.centrelines[name].points, right.centrelines[there].points
        else:
            here, other = left.surfaces[name].vertices, right.surfaces[there].vertices
        np.testing.assert_allclose(other, here * MIRROR, atol=SIDES_MM, err_msg=name)


def test_midline_bones_and_discs_are_their_own_mirror_image() -> None:
    body = body_of("alder")
    for name in [n for n in body.structures if n in ("sacrum", "skin") or n.startswith(("disc_", "l", "t1"))]:
        if side_of(name) or name in body.centrelines:
            continue
        vertices = body.surfaces[name].vertices
        away, _ = cKDTree(vertices).query(vertices * MIRROR)
        assert away.max() < 1e-3, name


def test_a_specimen_carries_its_landmarks_and_itself() -> None:
    for name, specimen in EVERYONE.items():
        body = body_of(name)
        assert body.specimen == specimen
        for word, point in landmarks_for(specimen).points.items():
            np.testing.assert_array_equal(body.landmarks[word], point)


def test_the_default_body_is_the_tables_own() -> None:
    """Its bones stand at the landmarks they were built from."""
    body = body_of("alder")
    for bone, name in (
        ("hip_left", "asis_left"),
        ("hip_right", "psis_right"),
        ("femur_left", "lesser_trochanter_left"),
    ):
        away = np.linalg.norm(body.surfaces[bone].vertices - body.landmarks[name], axis=1).min()
        assert away < 6.0, f"{name}: {away:.1f} mm from {bone}"


@pytest.mark.parametrize("scale", [0.5, 1.6])
def test_psoas_grows_by_its_section_area(scale: float) -> None:
    """Cut level by level across the middle of the muscle: area by its own closed outline."""
    usual, other = body_of("alder"), body_of("slight" if scale == 0.5 else "small, bulky")
    size = (other.specimen.stature_mm or 1690.0) / 1690.0
    for level in ("L2-3", "L3-4", "L4-5"):
        areas = []
        for body, by in ((usual, 1.0), (other, size)):
            height = float(body.landmarks[f"disc_{level_key(level)}_centre"][2])
            areas.append(section_area(body, "psoas_major_left", height) / by**2)
        assert areas[1] / areas[0] == pytest.approx(scale, rel=0.12), level


def section_area(body: Body, name: str, height_mm: float) -> float:
    """Area of a surface's horizontal section, by Green's theorem over the faces it cuts."""
    corners = body.surfaces[name].triangles()
    above = corners[..., 2] > height_mm
    total = 0.0
    for triangle, up in zip(corners, above, strict=True):
        if up.all() or not up.any():
            continue
        cut = []
        for i in range(3):
            a, b = triangle[i], triangle[(i + 1) % 3]
            if up[i] != up[(i + 1) % 3]:
                share = (height_mm - a[2]) / (b[2] - a[2])
                cut.append((a + share * (b - a), up[i]))
        (p, p_down), (q, _) = cut
        start, stop = (q, p) if p_down else (p, q)
        total += 0.5 * float(start[0] * stop[1] - start[1] * stop[0])
    return abs(total)


def test_bones_only_move_and_scale() -> None:
    usual = body_of("alder").surfaces
    for name in ("supine", "prone", "broken left", "slight"):
        for bone in ("l3", "hip_left", "sacrum", "rib_12_right", "femur_left"):
            assert body_of(name).surfaces[bone].volume() == pytest.approx(usual[bone].volume(), rel=1e-4), (name, bone)
    size = 1450.0 / 1690.0
    for bone in ("l3", "hip_left"):
        assert body_of("small, bulky").surfaces[bone].volume() == pytest.approx(
            size**3 * usual[bone].volume(), rel=1e-4
        )


def test_soft_parts_keep_most_of_their_volume_when_the_body_bends() -> None:
    usual = body_of("alder").surfaces
    for name in ("prone", "broken left"):
        for part in ("psoas_major_left", "psoas_major_right", "iliacus_left", "quadratus_lumborum_left", "skin"):
            assert body_of(name).surfaces[part].volume() == pytest.approx(usual[part].volume(), rel=0.35), (name, part)


def test_lying_on_the_side_kidneys_and_the_upper_ureter_fall_forward_together() -> None:
    side, back = body_of("alder"), body_of("supine")
    fall = back.surfaces["kidney_left"].vertices[:, 1] - side.surfaces["kidney_left"].vertices[:, 1]
    assert fall.min() > 5.0
    assert np.ptp(fall) < 1e-3
    ureters = [b.centrelines["ureter_left"].points[:, 1] for b in (back, side)]
    assert ureters[0][0] - ureters[1][0] == pytest.approx(float(fall[0]), abs=1e-3)
    assert ureters[0][-1] == pytest.approx(float(ureters[1][-1]), abs=1e-3)


def test_lying_on_the_back_the_plexus_lies_further_forward() -> None:
    side, back = body_of("alder"), body_of("supine")
    disc = side.landmarks["disc_l3_4_centre"][2]
    for nerve in ("femoral_left", "obturator_left", "genitofemoral_left", "l3_ramus_left"):
        here, there = (b.centrelines[nerve].points for b in (side, back))
        near = int(np.abs(here[:, 2] - disc).argmin())
        assert 1.0 < here[near, 1] - there[near, 1] < 11.0, nerve
    for nerve in ("dural_sac", "sympathetic_trunk_left", "subcostal_left"):
        np.testing.assert_allclose(back.centrelines[nerve].points, side.centrelines[nerve].points, atol=1e-3)


def changed(variant: str) -> set[str]:
    """Ids whose line a variant alone moves, adds or takes away."""
    usual, other = body_of("alder").centrelines, build(Specimen(variants=frozenset({variant}))).centrelines
    moved = {n for n in usual if n in other and not np.array_equal(usual[n].points, other[n].points)}
    shifted = {n for n in moved if usual[n].points.shape != other[n].points.shape}
    far = {n for n in moved - shifted if np.abs(usual[n].points - other[n].points).max() > 1e-4}
    return shifted | far | (set(usual) ^ set(other))


@pytest.mark.parametrize(
    ("variant", "want"),
    [
        ("accessory_obturator_left", {"accessory_obturator_left"}),
        ("t12_share_right", {"t12_share_right"}),
        ("lfcn_lateral_to_asis_right", {"lateral_femoral_cutaneous_right", "l3_lateral_femoral_cutaneous_right"}),
        (
            "genitofemoral_split_left",
            {
                "genitofemoral_left",
                "l1_genitofemoral_left",
                "genitofemoral_genital_left",
                "genitofemoral_femoral_left",
            },
        ),
    ],
)
def test_a_variant_of_one_side_changes_what_it_names_on_that_side_only(variant: str, want: set[str]) -> None:
    assert changed(variant) == want


def test_a_high_division_of_the_aorta_changes_vessels_only() -> None:
    found = changed("aorta_divides_high")
    assert {"aorta", "common_iliac_artery_left", "common_iliac_artery_right"} <= found
    assert {body_of("alder").structures[n].kind for n in found} == {"vessel"}
    high = build(Specimen(variants=frozenset({"aorta_divides_high"})))
    divides = high.centrelines["aorta"].points[-1, 2]
    assert divides > body_of("alder").centrelines["aorta"].points[-1, 2] + 10.0
    assert divides > high.landmarks["disc_l3_4_centre"][2], "at the L3-4 disc or higher"


def same(one: Body, other: Body) -> None:
    assert one.structures == other.structures
    assert list(one.structures) == list(other.structures)
    assert list(one.surfaces) == list(other.surfaces)
    assert list(one.centrelines) == list(other.centrelines)
    for name, line in one.centrelines.items():
        np.testing.assert_array_equal(other.centrelines[name].points, line.points, err_msg=name)
        np.testing.assert_array_equal(other.centrelines[name].radius, line.radius, err_msg=name)
        assert other.centrelines[name].flat == line.flat
    for name, surface in one.surfaces.items():
        np.testing.assert_array_equal(other.surfaces[name].faces, surface.faces, err_msg=name)
        np.testing.assert_array_equal(other.surfaces[name].vertices, surface.vertices, err_msg=name)


@pytest.mark.parametrize("name", ["alder", "broken left", "variants, supine"])
def test_the_kept_body_is_the_built_body_to_the_last_bit(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One question has one answer, whether the body was built for it or kept from before."""
    reference()
    (kept,) = store.folder().glob(f"reference-{store.tables_hash()}.npz")
    shutil.copy(kept, tmp_path)
    monkeypatch.setenv("FURCAL_CACHE", str(tmp_path))
    first = load_body(EVERYONE[name])
    assert len(list(tmp_path.iterdir())) == 2
    monkeypatch.setattr(module, "build", None)
    same(first, load_body(EVERYONE[name]))


def test_building_twice_gives_the_same_body() -> None:
    same(build(EVERYONE["broken left"]), build(EVERYONE["broken left"]))


def test_a_kept_body_is_found_by_what_shapes_it_and_not_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = body_of("alder")
    monkeypatch.setenv("FURCAL_CACHE", str(tmp_path))
    built: list[Specimen] = []

    def watched(specimen: Specimen, progress: object = None) -> Body:
        built.append(specimen)
        return replace(usual, specimen=specimen)

    monkeypatch.setattr(module, "build", watched)
    first = load_body(ALDER)
    again = load_body(Specimen(name="Yew", seed=7))
    assert [first.specimen.name, again.specimen.name] == ["Alder", "Yew"]
    assert built == [ALDER]
    for other in (Specimen(psoas_scale=1.1), Specimen(posture="supine"), Specimen(variants=frozenset({VARIANTS[0]}))):
        load_body(other)
        assert built[-1] == other
    for path in tmp_path.iterdir():
        path.write_bytes(b"damaged")
    load_body(ALDER)
    assert built[-1] == ALDER
    assert len(built) == 5


def test_a_cache_that_cannot_be_used_costs_time_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = body_of("alder")
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("FURCAL_CACHE", str(tmp_path / "file"))
    monkeypatch.setattr(module, "build", lambda *_: usual)
    same(load_body(ALDER), usual)
    assert (tmp_path / "file").read_text() == "in the way"


def test_a_body_cannot_be_written_on() -> None:
    body = body_of("alder")
    for array in (body.surfaces["l3"].vertices, body.surfaces["l3"].faces, body.centrelines["femoral_left"].points):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
