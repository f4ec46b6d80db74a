"""The reference body: built in order from its tables, with progress; kept, found and replaced."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from meshes import reference as module
from meshes import store
from meshes.courses import read_courses
from meshes.gauges.space import Depth
from meshes.posture import reference_landmarks
from meshes.reference import RefCourse, Reference, build_reference, ends, reference, solid_rows
from meshes.structures import KINDS
from meshes.tolerances import OWN_WITHIN_MM, ROOM_MOST_MM, UNDER_SURFACE_MM
from tests.meshes.refusals import refused

ENDS = 'top_mm = 230.0\nbottom_mm = -218.0\nsource = "judgement"\n'
BONE = """
[l3]
name = "third lumbar vertebra"
latin = "vertebra lumbalis III"
kind = "bone"
layer = "vertebrae"
  [[l3.part]]
  shape = "ball"
  source = "judgement"
  points = [{ at = "body_l3_centre", radius = 15 }]
[knob]
name = "knob"
latin = "nodus"
kind = "bone"
layer = "vertebrae"
paired = true
rides = "t12"
  [[knob.part]]
  shape = "ball"
  source = "judgement"
  points = [{ at = "rib_12_tip", radius = 6 }]
[spur]
name = "spur"
latin = "calcar"
kind = "bone"
layer = "vertebrae"
  [[spur.part]]
  shape = "ball"
  source = "judgement"
  points = [{ at = "symphysis_top", radius = 6 }]
"""
MUSCLE = """
[psoas_major]
name = "psoas major"
latin = "musculus psoas major"
kind = "muscle"
layer = "psoas"
paired = true
  [[psoas_major.part]]
  shape = "sweep"
  source = "judgement"
  points = [
    { at = "body_l2_centre", lateral = 40, radius = 14 }, { at = "body_l5_centre", lateral = 40, radius = 14 },
  ]
"""
NERVE = """
[stem]
name = "stem"
latin = "truncus"
kind = "nerve"
layer = "psoas"
group = "plexus"
paired = true
way = [
  { at = "body_l2_centre", lateral = 40, radius = 1.5, inside = "psoas_major", source = "judgement" },
  { at = "body_l5_centre", lateral = 40, radius = 1.5, inside = "psoas_major", source = "judgement" },
  { at = "asis", radius = 1, source = "judgement" },
]
[stem.when.t12_share]
way = [
  { at = "body_l2_centre", lateral = 44, radius = 1.5, source = "judgement" },
  { at = "asis", radius = 1, source = "judgement" },
]
[twig]
name = "twig"
latin = "ramulus"
kind = "nerve"
layer = "psoas"
group = "wall"
paired = true
from = "stem"
leaves = 0.3
way = [{ at = "iliac_crest_top", radius = 0.8, source = "judgement" }]
[loner]
name = "loner"
latin = "solus"
kind = "nerve"
layer = "psoas"
paired = true
variant = "accessory_obturator"
way = [{ at = "psis", radius = 1, source = "judgement" }, { at = "asis", radius = 1, source = "judgement" }]
"""


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Tables of a handful of parts in place of the body's own, and a cache of its own."""
    tables = {"bones_spine.toml": BONE, "muscles.toml": MUSCLE, "nerves.toml": NERVE, "ends.toml": ENDS}
    for name in (*module.SOLID_TABLES, *module.COURSE_TABLES):
        (tmp_path / name).write_text(tables.get(name, ""))
    (tmp_path / "ends.toml").write_text(ENDS)
    monkeypatch.setattr(module, "ANATOMY", tmp_path)

    def own_courses() -> dict[str, Any]:
        return read_courses(tmp_path / "nerves.toml", reference_landmarks())

    monkeypatch.setattr(module, "all_courses", own_courses)
    monkeypatch.setenv("FURCAL_CACHE", str(tmp_path / "cache"))
    return tmp_path


def silent(_share: float, _words: str) -> None:
    return None


def course(built: Reference, name: str, when: str = "") -> RefCourse:
    (found,) = [c for c in built.courses if c.structure.id == name and c.when == when]
    return found


