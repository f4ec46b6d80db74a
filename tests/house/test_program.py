"""The commands from end to end on the default body, as a person without a display types them."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from subprocess import CompletedProcess
from typing import Any

import pytest
from PIL import Image

from meshes.structures import LEVELS, SIDES, level_key
from tests.house.programs import furcal

PORTAL = ["--level", "L4-5", "--side", "left", "--approach", "lateral", "--at", "0.5", "--radius", "11"]
NO_DISPLAY = {"DISPLAY": None, "WAYLAND_DISPLAY": None}
CAUTION = "For teaching."


def answered(*words: str, cwd: Path | None = None) -> CompletedProcess[str]:
    """The command's answer; nothing but the answer is written, for standard error is no terminal here."""
    done = furcal(*words, env=NO_DISPLAY, **({"cwd": cwd} if cwd else {}))
    assert (done.returncode, done.stderr) == (0, "")
    return done


def size(path: Path) -> tuple[int, int]:
    """A picture's size; it is not empty: more than a few colours are in it."""
    with Image.open(path) as image:
        assert image.format == "PNG"
        assert len(image.convert("RGB").getcolors(maxcolors=1 << 24) or []) > 1000
        return image.size


def test_dock_answers_people_and_programs() -> None:
    text = answered("dock", *PORTAL).stdout
    assert CAUTION in text
    assert max(map(len, text.splitlines())) <= 100
    answer: dict[str, Any] = json.loads(answered("dock", *PORTAL, "--json").stdout)
    assert list(answer) == [
        "schema", "furcal_version", "specimen", "portal", "reaches_disc", "barred_by", "clears_at", "layers",
        "nerves", "vessels", "viscera",
    ]  # fmt: skip
    touched = {nerve["id"] for nerve in answer["nerves"] if nerve["touched"]}
    assert "femoral_left" in touched
    assert touched == {nerve["id"] for nerve in answer["nerves"] if nerve["clearance_mm"] <= 0.0}


def test_a_barred_portal_is_an_answer_and_no_error() -> None:
    words = [*PORTAL, "--json"]
    words[1] = "L5-S1"
    answer = json.loads(answered("dock", *words).stdout)
    assert answer["reaches_disc"] is False
    assert "hip_left" in answer["barred_by"]


def test_body_writes_what_the_contract_names(tmp_path: Path) -> None:
    out = tmp_path / "alder"
    assert "body.glb" in answered("body", "--out", str(out)).stdout
    with (out / "landmarks.csv").open(encoding="utf-8") as file:
        landmarks = {row["name"] for row in csv.DictReader(file)}
    discs = {
        f"disc_{level_key(level)}_{end}" for level in LEVELS for end in ("centre", "anterior", "posterior", *SIDES)
    }
    paired = (
        "asis psis iliac_crest_top pubic_tubercle rib_12_tip ischial_spine hip_centre obturator_canal "
        "lesser_trochanter transverse_process_tip_l3 pedicle_l4"
    )
    sided = {f"{name}_{side}" for name in paired.split() for side in SIDES}
    assert {"s1_endplate_centre", "symphysis_top"} | discs | sided <= landmarks
    lines = json.loads((out / "centrelines.json").read_text(encoding="utf-8"))
    surfaces = {path.stem for path in (out / "surfaces").iterdir()}
    assert set(lines) <= surfaces
    assert {"femoral_left", "femoral_right", "obturator_left", "lumbosacral_trunk_right", "dural_sac"} <= set(lines)
    assert {"l4", "disc_l4_5", "psoas_major_left", "hip_right", "skin", "aorta", "kidney_left"} <= surfaces


def test_measure_answers_people_and_programs() -> None:
    assert CAUTION in answered("measure").stdout
    rows = json.loads(answered("measure", "--json").stdout)
    keys = {"id", "what", "ours", "unit", "published", "posture", "source", "basis", "use", "agrees"}
    assert all(set(row) == keys for row in rows)
    assert len({row["id"] for row in rows}) == len(rows) > 0


@pytest.mark.parametrize("words", [["--view", "back"], ["--view", "portal", "--dissection", "vertebrae", *PORTAL]])
def test_picture_needs_no_display(tmp_path: Path, words: list[str]) -> None:
    answered("picture", *words, str(tmp_path / "out.png"))
    assert size(tmp_path / "out.png") == (1920, 1080)
    assert [path.name for path in tmp_path.iterdir()] == ["out.png"]


@pytest.mark.parametrize(
    ("words", "named"),
    [
        ([], "name one file"),
        (["--sheet", "a", "b.png"], "name one file"),
        (["out.jpg"], ".png"),
        (["nowhere/out.png"], "nowhere"),
        (["--view", "portal", "out.png"], "--view portal"),
        (["--view", "frnt", "out.png"], "Nearest: front"),
        (["--dissection", "psas", "out.png"], "Nearest: psoas"),
        (["--level", "L4-5", "out.png"], "missing here: --side"),
    ],
)
def test_picture_refuses_before_it_draws(tmp_path: Path, words: list[str], named: str) -> None:
    done = furcal("picture", *words, cwd=tmp_path, env=NO_DISPLAY)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert named in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_demonstration_without_a_display(tmp_path: Path) -> None:
    said = answered("demo", cwd=tmp_path).stdout
    assert "femoral" in said
    pictures = list((tmp_path / "out").iterdir())
    assert {path.name for path in pictures} == {"front.png", "side_lying.png", "portal.png"}
    assert {size(path) for path in pictures} == {(1920, 1080)}
