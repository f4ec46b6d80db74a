"""`furcal supply` from end to end, and its bad input."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.house.programs import ROOT, furcal

NO_DISPLAY = {"DISPLAY": None, "WAYLAND_DISPLAY": None}


def answered(*words: str) -> str:
    done = furcal("supply", *words, env=NO_DISPLAY)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_programs_get_what_the_contract_names() -> None:
    answer: dict[str, Any] = json.loads(answered("femoral", "--side", "left", "--cut-in", "ligament", "--json"))
    assert list(answer)[:5] == ["motor", "skin", "joints", "reflexes", "spared"]
    assert set(answer["motor"][0]) >= {"muscle", "movement", "roots", "source"}
    assert set(answer["skin"][0]) >= {"patch", "variable", "source"}
    lost = {row["muscle"] for row in answer["motor"]}
    assert "rectus_femoris" in lost
    assert "iliacus" not in lost
    assert "iliacus" in {row["muscle"] for row in answer["spared"]}
    for part in ("motor", "skin", "joints", "reflexes"):
        assert all(row["source"] and row["basis"] for row in answer[part])


def test_an_arc_length_cuts_as_the_place_there_does() -> None:
    near, far = (
        json.loads(answered("femoral", "--side", "right", "--cut-at", at, "--json"))["motor"] for at in ("0", "190")
    )
    assert {row["muscle"] for row in near} - {row["muscle"] for row in far} == {"iliacus"}


@pytest.mark.parametrize(
    "words",
    [("femoral",), ("l4_ramus",), ("subcostal", "--cut-in", "wall"), ("sympathetic_trunk",), ("sacral_plexus",)],
)
def test_people_get_every_line_with_what_it_rests_on(words: tuple[str, ...]) -> None:
    text = answered(*words, "--side", "left")
    assert "For teaching." in text
    assert max(map(len, text.splitlines())) <= 100
    assert "from memory" in text
    lines, _, cited = text.partition("\nsources:\n")
    keys = re.findall(r"^  ([a-z]\w*): ", cited, re.MULTILINE)
    assert keys
    assert [key for key in keys if key not in lines] == []


def test_a_nerve_is_found_by_its_name_too() -> None:
    wanted = answered("lateral_femoral_cutaneous", "--side", "left", "--json")
    assert answered("Lateral femoral cutaneous nerve", "--side", "left", "--json") == wanted
    assert json.loads(wanted)["motor"] == []


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("femorl", "--side", "left"), ("unknown nerve 'femorl'", "Nearest: femoral")),
        (("aorta", "--side", "left"), ("unknown nerve 'aorta'", "obturator")),
        (("femoral", "--side", "left", "--cut-in", "ligamant"), ("'ligamant'", "Nearest: ligament", "psoas")),
        (("femoral", "--side", "left", "--cut-in", "wall"), ("'wall'", "iliac_fossa")),
        (("femoral", "--side", "left", "--cut-at", "far"), ("--cut-at", "number")),
        (("femoral", "--side", "left", "--cut-at", "-1"), ("-1", "0 to")),
        (("femoral", "--side", "left", "--cut-at", "inf"), ("0 to",)),
        (("femoral", "--side", "left", "--cut-at", "1", "--cut-in", "psoas"), ("--cut-at and --cut-in",)),
        (("femoral",), ("--side", "required")),
        (("accessory_obturator", "--side", "left"), ("accessory_obturator_left", "no such part")),
    ],
)
def test_bad_input_is_one_sentence(words: tuple[str, ...], named: tuple[str, ...]) -> None:
    done = furcal("supply", *words)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    for word in named:
        assert word in done.stderr


def test_a_table_that_names_a_muscle_nobody_defines_is_one_sentence(tmp_path: Path) -> None:
    for room in ("meshes", "lessons", "viewer"):
        shutil.copytree(ROOT / room, tmp_path / room, ignore=shutil.ignore_patterns("__pycache__"))
    path = tmp_path / "meshes" / "anatomy" / "supply.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count('muscle = "iliacus"') == 1
    path.write_text(text.replace('muscle = "iliacus"', 'muscle = "iliacos"'), encoding="utf-8")
    done = furcal("supply", "femoral", "--side", "left", env={"PYTHONPATH": str(tmp_path)}, cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    for word in ("supply.toml, [nerve.femoral]", "unknown muscle 'iliacos'", "Nearest: iliacus"):
        assert word in done.stderr
