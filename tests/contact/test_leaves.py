"""An approach leaf by leaf: every layer of the docking once, open where it lies open, nothing near left out."""

from __future__ import annotations

from itertools import pairwise, product

import pytest

from lessons.leaves import leaves_of, opened_at, stops
from lessons.view import Placement, View
from meshes.risk import approach_risk
from meshes.structures import APPROACHES, DISSECTION, LEVELS
from tests.contact.test_walk import ready, walked

PATHS = list(product(APPROACHES, LEVELS))


@pytest.mark.parametrize(("approach", "level"), PATHS)
def test_the_leaves_are_the_layers_and_tell_every_step_of_the_books_once(approach: str, level: str) -> None:
    walk = walked(approach, level, "left")
    leaves = leaves_of(walk)
    assert [(leaf.id, leaf.from_mm, leaf.to_mm) for leaf in leaves.leaves] == [
        (s.layer.id, s.layer.from_mm, s.layer.to_mm) for s in walk.steps
    ]
    assert [name for leaf in leaves.leaves for name in leaf.at_risk] == [c.id for s in walk.steps for c in s.at_risk]
    told = " ".join(words for leaf in leaves.leaves for _, words in leaf.books)
    rest = " ".join(words for _, lines in leaves.rest for _, words in lines)
    for stage in approach_risk()[approach].stages:
        assert (told + rest).count(stage.told.says) == 1
        assert (stage.told.says in rest) == (stage in walk.not_met)


@pytest.mark.parametrize(("approach", "level"), PATHS)
def test_a_leaf_opens_the_layer_in_which_it_lies(approach: str, level: str) -> None:
    structures = ready("left").body.structures
    before = "skin"
    view = View(portal=Placement(level=level, approach=approach))
    for leaf in leaves_of(walked(approach, level, "left")).leaves:
        own = leaf.id in structures and structures[leaf.id].kind != "nerve"
        assert leaf.dissection in DISSECTION
        if own:
            assert leaf.dissection == structures[leaf.id].layer
        elif leaf.id in structures or leaf.id == "intermuscular_fat":
            assert leaf.dissection == before
            assert not leaf.opens
        before = leaf.dissection
        seen = opened_at(view, leaf, tuple(structures.values()))
        assert seen.highlighted == set(leaf.at_risk)
        assert seen.portal == view.portal
        if own:
            assert seen.own_state(structures[leaf.id]) != "off"


@pytest.mark.parametrize(("approach", "level"), PATHS)
def test_the_stops_of_a_picture_leave_nothing_out_that_is_near(approach: str, level: str) -> None:
    leaves = leaves_of(walked(approach, level, "left")).leaves
    found = list(stops(leaves))
    assert all(a != b for (a, _), (b, _) in pairwise(found))
    assert [n for _, group in found for leaf in group for n in leaf.at_risk] == [n for x in leaves for n in x.at_risk]
    assert found[0][0] == "skin"
    assert found[-1][1][-1].id == f"disc_{level.lower().replace('-', '_')}"
