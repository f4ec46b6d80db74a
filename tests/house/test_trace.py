"""`furcal trace` as a person without a display types it, and what it says to bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PIL import Image

from meshes import places
from meshes.errors import FurcalError
from meshes.risk import approach_risk
from meshes.tables import ANATOMY
from tests.house.programs import furcal


def test_trace_answers_people_and_programs(tmp_path: Path) -> None:
    picture = tmp_path / "femoral.png"
    done = furcal("trace", "femoral", "--side", "left", "--picture", str(picture), env={"DISPLAY": None})
    assert (done.returncode, done.stderr) == (0, "")
    assert "iliac fossa" in done.stdout
    assert "For teaching." in done.stdout
    with Image.open(picture) as image:
        assert image.size == (1920, 1080)
    answer = json.loads(furcal("trace", "LFCN", "--side", "right", "--json").stdout)
    assert answer["id"] == "lateral_femoral_cutaneous_right"
    assert {"roots", "prose", "places"} <= set(answer)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("femorall", "--side", "left"), "unknown nerve 'femorall'. Nearest: femoral"),
        (("femoral", "--side", "lefft"), "unknown side 'lefft'. Nearest: left"),
        (("femoral",), "--side"),
        (("psoas_major", "--side", "left"), "unknown nerve 'psoas_major'"),
    ],
)
def test_bad_input_is_one_sentence(words: tuple[str, ...], said: str) -> None:
    done = furcal("trace", *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('place = "psoas"', 'place = "muscle"', "unknown place 'muscle'"),
        ("reach_mm = 15", "reech_mm = 15", "unknown key 'reech_mm'"),
        ("reach_mm = 15", 'reach_mm = "far"', "'far'"),
        ('source = "from_memory"', 'source = "hearsay"', "unknown source 'hearsay'"),
        ("[hip_skin]", "[hips]", "hip_skin must be there"),
    ],
)
def test_a_mistake_in_the_table_of_places_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, old: str, new: str, said: str
) -> None:
    text = (ANATOMY / "places.toml").read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "places.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    monkeypatch.setattr(places, "ANATOMY", tmp_path)
    with pytest.raises(FurcalError) as caught:
        places.sites.__wrapped__()
    assert said in str(caught.value)
    assert str(tmp_path / "places.toml") in str(caught.value)


def test_what_is_crossed_is_what_approaches_cross() -> None:
    """A word in the table of places that no approach crosses would never be met."""
    crossed = {word for risk in approach_risk().values() for stage in risk.stages for word in stage.crosses}
    for site in places.sites().values():
        assert set(site.crossed) <= crossed, site.key
