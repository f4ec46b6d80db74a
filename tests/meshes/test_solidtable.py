"""Tables of solids: headers, templates, pairs, neighbours and flat ends."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from meshes.landmarks import Landmarks
from meshes.posture import reference_landmarks
from meshes.reference import solid_rows
from meshes.solids import Balls, read_parts
from meshes.solidtable import Solid, both_sides, build_row, cut_ends, filled, mirrored_field, read_solids
from meshes.spine import quantities
from meshes.structures import DISSECTION, KINDS, other_side, side_of
from tests.meshes.lines import MIRROR
from tests.meshes.refusals import refused

ENDS = {"top_mm": 230.0, "bottom_mm": -218.0}
HEAD = 'name = "knob"\nlatin = "nodus"\nkind = "bone"\nlayer = "vertebrae"\n'
BALL = '[[knob.part]]\nshape = "ball"\nsource = "judgement"\npoints = [{ at = "body_l3_centre", radius = 12 }]\n'
GOOD = f"[knob]\n{HEAD}{BALL}"


@pytest.fixture(scope="module")
def landmarks() -> Landmarks:
    return reference_landmarks()


def written(folder: Path, text: str) -> Path:
    path = folder / "knobs.toml"
    path.write_text(text)
    return path


def built(path: Path, landmarks: Landmarks) -> dict[str, Solid]:
    solids: dict[str, Solid] = {}
    for row in read_solids(path):
        solids[row.structure.id] = build_row(row, landmarks, solids, ENDS)
    return solids


def test_a_header_becomes_a_structure(tmp_path: Path) -> None:
    (row,) = read_solids(written(tmp_path, GOOD))
    structure = row.structure
    assert (structure.id, structure.name, structure.latin) == ("knob", "knob", "nodus")
    assert (structure.kind, structure.layer, structure.side, structure.group) == ("bone", "vertebrae", "", "")
    assert not row.paired
    assert row.where == f"{tmp_path / 'knobs.toml'}, [knob]"


def test_a_paired_solid_is_written_once_and_comes_as_two_mirror_images(tmp_path: Path, landmarks: Landmarks) -> None:
    text = GOOD.replace("[knob]\n", '[knob]\npaired = true\ngroup = "wall"\n').replace("body_l3_centre", "hip_centre")
    solid = built(written(tmp_path, text), landmarks)["knob_left"]
    assert solid.row.structure.side == "left"
    sides = both_sides(solid)
    assert list(sides) == ["knob_left", "knob_right"]
    left, right = sides["knob_left"], sides["knob_right"]
    assert (right[0].id, right[0].side, right[0].group) == ("knob_right", "right", "wall")
    np.testing.assert_array_equal(right[1].vertices, left[1].vertices * MIRROR)
    assert right[1].volume() == pytest.approx(left[1].volume(), rel=1e-9)
    np.testing.assert_allclose(left[1].vertices.mean(axis=0), landmarks["hip_centre_left"], atol=0.3)


TEMPLATE = """
["knob_{v}"]
for = ["l2", "l3"]
names = { l2 = "second", l3 = "third" }
latins = { l2 = "secundus", l3 = "tertius" }
kind = "bone"
layer = "vertebrae"
  [["knob_{v}".part]]
  shape = "ball"
  source = "judgement"
  points = [{ at = "body_{v}_centre", up = "0.5 height_mm", radius = "0.25 upper_width_mm + 1" }]
  [["knob_{v}".part]]
  shape = "ball"
  only = ["l3"]
  source = "judgement"
  points = [{ at = "disc_{joint_below}_centre", radius = 5 }, { at = "disc_{joint_above}_centre", radius = 5 }]
