"""A lesson file says what a step shows, and goes on with what the step before showed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from lessons.film import Film
from lessons.lesson import LEVEL_WORDS, TRANSITIONS, Step
from lessons.scenefile import specimen_table
from lessons.script import (
    LESSON_KEYS,
    STEP_KEYS,
    read_lesson,
)
from lessons.stepview import KEYS, PARTS, STATES
from lessons.view import Camera, Placement, View, as_table
from meshes.specimen import ALDER, Specimen
from tests.lessons.anyview import specimens, views
from tests.lessons.lessonfiles import HEAD, OF_ONE_STEP, SHOWN, WHOLE, lesson, text

# --- every key


def a_picture(folder: Path, name: str = "scan.png") -> Path:
    Image.new("RGB", (4, 3)).save(folder / name)
    return folder / name


def test_every_key_is_read(tmp_path: Path) -> None:
    a_picture(tmp_path)
    head = {**HEAD, "about": "One nerve.", "sources": {"ward_sheet": "Sheet of the ward, 2026"}}
    step: dict[str, Any] = {
        "id": "front", "title": "Where it runs", "fresh": True, "specimen": {"name": "Birch", "psoas_scale": 1.3},
        "view": {"dissection": "dura"}, "words": "Down. [ward_sheet]", "notes": "Slowly.", "question": "Where?",
        "answer": "Here. [from_memory]", "transition": "cut", "body_map": "femoral_left", "picture": "scan.png",
        "picture_says": "A scan.",
    }  # fmt: skip
    assert set(head) | {"steps"} == set(LESSON_KEYS)
    assert set(step) == set(STEP_KEYS)
    path = tmp_path / "07_femoral.toml"
    path.write_text(text(step, **head), encoding="utf-8")
    found = read_lesson(path)
    whole = {key: step[key] for key in STEP_KEYS if key not in ("fresh", "specimen", "view", "picture")}
    specimen = Specimen(name="Birch", psoas_scale=1.3)
    picture = (tmp_path / "scan.png").resolve()
    assert found.steps == (Step(specimen=specimen, view=View(dissection="dura"), picture=picture, **whole),)
    assert (found.title, found.about, found.level, found.minutes) == tuple(
        head[key] for key in ("title", "about", "level", "minutes")
    )
    assert found.objectives == tuple(head["objectives"])
    assert found.sources == head["sources"]
    assert found.key == "femoral"
    assert found.where(0) == f"{path}, step 1 (front)"


def test_the_name_of_a_lesson_is_that_of_its_file_without_the_number() -> None:
    one = lesson()
    for name, key in (("07_femoral", "femoral"), ("femoral", "femoral"), ("a_b", "a_b"), ("07_", "07_"), ("7", "7")):
        assert replace(one, path=Path(f"{name}.toml")).key == key


@given(views(), specimens())
def test_a_step_can_say_whatever_is_on_the_screen(view: View, specimen: Specimen) -> None:
    step = lesson({"view": as_table(view), "specimen": specimen_table(specimen)}).steps[0]
    assert (step.view, step.specimen) == (view, specimen)


def test_a_camera_may_be_a_word() -> None:
    assert lesson({"view": {"camera": "left"}}).steps[0].view.camera == Camera("left")


@pytest.mark.parametrize("key", ["level", "transition"])
def test_every_legal_word_is_taken(key: str) -> None:
    for word in {"level": LEVEL_WORDS, "transition": TRANSITIONS}[key]:
        one = lesson({key: word}) if key in STEP_KEYS else lesson(**{key: word})
        assert getattr(one.steps[0] if key in STEP_KEYS else one, key) == word


def test_texts_lose_the_space_around_them_and_nothing_else() -> None:
    assert lesson({"words": "\n  one\ttwo \n\n three \n"}).steps[0].words == "one\ttwo \n\n three"


# --- what goes on from step to step


def but(view: View, key: str, value: Any) -> View:
    """The view with another value under one key."""
    changed: dict[str, Any] = {key: value}
    return replace(view, **changed)


def test_what_a_step_leaves_out_stays() -> None:
    assert set(SHOWN) == set(KEYS)
    first, second = lesson({"view": SHOWN, "specimen": {"name": "Birch"}}, {}).steps
    assert first.view != View()
    assert (second.view, second.specimen) == (first.view, first.specimen)


def test_what_belongs_to_one_step_does_not_go_on() -> None:
    first, second = lesson(OF_ONE_STEP, {}).steps
    assert {key: getattr(first, key) for key in OF_ONE_STEP} == OF_ONE_STEP
    assert second == Step(id="s2", title="Step 2")


@pytest.mark.parametrize("key", sorted(WHOLE))
def test_a_key_of_the_view_is_replaced_as_a_whole_and_alone(key: str) -> None:
    """Whatever the second step says of a key is all that is left of it; every other key stays."""
    usual: dict[str, Any] = as_table(View()).get(key, [] if isinstance(WHOLE[key], list) else getattr(View(), key))
    if key == "camera":
        usual = {"name": "front"}
    first, second = lesson({"view": SHOWN}, {"view": {key: usual}}).steps
    wanted = Camera("front") if key == "camera" else getattr(View(), key)
    assert getattr(first.view, key) != wanted
    assert second.view == but(first.view, key, wanted)


def test_a_list_is_not_added_to() -> None:
    second = lesson({"view": {"hidden": ["aorta", "skin"]}}, {"view": {"hidden": ["l4"]}}).steps[1]
    assert second.view.hidden == {"l4"}


def test_a_specimen_is_replaced_as_a_whole() -> None:
    variants = {"accessory_obturator_left": True}
    steps = lesson(
        {"specimen": {"name": "Larch", "variants": variants, "psoas_scale": 1.2}},
        {"specimen": {"name": "Yew"}},
        {"specimen": {}},
    ).steps
    assert steps[0].specimen == Specimen(name="Larch", variants=frozenset(variants), psoas_scale=1.2)
    assert [step.specimen for step in steps[1:]] == [Specimen(name="Yew"), ALDER]


@pytest.mark.parametrize(
    ("key", "kind", "more"),
    [("portal", Placement, {"radius_mm": 9.0, "side": "right"}), ("film", Film, {"turn_deg": 8.0, "quarters": True})],
)
def test_portal_and_film_change_key_by_key(key: str, kind: Any, more: dict[str, Any]) -> None:
    assert key in PARTS
    views = [s.view for s in lesson({"view": SHOWN}, {"view": {key: more}}, {"view": {key: False}}, {}).steps]
    assert getattr(views[0], key) == kind(**SHOWN[key])
    assert views[1] == but(views[0], key, kind(**{**SHOWN[key], **more}))
    assert views[2] == views[3] == but(views[0], key, None)


@pytest.mark.parametrize("key", sorted(PARTS))
def test_true_and_an_empty_table_are_the_usual_one_or_that_which_stands(key: str) -> None:
    values: list[Any] = [True, {}]
    for value in values:
        first, second = lesson({"view": {key: value}}, {}).steps
        assert getattr(first.view, key) == PARTS[key]()
        first, second = lesson({"view": SHOWN}, {"view": {key: value}}).steps
        assert first.view == second.view


def test_after_it_was_taken_away_a_portal_begins_with_the_usual_numbers() -> None:
    steps = lesson({"view": SHOWN}, {"view": {"portal": False}}, {"view": {"portal": {"at": 0.75}}}).steps
    assert steps[2].view.portal == Placement(at=0.75)


def test_fresh_begins_clean() -> None:
    steps = lesson(
        {"view": SHOWN, "specimen": {"name": "Birch"}},
        {"fresh": True},
        {"fresh": True, "view": {"labels": False}, "specimen": {"name": "Yew"}},
        {"fresh": False},
    ).steps
    assert (steps[1].view, steps[1].specimen) == (View(), ALDER)
    assert (steps[2].view, steps[2].specimen) == (View(labels=False), Specimen(name="Yew"))
    assert (steps[3].view, steps[3].specimen) == (steps[2].view, steps[2].specimen)


@pytest.mark.parametrize("before", STATES)
@pytest.mark.parametrize("after", STATES)
def test_a_word_moves_between_the_states(before: str, after: str) -> None:
    """It is where the later step puts it; what else stood in the state that it left stays there."""
    first, second = lesson({"view": {before: ["aorta", "l4"]}}, {"view": {after: ["aorta"]}}).steps
    assert getattr(first.view, before) == {"aorta", "l4"}
    assert getattr(second.view, after) == {"aorta"}
    if before != after:
        assert getattr(second.view, before) == {"l4"}


@given(st.lists(st.dictionaries(st.sampled_from(STATES), st.frozensets(st.sampled_from(["aorta", "l4", "psoas"])))))
def test_a_word_is_in_one_state_at_most_and_where_it_was_put_last(steps: list[dict[str, frozenset[str]]]) -> None:
    told = [{k: w for k, w in step.items() if not any(w & v for j, v in step.items() if j != k)} for step in steps]
    views = [step.view for step in lesson(*({"view": step} for step in told)).steps]
    for step, view in zip(told, views, strict=False):
        for key, words in step.items():
            assert getattr(view, key) == words
        assert sum(len(getattr(view, key)) for key in STATES) == len(
            frozenset().union(view.glassy, view.hidden, view.shown)
        )
