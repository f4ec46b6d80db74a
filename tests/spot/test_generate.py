"""Every item that can be made of a body has one right answer on it, by look-ups of their own."""

import re
from dataclasses import replace
from functools import cache

import pytest

from lessons.spot.generate import drafts, generated
from lessons.spot.item import KINDS, SORTS, Chosen, Item
from lessons.spot.made.draft import Asked, Draft, made_id
from lessons.spot.made.seen import open_share, places_on
from lessons.spot.mark import marked
from lessons.spot.onbody import lying, problems
from lessons.spot.response import Skipped
from lessons.spot.rules import broken_rules, hints_of
from lessons.spot.sitting import asked_view
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import ALDER, Specimen
from tests.spot.answering import body_of, responses
from tests.spot.lookups import CHECKS

SEED = 7
#: At least so many of each kind are made of Alder.
LEAST = {
    "name": 130, "point": 130, "trace": 20, "order": 14, "predict": 120, "examine": 90, "find": 40, "quarter": 20,
    "dock": 20, "wire": 40, "differs": 9,
}  # fmt: skip
OTHERS = {
    "Birch": Specimen(name="Birch", psoas_scale=1.3),
    "Larch": Specimen(
        name="Larch",
        variants=frozenset({"accessory_obturator_left", "accessory_obturator_right", "genitofemoral_split_left"}),
    ),
    "Yew": Specimen(name="Yew", variants=frozenset({"aorta_divides_high", "lfcn_lateral_to_asis_left"})),
}


@cache
def space(kind: str) -> tuple[Draft, ...]:
    """All that can be made of Alder, of one kind."""
    return tuple(drafts(body_of(ALDER), [kind]))


def whole(draft: Draft) -> Item:
    """The item with every option that the dice may choose."""
    answer = draft.answer or Chosen(draft.right, draft.pool)
    return Item(
        draft.id, draft.kind, draft.objective, draft.structure, draft.ask, answer, draft.explain, draft.specimen,
        draft.view, draft.vignette, draft.depth, draft.lit, where=draft.id, made=True,
    )  # fmt: skip


def body_for(item: Item) -> Body:
    return body_of(lying(item))


@pytest.mark.parametrize("kind", KINDS)
def test_there_is_enough_of_each_kind_and_each_has_its_own_id(kind: str) -> None:
    found = [item for draft in space(kind) if (item := draft.item(SEED)) is not None]
    assert len(found) >= LEAST[kind]
    assert len({item.id for item in found}) == len(found)
    assert all(re.fullmatch(r"made_[a-z0-9_]{1,55}", item.id) for item in found)
    assert all(item.made and item.kind == kind and isinstance(item.answer, SORTS[kind]) for item in found)


@pytest.mark.parametrize("kind", CHECKS)
def test_over_the_whole_space_the_right_answer_is_right_and_every_distractor_wrong(kind: str) -> None:
    """Not only the options that some seed chooses: all that any seed may choose."""
    for draft in space(kind):
        CHECKS[kind](whole(draft), body_for(whole(draft)))


@pytest.mark.parametrize("kind", KINDS)
def test_over_the_whole_space_nothing_is_wrong_on_the_body_and_no_rule_of_writing_is_broken(kind: str) -> None:
    for draft in space(kind):
        item = draft.item(SEED)
        if item is not None:
            assert problems(item, body_for(item)) == []
            assert broken_rules(item) == []
            assert hints_of(item) == []


@pytest.mark.parametrize("kind", [k for k in KINDS if Chosen in SORTS[k] and k not in ("name", "wire")])
def test_options_differ_whatever_their_case_and_the_seed_only_chooses(kind: str) -> None:
    for draft in space(kind):
        assert len({w.casefold() for w in (draft.right, *draft.pool)}) == len(draft.pool) + 1
        for seed in (1, 2, 3):
            item = draft.item(seed)
            if item is not None:
                assert isinstance(item.answer, Chosen)
                assert item.answer.right == draft.right
                assert set(item.answer.wrong) <= set(draft.pool)
                assert 3 <= len(item.answer.options) <= 4


