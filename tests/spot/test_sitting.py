"""How items are shown: nothing gives the answer away while they are asked, and what they are about is lit after."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lessons.spot.bank import bundled_items
from lessons.spot.item import Chosen, Docked, Item, Named
from lessons.spot.sitting import asked_view, explained_view
from lessons.view import View
from meshes.specimen import ALDER

ABOUT = Item(
    id="one", kind="predict", objective="loss", structure="femoral_left", ask="Which?",
    answer=Chosen("a", ("b", "c")), explain="So. [common_practice]",
    view=View(labels=True, named=frozenset({"femoral_left"}), colouring="by_nerve"),
)  # fmt: skip


@pytest.mark.parametrize("item", bundled_items(), ids=lambda item: item.id)
def test_while_it_is_asked_there_are_no_names_and_one_colour(item: Item) -> None:
    view = asked_view(item)
    assert not view.labels
    assert not view.named
    assert view.colouring == "print"
    if isinstance(item.answer, Named):
        assert view.highlighted == {item.answer.mark}
    if isinstance(item.answer, Docked):
        assert view.portal == item.answer.start
    explained = explained_view(item)
    assert explained.labels
    assert explained.highlighted
    assert explained.highlighted == explained.named


def test_what_an_item_is_about_is_lit_where_it_says_nothing_else() -> None:
    assert not asked_view(ABOUT).named
    assert explained_view(ABOUT).highlighted == {"femoral_left"}
    assert explained_view(replace(ABOUT, lit=("obturator_left",))).highlighted == {"obturator_left"}


@pytest.mark.parametrize("structure", ["L4-5", "femoral", "accessory_obturator_left", "lfcn_lateral_to_asis_left"])
def test_what_this_body_has_no_nerve_of_is_not_lit(structure: str) -> None:
    assert explained_view(replace(ABOUT, structure=structure)).highlighted == frozenset()
    larch = replace(ALDER, variants=frozenset({"accessory_obturator_left"}))
    lit = explained_view(replace(ABOUT, structure=structure, specimen=larch)).highlighted
    assert lit == ({structure} if structure == "accessory_obturator_left" else frozenset())
