"""Courses: read from sentences, drawn through their waypoints, begun and ended inside what they hang on."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.courses import Course, Waypoint, cut_at_ends, draw_course, order, read_courses
from meshes.curves import Array, Centreline, spline
from meshes.errors import FurcalError
from meshes.posture import reference_landmarks
from meshes.reference import COURSE_TABLES, all_courses, solid_rows
from meshes.specimen import MIDLINE_VARIANTS, SIDED_VARIANTS
from meshes.spine import spine_table
from meshes.structures import DISSECTION, Structure, side_of
from meshes.surfaces import tube
from meshes.tables import ANATOMY, read_toml
from meshes.tolerances import COURSE_SAMPLES_MAX, COURSE_STEP_MM, END_REACH_MM, INSIDE_PARENT_MM, SQUARE_WITHIN_MM
from tests.meshes.lines import MIRROR, centrelines, straight, wandering
from tests.meshes.refusals import refused

HEAD = 'name = "Twig"\nlatin = "ramulus"\nkind = "nerve"\nlayer = "psoas"\n'
STEM = f"""
[stem]
{HEAD}roots = "L2"
group = "plexus"
paired = true
way = [
  {{ at = "pedicle_l2", lateral = 5, radius = 2, says = "leaves below its pedicle", source = "judgement" }},
  {{ at = "disc_l3_4_centre", lateral = 40, radius = 1.5, inside = "psoas_major", source = "judgement" }},
  {{ at = "asis", medial = 20, radius = 1, on = "iliacus", gap_mm = 0.3, says = "ends", source = "judgement" }},
]
"""
TWIG = f"""
[twig]
{HEAD}paired = true
from = "stem"
leaves = 0.5
way = [{{ at = "asis", radius = 0.5, source = "judgement" }}]
[twig.when.t12_share]
way = [{{ at = "psis", radius = 0.5, source = "judgement" }}]
"""
LEVELS = f"""
["{{v}}_twig"]
for = ["l2", "l3"]
names = {{ l2 = "Twig of L2", l3 = "Twig of L3" }}
latins = {{ l2 = "ramulus II", l3 = "ramulus III" }}
{HEAD.partition("kind")[1]}{HEAD.partition("kind")[2]}paired = true
way = [
  {{ at = "pedicle_{{v}}", down = "0.5 pedicle_height_mm", radius = "0.5 ganglion_radius_mm", source = "judgement" }},
  {{ at = "body_{{v}}_centre", radius = 1, source = "judgement" }},
]
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "twigs.toml"
    path.write_text(text)
    return path


def read(folder: Path, text: str) -> dict[str, Course]:
    return read_courses(written(folder, text), reference_landmarks())


def waypoint(*point: float, radius: float = 1.0) -> Waypoint:
    return Waypoint(np.array(point), radius)


def course(name: str = "twig", **words: object) -> Course:
    made = Course(Structure(f"{name}_left", name, name, "nerve", "left"), True, [])
    return replace(made, **words)  # type: ignore[arg-type]  # whatever fields a test sets


def test_a_course_is_read_as_it_is_written(tmp_path: Path) -> None:
    landmarks = reference_landmarks()
    stem = read(tmp_path, STEM)["stem"]
    assert stem.structure == Structure("stem_left", "Twig", "ramulus", "nerve", "left", "L2", "psoas", "plexus")
    assert stem.paired
    assert (stem.parent, stem.leaves, stem.target, stem.joins, stem.variant) == ("", 1.0, "", 0.0, "")
    assert [w.radius for w in stem.way] == [2.0, 1.5, 1.0]
    assert [w.says for w in stem.way] == ["leaves below its pedicle", "", "ends"]
    assert [(w.on, w.inside, w.gap_mm) for w in stem.way] == [
        ("", "", 0.5), ("", "psoas_major", 0.5), ("iliacus", "", 0.3),
    ]  # fmt: skip
    np.testing.assert_allclose(stem.way[2].point, landmarks["asis_left"] - [20.0, 0.0, 0.0], atol=1e-9)


def test_a_branch_says_what_it_leaves_and_a_variant_replaces_its_way(tmp_path: Path) -> None:
    landmarks = reference_landmarks()
    twig = read(tmp_path, STEM + TWIG)["twig"]
    assert (twig.parent, twig.leaves) == ("stem", 0.5)
    assert list(twig.when) == ["t12_share"]
    np.testing.assert_array_equal(twig.way[0].point, landmarks["asis_left"])
    np.testing.assert_array_equal(twig.when["t12_share"][0].point, landmarks["psis_left"])


