"""Where the rigid parts of a specimen stand, and how large they are."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes import posture as module
from meshes.posture import (
    build_of,
    frames_for,
    joints_for,
    landmarks_for,
    plexus_forward_mm,
    reference_landmarks,
    viscera_forward_mm,
)
from meshes.specimen import ALDER, RANGES, Specimen
from meshes.spine import DISCS, VERTEBRAE, spine_frames
from meshes.structures import POSTURES, SIDES
from meshes.tables import ANATOMY, read_toml
from tests.meshes.lines import MIRROR
from tests.meshes.refusals import refused


def test_alder_stands_as_the_tables_are_written() -> None:
    assert not joints_for(ALDER).extension_deg
    assert not joints_for(ALDER).right_bend_deg
    assert not plexus_forward_mm(ALDER)
    written = spine_frames()
    for name, frame in frames_for(ALDER).items():
        np.testing.assert_array_equal(frame.origin, written[name].origin)
        np.testing.assert_array_equal(frame.axes, written[name].axes)
    for part in (build_of(ALDER).spine, build_of(ALDER).pelvis):
        np.testing.assert_array_equal(part, np.ones(3))
    assert reference_landmarks() is reference_landmarks()


def test_every_posture_says_what_it_is_and_changes_known_discs_only() -> None:
    table = read_toml(ANATOMY / "postures.toml")
    assert set(table) == set(POSTURES)
    for name in POSTURES:
        specimen = Specimen(posture=name)
        assert table[name]["says"]
        assert set(plexus_forward_mm(specimen)) <= set(DISCS)
        assert set(joints_for(specimen).extension_deg) <= set(DISCS)


@given(st.floats(0.0, 40.0))
def test_the_table_break_bends_the_trunk_away_from_the_side_that_is_up(angle: float) -> None:
    left = joints_for(Specimen(table_break_deg=angle, up="left")).right_bend_deg
    right = joints_for(Specimen(table_break_deg=angle, up="right")).right_bend_deg
    assert sum(left.values()) == pytest.approx(angle)
    assert sum(right.values()) == pytest.approx(-angle)
    assert all(share >= 0.0 for share in left.values())
    assert set(left) in (set(), set(DISCS))


def test_a_table_break_takes_the_ribs_away_from_the_crest_of_the_upper_side() -> None:
    """That is what it is for: the way to L4-5 opens."""
    for side in SIDES:
        other = "right" if side == "left" else "left"

        def gap(specimen: Specimen, at: str) -> float:
            there = landmarks_for(specimen)
            return float(np.linalg.norm(there[f"rib_12_tip_{at}"] - there[f"iliac_crest_top_{at}"]))

        gaps = [gap(Specimen(table_break_deg=b, up=side), side) for b in (0.0, 10.0, 20.0, 30.0, 40.0)]
        assert gaps == sorted(gaps)
        assert gaps[-1] - gaps[0] > 30.0
        assert gap(Specimen(table_break_deg=30.0, up=side), other) < gap(ALDER, other)


@given(st.floats(0.0, 40.0), st.floats(1400.0, 2100.0), st.sampled_from(["", "male", "female"]), st.floats(0.5, 1.6))
def test_a_break_to_one_side_is_the_mirror_image_of_a_break_to_the_other(
    angle: float, stature: float, sex: str, psoas: float
) -> None:
    left, right = (
        landmarks_for(
            Specimen(table_break_deg=angle, up=side, stature_mm=stature, sex=sex, psoas_scale=psoas)
        )
        for side in SIDES
    )  # fmt: skip
    for name, point in left.points.items():
        mirrored = name.replace("_left", "_other").replace("_right", "_left").replace("_other", "_right")
        np.testing.assert_allclose(right[mirrored], point * MIRROR, atol=1e-9, err_msg=name)


@given(st.floats(1400.0, 2100.0))
def test_bones_scale_with_stature(stature: float) -> None:
    size = stature / read_toml(ANATOMY / "sexes.toml")["average"]["stature_mm"]
    build = build_of(Specimen(stature_mm=stature))
    np.testing.assert_allclose(build.of("l3"), size)
    np.testing.assert_allclose(build.of("pelvis"), size)
    here, there = spine_frames(), frames_for(Specimen(stature_mm=stature))
    for name in (*VERTEBRAE, *DISCS):
        np.testing.assert_allclose(there[name].origin, size * here[name].origin, atol=1e-9)
        np.testing.assert_allclose(there[name].axes, here[name].axes, atol=1e-12)


def test_a_womans_pelvis_is_wider_for_its_height_and_her_spine_narrower() -> None:
    woman, man = build_of(Specimen(sex="female")), build_of(Specimen(sex="male"))
    assert woman.pelvis[0] / woman.pelvis[2] > 1.0 > man.pelvis[0] / man.pelvis[2]
    assert woman.spine[0] / woman.spine[2] < 1.0 < man.spine[0] / man.spine[2]
    assert woman.spine[2] < 1.0 < man.spine[2]
    for build in (woman, man):
        assert build.spine[1] == build.spine[2] == build.pelvis[1] == build.pelvis[2]
        assert build.of("pelvis") is build.pelvis
        assert build.of("disc_l4_5") is build.spine


def test_lying_on_the_back_the_plexus_lies_further_forward_and_prone_the_back_is_hollower() -> None:
    """He 2015 (imaging on the back) against Benglis 2009 (dissection on the side)."""
    supine = plexus_forward_mm(Specimen(posture="supine"))
    assert set(supine) == {"disc_l1_2", "disc_l2_3", "disc_l3_4", "disc_l4_5"}
    assert all(0.0 < mm < 12.0 for mm in supine.values())
    prone = joints_for(Specimen(posture="prone"))
    assert all(0.0 < deg < 5.0 for deg in prone.extension_deg.values())
    assert not prone.right_bend_deg
    assert viscera_forward_mm(ALDER)["kidney"] > 0.0
    assert not viscera_forward_mm(Specimen(posture="supine"))


@given(st.sampled_from(POSTURES), st.floats(*RANGES["stature_mm"]), st.floats(*RANGES["psoas_scale"]))
def test_every_specimen_has_all_landmarks_at_finite_places(posture: str, stature: float, psoas: float) -> None:
    landmarks = landmarks_for(Specimen(posture=posture, stature_mm=stature, psoas_scale=psoas))
    assert set(landmarks.points) == set(reference_landmarks().points)
    assert np.isfinite(np.array(list(landmarks.points.values()))).all()
    np.testing.assert_array_equal(landmarks["s1_endplate_centre"], np.zeros(3))


@pytest.mark.parametrize(
    ("text", "call", "said"),
    [
        ('[supine]\nsayz = "x"\n', plexus_forward_mm, "[supine]: unknown key 'sayz'. Nearest: says. Legal: says, "),
        ("[supine.plexus_forward_mm]\ndisc_l9 = 1\n", plexus_forward_mm, "[supine], plexus_forward_mm: 'source' is mi"),
        (
            '[supine.plexus_forward_mm]\nsource = "judgement"\ndisc_l9 = 1\n',
            plexus_forward_mm,
            "[supine]: unknown disc 'disc_l9'. Nearest: disc_l",
        ),
        (
            '[supine.plexus_forward_mm]\nsource = "judgement"\ndisc_l4_5 = "far"\n',
            plexus_forward_mm,
            "plexus_forward_mm, disc_l4_5: expected a number, found 'far'.",
        ),
        ('[prone.extension_deg]\nsource = "hearsay"\n', joints_for, "extension_deg: unknown source 'hearsay'."),
    ],
)
def test_a_posture_that_cannot_be_used_is_told(
    text: str, call: Any, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "postures.toml").write_text(text if "[supine" in text else f"{text}[supine]\n")
    monkeypatch.setattr(module, "ANATOMY", tmp_path)
    monkeypatch.setattr(module, "_postures", module._postures.__wrapped__)
    assert said in refused(call, Specimen(posture="supine"))


def test_a_sex_without_a_row_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "sexes.toml").write_text('[male]\nstature_mm = 1700\nsource = "judgement"\n')
    monkeypatch.setattr(module, "ANATOMY", tmp_path)
    said = refused(build_of, Specimen(sex="female"))
    assert said == f"{tmp_path / 'sexes.toml'}: no row for female."