def same(one: Reference, other: Reference) -> None:
    assert [(s.structure, s.paired, s.rides) for s in one.solids] == [
        (s.structure, s.paired, s.rides) for s in other.solids
    ]
    assert [(c.structure, c.paired, c.when, c.variant) for c in one.courses] == [
        (c.structure, c.paired, c.when, c.variant) for c in other.courses
    ]
    for a, b in zip(one.solids, other.solids, strict=True):
        np.testing.assert_array_equal(a.surface.vertices, b.surface.vertices)
        np.testing.assert_array_equal(a.surface.faces, b.surface.faces)
    for c, d in zip(one.courses, other.courses, strict=True):
        np.testing.assert_array_equal(c.line.points, d.line.points)
        np.testing.assert_array_equal(c.line.radius, d.line.radius)
        np.testing.assert_array_equal(c.in_psoas, d.in_psoas)
        np.testing.assert_array_equal(c.room_mm, d.room_mm)
        assert c.line.flat == d.line.flat


def test_tables_are_built_in_order_with_progress_from_nothing_to_all(small: Path) -> None:
    told: list[tuple[float, str]] = []
    built = build_reference(lambda share, words: told.append((share, words)))
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert [w for _, w in told] == [
        "third lumbar vertebra", "knob", "spur", "psoas major", "nerves and vessels", "ready",
    ]  # fmt: skip
    assert [s.structure.id for s in built.solids] == ["l3", "knob_left", "spur", "psoas_major_left"]


def test_a_bone_rides_its_own_frame_the_one_it_names_or_the_pelvis(small: Path) -> None:
    built = build_reference(silent)
    assert {s.structure.id: s.rides for s in built.solids} == {
        "l3": "l3", "knob_left": "t12", "spur": "pelvis", "psoas_major_left": "",
    }  # fmt: skip
    (small / "bones_spine.toml").write_text(BONE.replace('"t12"', '"t14"'))
    said = refused(build_reference, silent)
    assert said.startswith(f"{small / 'bones_spine.toml'}, [knob], rides: unknown part 't14'.")


def test_a_course_also_comes_in_every_variant_of_what_it_hangs_on(small: Path) -> None:
    built = build_reference(silent)
    assert [(c.structure.id, c.when) for c in built.courses] == [
        ("stem_left", ""), ("stem_left", "t12_share"), ("twig_left", ""), ("twig_left", "t12_share"),
        ("loner_left", ""),
    ]  # fmt: skip
    for when in ("", "t12_share"):
        stem, twig = (course(built, name, when) for name in ("stem_left", "twig_left"))
        start = twig.line.points[0]
        assert np.linalg.norm(stem.line.points - start, axis=1).min() < 2.0
        away = [np.linalg.norm(stem.line.at(a) - start) for a in np.linspace(0.0, stem.line.length, 4000)]
        assert min(away) < 0.05
    assert course(built, "loner_left").variant == "accessory_obturator"