def test_a_template_serves_every_level(tmp_path: Path) -> None:
    found, table, landmarks = read(tmp_path, LEVELS), spine_table(), reference_landmarks()
    assert list(found) == ["l2_twig", "l3_twig"]
    for level in ("l2", "l3"):
        one = found[f"{level}_twig"]
        assert one.structure.id == f"{level}_twig_left"
        assert one.structure.roots == level.upper()
        assert one.structure.name == f"Twig of {level.upper()}"
        assert one.way[0].radius == 0.5 * table(level, "ganglion_radius_mm")
        down = landmarks[f"pedicle_{level}_left"] - one.way[0].point
        assert np.linalg.norm(down) == pytest.approx(0.5 * table(level, "pedicle_height_mm"))


def test_unpaired_courses_keep_their_own_name_and_side(tmp_path: Path) -> None:
    text = STEM.replace("[stem]", "[stem_right]").replace("paired = true\n", "")
    stem = read(tmp_path, text)["stem_right"]
    assert (stem.structure.id, stem.structure.side, stem.paired) == ("stem_right", "right", False)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (STEM.replace("paired", "pared"), "[stem]: unknown key 'pared'. Nearest: paired"),
        (STEM.replace('kind = "nerve"\n', ""), "[stem]: 'kind' is missing."),
        (STEM.replace('"nerve"', '"nrv"'), "[stem]: unknown kind 'nrv'. Nearest: nerve. Legal: bone, "),
        (STEM.replace('layer = "psoas"', 'layer = "soas"'), "[stem]: unknown layer 'soas'. Nearest: psoas"),
        (STEM.replace('name = "Twig"\n', ""), "[stem]: 'name' is missing."),
        (STEM.replace('"asis"', '"asiss"'), "[stem], waypoint 3: unknown landmark 'asiss'. Nearest: asis"),
        (STEM.replace("medial = 20", 'medial = "far"'), "[stem], waypoint 3, medial: expected a number, found 'far'."),
        (STEM.replace("medial = 20", "meedial = 20"), "[stem], waypoint 3: unknown key 'meedial'. Nearest: medial"),
        (STEM.replace("radius = 1.5", "radius = 0"), "[stem], waypoint 2, radius: 0 is not more than 0."),
        (STEM.replace("radius = 1.5", "radius = -1"), "[stem], waypoint 2, radius: -1 is not more than 0."),
        (STEM.replace("radius = 1.5, ", ""), "[stem], waypoint 2: 'radius' is missing."),
        (STEM.replace("gap_mm = 0.3", "gap_mm = nan"), "[stem], waypoint 3, gap_mm: expected a finite number"),
        (STEM.replace('source = "judgement"', 'source = "hearsay"'), "[stem], waypoint 1: unknown source 'hearsay'."),
        (f"[stem]\n{HEAD}", "[stem]: name two waypoints, or one and another course to leave or join."),
        (f"[stem]\n{HEAD}way = []\n", "[stem]: name two waypoints, or one and another course to leave or join."),
        (STEM + TWIG.replace('from = "stem"\n', ""), "[twig]: name two waypoints, or one and another course to leave"),
        (STEM + TWIG.replace('"stem"', '"stm"'), "[twig]: unknown course 'stm'. Nearest: stem"),
        (STEM + TWIG.replace("leaves = 0.5", 'to = "root"'), "[twig]: unknown course 'root'."),
        (STEM + TWIG.replace("0.5\nway", "1.5\nway"), "[twig], leaves: 1.5 is outside 0 to 1."),
        (STEM + TWIG.replace("0.5\nway", "nan\nway"), "[twig], leaves: expected a finite number, found nan."),
        (STEM + TWIG.replace("leaves = 0.5", 'to = "stem"\njoins = -0.1'), "[twig], joins: -0.1 is outside 0 to 1."),
        (
            STEM + TWIG.replace("t12_share", "t12_shar"),
            "[twig]: unknown variant 't12_shar'. Nearest: t12_share. Legal:",
        ),
        (STEM + TWIG.replace("]\nway", "]\nsays"), "[twig], when t12_share: 'way' is missing."),
        (STEM + 'variant = "wings"\n', "[stem]: unknown variant 'wings'."),
        (STEM.replace("[stem]\n", '[stem]\nfor = ["l2"]\n'), "[stem]: 'names' is missing."),
        (LEVELS.replace(', l3 = "Twig of L3"', ""), "[{v}_twig], names: 'l3' is missing."),
        (LEVELS.replace("pedicle_height_mm", "height"), "[{v}_twig], l2, waypoint 1, down: unknown quantity 'height'."),
        (LEVELS.replace('["l2", "l3"]', '["l2", "l2"]'), "[{v}_twig], l2: l2_twig stands twice."),
        (LEVELS + STEM.replace("[stem]", "[l2_twig]"), "[l2_twig]: l2_twig stands twice."),
    ],
)
def test_a_course_that_cannot_be_used_is_told_by_file_name_and_waypoint(text: str, said: str, tmp_path: Path) -> None:
    path = written(tmp_path, text)
    assert refused(read_courses, path, reference_landmarks()).startswith(f"{path}, {said}")


