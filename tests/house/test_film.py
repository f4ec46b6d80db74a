"""`furcal film` as a person without a display types it: the files, the JSON answer, and what it says to bad input."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pydicom
import pytest
from PIL import Image

from lessons.caution import CAUTION
from meshes.body import Body
from tests.house.programs import furcal, python

SMALL = ("--size", "256")
LATERAL = ("--level", "L3-4", "--side", "left", "--approach", "lateral", "--at", "0.5", "--radius", "11")


def answered(*words: str) -> dict[str, Any]:
    done = furcal("film", *SMALL, *words, "--json", env={"DISPLAY": None})
    assert (done.returncode, done.stderr) == (0, "")
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def refused(*words: str) -> str:
    done = furcal("film", *words)
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    assert len(done.stderr.splitlines()) == 1
    return done.stderr


@pytest.fixture(scope="module")
def docking(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("portal") / "portal.json"
    path.write_text(furcal("dock", *LATERAL, "--cranial", "7", "--json").stdout, encoding="utf-8")
    return path


def by_hand(answer: dict[str, Any], point: np.ndarray) -> tuple[float, float]:
    """Where a point falls: the line from the source through it meets the detector's plane."""
    d = answer["detector"]
    u, v, origin = (np.array(d[key]) for key in ("u", "v", "origin_mm"))
    way = np.array(answer["direction"]) if answer["source_mm"] is None else point - np.array(answer["source_mm"])
    # point + t way = origin + a u + b v
    _, a, b = np.linalg.solve(np.stack([-way, u, v], axis=1), point - origin)
    return float(a) / d["pixel_mm"], float(b) / d["pixel_mm"]


@pytest.mark.parametrize(
    "words",
    [
        ("--view", "front"),
        ("--view", "left", "--turn", "8", "--cranial", "-5"),
        ("--view", "right", "--parallel", "--turn", "20"),
        ("--view", "left", "--crowd"),
        ("--view", "front", "--nerves", "obturator_left", "--near"),
        ("--view", "front", "--distance", "1300"),
    ],
)
def test_landmarks_fall_where_a_line_from_the_source_takes_them(tmp_path: Path, alder: Body, words: Any) -> None:
    answer = answered(*words, str(tmp_path / "film.png"))
    assert answer["schema"] == 1
    assert (answer["source_mm"] is None) == ("--parallel" in words)
    assert set(answer["landmarks_px"]) == set(alder.landmarks.points)
    for name, found in answer["landmarks_px"].items():
        assert found == pytest.approx(by_hand(answer, alder.landmarks[name]), abs=2e-3), name


def test_sides_of_the_films(tmp_path: Path) -> None:
    """On a front film the patient's left is on the right; a side film looks at that side, the front before it."""
    place = {view: answered("--view", view, str(tmp_path / "f.png"))["landmarks_px"] for view in ("front", "left")}
    assert place["front"]["asis_left"][0] > place["front"]["asis_right"][0]
    assert place["left"]["disc_l4_5_anterior"][0] < place["left"]["disc_l4_5_posterior"][0]
    for rows in place.values():
        assert rows["body_l4_centre"][1] < rows["s1_endplate_centre"][1]


def test_a_png_of_8_bits_carries_words_and_one_of_16_the_bare_film(tmp_path: Path) -> None:
    marked, bare, again = (tmp_path / name for name in ("marked.png", "bare.png", "again.png"))
    assert furcal("film", "--view", "front", *SMALL, str(marked)).stdout == f"{marked}: written.\n"
    assert furcal("film", "--view", "front", *SMALL, "--bits", "16", str(bare)).returncode == 0
    assert furcal("film", "--view", "front", *SMALL, "--bits", "16", str(again)).returncode == 0
    assert bare.read_bytes() == again.read_bytes()
    with Image.open(marked) as image:
        assert image.mode == "RGB"
        assert image.size == (256, 256)
        assert image.info["Disclaimer"] == CAUTION
        words = np.asarray(image.convert("L")).astype(float)
    with Image.open(bare) as image:
        assert image.mode == "I;16"
        film = np.asarray(image).astype(float)
        assert "synthetic" in image.info["Title"]
    assert len(np.unique(film)) > 256  # more steps of grey than 8 bits hold
    # Away from what is printed both are one film.
    same = np.abs(words - film / 257.0)[90:180, 60:200]
    assert same.max() <= 0.5 + 1e-6
    assert np.abs(words - film / 257.0)[:20, :20].max() > 50.0


