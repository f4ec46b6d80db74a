"""Frames are rigid, landmarks stand where their rows say, paired ones are mirror images."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from meshes import landmarks as module
from meshes.curves import Array
from meshes.landmarks import COLUMNS, Frame, landmark_rows, place_landmarks
from meshes.posture import build_of, frames_for, landmarks_for, reference_landmarks
from meshes.specimen import Specimen
from meshes.spine import STACK, spine_frames, spine_table
from meshes.structures import LEVELS, level_key, other_side
from meshes.tables import ANATOMY, read_csv
from tests.meshes.lines import MIRROR
from tests.meshes.refusals import refused

NUMBERS = st.floats(-300.0, 300.0)
POINTS = st.tuples(NUMBERS, NUMBERS, NUMBERS).map(np.array)


@st.composite
def placed_frames(draw: st.DrawFn) -> Frame:
    turn = Rotation.from_rotvec([draw(st.floats(-3.0, 3.0)) for _ in range(3)])
    return Frame(draw(POINTS), turn.as_matrix())


@given(placed_frames(), POINTS)
def test_a_point_goes_into_a_frame_and_back(frame: Frame, point: Array) -> None:
    np.testing.assert_allclose(frame.point(*frame.local(point)), point, atol=1e-9)
    np.testing.assert_allclose(frame.local(frame.point(*point)), point, atol=1e-9)


@given(placed_frames(), placed_frames(), placed_frames(), st.integers(0, 2**32 - 1))
def test_carrying_is_rigid_and_goes_back_and_on(a: Frame, b: Frame, c: Frame, seed: int) -> None:
    points = np.random.default_rng(seed).normal(0.0, 100.0, (7, 3))
    there = a.carried(points, b)
    np.testing.assert_allclose(b.local(there), a.local(points), atol=1e-9)
    np.testing.assert_allclose(b.carried(there, a), points, atol=1e-9)
    np.testing.assert_allclose(b.carried(there, c), a.carried(points, c), atol=1e-9)
    apart = np.linalg.norm(points[:, None] - points[None], axis=2)
    np.testing.assert_allclose(np.linalg.norm(there[:, None] - there[None], axis=2), apart, atol=1e-9)
    np.testing.assert_allclose(a.carried(points, a), points, atol=1e-9)


def test_landmark_names_stand_once_and_pairs_are_whole() -> None:
    count = Counter(row.name for row in landmark_rows())
    assert set(count.values()) == {1}
    assert {other_side(name) for name in count} == set(count)


def test_paired_landmarks_are_exact_mirror_images_and_the_others_lie_in_the_midplane() -> None:
    landmarks = reference_landmarks()
    for name, point in landmarks.points.items():
        np.testing.assert_array_equal(landmarks[other_side(name)], point * MIRROR, err_msg=name)
        assert point[0] >= 0.0 or name.endswith("_right"), name
        assert landmarks.frame_of[other_side(name)] == landmarks.frame_of[name]


def test_every_name_that_the_contract_promises_is_there() -> None:
    promised = {
        "s1_endplate_centre", "asis_left", "psis_left", "iliac_crest_top_left", "pubic_tubercle_left", "symphysis_top",
        "rib_12_tip_left", "ischial_spine_left", "hip_centre_left", "obturator_canal_left", "lesser_trochanter_left",
    }  # fmt: skip
    for level in LEVELS:
        promised |= {f"disc_{level_key(level)}_{w}" for w in ("centre", "anterior", "posterior", "left", "right")}
    for vertebra in ("l1", "l2", "l3", "l4", "l5"):
        promised |= {f"transverse_process_tip_{vertebra}_left", f"pedicle_{vertebra}_left"}
    promised |= {other_side(name) for name in promised}
    assert promised <= set(reference_landmarks().points)


def test_the_origin_is_the_centre_of_the_first_sacral_endplate() -> None:
    np.testing.assert_array_equal(reference_landmarks()["s1_endplate_centre"], np.zeros(3))


def test_table_rows_stand_where_they_say() -> None:
    landmarks = reference_landmarks()
    rows = {row.name: row for row in landmark_rows()}
    for cells in read_csv(ANATOMY / "landmarks.csv", COLUMNS):
        name = f"{cells['name']}_left" if cells["paired"] == "yes" else cells["name"]
        local = np.array([float(cells[k]) for k in ("lateral_mm", "back_mm", "up_mm")])
        np.testing.assert_array_equal(rows[name].local, local)
        there = landmarks.frames[cells["frame"]].local(landmarks[name])
        np.testing.assert_allclose(there, local, atol=1e-9, err_msg=name)
        assert landmarks.sources[name] == cells["source"]


def test_a_disc_has_the_mean_outline_of_its_neighbours() -> None:
    landmarks, table, below = reference_landmarks(), spine_table(), "s1"
    for vertebra, disc in STACK:
        across = np.linalg.norm(landmarks[f"{disc}_left"] - landmarks[f"{disc}_right"])
        along = np.linalg.norm(landmarks[f"{disc}_anterior"] - landmarks[f"{disc}_posterior"])
        assert across == pytest.approx((table(vertebra, "lower_width_mm") + table(below, "upper_width_mm")) / 2.0)
        assert along == pytest.approx((table(vertebra, "lower_depth_mm") + table(below, "upper_depth_mm")) / 2.0)
        ends = [landmarks[f"{disc}_{w}"] for w in ("left", "right", "anterior", "posterior")]
        np.testing.assert_allclose(np.mean(ends, axis=0), landmarks[f"{disc}_centre"], atol=1e-9)
        below = vertebra


@given(st.floats(0.5, 1.6))
def test_points_that_grow_move_away_from_their_fixed_point_by_the_root_of_the_area(scale: float) -> None:
    here, there = reference_landmarks(), landmarks_for(Specimen(psoas_scale=scale))
    growing = 0
    for row in landmark_rows():
        if row.grows_from:
            growing += 1
            before = here[row.name] - here[row.grows_from]
            after = there[row.name] - there[row.grows_from]
            np.testing.assert_allclose(after, np.sqrt(scale) * before, atol=1e-9)
        else:
            np.testing.assert_allclose(there[row.name], here[row.name], atol=1e-9)
    assert growing >= 20


def test_the_fixed_point_of_a_growing_point_is_a_landmark_of_its_own_part_that_does_not_grow() -> None:
    rows = {row.name: row for row in landmark_rows()}
    for row in rows.values():
        if row.grows_from:
            assert rows[row.grows_from].frame == row.frame, row.name
            assert not rows[row.grows_from].grows_from, row.name


@given(st.floats(1400.0, 2100.0), st.sampled_from(["female", "male"]))
def test_landmarks_scale_with_their_part(stature: float, sex: str) -> None:
    specimen = Specimen(stature_mm=stature, sex=sex)
    frames, build = frames_for(specimen), build_of(specimen)
    landmarks = place_landmarks(frames, 1.0, build.of)
    for row in landmark_rows():
        if not row.grows_from:
            there = frames[row.frame].local(landmarks[row.name])
            np.testing.assert_allclose(there, row.local * build.of(row.frame), atol=1e-9)


def test_an_unknown_landmark_is_told_with_the_nearest() -> None:
    assert "Nearest: asis_left" in refused(lambda: reference_landmarks()["asis_lft"])


GOOD = "yew_knob,pelvis,1.0,2.0,3.0,yes,,judgement,"


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (GOOD.replace("pelvis", "pelvs"), "line 3: unknown frame 'pelvs'. Nearest: pelvis."),
        (GOOD.replace("1.0", "wide"), "line 3, lateral_mm: expected a number, found 'wide'."),
        (GOOD.replace("2.0", "nan"), "line 3, back_mm: expected a finite number, found 'nan'."),
        (GOOD.replace("3.0", ""), "line 3, up_mm: expected a number, found ''."),
        (GOOD.replace("yes", "maybe"), "line 3, paired: unknown word 'maybe'. Legal: yes, no."),
        (GOOD.replace("judgement", "hearsay"), "line 3: unknown source 'hearsay'."),
        (GOOD.replace("judgement", ""), "line 3: unknown source ''."),
        (
            GOOD.replace("yes,,", "yes,asis_lft,"),
            "yew_knob_left, grows_from: unknown landmark 'asis_lft_left'. Nearest: ",
        ),
        ("asis,pelvis,1.0,2.0,3.0,yes,,judgement,", "asis_left stands twice."),
        ("disc_l4_5_centre,pelvis,1.0,2.0,3.0,no,,judgement,", "disc_l4_5_centre stands twice."),
        (GOOD + ",", "line 3: expected 9 cells."),
    ],
)
def test_a_row_that_cannot_be_used_is_told_with_its_line(
    row: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spine_frames(), spine_table()
    (tmp_path / "landmarks.csv").write_text(
        ",".join(COLUMNS) + "\nasis,pelvis,115.0,-79.6,-35.0,yes,,judgement,\n" + row + "\n"
    )
    monkeypatch.setattr(module, "ANATOMY", tmp_path)
    assert said in refused(landmark_rows.__wrapped__)


def test_a_good_row_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "landmarks.csv").write_text(",".join(COLUMNS) + "\n" + GOOD + "\n")
    monkeypatch.setattr(module, "ANATOMY", tmp_path)
    rows = {row.name: row for row in landmark_rows.__wrapped__()}
    np.testing.assert_array_equal(rows["yew_knob_left"].local, [1.0, 2.0, 3.0])
    np.testing.assert_array_equal(rows["yew_knob_right"].local, [-1.0, 2.0, 3.0])