def test_courses_come_after_what_they_leave_and_join() -> None:
    hanging = {
        "e": course(parent="d", target="b"), "d": course(parent="a"), "c": course(), "b": course(parent="c"),
        "a": course(),
    }  # fmt: skip
    found = order(hanging)
    assert sorted(found) == ["a", "b", "c", "d", "e"]
    for name, one in hanging.items():
        for other in (one.parent, one.target):
            assert not other or found.index(other) < found.index(name)


@pytest.mark.parametrize(
    ("hanging", "said"),
    [
        ({"a": course(parent="a")}, "courses: a -> a runs in a circle."),
        ({"a": course(parent="b"), "b": course(target="a")}, "courses: a -> b -> a runs in a circle."),
        (
            {"x": course(), "a": course(parent="b"), "b": course(parent="x", target="c"), "c": course(parent="a")},
            "courses: a -> b -> c -> a runs in a circle.",
        ),
    ],
)
def test_a_circle_of_courses_is_told(hanging: dict[str, Course], said: str) -> None:
    assert refused(order, hanging) == said


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=10))
def test_any_hanging_is_ordered_or_told_to_be_a_circle(links: list[tuple[int, int]]) -> None:
    hanging = {f"c{i}": course() for i in range(10)}
    for i, (parent, target) in enumerate(links):
        hanging[f"c{i}"] = course(
            parent=f"c{parent}" if parent != i else "", target=f"c{target}" if target != i else ""
        )
    above = {n: {o for o in (c.parent, c.target) if o} for n, c in hanging.items()}
    free: set[str] = set()
    while ready := {n for n, others in above.items() if others <= free} - free:
        free |= ready
    try:
        found = order(hanging)
    except FurcalError:
        found = []
    assert bool(found) == (len(free) == 10)
    assert all(above[name] <= set(found[:i]) for i, name in enumerate(found))


WAYS = st.integers(0, 2**32 - 1).flatmap(
    lambda seed: st.integers(2, 9).map(lambda n: wandering(seed, n, 25.0, 0.4))
)  # fmt: skip


@given(WAYS)
def test_a_free_course_runs_through_its_waypoints(points: Array) -> None:
    way = [waypoint(*p, radius=1.0 + i / 4.0) for i, p in enumerate(points)]
    drawn = draw_course(course(), way, None, None)
    line = drawn.line
    np.testing.assert_allclose(line.points[[0, -1]], points[[0, -1]], atol=1e-9)
    assert (drawn.fixed_start, drawn.fixed_end) == (False, False)
    gap = np.diff(line.arc).max()
    away = np.linalg.norm(line.points[None] - points[:, None], axis=2)
    assert away.min(axis=1).max() <= 0.51 * gap
    assert 17 <= len(line.points) <= COURSE_SAMPLES_MAX + 1
    assert line.radius.min() >= 0.2
    np.testing.assert_allclose(line.radius[[0, -1]], [way[0].radius, way[-1].radius])
    chord = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert len(line.points) >= min(chord / COURSE_STEP_MM, COURSE_SAMPLES_MAX)


@given(WAYS)
def test_samples_know_between_which_waypoints_they_lie(points: Array) -> None:
    drawn = draw_course(course(), [waypoint(*p) for p in points], None, None)
    assert drawn.before[0] == 0
    assert drawn.before[-1] == len(points) - 1
    assert (np.diff(drawn.before) >= 0).all()
    fine = spline(points, 2000)
    own = np.array([np.linalg.norm(fine - p, axis=1).argmin() for p in points])
    where = np.array([np.linalg.norm(fine - p, axis=1).argmin() for p in drawn.line.points])
    tall = 2000 // (len(drawn.line.points) - 1)
    for sample, waypoint_before in zip(where, drawn.before, strict=True):
        assert sample >= own[waypoint_before] - tall