def test_wires_darken_no_place_and_show_where_they_lie(tmp_path: Path, alder: Body) -> None:
    """A wire takes more of the beam than what it stands in, so the film is lighter there, and only there."""
    films = {}
    for nerves in ("none", "femoral_left"):
        path = tmp_path / f"{nerves}.png"
        answer = answered("--view", "front", "--bits", "16", "--clean", "--nerves", nerves, str(path))
        with Image.open(path) as image:
            films[nerves] = np.asarray(image).astype(float) / 65535.0
    assert "femoral_left" in answer["nerves"]
    assert "l3_ramus_left" in answer["nerves"]
    assert not any("_root_" in name or name.endswith("_right") for name in answer["nerves"])
    lighter = films["femoral_left"] - films["none"]
    assert lighter.min() > -1e-4
    point = alder.centrelines["femoral_left"].points
    col, row = np.rint(by_hand(answer, point[len(point) // 2])).astype(int)
    assert lighter[row, col] > 0.05
    assert np.mean(lighter > 0.01) < 0.05
    assert np.abs(lighter[:, :100]).max() < 1e-4  # the right side has none


def test_dicom_reads_back_and_two_of_one_name_are_two_studies(tmp_path: Path) -> None:
    one, bare = tmp_path / "one.dcm", tmp_path / "bare.png"
    done = furcal("film", "--view", "left", *SMALL, str(one))
    assert (done.returncode, done.stderr) == (0, "")
    assert furcal("film", "--view", "left", *SMALL, "--bits", "16", str(bare)).returncode == 0
    read = pydicom.dcmread(one)
    with Image.open(bare) as image:
        assert np.array_equal(read.pixel_array, np.asarray(image))
    assert read.BurnedInAnnotation == "NO"
    assert read.ViewCodeSequence[0].CodeMeaning == "left lateral"
    assert CAUTION in read.ImageComments
    (tmp_path / "alder.toml").write_text('name = "Alder"\npsoas_scale = 1.2\n', encoding="utf-8")
    two = tmp_path / "two.dcm"
    assert (
        furcal("film", "--view", "left", *SMALL, "--specimen", str(tmp_path / "alder.toml"), str(two)).returncode == 0
    )
    other = pydicom.dcmread(two)
    assert other.StudyDescription == read.StudyDescription
    assert other.StudyInstanceUID != read.StudyInstanceUID


def test_a_portal_comes_back_as_it_was_docked(tmp_path: Path, docking: Path) -> None:
    answer = answered("--view", "front", "--portal", str(docking), "--quarters", str(tmp_path / "f.png"))
    docked = json.loads(docking.read_text(encoding="utf-8"))["portal"]
    assert set(answer["portal"]) == set(docked)
    for key, value in docked.items():
        assert answer["portal"][key] == (value if isinstance(value, str) else pytest.approx(value, abs=1e-3))


def test_a_film_near_some_wires_is_larger_and_tells_where_they_are(tmp_path: Path, alder: Body) -> None:
    words = ("--view", "left", "--nerves", "genitofemoral_left")
    whole, near = (answered(*words, *more, str(tmp_path / "f.png")) for more in ((), ("--near",)))
    sides = [answer["detector"]["pixel_mm"] * answer["detector"]["width"] for answer in (whole, near)]
    assert sides[1] < 0.6 * sides[0]
    seen = [near["landmarks_px"][name] for name in ("s1_endplate_centre", "iliac_crest_top_left")]
    seen += [by_hand(near, point) for point in alder.centrelines["genitofemoral_left"].points[::8]]
    assert all(0.0 <= pixel < near["detector"]["width"] for place in seen for pixel in place)


def test_the_crowd_is_told_in_words_and_numbers(tmp_path: Path) -> None:
    out = str(tmp_path / "f.png")
    rows = answered("--view", "right", "--crowd", out)["crowd"]
    assert set(rows) == {"L4-5", "L5-S1"}
    for found in rows.values():
        shares = [row["on_film"] for row in found]
        assert shares == sorted(shares, reverse=True)
        assert all(row["id"].endswith("_right") for row in found)
    told = furcal("film", "--view", "right", "--crowd", *SMALL, out).stdout
    assert "Femoral nerve" in told
    assert CAUTION in told


def test_no_drawing_library_is_needed(tmp_path: Path) -> None:
    """The film is numpy and pillow alone."""
    code = (
        "import sys; from viewer.__main__ import main\n"
        f"assert main(['film', '--view', 'front', '--size', '256', '--names', {str(tmp_path / 'f.png')!r}]) == 0\n"
        "print([n for n in ('vtk', 'vtkmodules', 'pyvista', 'PySide6') if n in sys.modules])"
    )
    done = python("-c", code, env={"DISPLAY": None})
    assert done.stdout.splitlines()[-1] == "[]", done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--view", "frunt", "f.png"), ("unknown view 'frunt'", "Nearest: front")),
        (("f.png",), ("--view",)),
        (("--view", "left", "--nerves", "femorall", "f.png"), ("--nerves", "unknown nerve 'femorall'", "femoral")),
        (("--view", "left", "--nerves", "femoral,,obturator", "f.png"), ("--nerves", "between the commas")),
        (("--view", "left", "--nerves", "dural_sac", "f.png"), ("unknown nerve 'dural_sac'",)),
        (("--view", "left", "--gauge", "9", "f.png"), ("--gauge 9", "0.2 to 5 mm")),
        (("--view", "left", "--size", "8", "f.png"), ("--size 8", "256 to 4096")),
        (("--view", "left", "--size", "5000", "f.png"), ("--size 5000",)),
        (("--view", "left", "--energy", "20", "f.png"), ("--energy 20", "40 to 100 keV")),
        (("--view", "left", "--energy", "nan", "f.png"), ("--energy nan",)),
        (("--view", "left", "--turn", "181", "f.png"), ("--turn 181", "-180 to 180")),
        (("--view", "left", "--cranial", "inf", "f.png"), ("--cranial inf",)),
        (("--view", "left", "--distance", "370", "f.png"), ("--distance 370", "inside the body")),
        (("--view", "left", "--distance", "100", "f.png"), ("--distance 100", "300 to 3000")),
        (("--view", "left", "--parallel", "--distance", "900", "f.png"), ("--parallel",)),
        (("--view", "left", "f.jpg"), ("f.jpg", ".png or .dcm")),
        (("--view", "left", "nowhere/f.png"), ("nowhere", "no such folder")),
        (("--view", "left", "."), (".png",)),
        (("--view", "left", "--bits", "12", "f.png"), ("--bits 12", "8 or 16")),
        (("--view", "left", "--bits", "8", "f.dcm"), ("--bits 8", "16")),
        (("--view", "left", "--names", "--bits", "16", "f.png"), ("--names", "no marks")),
        (("--view", "left", "--quarters", "f.png"), ("--quarters", "--disc", "--portal")),
        (("--view", "left", "--disc", "L3-4", "f.png"), ("--disc", "--quarters")),
        (("--view", "left", "--quarters", "--disc", "L3-5", "f.png"), ("--disc", "'L3-5'", "Nearest: L4-5, L3-4")),
        (("--view", "front", "--crowd", "f.png"), ("--crowd", "--view left")),
        (("--view", "left", "--crowd", "--nerves", "none", "f.png"), ("--nerves none",)),
        (("--view", "left", "--near", "--nerves", "none", "f.png"), ("--nerves none", "--near")),
        (("--view", "left", "--near", "--crowd", "f.png"), ("--near", "--crowd")),
        (("--view", "left", "--crowd", "--nerves", "femoral_right", "f.png"), ("left side",)),
        (("--view", "left", "--portal", "nowhere.json", "f.png"), ("nowhere.json", "no such file", "dock")),
    ],
)
def test_bad_input_is_one_sentence(words: tuple[str, ...], said: tuple[str, ...]) -> None:
    line = refused(*words)
    for part in said:
        assert part in line


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda _: "{", "no JSON"),
        (lambda _: "[]", "is no docking"),
        (lambda a: json.dumps(a | {"schema": 7}), "expected 1, found 7"),
        (lambda a: json.dumps(a | {"portal": None}), "is no portal"),
        (lambda a: json.dumps(a | {"portal": a["portal"] | {"level": "L9"}}), "'L9'"),
        (lambda a: json.dumps(a | {"portal": a["portal"] | {"at": "middle"}}), "expected a number"),
        (lambda a: json.dumps(a | {"portal": a["portal"] | {"radius_mm": -3}}), "-3"),
        (lambda a: json.dumps(a | {"portal": a["portal"] | {"direction": [0, 0, 0]}}), "direction"),
        (lambda a: json.dumps(a | {"portal": a["portal"] | {"end_mm": [0, 0, 0]}}), "write it anew"),
        (lambda a: json.dumps(a | {"specimen": a["specimen"] | {"name": "Birch"}}), "another specimen (name 'Birch'"),
        (lambda a: json.dumps(a | {"specimen": a["specimen"] | {"psoas_scale": 1.2}}), "psoas_scale 1.2, here 1.0"),
    ],
)
def test_a_portal_that_cannot_be_used_is_told(tmp_path: Path, docking: Path, change: Any, said: str) -> None:
    path = tmp_path / "portal.json"
    path.write_text(change(json.loads(docking.read_text(encoding="utf-8"))), encoding="utf-8")
    line = refused("--view", "left", "--portal", str(path), str(tmp_path / "f.png"))
    assert str(path) in line
    assert said in line
    assert not (tmp_path / "f.png").exists()


def test_a_missing_package_is_told_before_any_work(tmp_path: Path) -> None:
    code = (
        "import sys; sys.modules['pydicom'] = None; from viewer.__main__ import main\n"
        f"raise SystemExit(main(['film', '--view', 'left', {str(tmp_path / 'f.dcm')!r}]))"
    )
    done = python("-c", code)
    assert done.returncode == 2
    assert "pip install 'furcal[dicom]'" in done.stderr
