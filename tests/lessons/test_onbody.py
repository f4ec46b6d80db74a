"""What only a body knows: a step that hides what it lights, a portal that cannot stand, a variant that is not there."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons import lessoncheck
from lessons.lessoncheck import checked, hints_of
from lessons.lessonfile import first_text
from lessons.onbody import check_on, lying, problems_on_bodies, step_problems
from lessons.script import read_lesson
from lessons.stepview import STATES
from lessons.view import View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import ALDER, Specimen
from meshes.structures import DISSECTION
from tests.lessons.lessonfiles import PATH, lesson, text

WHERE = f"{PATH}, step 1 (s1)"


def said(body: Body, step: dict[str, Any]) -> list[str]:
    return list(step_problems(lesson(step).steps[0], WHERE, lambda _: body))


def lit(view: dict[str, Any]) -> dict[str, Any]:
    return {"view": {"highlighted": ["femoral_left"], **view}}


# --- lit and not shown

WRAPPED = "dissect deeper than fat, or make skin and fat glassy"
DEEP = "dissect less deep, or list it under shown"
WAYS_OUT: tuple[tuple[dict[str, Any], str, dict[str, Any]], ...] = (
    ({"hidden": ["femoral_left"]}, "take it out of hidden", {}),
    (
        {"dissection": "skin"},
        WRAPPED,
        {"dissection": "external_oblique"},
    ),
    ({"dissection": "fat"}, WRAPPED, {"dissection": "external_oblique"}),
    (
        {"dissection": "skin"},
        WRAPPED,
        {"dissection": "skin", "glassy": ["skin", "fat"]},
    ),
    (
        {"highlighted": ["aorta"], "dissection": "psoas"},
        DEEP,
        {"highlighted": ["aorta"], "dissection": "vessels"},
    ),
    (
        {"highlighted": ["aorta"], "dissection": "psoas"},
        DEEP,
        {"highlighted": ["aorta"], "dissection": "psoas", "shown": ["aorta"]},
    ),
    (
        {"highlighted": ["aorta"], "hidden": ["vessels"], "dissection": "vessels"},
        DEEP,
        {"highlighted": ["aorta"], "hidden": ["vessels"], "dissection": "vessels", "shown": ["aorta"]},
    ),
)


@pytest.mark.parametrize(("view", "remedy", "mended"), WAYS_OUT)
def test_what_is_lit_and_not_shown_is_told_with_a_way_out_that_works(
    alder: Body, view: dict[str, Any], remedy: str, mended: dict[str, Any]
) -> None:
    name = view.get("highlighted", ["femoral_left"])[0]
    assert said(alder, lit(view)) == [f"{WHERE}, view, highlighted: {name} is lit but not shown; {remedy}."]
    assert said(alder, lit(mended)) == []


layers = st.sampled_from(DISSECTION)
ids = st.sampled_from(["femoral_left", "aorta", "psoas_major_left", "l4", "disc_l4_5", "external_oblique_left"])
states = st.dictionaries(ids | layers, st.sampled_from(STATES), max_size=3)


@given(layers, st.frozensets(ids, min_size=1, max_size=2), states)
def test_a_step_passes_when_all_that_it_lights_can_be_seen(
    alder: Body, layer: str, highlighted: frozenset[str], words: dict[str, str]
) -> None:
    sets: dict[str, Any] = {
        key: frozenset(w for w, s in words.items() if s == key) for key in ("glassy", "hidden", "shown")
    }
    view = View(dissection=layer, highlighted=highlighted, **sets)
    off = sorted(name for name in highlighted if view.visibility(alder.structures[name]) == "off")
    step = replace(lesson().steps[0], view=view)
    found = list(step_problems(step, WHERE, lambda _: alder))
    assert [problem.split(": ")[1].split()[0] for problem in found] == off
    if off:
        with pytest.raises(FurcalError, match=f"^{re.escape(found[0])}$"):
            check_on(step, alder, WHERE)
    else:
        check_on(step, alder, WHERE)


def test_on_a_picture_nothing_need_be_seen_of_the_body(alder: Body) -> None:
    step = replace(lesson(lit({"dissection": "skin"})).steps[0], picture=Path("scan.png"))
    assert list(step_problems(step, WHERE, lambda _: alder)) == []


# --- portals


def test_a_view_down_a_portal_needs_one(alder: Body) -> None:
    assert said(alder, {"view": {"camera": "portal"}}) == [
        f"{WHERE}, view, camera: looks down a portal, and there is none; give view.portal too."
    ]
    assert said(alder, {"view": {"camera": "portal", "portal": True}}) == []


def test_down_a_portal_a_nerve_may_be_lit_though_skin_wraps_the_body(alder: Body) -> None:
    view = {"camera": "portal", "portal": True, "dissection": "skin", "highlighted": ["femoral_left"]}
    assert said(alder, {"view": view}) == []


def test_a_portal_that_cannot_be_placed_is_told_in_the_words_of_the_file(alder: Body) -> None:
    """On a body whose skin lies inside it no portal reaches its disc."""
    bad = replace(alder, surfaces={**alder.surfaces, "skin": alder.surfaces["disc_l1_2"]})
    portal = {"level": "L4-5", "at": 0.5, "radius_mm": 11, "cranial_deg": 20}
    only = said(bad, {"view": {"portal": portal}})
    assert len(only) == 1
    assert only[0].startswith(f"{WHERE}, view, portal: ")
    assert "cranial_deg = 20" in only[0]
    assert "--" not in only[0]
    assert said(alder, {"view": {"portal": portal}}) == []


def test_the_side_that_is_docked_lies_up_on_a_broken_table() -> None:
    for side, other in (("left", "right"), ("right", "left")):
        step = lesson({"specimen": {"table_break_deg": 15}, "view": {"portal": {"side": side}}}).steps[0]
        assert lying(step) == Specimen(table_break_deg=15.0, up=side)
        told = replace(step, specimen=replace(step.specimen, up=other))
        assert lying(told) == told.specimen
        assert lying(replace(step, view=replace(step.view, portal=None))) == step.specimen


# --- variants


@pytest.mark.parametrize(
    ("view", "key"),
    [
        ({"highlighted": ["accessory_obturator_left"]}, "highlighted"),
        ({"named": ["accessory_obturator_left"]}, "named"),
        ({"glassy": ["accessory_obturator_left"]}, "glassy"),
        ({"film": {"nerves": ["accessory_obturator_left"]}}, "film, nerves"),
        ({"camera": {"name": "left", "on": ["accessory_obturator_left"]}}, "camera, on"),
    ],
)
def test_a_nerve_that_this_specimen_lacks_is_told_with_the_variant(
    alder: Body, larch: Body, view: dict[str, Any], key: str
) -> None:
    assert said(alder, {"view": view}) == [
        f"{WHERE}, view, {key}: accessory_obturator_left: this specimen has no such structure; give the specimen "
        "that variant or take the word out."
    ]
    assert said(larch, {"view": view}) == []


# --- follow


def test_following_needs_a_nerve_that_is_lit(alder: Body) -> None:
    follow = {"transition": "follow"}
    wrong = f"{WHERE}, transition: follow needs a nerve in view.highlighted; name one, or write fly."
    assert said(alder, follow) == [wrong]
    assert said(alder, {**follow, "view": {"highlighted": ["psoas_major_left"]}}) == [wrong]
    assert said(alder, {**follow, "view": {"highlighted": ["femoral_left", "psoas_major_left"]}}) == []


# --- a whole lesson


def test_every_step_is_looked_at_on_its_own_body(alder: Body, larch: Body) -> None:
    variants = {f"accessory_obturator_{side}": True for side in ("left", "right")}
    own = {"view": {"highlighted": ["accessory_obturator_left"]}}
    whole = lesson(
        {"specimen": {"name": "Larch", "variants": variants}, **own}, {"specimen": {}}, {"view": {"camera": "portal"}}
    )
    asked: list[Specimen] = []

    def build(specimen: Specimen) -> Body:
        asked.append(specimen)
        return larch if specimen.variants else alder

    found = problems_on_bodies(whole, build)
    assert asked == [step.specimen for step in whole.steps]
    places = [problem.partition(": ")[0] for problem in found]
    assert places == [f"{whole.where(1)}, and on to step 3, view, highlighted", f"{whole.where(2)}, view, camera"]


def test_a_body_that_cannot_be_built_is_a_problem_of_its_step() -> None:
    def build(_: Specimen) -> Body:
        raise FurcalError("the tables cannot be used.")

    whole = lesson({}, {})
    assert problems_on_bodies(whole, build) == [
        f"{whole.where(0)}, and on to step 2, specimen: the tables cannot be used."
    ]


def test_what_goes_on_from_step_to_step_is_told_once(alder: Body) -> None:
    """Also while other things come and go beside it; told anew after a step without it."""
    off = ", view, highlighted: {} is lit but not shown; take it out of hidden."
    femoral, obturator = off.format("femoral_left"), off.format("obturator_left")
    both = ["femoral_left", "obturator_left"]
    whole = lesson(
        {"view": {"hidden": both, "highlighted": ["femoral_left"]}},
        {"view": {"highlighted": both}},
        {"view": {"highlighted": ["femoral_left"]}},
        {"view": {"highlighted": []}},
        {"view": {"highlighted": ["femoral_left"]}},
    )
    shares: list[float] = []
    assert problems_on_bodies(whole, lambda _: alder, lambda share, _: shares.append(share)) == [
        f"{whole.where(0)}, and on to step 3{femoral}",
        f"{whole.where(1)}{obturator}",
        f"{whole.where(4)}{femoral}",
    ]
    assert shares == [n / 5 for n in range(5)]


@pytest.fixture
def built(alder: Body, monkeypatch: pytest.MonkeyPatch) -> list[Specimen]:
    """Which bodies are asked for while a file is checked."""
    asked: list[Specimen] = []

    def load(specimen: Specimen) -> Body:
        asked.append(specimen)
        return replace(alder, specimen=specimen)

    monkeypatch.setattr(lessoncheck, "load_body", load)
    return asked


def test_a_file_is_checked_word_by_word_first_and_on_bodies_only_when_that_holds(
    tmp_path: Path, built: list[Specimen]
) -> None:
    path = tmp_path / "a.toml"
    path.write_text(text({"view": {"camera": "portal"}}, {"fresh": 3}))
    found = checked(path)
    assert (found.steps, len(found.problems)) == (2, 1)
    assert "fresh" in found.problems[0]
    assert built == []
    path.write_text(text({"view": {"camera": "portal"}}, {}, {"transition": "follow"}))
    found = checked(path)
    portal, follow = found.problems
    assert portal.startswith(f"{path}, step 1 (s1), and on to step 3, view, camera: ")
    assert follow.startswith(f"{path}, step 3 (s3), transition: ")
    assert built == [ALDER]


def test_a_body_is_built_once_for_steps_in_a_row(tmp_path: Path, built: list[Specimen]) -> None:
    path = tmp_path / "a.toml"
    path.write_text(text({}, {}, {"specimen": {"name": "Birch"}}, {}, {"fresh": True}))
    shares: list[float] = []
    assert checked(path, lambda share, _: shares.append(share)).problems == ()
    assert built == [ALDER, Specimen(name="Birch"), ALDER]
    assert shares == [n / 5 for n in range(5)]


def test_a_file_that_is_none_is_checked_too(tmp_path: Path) -> None:
    for path, words in ((tmp_path / "none.toml", None), (tmp_path / "a.toml", "x = 1")):
        if words:
            path.write_text(words)
        found = checked(path)
        assert (found.path, found.steps, len(found.problems), found.hints) == (path, 0, 1, ())
        assert found.problems[0].startswith(f"{path}: ")


def test_a_first_lesson_passes_and_wants_an_objective_only(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text(first_text("Winter"))
    found = checked(path)
    (first,) = read_lesson(path).objectives
    assert found.problems == ()
    assert found.hints == (f"{path}, objectives: {first!r} is still that of a new lesson; write your own.",)
    path.write_text(first_text("Winter").replace(first, "Mine."))
    assert checked(path).hints == ()
    path.write_text(first_text("Winter").replace(f'"{first}"', f'"Mine.", "{first}"'))
    assert len(checked(path).hints) == 1


def test_a_source_of_ones_own_that_nothing_cites_is_a_hint() -> None:
    steps: list[dict[str, Any]] = [
        {"words": "A [one]."},
        {"notes": "A [two].", "question": "B?", "answer": "C [three]"},
    ]
    whole = lesson(*steps, sources={"one": "1", "two": "2", "four": "4", "three": "3"})
    assert hints_of(whole) == [f"{PATH}, [sources], four: no step cites it; write [four] behind what it stands for."]


def test_an_answer_without_a_question_is_a_hint() -> None:
    whole = lesson({}, {"answer": "Yes."}, {"question": "Who?", "answer": "You."})
    assert hints_of(whole) == [f"{whole.where(1)}, answer: there is no question to it; it is held back all the same."]


def test_what_seems_to_be_a_source_and_is_none_is_a_hint() -> None:
    whole = lesson(
        {"words": "A [Harbour 1997].", "notes": "B [Ward_1997]", "question": "C?", "answer": "D [12]? [judgement]"}
    )
    rest = "is shown as text; a source key is of small letters, digits and _."
    told = [hint for hint in hints_of(whole) if "shown as text" in hint]
    assert told == [
        f"{whole.where(0)}, words: [Harbour 1997] {rest}",
        f"{whole.where(0)}, notes: [Ward_1997] {rest}",
        f"{whole.where(0)}, answer: [12] {rest}",
    ]


def test_hints_name_figures_without_a_source_in_words_and_answers_by_step() -> None:
    whole = lesson(
        {"words": "At L4-5 it is whole. Then 5 mm.", "notes": "In 7 of 9."},
        {"question": "How many of 3?", "answer": "Only 2. [from_memory] Or 3."},
    )
    assert hints_of(whole) == [
        f"{whole.where(0)}: a figure without a source: Then 5 mm.",
        f"{whole.where(1)}: a figure without a source: Or 3.",
    ]