@given(centrelines(), WAYS, st.floats(0.0, 1.0))
def test_a_branch_begins_on_its_parents_middle_line(parent: Centreline, points: Array, leaves: float) -> None:
    line = draw_course(course(leaves=leaves), [waypoint(*p) for p in points], parent, None).line
    start = leaves * parent.length
    back = start - INSIDE_PARENT_MM if start >= INSIDE_PARENT_MM else start
    np.testing.assert_allclose(line.points[0], parent.at(back), atol=1e-9)
    assert line.radius[0] <= max(np.interp(start, parent.arc, parent.radius), 0.2) + 1e-9
    np.testing.assert_allclose(line.points[-1], points[-1], atol=1e-9)


@given(centrelines(), WAYS, st.floats(0.0, 1.0))
def test_a_course_that_joins_another_ends_on_its_middle_line(target: Centreline, points: Array, joins: float) -> None:
    drawn = draw_course(course(joins=joins), [waypoint(*p) for p in points], None, target)
    end = min(joins * target.length + INSIDE_PARENT_MM, target.length)
    np.testing.assert_allclose(drawn.line.points[-1], target.at(end), atol=1e-9)
    assert (drawn.fixed_start, drawn.fixed_end) == (False, True)


def test_a_branch_leaves_at_an_acute_angle() -> None:
    """It runs with its parent for the length inside, and turns away only then."""
    parent = straight(np.zeros(3), np.array([0.0, 0.0, 100.0]), 3.0, 51)
    line = draw_course(course(leaves=0.6), [waypoint(30.0, 0.0, 70.0), waypoint(60.0, 0.0, 60.0)], parent, None).line
    np.testing.assert_allclose(line.points[0], [0.0, 0.0, 55.0])
    heading = np.diff(line.points[:2], axis=0)[0]
    assert heading[2] / np.linalg.norm(heading) > 0.9
    inside = line.points[line.arc < INSIDE_PARENT_MM]
    assert np.hypot(inside[:, 0], inside[:, 1]).max() < 1.0


def test_a_course_without_waypoints_runs_from_its_parent_to_its_target() -> None:
    parent = straight(np.zeros(3), np.array([0.0, 0.0, 40.0]), 2.0, 21)
    target = straight(np.array([30.0, 0.0, 60.0]), np.array([30.0, 0.0, 120.0]), 2.0, 31)
    line = draw_course(course(joins=0.5), [], parent, target).line
    np.testing.assert_allclose(line.points[0], [0.0, 0.0, 35.0])
    np.testing.assert_allclose(line.points[-1], [30.0, 0.0, 95.0])


@given(WAYS)
def test_the_other_side_is_drawn_as_the_mirror_image(points: Array) -> None:
    one = draw_course(course(), [waypoint(*p) for p in points], None, None).line
    other = draw_course(course(), [waypoint(*(p * MIRROR)) for p in points], None, None).line
    np.testing.assert_array_equal(other.points, one.points * MIRROR)


BODY_ENDS = {"top_mm": 100.0, "bottom_mm": -50.0}


@given(st.floats(-90.0, 40.0), st.floats(60.0, 140.0), st.floats(-20.0, 20.0), st.integers(20, 90))
def test_a_line_is_cut_flat_where_it_leaves_the_body_and_only_there(
    low: float, high: float, lean: float, samples: int
) -> None:
    line = straight(np.array([5.0, 0.0, low]), np.array([5.0 + lean, lean, high]), 2.0, samples)
    cut = cut_at_ends(line, BODY_ENDS)
    assert cut.flat == (low <= -50.0 + END_REACH_MM, high >= 100.0 - END_REACH_MM)
    assert cut.points[0, 2] == (-50.0 if cut.flat[0] else low)
    assert cut.points[-1, 2] == (100.0 if cut.flat[1] else high)
    assert cut.points[:, 2].min() >= -50.0
    assert cut.points[:, 2].max() <= 100.0
    assert (np.diff(cut.points[:, 2]) > 0.0).all(), "it runs on and on, with no flat stretch in the cut"
    step = np.linalg.norm(line.points[1] - line.points[0])
    gaps = np.diff(cut.arc)
    assert gaps.min() > 0.3 * step
    assert gaps.max() < 1.6 * step + 1.1 * END_REACH_MM
    inner = (cut.points[:, 2] > -50.0 + SQUARE_WITHIN_MM) & (cut.points[:, 2] < 100.0 - SQUARE_WITHIN_MM)
    along = (cut.points[inner] - line.points[0]) @ (line.points[-1] - line.points[0]) / line.length
    np.testing.assert_allclose(cut.points[inner], line.at(along), atol=1e-9)
    assert len(cut.radius) == len(cut.points)


