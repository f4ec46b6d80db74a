"""The built body: whole, closed, legal and connected, in every posture, size and variant."""

from __future__ import annotations

import numpy as np
import pytest

from meshes.body import Body
from meshes.curves import Array, Centreline
from meshes.posture import landmarks_for
from meshes.reference import all_courses, ends
from meshes.spine import VERTEBRAE
from meshes.structures import DISSECTION, KINDS, LEVELS, SIDES, level_key, other_side, side_of
from meshes.surfaces import tube
from tests.meshes.everyone import BUILT_MM, EVERYONE, body_of

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


def test_a_body_cannot_be_written_on() -> None:
    body = body_of("alder")
    for array in (body.surfaces["l3"].vertices, body.surfaces["l3"].faces, body.centrelines["femoral_left"].points):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
