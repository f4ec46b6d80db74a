"""What a lesson file cannot say is told in one sentence with file, step, key and remedy, all of it at once."""

from __future__ import annotations

from typing import Any

import pytest

from lessons.lesson import MINUTES, STEPS_MAX
from lessons.script import (
    MARK_KEY,
    SCHEMA,
    TITLE_MAX,
    lesson_from_text,
    looked_over,
)
from lessons.stepview import KEYS
from lessons.view import View
from meshes.errors import FurcalError
from tests.lessons.lessonfiles import HEAD, PATH, SHOWN, lesson, lines, problems, text, told

# --- what cannot be used


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", ": is no lesson; a lesson begins with the line furcal_lesson = 1."),
        ("title = 'x'", ": is no lesson;"),
        ("furcal_scene = 1", ": is no lesson;"),
        ("furcal_lesson 1", "is not valid TOML: Expected '=' after a key in a key/value pair (at line 1, column 15);"),
        ("furcal_lesson = 1\na = [", "(at end of document); line 2 reads 'a = [': close its [ with ]."),
        ("furcal_lesson = 1\nfurcal_lesson = 1", "is not valid TOML: Cannot overwrite a value"),
        (f"furcal_lesson = {'[' * 100_000}", "nested too deeply."),
        (f"furcal_lesson = {'9' * 5000}", "is not valid TOML"),
        ("furcal_lesson = 1979-13-40", "is not valid TOML"),
        ("furcal_lesson = '1'", ", furcal_lesson: expected the whole number 1, found '1'."),
        ("furcal_lesson = true", ", furcal_lesson: expected the whole number 1, found True."),
        ("furcal_lesson = 1.0", ", furcal_lesson: expected the whole number 1, found 1.0."),
        ("furcal_lesson = 0", ", furcal_lesson: expected the whole number 1, found 0."),
        ("furcal_lesson = 2", ": written by a newer furcal (schema 2); this one reads 1: update furcal."),
    ],
)
def test_what_is_no_lesson_is_told_in_one_sentence(words: str, said: str) -> None:
    assert looked_over(words, PATH)[0] is None
    only = told(words)
    assert len(only) == 1
    assert said in only[0]


def test_a_newer_schema_is_not_read_any_further() -> None:
    assert len(problems({"harbour": 1}, **{MARK_KEY: SCHEMA + 1}, level="nobody")) == 1


LONG = "x" * (TITLE_MAX + 1)


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ({"titel": "x"}, ": unknown key 'titel'. Nearest: title. Legal: furcal_lesson, title, about,"),
        ({"title": None}, ", title: is missing; write a text."),
        ({"title": " \n"}, ", title: is empty; write a text."),
        ({"title": 3}, ", title: expected a text, found 3."),
        ({"title": LONG}, f", title: has {len(LONG)} letters; {TITLE_MAX} are the most."),
        ({"title": "a\x1b[2J"}, r", title: holds the control character '\x1b'; take it out."),
        ({"about": ["x"]}, ", about: expected a text, found ['x']."),
        ({"level": None}, ", level: is missing; write one of student, resident, fellow."),
        (
            {"level": "residnt"},
            ", level: unknown level 'residnt'. Nearest: resident. Legal: student, resident, fellow.",
        ),
        ({"level": ["fellow"]}, ", level: unknown level ['fellow']. Legal: student, resident, fellow."),
        ({"minutes": None}, ", minutes: expected a whole number from 1 to 600, it is missing."),
        ({"minutes": True}, ", minutes: expected a whole number from 1 to 600, found True."),
        ({"minutes": 5.0}, ", minutes: expected a whole number from 1 to 600, found 5.0."),
        ({"minutes": MINUTES[0] - 1}, ", minutes: expected a whole number from 1 to 600, found 0."),
        ({"minutes": MINUTES[1] + 1}, ", minutes: expected a whole number from 1 to 600, found 601."),
        ({"objectives": None}, ", objectives: expected a list of texts, at least one."),
        ({"objectives": []}, ", objectives: expected a list of texts, at least one."),
        ({"objectives": "x"}, ", objectives: expected a list of texts, at least one."),
        ({"objectives": ["x", " "]}, ", objectives: expected a list of texts, at least one."),
        ({"objectives": ["x\x00"]}, r", objectives: holds the control character '\x00'; take it out."),
        ({"sources": 3}, ", [sources]: must be a table of keys and what is to be printed."),
        ({"sources": {"A b": "x"}}, ", [sources], 'A b': a key is of small letters, digits and _, a letter first."),
        ({"sources": {"ward": 3}}, ", [sources], ward: expected a text, found 3."),
        ({"sources": {"ward": ""}}, ", [sources], ward: expected a text, found ''."),
        ({"sources": {"ward": "\x9b"}}, r", [sources], ward: holds the control character '\x9b'; take it out."),
    ],
)
def test_what_is_wrong_in_the_head_is_told(head: dict[str, Any], said: str) -> None:
    only = problems(**head)
    assert len(only) == 1
    assert only[0].startswith(f"{PATH}{said}")


