"""Every item of furcal's own bank: can be shown and answered on its body, and its own answer is marked right."""

import pytest

from lessons.spot.bank import bundled_items
from lessons.spot.item import KINDS, Item
from lessons.spot.mark import marked
from lessons.spot.onbody import lying, problems
from lessons.spot.response import Skipped
from tests.spot.answering import body_of, responses


def of_kind(kind: str) -> list[Item]:
    return [item for item in bundled_items() if item.kind == kind]


@pytest.mark.parametrize("kind", KINDS)
def test_every_item_can_be_shown_and_answered_on_its_body(kind: str) -> None:
    assert [wrong for item in of_kind(kind) for wrong in problems(item, body_of(lying(item)))] == []


@pytest.mark.parametrize("kind", KINDS)
def test_its_own_answer_is_right_and_every_other_wrong(kind: str) -> None:
    for item in of_kind(kind):
        body = body_of(lying(item))
        right, wrong = responses(item, body)
        assert marked(item, right, body).right, item.id
        assert not [one for one in (*wrong, Skipped()) if marked(item, one, body).right], item.id
