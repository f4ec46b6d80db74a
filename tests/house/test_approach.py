"""`furcal approach` from end to end: it is `furcal dock` on the usual path, and refuses words it does not know."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.house.programs import furcal
from tests.house.test_words import assert_refused

WALK = ("approach", "lateral", "--level", "L4-5", "--side", "left")
SAME = ("--level", "L4-5", "--side", "left", "--approach", "lateral", "--at", "0.5")


@pytest.mark.parametrize("radius", [(), ("--radius", "6")])
def test_it_is_a_docking_on_the_usual_path(radius: tuple[str, ...]) -> None:
    walked, docked = furcal(*WALK, *radius, "--json"), furcal("dock", *SAME, *(radius or ("--radius", "11")), "--json")
    assert (walked.returncode, walked.stderr, docked.returncode) == (0, "", 0)
    answer, dock = json.loads(walked.stdout), json.loads(docked.stdout)
    assert answer["portal"] == dock["portal"]
    assert [{key: layer[key] for key in dock["layers"][0]} for layer in answer["layers"]] == dock["layers"]
    clearance = {nerve["id"]: nerve["clearance_mm"] for nerve in dock["nerves"]}
    assert answer["at_risk"]
    for row in answer["at_risk"]:
        assert {"nerve", "layer", "clearance_mm"} <= row.keys()
        assert row["clearance_mm"] == clearance[row["nerve"]]
        assert row["layer"] in {layer["id"] for layer in answer["layers"]}
    for row in answer["published"]:
        assert {"deficit", "low", "high", "denominators", "source"} <= row.keys()
        assert row["low"] <= row["high"]
        assert row["denominators"]
        assert row["source"]


def test_it_comes_from_the_left_unless_told() -> None:
    assert furcal(*WALK[:4], "--json").stdout == furcal(*WALK, "--json").stdout


def test_people_get_words() -> None:
    done = furcal(*WALK)
    assert (done.returncode, done.stderr) == (0, "")
    for words in ("For teaching.", "Beside minutes: custom, not a limit.", "quarters of the disc", "of 220", "Sources"):
        assert words in done.stdout


def test_a_picture_shows_it_without_a_display(tmp_path: Path) -> None:
    target = tmp_path / "walk.png"
    done = furcal(*WALK, "--picture", str(target), env={"DISPLAY": None})
    assert (done.returncode, done.stderr) == (0, "")
    with Image.open(target) as image:
        width, height = image.size
        pixels = np.asarray(image.convert("RGB"))
    assert width > 2000
    assert height > 1500
    tiles = [pixels[:, i * width // 3 : (i + 1) * width // 3] for i in range(3)]
    assert not np.array_equal(tiles[0], tiles[1])
    assert_refused((*WALK, "--picture", str(tmp_path / "walk.jpg")), "walk.jpg", "must end in .png")


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("approach", "latral", *WALK[2:]), ("approach", "'latral'", "Nearest: lateral", "posterolateral")),
        (("approach", "crest_graft_anterior", *WALK[2:]), ("approach", "Legal: lateral, oblique")),
        ((*WALK[:3], "L4-6", *WALK[4:]), ("--level", "'L4-6'", "Nearest: L4-5")),
        ((*WALK[:5], "lft"), ("--side", "'lft'", "Nearest: left")),
        (WALK[:2], ("--level", "required")),
        (("approach", *WALK[2:]), ("NAME", "required")),
        ((*WALK, "--radius", "0"), ("--radius 0", "more than 0")),
        ((*WALK, "--at", "1.5"), ("--at 1.5", "from 0 to 1")),
        ((*WALK, "--raduis", "9"), ("'--raduis'", "Nearest: --radius")),
        ((*WALK, "more"), ("'more'", "too many")),
    ],
)
def test_what_it_cannot_use_is_told(words: tuple[str, ...], named: tuple[str, ...]) -> None:
    assert_refused(words, *named)