"""


def test_a_template_serves_every_level_with_its_own_words_and_quantities(tmp_path: Path, landmarks: Landmarks) -> None:
    second, third = read_solids(written(tmp_path, TEMPLATE))
    assert (second.structure.id, second.structure.name, second.structure.latin) == ("knob_l2", "second", "secundus")
    assert (third.structure.id, third.structure.name) == ("knob_l3", "third")
    assert third.where.endswith("[knob_{v}], l3")
    assert (len(second.parts), len(third.parts)) == (1, 2)
    assert [p["at"] for p in third.parts[1]["points"]] == ["disc_l3_4_centre", "disc_l2_3_centre"]
    for row, level in ((second, "l2"), (third, "l3")):
        ball = read_parts(row.parts, landmarks, row.where, row.read)[0].drawing
        frame = landmarks.frames[level]
        size = quantities()
        assert isinstance(ball, Balls)
        top = [0.0, 0.0, 0.5 * size[level, "height_mm"]]
        np.testing.assert_allclose(frame.local(ball.centres[0]), top, atol=1e-9)
        assert ball.radii[0] == pytest.approx(0.25 * size[level, "upper_width_mm"] + 1.0)
    again, _ = read_solids(written(tmp_path, TEMPLATE))
    assert again.parts == second.parts, "reading changes nothing that is read again"


def test_template_words_are_filled_in_at_any_depth() -> None:
    value = {"a": "{v}", "b": [{"c": "x_{joint_below}"}, 5, True], "{v}": "kept as a key"}
    assert filled(value, "l4") == {"a": "l4", "b": [{"c": "x_l4_5"}, 5, True], "{v}": "kept as a key"}
    assert value["a"] == "{v}"


def test_a_solid_keeps_clear_of_one_named_by_id_or_kind_on_both_sides(tmp_path: Path, landmarks: Landmarks) -> None:
    pair = GOOD.replace("knob", "post").replace("[post]\n", "[post]\npaired = true\n", 1)
    pair = pair.replace("radius = 12", "lateral = 20, radius = 12")
    for word, gap in (("post", 2.0), ("post_left", 1.0), ("bone", 0.4)):
        text = f"{pair}[knob]\nclear_of = ['{word}']\n" + (f"gap_mm = {gap}\n" if gap != 0.4 else "") + HEAD
        solids = built(written(tmp_path, text + BALL.replace("radius = 12", "radius = 14")), landmarks)
        knob, post = solids["knob"], solids["post_left"]
        for other in (post.field, mirrored_field(post.field)):
            assert other.at(knob.surface.vertices).min() == pytest.approx(gap, abs=0.35)
        assert knob.surface.is_closed()


def test_a_kind_that_nothing_built_yet_has_is_no_mistake(tmp_path: Path, landmarks: Landmarks) -> None:
    free = built(written(tmp_path, GOOD), landmarks)["knob"]
    text = GOOD.replace("[knob]\n", '[knob]\nclear_of = ["viscus"]\n')
    same = built(written(tmp_path, text), landmarks)["knob"]
    np.testing.assert_array_equal(same.surface.vertices, free.surface.vertices)


def test_a_mirrored_field_reads_as_the_other_side(tmp_path: Path, landmarks: Landmarks) -> None:
    text = GOOD.replace("radius = 12", "left = 9, radius = 12")
    field = built(written(tmp_path, text), landmarks)["knob"].field
    probe = landmarks["body_l3_centre"] + np.random.default_rng(2).uniform(-25.0, 25.0, (300, 3))
    np.testing.assert_allclose(mirrored_field(field).at(probe * MIRROR), field.at(probe), atol=1e-4)


def test_ends_are_flat_at_the_bodys_own_heights(tmp_path: Path, landmarks: Landmarks) -> None:
    text = GOOD.replace("[knob]\n", "[knob]\nends = true\n")
    ends = {"top_mm": float(landmarks["body_l3_centre"][2]) + 4.0, "bottom_mm": -218.0}
    (row,) = read_solids(written(tmp_path, text))
    solid = build_row(row, landmarks, {}, ends)
    assert solid.surface.is_closed()
    assert solid.surface.vertices[:, 2].max() == pytest.approx(ends["top_mm"], abs=0.3)
    lid = solid.surface.vertices[solid.surface.vertices[:, 2] > ends["top_mm"] - 0.3]
    assert np.ptp(lid[:, 0]) > 18.0
    cap = np.pi * 8.0**2 * (3.0 * 12.0 - 8.0) / 3.0
    assert solid.surface.volume() == pytest.approx(4.0 / 3.0 * np.pi * 1728.0 - cap, rel=0.04)


def test_cutting_never_adds(tmp_path: Path, landmarks: Landmarks) -> None:
    field = built(written(tmp_path, GOOD), landmarks)["knob"].field
    before = field.values.copy()
    cut_ends(field, ENDS)
    assert (field.values >= before).all()
    cut_ends(field, {"top_mm": -500.0, "bottom_mm": -600.0})
    assert (field.values == np.float32(field.band)).all()


def test_a_symmetric_solid_is_its_own_mirror_image_to_the_last_bit(tmp_path: Path, landmarks: Landmarks) -> None:
    text = GOOD.replace("[knob]\n", "[knob]\nsymmetric = true\n")
    text += BALL.replace("radius = 12", "left = 10, up = 3, radius = 8").replace("source", "both = true\nsource")
    solid = built(written(tmp_path, text), landmarks)["knob"]
    assert solid.surface.is_closed()
    ours = {tuple(v) for v in solid.surface.vertices.tolist()}
    assert {tuple(v) for v in (solid.surface.vertices * MIRROR + 0.0).tolist()} == ours
    assert not solid.field.is_half
    np.testing.assert_array_equal(solid.field.values, solid.field.values[::-1])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("knob = 5\n", "[knob]: expected a table."),
        (GOOD.replace("name", "nam", 1), "[knob]: unknown key 'nam'. Nearest: name, names."),
        (GOOD.replace('kind = "bone"\n', ""), "[knob]: 'kind' is missing."),
        (GOOD.replace('"bone"', '"bon"'), "[knob]: unknown kind 'bon'. Nearest: bone. Legal: bone, disc, ligament, "),
        (GOOD.replace('"vertebrae"', '"deep"'), "[knob]: unknown layer 'deep'. Legal: skin, fat, external_oblique, "),
        (GOOD.replace('latin = "nodus"\n', ""), "[knob]: 'latin' is missing."),
        (f"[knob]\n{HEAD}", "[knob]: 'part' is missing."),
        (f"[knob]\n{HEAD}part = []\n", "[knob]: no part draws anything."),
        (GOOD.replace("shape", "carve = true\nshape"), "[knob]: no part draws anything."),
        (GOOD.replace("body_l3_centre", "elbow"), "[knob], part 1, point 1: unknown landmark 'elbow'."),
        (GOOD.replace("[knob]\n", "[knob]\nspacing_mm = 0\n"), "[knob], spacing_mm: 0 is not more than 0."),
        (GOOD.replace("[knob]\n", "[knob]\nspacing_mm = nan\n"), "[knob], spacing_mm: expected a finite number"),
        (GOOD.replace("[knob]\n", '[knob]\nkeep_share = "x"\n'), "[knob], keep_share: expected a number, found 'x'."),
        (GOOD.replace("[knob]\n", '[knob]\nclear_of = ["post"]\n'), "[knob], clear_of: unknown solid 'post'."),
        (TEMPLATE.replace("names = {", "name = {"), "[knob_{v}]: 'names' is missing."),
        (TEMPLATE.replace('l2 = "secundus", ', ""), "[knob_{v}], latins: 'l2' is missing."),
        (TEMPLATE.replace("height_mm", "heigth_mm"), "[knob_{v}], l2, part 1, point 1, up: unknown quantity 'hei"),
        (TEMPLATE.replace('"l2", "l3"', '"t11"').replace("l2 =", "t11 =").replace('["l3"]', '["t11"]'),
         "[knob_{v}], t11, part 2, point 2: unknown landmark 'disc_{joint_above}_centre'."),
    ],
)  # fmt: skip
def test_a_solid_that_cannot_be_built_is_told_by_file_and_name(
    text: str, said: str, tmp_path: Path, landmarks: Landmarks
) -> None:
    path = written(tmp_path, text)
    assert refused(built, path, landmarks).startswith(f"{path}, {said}")


def test_the_bodys_solids_have_legal_words_and_ids_that_stand_once() -> None:
    rows = solid_rows()
    ids = [row.structure.id for row in rows]
    ids += [other_side(row.structure.id) for row in rows if row.paired]
    assert len(set(ids)) == len(ids)
    for row in rows:
        structure = row.structure
        assert structure.kind in KINDS
        assert structure.kind not in ("nerve",)
        assert structure.layer in DISSECTION
        assert structure.name
        assert structure.latin
        assert structure.side == side_of(structure.id)
        assert not row.paired or structure.side == "left"
        assert structure.group in ("", "wall", "artery", "vein")
