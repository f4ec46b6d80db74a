"""What is kept comes back; what is broken is done without."""

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from lessons.view import View
from meshes.specimen import ALDER, Specimen
from tests.lessons.anyview import scene_views, specimens
from tests.viewer.test_scenefile import names
from viewer.settings import FILE, RECENT_MAX, SWITCHES, Settings


@given(specimens(names), scene_views())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)
def test_the_last_scene_comes_back_but_for_what_was_traced(tmp_path: Path, specimen: Specimen, view: View) -> None:
    from dataclasses import replace

    Settings(tmp_path).keep_scene(specimen, view)
    kept = Settings(tmp_path)
    assert kept.specimen() == specimen
    assert kept.view() == replace(view, highlighted=frozenset())
    assert kept.theme("light") == view.theme


def test_an_equal_scene_is_not_written_again(tmp_path: Path) -> None:
    kept = Settings(tmp_path)
    kept.keep_scene(ALDER, View())
    (tmp_path / FILE).unlink()
    kept.keep_scene(ALDER, View())
    assert not (tmp_path / FILE).exists()
    kept.keep_scene(ALDER, View(labels=False))
    assert (tmp_path / FILE).exists()


@pytest.mark.parametrize("text", ["{", "[]", "3", '{"sex": "x"}', '{"seed": -1}', "[" * 100_000])
def test_a_broken_specimen_is_done_without(tmp_path: Path, text: str) -> None:
    (tmp_path / FILE).write_text(f"[General]\nspecimen={json.dumps(text)}\nrecent={json.dumps(text)}\n")
    kept = Settings(tmp_path)
    assert kept.specimen() is None
    assert kept.recent() == []


def test_recent_files_are_few_the_last_first_and_there(tmp_path: Path) -> None:
    paths = [tmp_path / f"harbour & {i}, é.toml" for i in range(RECENT_MAX + 3)]
    for path in paths:
        path.touch()
        Settings(tmp_path).add_recent(path)
    kept = Settings(tmp_path)
    assert kept.recent() == paths[: -RECENT_MAX - 1 : -1]
    kept.add_recent(paths[5])
    assert kept.recent()[0] == paths[5]
    assert len(set(kept.recent())) == RECENT_MAX
    paths[5].unlink()
    assert kept.recent()[0] == paths[-1]


@pytest.mark.parametrize("name", SWITCHES)
def test_switches_stand_as_they_were_left(tmp_path: Path, name: str) -> None:
    assert Settings(tmp_path).switch(name) is SWITCHES[name]
    for on in (True, False):
        Settings(tmp_path).keep_switch(name, on)
        assert Settings(tmp_path).switch(name) is on
    (tmp_path / FILE).write_text(f"[General]\n{name}=purple\n")
    assert Settings(tmp_path).switch(name) is SWITCHES[name]


def test_a_folder_that_cannot_be_written_is_done_without(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    kept = Settings(tmp_path / "file" / "under")
    kept.keep_scene(ALDER, View())
    assert not (tmp_path / "file" / "under").exists()