def test_what_runs_inside_psoas_is_known_and_a_branch_begins_as_deep_as_what_it_leaves(small: Path) -> None:
    built = build_reference(silent)
    stem, twig = course(built, "stem_left"), course(built, "twig_left")
    assert stem.in_psoas[: len(stem.in_psoas) // 4].min() > 0.95
    assert stem.in_psoas[-1] < 0.05
    for one in built.courses:
        assert one.in_psoas.shape == one.line.radius.shape
        assert one.in_psoas.min() >= 0.0
        assert one.in_psoas.max() <= 1.0 + 1e-9
    place = np.linalg.norm(stem.line.points - twig.line.points[0], axis=1).argmin()
    assert twig.in_psoas[0] == pytest.approx(stem.in_psoas[place], abs=0.1)
    assert twig.in_psoas[twig.line.arc > 4.0 * OWN_WITHIN_MM].max() < 0.05
    assert np.abs(np.diff(twig.in_psoas)).max() < 0.5, "and turns to its own way by and by"


def test_the_room_in_front_of_a_course_ends_close_under_the_front_of_psoas(small: Path) -> None:
    built = build_reference(silent)
    psoas = Depth(next(s.surface for s in built.solids if s.structure.id == "psoas_major_left"))
    for one in (course(built, "stem_left"), course(built, "twig_left")):
        assert one.room_mm.shape == one.line.radius.shape
        assert one.room_mm.min() >= 0.0
        assert one.room_mm.max() <= ROOM_MOST_MM + 1e-9
    stem = course(built, "stem_left")
    own = stem.line.points[stem.in_psoas > 0.99]
    there = own - stem.room_mm[stem.in_psoas > 0.99, None] * np.array([0.0, 1.0, 0.0])
    need = stem.line.radius[stem.in_psoas > 0.99] + UNDER_SURFACE_MM
    assert (-psoas(there) > np.minimum(need, -psoas(own)) - 0.5).all()
    short = stem.room_mm[stem.in_psoas > 0.99] < ROOM_MOST_MM - 1.0
    assert short.any()
    assert (-psoas(there - np.array([0.0, 1.5, 0.0]))[short] < need[short]).all()


def test_without_a_psoas_nothing_is_in_it(small: Path) -> None:
    (small / "muscles.toml").write_text("")
    (small / "nerves.toml").write_text(NERVE.replace('inside = "psoas_major", ', ""))
    assert all((c.in_psoas == 0.0).all() for c in build_reference(silent).courses)


def test_courses_keep_clear_of_bones_of_both_sides(small: Path) -> None:
    """The knob of the right side is a mirror image that no table writes."""
    way = (
        NERVE[NERVE.index("[loner]") :].replace("paired = true\n", "").replace('variant = "accessory_obturator"\n', "")
    )
    right = '{ at = "rib_12_tip_right", right = 4, up = 40, radius = 1, source = "judgement" }, '
    right += '{ at = "rib_12_tip_right", right = 4, down = 40, radius = 1, source = "judgement" }'
    (small / "nerves.toml").write_text(way[: way.index("way = ")] + f"way = [{right}]\n")
    line = build_reference(silent).courses[0].line
    knob = reference_landmarks()["rib_12_tip_right"]
    assert np.linalg.norm(line.points - knob, axis=1).min() > 6.0 + 1.0


def test_kept_and_found_again_it_is_the_same_to_the_last_bit(small: Path) -> None:
    first = reference()
    assert len(list((small / "cache").iterdir())) == 1
    same(first, reference())


def test_a_kept_body_is_not_built_again_and_a_damaged_one_is(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    built = []
    whole = build_reference

    def watched(progress: Any) -> Reference:
        built.append(progress)
        return whole(progress)

    monkeypatch.setattr(module, "build_reference", watched)
    first = reference()
    reference()
    assert len(built) == 1
    (kept,) = (small / "cache").iterdir()
    kept.write_bytes(kept.read_bytes()[: kept.stat().st_size // 2])
    same(first, reference(silent))
    assert built[1:] == [silent]
    same(first, reference())
    assert len(built) == 2


def test_changed_code_or_tables_mean_another_body(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    reference()
    (first,) = (small / "cache").iterdir()
    assert first.stem == f"reference-{store.tables_hash()}"
    monkeypatch.setattr(store, "tables_hash", lambda: "another")
    reference()
    assert {p.stem for p in (small / "cache").iterdir()} == {first.stem, "reference-another"}


def test_what_is_kept_is_plain_words_and_numbers(small: Path) -> None:
    words, arrays = module._packed(build_reference(silent))
    assert json.loads(json.dumps(words)).keys() == {"solids", "courses"}
    assert all(array.dtype.kind in "fi" for array in arrays.values())


def test_every_table_is_read_before_anything_is_built(small: Path) -> None:
    (small / "nerves.toml").write_text(NERVE.replace('"asis"', '"asiss"'))
    told: list[str] = []
    said = refused(build_reference, lambda _, words: told.append(words))
    assert "unknown landmark 'asiss'" in said
    assert not told


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (ENDS.replace("230.0", '"high"'), "ends.toml, top_mm: expected a number, found 'high'."),
        (ENDS.replace("-218.0", "-inf"), "ends.toml, bottom_mm: expected a finite number, found -inf."),
        (ENDS.replace("top_mm", "top"), "ends.toml: 'top_mm' is missing."),
    ],
)
def test_ends_that_are_no_heights_are_told(text: str, said: str, small: Path) -> None:
    (small / "ends.toml").write_text(text)
    assert said in refused(ends)


def test_the_bodys_own_ends_lie_above_t11_and_below_the_lesser_trochanter() -> None:
    """Contract: flat cuts above T11 and 60 mm below the lesser trochanter."""
    landmarks, cuts = reference_landmarks(), ends()
    assert cuts["bottom_mm"] == pytest.approx(landmarks["lesser_trochanter_left"][2] - 60.0, abs=0.5)
    assert cuts["top_mm"] > landmarks["body_t11_centre"][2] + 12.0


def test_solids_come_in_an_order_in_which_each_knows_its_neighbours() -> None:
    seen: set[str] = set()
    for row in solid_rows():
        bare = row.structure.id.removesuffix("_left") if row.paired else row.structure.id
        for word in row.header.get("clear_of", []):
            assert word in KINDS or word.removesuffix("_left") in seen, f"{bare}: {word}"
        seen.add(bare)
