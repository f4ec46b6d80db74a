"""The window's state without a window: steps to undo, portals that cannot be placed, bodies that change."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.view import Placement, View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from meshes.structures import DISSECTION
from viewer.session import History, Session

views = st.sampled_from([View(dissection=layer) for layer in DISSECTION])


@given(st.lists(st.tuples(views, st.sampled_from(["", "a", "b"])), max_size=12))
def test_undo_and_redo_walk_the_same_way(changes: list[tuple[View, str]]) -> None:
    session = Session(view=View(dissection="skin"))
    for view, key in changes:
        session.change(view, key)
    end = session.view
    back = []
    while session.undo():
        back.append(session.view)
    assert session.view == View(dissection="skin")
    assert len(back) <= len(changes)
    forth = []
    while session.redo():
        forth.append(session.view)
    assert session.view == end
    assert forth[:-1] == list(reversed(back))[1:]


def test_one_gesture_is_one_step_and_a_new_change_forgets_what_was_undone() -> None:
    history = History()
    for layer in ("skin", "fat", "psoas"):
        history.record(View(dissection=layer), "drag1")
    assert [v.dissection for v in history.past] == ["skin"]
    assert history.back(View(dissection="dura")) == View(dissection="skin")
    history.record(View(dissection="skin"), "drag1")
    assert history.future == []
    assert len(history.past) == 1


def test_a_portal_makes_its_own_psoas_glassy_and_keeps_what_was_asked() -> None:
    session = Session()
    session.place_portal(Placement())
    assert session.view.glassy == {"psoas_major_left"}
    session.place_portal(Placement(side="right"))
    assert session.view.glassy == {"psoas_major_right"}
    session.change(session.view.with_state("psoas_major_right", "on"))
    session.place_portal(Placement(side="right", at=0.3))
    assert session.view.shown == {"psoas_major_right"}


def test_a_portal_is_docked_once_for_one_place_and_never_on_a_bad_one(alder: Body) -> None:
    session = Session(view=View().docked(Placement()))
    session.take_body(alder)
    first = session.docking
    assert first is not None
    session.change(session.view.lifted(1))
    assert session.docking is first
    before = session.view
    with pytest.raises(FurcalError, match="--radius"):
        session.place_portal(Placement(radius_mm=0.0))
    assert session.view == before
    assert session.docking is first
    session.place_portal(Placement(at=0.2))
    assert session.docking is not first


def test_another_body_docks_again_and_drops_a_portal_that_it_cannot_hold(alder: Body) -> None:
    session = Session(view=View().docked(Placement()))
    session.take_body(alder)
    first = session.docking
    session.take_body(replace(alder, specimen=replace(alder.specimen, name="Birch")))
    assert session.docking is not None
    assert session.docking is not first
    told: list[View] = []
    session.on_change = lambda: told.append(session.view)
    bad = replace(alder, surfaces={**alder.surfaces, "skin": alder.surfaces["disc_l1_2"]})
    with pytest.raises(FurcalError, match="skin"):
        session.take_body(bad)
    assert session.view.portal is None
    assert told[-1].portal is None


def test_the_docked_side_lies_up_where_the_table_is_broken() -> None:
    session = Session(Specimen(table_break_deg=20.0), View(portal=Placement(side="right")))
    assert session.wanted_specimen().up == "right"
    assert Session(Specimen(), View(portal=Placement(side="right"))).wanted_specimen().up == ""
