"""The canal opened from in front: closed, cut where the table says, on every body."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from meshes import opening as opening_module
from meshes.body import Body, load_body
from meshes.errors import FurcalError
from meshes.opening import cut_faces, cut_plane, opened, opening
from meshes.specimen import ALDER, Specimen
from meshes.tables import ANATOMY

VERTEBRAE = ("t11", "t12", "l1", "l2", "l3", "l4", "l5")
SPECIMENS = (ALDER, Specimen(name="Birch", stature_mm=1850.0, posture="side_lying", table_break_deg=20.0, up="right"))


@pytest.fixture(scope="session", params=SPECIMENS, ids=lambda s: s.name)
def body(request: pytest.FixtureRequest) -> Body:
    return load_body(request.param)


@pytest.mark.parametrize("vertebra", VERTEBRAE)
def test_what_is_left_is_closed_smaller_and_all_behind_the_cut(body: Body, vertebra: str) -> None:
    whole, left = body.surfaces[vertebra], opened(body, vertebra)
    assert left.is_closed()
    assert 0.2 < left.volume() / whole.volume() < 0.5
    point, back = cut_plane(body, vertebra)
    assert ((left.vertices - point) @ back).min() > -1e-6


@pytest.mark.parametrize("vertebra", VERTEBRAE)
def test_the_cut_is_two_faces_one_through_each_pedicle(body: Body, vertebra: str) -> None:
    left = opened(body, vertebra)
    cut = left.faces[cut_faces(body, vertebra, left)]
    a, b, c = np.moveaxis(left.vertices[cut], 1, 0)
    across, back = np.cross(b - a, c - a), cut_plane(body, vertebra)[1]
    assert (across @ back).max() <= 1e-9  # the cut looks to the front
    areas, middles = -(across @ back) / 2.0, (a + b + c) / 3.0
    frame = body.landmarks.frames[vertebra]
    inner = np.abs(frame.local(left.vertices[np.unique(cut)])[:, 0]).min()
    assert inner > 5.0  # the canal is between them
    for side, sign in (("left", 1.0), ("right", -1.0)):
        here = sign * frame.local(middles)[:, 0] > 0.0
        pedicle = body.landmarks[f"pedicle_{vertebra}_{side}"]
        assert areas[here].sum() > 40.0
        assert np.linalg.norm(np.average(middles[here], axis=0, weights=areas[here]) - pedicle) < 9.0


@pytest.mark.parametrize("vertebra", VERTEBRAE)
def test_arch_and_processes_stay_as_they_are(body: Body, vertebra: str) -> None:
    """Every corner of the whole vertebra behind the plane is a corner of what is left."""
    whole, left = body.surfaces[vertebra].vertices, opened(body, vertebra).vertices
    point, back = cut_plane(body, vertebra)
    behind = whole[(whole - point) @ back > 1e-3]
    for tip in [f"spinous_tip_{vertebra}"] + [f"transverse_process_tip_{vertebra}_{s}" for s in ("left", "right")]:
        assert (body.landmarks[tip] - point) @ back > 0.0
    held = {tuple(v) for v in np.round(left, 3)}
    assert {tuple(v) for v in np.round(behind, 3)} <= held


def test_the_dural_sac_lies_open_and_no_disc_or_ligament_in_front_stays(body: Body) -> None:
    assert {i for i in body.structures if i in opening()} == opening().lifted | set(opening().cuts)
    assert set(body.ids("disc")) - opening().lifted == {"symphysis"}
    assert set(opening().cuts) == set(VERTEBRAE)
    sac = body.surfaces["dural_sac"].vertices
    for vertebra in VERTEBRAE:
        frame = body.landmarks.frames[vertebra]
        beside = sac[np.abs(frame.local(sac)[:, 2]) < 6.0]
        wide, left = frame.local(beside), frame.local(opened(body, vertebra).vertices)
        before = left[left[:, 1] < wide[:, 1].min()]
        assert not (np.abs(before[:, 0]) < np.abs(wide[:, 0]).max()).any()


def test_another_structure_has_no_cut_and_a_body_without_its_frame_is_refused(alder: Body) -> None:
    with pytest.raises(FurcalError, match=r"sacrum.*Legal: t11"):
        opened(alder, "sacrum")
    frames = {name: frame for name, frame in alder.landmarks.frames.items() if name != "l3"}
    with pytest.raises(FurcalError, match=r"dissection\.toml.*'l3'"):
        opened(replace(alder, landmarks=replace(alder.landmarks, frames=frames)), "l3")


@pytest.mark.parametrize(
    ("mistake", "named"),
    [
        (("lifted", "lifts"), "'lifts'"),
        (('source = "judgement"', 'source = "hearsay"'), "'hearsay'"),
        (("frame =", "# frame ="), "'frame'"),
    ],
)
def test_a_mistake_in_the_table_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mistake: tuple[str, str], named: str
) -> None:
    shutil.copytree(ANATOMY, tmp_path / "anatomy")
    path = tmp_path / "anatomy" / "dissection.toml"
    head, body = path.read_text(encoding="utf-8").split("[vertebral_bodies]")
    assert mistake[0] in body
    path.write_text(f"{head}[vertebral_bodies]{body.replace(*mistake, 1)}", encoding="utf-8")
    monkeypatch.setattr(opening_module, "ANATOMY", tmp_path / "anatomy")
    with pytest.raises(FurcalError, match=rf"dissection\.toml.*{named}"):
        opening.__wrapped__()
