"""Marking of every sort of answer."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot.item import QUARTERS, Answer, Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.mark import in_order, marked
from lessons.spot.onbody import lying, solution
from lessons.spot.response import (
    FITTING,
    Arranged,
    Clicked,
    Picked,
    Placed,
    Quarter,
    Response,
    Said,
    Segments,
    Skipped,
    fits,
)
from lessons.view import Placement
from meshes.body import Body
from meshes.contact import dock
from meshes.errors import FurcalError
from meshes.portal import place
from meshes.structures import SEGMENTS
from tests.spot.anyitem import item as plain
from tests.spot.anyitem import items


def item(answer: Answer) -> Item:
    return plain("one", answer=answer)


START = Placement("L3-4", "left", "lateral", 0.5, 6.0)
ANSWERS: dict[type, tuple[Answer, Response]] = {
    Named: (Named("femoral_left"), Said("femoral nerve")),
    Pointed: (Pointed("femoral_left", 6.0), Clicked("femoral_left", (0.0, 0.0, 0.0))),
    Rooted: (Rooted(("L2", "L3", "L4")), Segments(("L4", "L3", "L2"))),
    Ordered: (Ordered(("skin", "fat", "muscle")), Arranged(("skin", "fat", "muscle"))),
    Chosen: (Chosen("Knee extension.", ("Hip flexion.", "Hip abduction.")), Picked("Knee extension.")),
    Quartered: (Quartered("L4-5", "left", ("II", "III")), Quarter("III")),
}


@pytest.mark.parametrize("sort", ANSWERS)
def test_what_is_right_is_right(sort: type, alder: Body) -> None:
    answer, response = ANSWERS[sort]
    verdict = marked(item(answer), response, alder)
    assert verdict.right
    assert verdict.score == 1.0
    one_sentence(verdict.says)


def one_sentence(text: str) -> None:
    assert text.strip() == text
    assert text.endswith(".")
    assert not text.endswith("..")
    assert "\n" not in text
    assert text[0].isupper()


@given(items(), st.data())
def test_no_answer_is_wrong_and_worth_nothing_for_every_sort(alder: Body, any_item: Item, data: st.DataObject) -> None:
    if isinstance(any_item.answer, (Named, Pointed)):
        any_item = replace(any_item, answer=ANSWERS[type(any_item.answer)][0])
    verdict = marked(any_item, Skipped(), alder)
    assert not verdict.right
    assert verdict.score == 0.0
    assert verdict.says.startswith("Not answered;")


@pytest.mark.parametrize("sort", [*ANSWERS, Docked])
def test_an_answer_of_another_sort_is_refused_with_the_items_place(sort: type) -> None:
    answer = ANSWERS[sort][0] if sort in ANSWERS else Docked(START)
    for other, (_, response) in ANSWERS.items():
        if not fits(response, answer):
            assert FITTING[sort] is not FITTING[other]
            with pytest.raises(FurcalError, match="bank, item 1"):
                marked(replace(item(answer), where="bank, item 1"), response)


def test_a_name_needs_no_body_and_another_nerve_is_told() -> None:
    assert marked(item(Named("accessory_obturator_left")), Said("AON")).right
    verdict = marked(item(Named("femoral_left")), Said("genitofemoral nerve"))
    assert (verdict.right, verdict.score) == (False, 0.0)
    assert verdict.says == 'Answered: "genitofemoral nerve"; it is the femoral nerve, left.'
    assert marked(item(Named("femoral_left")), Said("  ")).says == "Answered: nothing; it is the femoral nerve, left."


def test_a_mark_that_the_body_lacks_is_told(alder: Body) -> None:
    with pytest.raises(FurcalError, match="accessory_obturator_left"):
        marked(item(Named("accessory_obturator_left")), Said("AON"), alder)


@given(st.sets(st.sampled_from(SEGMENTS), min_size=1), st.sets(st.sampled_from(SEGMENTS)))
def test_roots_are_right_as_a_set_and_scored_by_jaccard(roots: set[str], said: set[str]) -> None:
    verdict = marked(item(Rooted(tuple(sorted(roots, key=SEGMENTS.index)))), Segments(tuple(said)))
    assert verdict.right == (roots == said)
    assert verdict.score == pytest.approx(len(roots & said) / len(roots | said))
    one_sentence(verdict.says)


@pytest.mark.parametrize("n", [3, 4, 5])
def test_an_order_is_right_only_as_it_is_and_scored_by_pairs(n: int) -> None:
    right = tuple("abcdefg"[:n])
    scores = {}
    for said in permutations(right):
        verdict = marked(item(Ordered(right)), Arranged(said))
        assert verdict.right == (said == right)
        inversions = sum(said.index(x) > said.index(y) for i, x in enumerate(right) for y in right[i + 1 :])
        assert verdict.score == pytest.approx(1.0 - inversions / (n * (n - 1) / 2))
        scores[said] = verdict.score
    assert scores[right] == 1.0
    assert scores[right[::-1]] == 0.0
    assert [said for said, score in scores.items() if score == 1.0] == [right]


def test_an_order_that_lacks_or_doubles_a_word_is_worth_nothing() -> None:
    assert in_order(("a", "b", "c"), ("a", "b")) == 0.0
    assert in_order(("a", "b", "c"), ("a", "b", "b")) == 0.0
    assert not marked(item(Ordered(("a", "b", "c"))), Arranged(("a", "b", "c", "d"))).right


@given(items(kind="predict"))
def test_one_option_is_right_and_every_other_wrong(any_item: Item) -> None:
    assert isinstance(any_item.answer, Chosen)
    verdicts = [marked(any_item, Picked(option)) for option in any_item.answer.options]
    assert [v.right for v in verdicts] == [True] + [False] * (len(verdicts) - 1)
    assert not marked(any_item, Picked(f"{any_item.answer.right} and more")).right


def test_any_of_the_right_quarters_is_right() -> None:
    verdicts = {q: marked(item(Quartered("L4-5", "left", ("II", "III"))), Quarter(q)) for q in QUARTERS}
    assert {q: v.right for q, v in verdicts.items()} == {"I": False, "II": True, "III": True, "IV": False}
    assert verdicts["IV"].says == "Answered: quarter IV; right is quarter II or III (I anterior to IV posterior)."


def test_a_click_is_judged_along_the_surface(alder: Body) -> None:
    psoas = alder.surfaces["psoas_major_left"].vertices
    nerve = alder.surfaces["genitofemoral_left"].vertices
    gaps = np.linalg.norm(psoas[:, None] - nerve[None], axis=2).min(axis=1)
    on, off = psoas[gaps.argmin()], psoas[gaps.argmax()]
    asked = item(Pointed("genitofemoral_left", 6.0))
    near = marked(asked, Clicked("psoas_major_left", tuple(on)), alder)
    far = marked(asked, Clicked("psoas_major_left", tuple(off)), alder)
    assert near.right
    assert near.score == 1.0
    assert "along the psoas major, left" in near.says
    assert (far.right, far.score) == (False, 0.0)
    assert far.says.startswith("Answered: the psoas major, left, more than 6 mm")
    assert not marked(asked, Clicked("nobody", (0.0, 0.0, 0.0)), alder).right


@pytest.fixture(scope="module")
def docked(alder: Body) -> tuple[Docked, Placement]:
    asked = Docked(START)
    found = solution(asked, alder)
    assert found is not None
    return asked, found


def clearance(body: Body, p: Placement) -> float:
    docking = dock(
        body,
        place(body, p.level, p.side, p.approach, p.at, p.radius_mm, p.depth_mm, p.cranial_deg, p.anterior_deg),
    )
    return min(c.clearance_mm for c in docking.nerves)


def test_a_portal_that_touches_no_nerve_is_right(alder: Body, docked: tuple[Docked, Placement]) -> None:
    asked, found = docked
    verdict = marked(item(asked), Placed(found), alder)
    assert verdict.right
    assert verdict.score > 0.0
    assert f"{clearance(alder, found):.1f} mm clear of every nerve" in verdict.says


def test_a_portal_is_right_just_where_every_nerve_is_clear(alder: Body) -> None:
    asked = Docked(START, 2.0)
    rights = set()
    for at in np.linspace(0.0, 1.0, 21):
        portal = replace(START, at=float(at))
        verdict = marked(item(asked), Placed(portal), alder)
        least = clearance(alder, portal)
        barred = "bars the way" in verdict.says
        assert verdict.right == (least >= 2.0 and not barred), (at, least, verdict)
        assert verdict.right or verdict.score <= 0.5
        one_sentence(verdict.says)
        if least <= 0.0 and not barred:
            assert "touches the" in verdict.says
        rights.add(verdict.right)
    assert rights == {True, False}


def test_what_is_touched_beside_nerves_lowers_the_score(alder: Body) -> None:
    scores: dict[int, set[float]] = {}
    for at in np.linspace(0.0, 1.0, 41):
        portal = replace(START, level="L2-3", radius_mm=4.0, at=float(at))
        verdict = marked(item(Docked(replace(portal, at=0.5))), Placed(portal), alder)
        if verdict.right:
            docking = dock(alder, place(alder, "L2-3", "left", "lateral", float(at), 4.0))
            count = sum(c.touched for c in (*docking.vessels, *docking.viscera))
            scores.setdefault(count, set()).add(verdict.score)
            assert ("but touches" in verdict.says) == (count > 0)
    assert scores[0] == {1.0}
    assert len(scores) > 1
    assert all(score < 1.0 for count, found in scores.items() if count for score in found)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"level": "L4-5"}, "asked for is level L3-4"),
        ({"side": "right"}, "asked for is side left"),
        ({"approach": "oblique"}, "asked for is approach lateral"),
        ({"radius_mm": 2.0}, "narrower (2 mm) than asked for (6 mm)"),
    ],
)
def test_another_portal_than_asked_for_is_wrong(
    alder: Body, docked: tuple[Docked, Placement], change: dict[str, object], said: str
) -> None:
    verdict = marked(item(docked[0]), Placed(replace(docked[1], **change)), alder)  # type: ignore[arg-type]
    assert (verdict.right, verdict.score) == (False, 0.0)
    assert said in verdict.says


def test_bone_in_the_way_and_a_portal_that_cannot_be_placed_are_told(alder: Body) -> None:
    start = Placement("L5-S1", "left", "lateral", 0.5, 8.0)
    barred = marked(item(Docked(start)), Placed(start), alder)
    assert not barred.right
    assert "bars the way" in barred.says
    tilted = marked(item(Docked(START)), Placed(replace(START, cranial_deg=900.0)), alder)
    assert not tilted.right
    one_sentence(tilted.says)


def test_a_portal_is_marked_on_the_body_that_faces_up(alder: Body) -> None:
    broken = replace(item(Docked(START)), specimen=replace(alder.specimen, table_break_deg=15.0))
    assert lying(broken).up == "left"
    assert lying(item(Docked(START))) == alder.specimen