@pytest.mark.parametrize("steps", [None, [], {}, 3, "x", [1], [{}, 1], [[]]])
def test_a_lesson_without_steps_is_none(steps: Any) -> None:
    words = "\n".join(lines({**HEAD, "steps": steps}))
    assert looked_over(words, PATH)[0] is None
    assert told(words) == [f"{PATH}, steps: a lesson has at least one step, which begins with the line [[steps]]."]


@pytest.mark.parametrize(
    ("step", "said"),
    [
        ({"wrods": "x"}, ": unknown key 'wrods'. Nearest: words. Legal: id, title, fresh, specimen, view, words,"),
        ({"theme": "dark"}, ", theme: is the reader's choice, not the lesson's; take it out."),
        ({"title": None}, ", title: is missing; write a text."),
        ({"title": ""}, ", title: is empty; write a text."),
        ({"title": LONG}, f", title: has {len(LONG)} letters; {TITLE_MAX} are the most."),
        ({"fresh": 1}, ", fresh: expected true or false, found 1."),
        ({"words": 3}, ", words: expected a text, found 3."),
        ({"words": "a\x07"}, r", words: holds the control character '\x07'; take it out."),
        ({"notes": "a [davis_2o11]"}, ", notes: unknown source 'davis_2o11'. Nearest: davis_2011"),
        ({"notes": []}, ", notes: expected a text, found []."),
        ({"question": False}, ", question: expected a text, found False."),
        ({"question": "a", "answer": {}}, ", answer: expected a text, found {}."),
        ({"words": "a [davis_2o11]"}, ", words: unknown source 'davis_2o11'. Nearest: davis_2011"),
        ({"question": "a", "answer": "[ward]"}, ", answer: unknown source 'ward'."),
        ({"transition": "jump"}, ", transition: unknown transition 'jump'. Legal: fly, cut, follow."),
        ({"transition": 1}, ", transition: unknown transition 1. Legal: fly, cut, follow."),
        ({"body_map": "femoral"}, ", body_map: unknown nerve 'femoral'. Nearest: femoral_"),
        ({"body_map": "accessory_obturator_left"}, ", body_map: accessory_obturator_left: this specimen has no such"),
        ({"body_map": "sympathetic_trunk_left"}, ", body_map: sympathetic_trunk_left: it serves no skin"),
        ({"body_map": "aorta"}, ", body_map: unknown nerve 'aorta'."),
        ({"body_map": 3}, ", body_map: expected a text, found 3."),
        ({"specimen": "Birch"}, ", specimen: must be a table with the keys of a specimen file."),
        ({"specimen": {"nam": "Birch"}}, ", specimen: unknown key 'nam'. Nearest: name."),
        ({"specimen": {"psoas_scale": 9}}, ", specimen, psoas_scale: 9 is outside 0.5 to 1.6."),
        ({"specimen": {"name": "\x1b"}}, r", specimen, name: holds the control character '\x1b'; take it out."),
        ({"view": 3}, ", view: must be a table."),
        ({"view": {"camra": "left"}}, ", view: unknown key 'camra'. Nearest: camera. Legal: camera, dissection,"),
        ({"view": {"theme": "dark"}}, ", view, theme: is the reader's choice, not the lesson's; take it out."),
        ({"view": {"language": "latin"}}, ", view, language: is the reader's choice, not the lesson's; take it out."),
        ({"view": {"camera": "up"}}, ", view, camera: unknown view 'up'."),
        ({"view": {"camera": 3}}, ", view, camera: must be a table."),
        ({"view": {"camera": {"nme": "left"}}}, ", view, camera: unknown key 'nme'. Nearest: name."),
        ({"view": {"camera": {"on": ["disc_l45"]}}}, ", view, camera, on: unknown structure or landmark 'disc_l45'."),
        ({"view": {"camera": {"on": "disc_l4_5"}}}, ", view, camera, on: 'disc_l4_5' is not a list of words."),
        ({"view": {"camera": {"turn_deg": 200}}}, ", view, camera: turn_deg 200: must lie between -180 and 180."),
        ({"view": {"camera": {"raise_deg": "a"}}}, ", view, camera, raise_deg: 'a' is not a number."),
        ({"view": {"dissection": "psoa"}}, ", view: unknown dissection 'psoa'. Nearest: psoas."),
        ({"view": {"side": 1}}, ", view, side: 1 is not a word."),
        ({"view": {"labels": "yes"}}, ", view, labels: 'yes' is not true or false."),
        ({"view": {"colouring": "red"}}, ", view: unknown colouring 'red'."),
        ({"view": {"glassy": ["femur_lef"]}}, ", view, glassy: unknown structure 'femur_lef'. Nearest: femur_left"),
        ({"view": {"highlighted": ["psoas"]}}, ", view, highlighted: unknown structure 'psoas'."),
        ({"view": {"named": "aorta"}}, ", view, named: 'aorta' is not a list of words."),
        ({"view": {"shown": ["skin"], "hidden": ["skin"]}}, ", view, shown: 'skin' is listed under hidden too;"),
        ({"view": {"portal": 3}}, ", view, portal: must be a table."),
        ({"view": {"portal": {"levl": "L4-5"}}}, ", view, portal: unknown key 'levl'. Nearest: level."),
        ({"view": {"portal": {"level": "L4-6"}}}, ", view, portal: unknown level 'L4-6'. Nearest: L4-5"),
        ({"view": {"portal": {"at": 2}}}, ", view, portal: at = 2: must be a number from 0 to 1"),
        ({"view": {"film": "left"}}, ", view, film: must be a table."),
        ({"view": {"film": {"view": "back"}}}, ", view, film: unknown film view 'back'."),
        ({"view": {"film": {"wires": 2}}}, ", view, film: wires 2: must lie between 0 and 1."),
        ({"view": {"film": {"nerves": ["femural_left"]}}}, ", view, film, nerves: unknown structure 'femural_left'."),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_step_is_told_with_its_number_and_id(step: dict[str, Any], said: str) -> None:
    only = problems({}, step)
    assert len(only) == 1, only
    assert only[0].startswith(f"{PATH}, step 2 (s2){said}")


@pytest.mark.parametrize("key", KEYS)
def test_a_key_of_the_view_in_the_step_is_told_where_it_belongs(key: str) -> None:
    assert problems({}, {key: SHOWN[key]}) == [f"{PATH}, step 2 (s2), {key}: belongs to the view; write view.{key}."]


@pytest.mark.parametrize(
    ("step", "nearest"),
    [
        ({"view": {"highlighted": ["lfcn_left"]}}, "lateral_femoral_cutaneous_left"),
        ({"view": {"hidden": ["GFN_right"]}}, "genitofemoral_right"),
        ({"view": {"film": {"nerves": ["lst_right"]}}}, "lumbosacral_trunk_right"),
        ({"view": {"camera": {"name": "left", "on": ["drg_l4_left"]}}}, "l4_ganglion_left"),
        ({"body_map": "ihn_left"}, "iliohypogastric_left"),
        ({"specimen": {"variants": {"lfcn_left": True}}}, "lfcn_lateral_to_asis_left"),
        ({"specimen": {"variants": {"gfn_split_right": True}}}, "genitofemoral_split_right"),
    ],
)
def test_a_short_form_of_the_trade_is_answered_with_what_it_stands_for(step: dict[str, Any], nearest: str) -> None:
    (only,) = problems(step)
    assert only.partition(" Nearest: ")[2].startswith(nearest)
    assert only.count("unknown") == 1


def test_steps_under_one_bracket_are_told() -> None:
    whole = "\n".join([*lines(HEAD), "[steps]", 'id = "a"', 'title = "A"'])
    assert told(whole) == [f"{PATH}, steps: a step begins with two brackets at either side, [[steps]]; write it so."]


def test_an_answer_without_a_question_may_be_written_first() -> None:
    assert lesson({"answer": "Yes."}).steps[0].answer == "Yes."


@pytest.mark.parametrize("name", [None, "", "Front", "1st", "a-b", "a b", "a" * 41, "é", "a\n", 3, True, ["a"]])
def test_an_id_that_is_none_is_told_by_the_number_of_its_step(name: Any) -> None:
    only = problems({}, {"id": name})
    assert len(only) == 1
    assert only[0].startswith(f"{PATH}, step 2, id: expected small letters, digits and _, a letter first, at most 40; ")


def test_an_id_given_twice_is_told_with_both_steps() -> None:
    assert problems({"id": "a"}, {"id": "b"}, {"id": "a"}, {"id": "a"}) == [
        f"{PATH}, step {n}, id: a is the id of step 1 too; give each step its own." for n in (3, 4)
    ]
    assert len(problems({"id": "Step"}, {"id": "step_1"})) == 1


def test_too_many_steps_are_refused_before_any_is_read() -> None:
    count = 25 * STEPS_MAX
    whole, found = looked_over(text(*({"harbour": 1} for _ in range(count))), PATH)
    assert whole is None
    assert found == [f"{PATH}, step {STEPS_MAX + 1}: {STEPS_MAX} steps are the most, and there are {count}; divide it."]


def test_as_many_steps_as_are_legal_are_read() -> None:
    assert len(lesson(*({} for _ in range(STEPS_MAX))).steps) == STEPS_MAX


def test_all_that_is_wrong_is_told_at_once_and_in_order() -> None:
    found = problems(
        {"words": "[none]", "view": {"hidden": ["x"], "side": "up", "portal": {"at": 9}, "labels": False}},
        {"id": "s1", "transition": "hop", "specimen": {"sex": "x"}},
        level="nobody",
        minutes=0,
    )
    places = ["level", "minutes", *["step 1 (s1), view"] * 3, "step 1 (s1), words"]
    places += ["step 2 (s1), specimen", "step 2 (s1), transition", "step 2, id"]
    assert len(found) == len(places)
    for problem, place in zip(found, places, strict=True):
        assert problem.startswith(f"{PATH}, {place}")


def test_what_was_wrong_stays_as_before_and_the_rest_is_taken() -> None:
    """So that one slip is told once, and not again by every step after it."""
    whole, found = looked_over(text({"view": {"hidden": ["aorta"]}}, {"view": {"hidden": ["x"], "side": "left"}}), PATH)
    assert len(found) == 1
    assert whole is not None
    assert whole.steps[1].view == View(hidden=frozenset({"aorta"}), side="left")


def test_reading_raises_the_first_thing_that_is_wrong() -> None:
    words = text({"fresh": 3}, level="nobody")
    with pytest.raises(FurcalError) as caught:
        lesson_from_text(words, PATH)
    assert str(caught.value) == told(words)[0]