def test_an_end_that_is_cut_stands_square_to_the_cut() -> None:
    line = straight(np.array([0.0, 0.0, -58.0]), np.array([20.0, 30.0, 60.0]), 8.0, 60)
    cut = cut_at_ends(line, BODY_ENDS)
    heading = cut.points[1] - cut.points[0]
    assert heading[2] / np.linalg.norm(heading) > 0.998
    ring = tube(cut).vertices[: 3 * 12]
    assert ring[:, 2].min() > -50.0 - 0.5
    bare = tube(replace(line, flat=(True, False))).vertices[: 3 * 12]
    assert np.ptp(bare[:, 2]) > 4.0, "left as it was, it would not"


def test_a_line_that_ends_inside_the_body_is_left_alone() -> None:
    line = straight(np.array([0.0, 0.0, -45.0]), np.array([20.0, 30.0, 95.0]), 2.0, 30)
    cut = cut_at_ends(line, BODY_ENDS)
    np.testing.assert_array_equal(cut.points, line.points)
    np.testing.assert_array_equal(cut.radius, line.radius)
    assert cut.flat == (False, False)


def test_the_words_of_every_course_of_the_body_are_legal() -> None:
    solids = {r.structure.id.removesuffix("_left") if r.paired else r.structure.id for r in solid_rows()}
    for name, one in all_courses().items():
        structure = one.structure
        assert structure.layer in DISSECTION, name
        assert structure.side == side_of(structure.id), name
        assert structure.group in {
            "nerve": ("root", "plexus", "wall", "other"), "vessel": ("artery", "vein"), "viscus": ("", "ureter"),
        }[structure.kind], name  # fmt: skip
        for variant in (*one.when, *([one.variant] if one.variant else [])):
            assert variant in (SIDED_VARIANTS if one.paired else MIDLINE_VARIANTS), name
        for way in (one.way, *one.when.values()):
            for w in way:
                assert not w.on or not w.inside, name
                assert {w.on, w.inside} - {""} <= solids, name
    says = [w.says for one in all_courses().values() for w in one.way]
    assert sum(map(bool, says)) > 0.5 * len(says)


def test_no_course_says_nothing() -> None:
    """Whoever reads a course aloud needs at least one phrase; the shares that only join are said by what they join."""
    silent = [n for n, one in all_courses().items() if not any(w.says for w in one.way)]
    assert not silent


def test_no_course_stands_in_two_tables() -> None:
    tables = [set(read_courses(ANATOMY / t, reference_landmarks())) for t in COURSE_TABLES]
    assert not set.intersection(*tables)
    assert set.union(*tables) == set(all_courses())


def test_every_variant_of_the_tables_changes_a_course() -> None:
    used = {v for one in all_courses().values() for v in (*one.when, one.variant) if v}
    assert used == set(read_toml(ANATOMY / "variants.toml")) - {"spread"}


def test_flat_nerves_have_the_area_of_their_tube() -> None:
    """Half width times half thickness of an ellipse is the square of its circle's radius."""
    flat = [one for one in all_courses().values() if one.structure.half_width_mm]
    assert flat
    for one in flat:
        area = one.structure.half_width_mm * one.structure.half_thickness_mm
        assert max(w.radius for w in one.way) == pytest.approx(np.sqrt(area), rel=0.02), one.structure.id


def test_samples_of_every_course_stay_near_its_smooth_curve() -> None:
    """meshes/tolerances.py, COURSE_SAMPLES_MAX: within 0.06 mm where it bends gently, 0.25 mm at sharp turns."""
    for name, one in all_courses().items():
        line = draw_course(one, one.way, None, None).line if len(one.way) > 1 else None
        if line is None:
            continue
        fine = spline(np.array([[*w.point, w.radius] for w in one.way]), 1500)[:, :3]
        turn = (
            np.linalg.norm(np.diff(fine, n=2, axis=0), axis=1) / np.linalg.norm(np.diff(fine, axis=0), axis=1)[1:] ** 2
        )
        # a chord counts as gentle where the whole stretch that it may span is
        reach = int(np.ceil(1500 * np.diff(line.arc).max() / line.length))
        sharp = np.flatnonzero(np.concatenate([[True], turn >= 1.0 / 30.0, [True]]))
        gentle = np.abs(np.arange(1500)[:, None] - sharp).min(axis=1) > reach
        a, b = line.points[:-1], line.points[1:]
        share = np.einsum("nmj,mj->nm", fine[:, None] - a, b - a) / np.einsum("mj,mj->m", b - a, b - a)
        nearest = a + np.clip(share, 0.0, 1.0)[..., None] * (b - a)
        away = np.linalg.norm(nearest - fine[:, None], axis=2).min(axis=1)
        assert away[gentle].max(initial=0.0) < 0.06, name
        assert away.max() < 0.25, name