@pytest.mark.parametrize("kind", KINDS)
def test_over_the_whole_space_marking_is_of_one_mind(kind: str) -> None:
    for draft in space(kind):
        item = draft.item(SEED)
        if item is None:
            continue
        body = body_for(item)
        right, wrong = responses(item, body)
        assert marked(item, right, body).right, item.id
        assert wrong
        for response in (*wrong, Skipped()):
            verdict = marked(item, response, body)
            assert not verdict.right, (item.id, response)
            assert verdict.score < 1.0


@pytest.mark.parametrize("kind", ["name", "point", "trace", "predict"])
def test_what_is_asked_of_lies_open_in_its_view(kind: str) -> None:
    asked = Asked.of(body_of(ALDER))
    for draft in space(kind)[::5]:
        view = asked_view(whole(draft))
        assert open_share(asked, view, draft.structure, places_on(asked, draft.structure)) >= 0.3, draft.id


def test_a_variant_that_is_asked_for_is_seen() -> None:
    for draft in space("differs"):
        asked = Asked.of(body_for(whole(draft)))
        shares = [open_share(asked, draft.view, id_, places_on(asked, id_)) for id_ in draft.lit]
        assert max(shares) >= 0.2, (draft.id, shares)


@pytest.mark.parametrize("name", OTHERS)
@pytest.mark.parametrize("kind", KINDS)
def test_a_sample_of_other_bodies_holds_as_well(name: str, kind: str) -> None:
    body = body_of(OTHERS[name])
    found = generated(body, SEED, [kind], 4)
    assert len(found) == (2 if (name, kind) == ("Yew", "differs") else len(found))
    assert found
    for item in found:
        own = body_for(item)
        assert problems(item, own) == []
        assert item.id.endswith(made_id("", "", item.specimen)[-6:])
        if kind in CHECKS:
            CHECKS[kind](item, own)
        right, wrong = responses(item, own)
        assert marked(item, right, own).right
        assert not any(marked(item, one, own).right for one in wrong)


def test_a_seed_gives_the_same_items_and_another_seed_others() -> None:
    body = body_of(ALDER)
    kinds = ("predict", "trace", "wire")
    assert generated(body, 3, kinds, 12) == generated(body, 3, kinds, 12)
    assert generated(body, 3, kinds, 12) != generated(body, 4, kinds, 12)
    assert generated(body, 3, kinds, 5) == generated(body, 3, kinds, 12)[:5]
    assert [item.kind for item in generated(body, 3, kinds, 6)] == [*kinds, *kinds]
    assert generated(body, 3, kinds, 0) == ()


def test_all_of_some_kinds_are_all_that_can_be_made() -> None:
    made = generated(body_of(ALDER), SEED, ["trace", "wire"])
    possible = [item for kind in ("trace", "wire") for draft in space(kind) if (item := draft.item(SEED)) is not None]
    assert {item.id: item for item in made} == {item.id: item for item in possible}


def test_the_same_question_of_another_body_is_another_item() -> None:
    birch = replace(ALDER, name="Birch", psoas_scale=1.3)
    assert made_id("name", "femoral_left", ALDER) == "made_name_femoral_left"
    assert made_id("name", "femoral_left", birch) != made_id("name", "femoral_left", replace(birch, psoas_scale=1.2))
    assert made_id("name", "femoral_left", birch) == made_id("name", "femoral_left", replace(birch, name="B"))
    long = made_id("predict", "x" * 80, birch)
    assert len(long) <= 60
    assert long != made_id("predict", "x" * 79 + "y", birch)


def test_an_unknown_kind_is_told() -> None:
    with pytest.raises(FurcalError, match="kind"):
        generated(body_of(ALDER), 1, ["sing"])
