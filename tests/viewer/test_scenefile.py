"""A scene file gives back exactly what was saved, and what cannot be used is one sentence with its place."""

import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.caution import CAUTION
from lessons.scenefile import (
    SIZE_MAX_BYTES,
    SceneFile,
    check_ids,
    known_ids,
    portal_error,
    read_either,
    read_scene,
    scene_from_text,
    specimen_table,
    text_of,
    write_scene,
)
from lessons.view import (
    Camera,
    Placement,
    View,
)
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.portal import place
from meshes.specimen import ALDER, Specimen
from tests.lessons.anyview import scene_views, specimens

# --- every scene there can be

#: Whatever a file can hold, also what nobody types.
names = st.text(st.characters(exclude_categories=["Cs"]), min_size=1).filter(str.strip)


@given(specimens(names), scene_views())
def test_every_scene_comes_back_exactly(specimen: Specimen, view: View) -> None:
    assert scene_from_text(text_of(specimen, view), "scene.toml") == SceneFile(specimen, view)


@given(specimens(names))
def test_what_a_seed_drew_is_written_out(specimen: Specimen) -> None:
    table = specimen_table(specimen)
    if specimen.seed is not None:
        assert {"name", "sex", "stature_mm", "psoas_scale", "variants"} <= set(table)


def test_a_scene_without_anything_is_alder_in_the_default_view() -> None:
    assert scene_from_text("furcal_scene = 1", "scene.toml") == SceneFile(ALDER, View())
    text = text_of(ALDER, View())
    assert CAUTION in text.splitlines()[1]
    assert tomllib.loads(text) == {"furcal_scene": 1}


def test_alder_up_on_its_side_and_then_supine_can_be_written() -> None:
    supine = Specimen(up="left", posture="supine", table_break_deg=0.0)
    assert scene_from_text(text_of(supine, View()), "scene.toml").specimen == replace(supine, up="")


# --- what is no scene

SCENE = text_of(
    Specimen(name="Birch", seed=3, variants=frozenset({"t12_share_left"})),
    View(Camera("free", (1.0, -900.5, 3.25)), glassy=frozenset({"psoas", "aorta"}), portal=Placement(at=0.25)),
)


def refused_or_whole(text: str) -> None:
    try:
        scene = scene_from_text(text, "scene.toml")
    except FurcalError as refused:
        said = str(refused)
    else:
        assert scene_from_text(text_of(scene.specimen, scene.view), "again.toml") == scene
        return
    assert said.startswith("scene.toml")
    assert said.endswith(".")


@given(st.text())
def test_any_text_is_a_scene_or_refused(text: str) -> None:
    refused_or_whole(text)
    refused_or_whole(f"furcal_scene = 1\n{text}")


PIECES = st.sampled_from(["0", "-1", "1e999", "nan", "inf", "[]", "{}", '"x"', "true", "[", "=", "\n", "9" * 5000, "'"])


@given(st.integers(0, len(SCENE)), st.integers(0, 12), PIECES | st.text(max_size=4))
def test_a_mangled_scene_is_a_scene_or_refused(start: int, cut: int, put: str) -> None:
    refused_or_whole(SCENE[:start] + put + SCENE[start + cut :])


values = st.recursive(
    st.none().map(lambda _: "nan") | st.sampled_from(["1979-05-27", "07:32:00", "true", "1e999", "9" * 400, '"psoas"'])
    | st.integers().map(str) | st.floats(allow_nan=False, allow_infinity=False).map(repr),
    lambda inner: st.lists(inner, max_size=3).map(lambda v: f"[{', '.join(v)}]") | inner.map(lambda v: f"{{a = {v}}}"),
)  # fmt: skip
KEYS = (
    *("view." + key for key in View.__dataclass_fields__),
    *("view.camera." + key for key in Camera.__dataclass_fields__),
    *("view.portal." + key for key in Placement.__dataclass_fields__),
    *("specimen." + key for key in Specimen.__dataclass_fields__),
)


@given(st.dictionaries(st.sampled_from(KEYS), values, max_size=3))
def test_any_value_under_any_key_is_taken_or_refused(table: dict[str, str]) -> None:
    refused_or_whole("\n".join(["furcal_scene = 1", *(f"{key} = {value}" for key, value in table.items())]))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("furcal_scene 1", "line 1, column 14"),
        ("", "begins with the line furcal_scene = 1"),
        ("name = 'Birch'", "begins with the line furcal_scene = 1"),
        ("furcal_scene = '1'", "furcal_scene: expected the whole number 1, found '1'"),
        ("furcal_scene = true", "furcal_scene: expected the whole number 1"),
        ("furcal_scene = 2", "written by a newer furcal (schema 2); this one reads 1: update furcal"),
        ("furcal_scene = 0", "expected the whole number 1, found 0"),
        ("furcal_scene = 1\nvew = 1", "unknown key 'vew'. Nearest: view"),
        ("furcal_scene = 1\nspecimen = 3", "specimen: must be a table"),
        ("furcal_scene = 1\nview = 3", "[view]: must be a table"),
        ("furcal_scene = 1\n[specimen]\nsex = 'woman'", "[specimen], sex: unknown sex 'woman'"),
        ("furcal_scene = 1\n[view]\ndissection = 'psoa'", "[view]: unknown dissection 'psoa'. Nearest: psoas"),
        ("furcal_scene = 1\n[view]\nlabels = 1", "[view], labels: 1 is not true or false"),
        ("furcal_scene = 1\n[view]\nglassy = ['femur_lef']", "[view], glassy: unknown structure 'femur_lef'. Nearest:"),
        ("furcal_scene = 1\n[view]\nhighlighted = ['psoas']", "[view], highlighted: unknown structure 'psoas'"),
        ("furcal_scene = 1\n[view]\nshown = ['skin']\nhidden = ['skin']", "[view]: 'skin' is listed under two"),
        ("furcal_scene = 1\n[view.camera]\nname = 'up'", "[view], camera: unknown view 'up'"),
        ("furcal_scene = 1\n[view.camera]\nfocus_mm = [0, 1e200, 0]", "[view], camera, focus_mm: 1e+200"),
        ("furcal_scene = 1\n[view.camera]\nhalf_height_mm = 1e-9", "[view], camera, half_height_mm: 1e-09 is outside"),
        ("furcal_scene = 1\n[view.portal]\nat = 1.5", "[view], portal: at = 1.5: must be a number from 0 to 1"),
        ("furcal_scene = 1\n[view.portal]\nradius_mm = 0", "[view], portal: radius_mm = 0: must be more than 0"),
        ("furcal_scene = 1\n[view.portal]\ncranial_deg = nan", "[view], portal: cranial_deg = nan: must be"),
        ("furcal_scene = 1\n[view.portal]\nlevel = 'L45'", "[view], portal: unknown level 'L45'"),
    ],
)
def test_what_is_wrong_is_told_with_file_place_and_remedy(text: str, said: str) -> None:
    with pytest.raises(FurcalError) as caught:
        scene_from_text(text, "harbour.toml")
    assert str(caught.value).startswith("harbour.toml")
    assert said in str(caught.value)


# --- files


def test_a_file_is_written_and_read_and_told_apart_from_a_specimen(tmp_path: Path) -> None:
    path = tmp_path / "alder.toml"
    view = View(portal=Placement(level="L3-4"))
    write_scene(path, ALDER, view)
    assert read_scene(path) == read_either(path) == SceneFile(ALDER, view)
    path.write_text("psoas_scale = 1.2")
    assert read_either(path) == Specimen(name="alder", psoas_scale=1.2)


def said_by(call: Callable[[Path], object], path: Path) -> str:
    with pytest.raises(FurcalError) as caught:
        call(path)
    return str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    assert "no such file" in said_by(read_scene, tmp_path / "none.toml")
    assert "is a folder" in said_by(read_scene, tmp_path)
    assert "not a plain file" in said_by(read_scene, Path("/dev/zero"))
    assert "cannot be read" in said_by(read_scene, tmp_path / ("x" * 400))
    (tmp_path / "a.toml").write_bytes(b"furcal_scene = 1 # \xff")
    assert "not UTF-8" in said_by(read_scene, tmp_path / "a.toml")
    (tmp_path / "b.toml").write_text("furcal_scene = 1\n#" + " " * SIZE_MAX_BYTES)
    assert "larger than 1 MB" in said_by(read_scene, tmp_path / "b.toml")


def test_a_scene_that_cannot_be_written_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def write(path: Path) -> None:
        write_scene(path, ALDER, View(labels=False))

    assert "no such folder" in said_by(write, tmp_path / "none" / "a.toml")
    assert "is a folder" in said_by(write, tmp_path)
    path = tmp_path / "a.toml"
    path.write_text("before")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    assert "No space left" in said_by(write, path)
    assert path.read_text() == "before"
    assert list(tmp_path.iterdir()) == [path]


# --- a scene and its body


def test_every_id_of_a_body_is_known_and_what_it_lacks_is_told(alder: Body) -> None:
    assert set(alder.structures) <= known_ids()
    check_ids(View(glassy=frozenset({"psoas", *alder.structures})), alder, "scene.toml, [view]")
    lacking = sorted(known_ids() - set(alder.structures))
    assert "accessory_obturator_left" in lacking
    for word in lacking:
        with pytest.raises(FurcalError, match=rf"^scene.toml, \[view\], hidden: {word}: .*no such structure"):
            check_ids(View(hidden=frozenset({word})), alder, "scene.toml, [view]")


def test_a_portal_that_a_body_cannot_hold_is_told_in_the_words_of_the_file(alder: Body) -> None:
    bad = replace(alder, surfaces={**alder.surfaces, "skin": alder.surfaces["disc_l1_2"]})
    with pytest.raises(FurcalError) as caught:
        place(bad, "L4-5", "left", "lateral", 0.5, 11.0, 0.0, 20.0)
    said = str(portal_error(caught.value, "scene.toml, [view]"))
    assert "cranial_deg = 20" in said
    assert "--" not in said
