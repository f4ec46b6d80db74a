"""The window's state without a window: steps to undo, portals that cannot be placed, bodies that change."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.view import Placement, View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import ALDER, Specimen
from meshes.structures import DISSECTION, SIDES
from viewer.session import STEPS_MAX, History, Scene, Session

views = st.sampled_from([View(dissection=layer) for layer in DISSECTION])
BIRCH = Specimen(name="Birch", psoas_scale=1.3)
LARCH = Specimen(name="Larch")


def seen(layer: str) -> Scene:
    return Scene(ALDER, View(dissection=layer))


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
        history.record(seen(layer), "drag1")
    assert history.past == [seen("skin")]
    assert history.back(seen("dura")) == seen("skin")
    history.record(seen("skin"), "drag1")
    assert history.future == []
    assert len(history.past) == 1


def test_a_portal_makes_its_own_psoas_glassy_and_what_was_asked_goes_first(alder: Body) -> None:
    session = Session()

    def states() -> tuple[str, str]:
        left, right = (session.view.own_state(alder.structures[f"psoas_major_{side}"]) for side in SIDES)
        return left, right

    session.place_portal(Placement())
    assert states() == ("glassy", "on")
    session.place_portal(Placement(side="right"))
    assert states() == ("on", "glassy")
    session.change(session.view.with_state("psoas_major_right", "on"))
    session.place_portal(Placement(side="right", at=0.3))
    assert states() == ("on", "on")
    session.change(session.view.with_state("psoas_major_right", None).dissected_to("vertebrae"))
    assert states() == ("off", "off")


def test_a_portal_is_docked_once_for_one_place_and_never_on_a_bad_one(alder: Body) -> None:
    session = Session(view=View(portal=Placement()))
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
    session = Session(view=View(portal=Placement()))
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


# --- specimens, scenes from files


doings = st.lists(st.tuples(st.sampled_from(["view", "specimen", "scene", "undo", "redo"]), views), max_size=20)


@given(doings)
def test_undo_takes_back_everything_done_to_the_scene(done: list[tuple[str, View]]) -> None:
    """A plain list of scenes with a place in it says what undo and redo must lead to."""
    session = Session()
    scenes, now = [session.scene], 0
    for doing, view in done:
        if doing == "undo":
            assert session.undo() is (now > 0)
            now = max(now - 1, 0)
        elif doing == "redo":
            assert session.redo() is (now < len(scenes) - 1)
            now = min(now + 1, len(scenes) - 1)
        else:
            specimen = session.specimen if doing == "view" else Specimen(name=view.dissection)
            wanted = Scene(specimen, session.view if doing == "specimen" else view)
            if doing == "view":
                session.change(view)
            elif doing == "specimen":
                session.use_specimen(specimen)
            else:
                session.open_scene(specimen, view, "scene.toml")
            if wanted != scenes[now]:
                del scenes[now + 1 :]
                scenes.append(wanted)
                now += 1
        assert session.scene == scenes[now]


def test_the_history_is_bounded() -> None:
    session = Session()
    for i in range(STEPS_MAX + 20):
        session.use_specimen(Specimen(stature_mm=1400.0 + i))
    assert len(session.history.past) == STEPS_MAX
    while session.undo():
        pass
    assert session.specimen.stature_mm == 1419.0


def test_the_last_body_and_its_docking_stay_while_another_is_built(alder: Body) -> None:
    session = Session(view=View(portal=Placement()))
    session.take_body(alder)
    docking = session.docking
    session.use_specimen(BIRCH)
    assert session.needs_body()
    assert (session.body, session.docking) == (alder, docking)
    session.take_body(replace(alder, specimen=BIRCH))
    assert not session.needs_body()
    session.undo()
    assert session.specimen == ALDER
    assert session.needs_body()


def test_a_specimen_that_cannot_be_built_is_forgotten(alder: Body) -> None:
    session = Session()
    session.take_body(alder)
    session.use_specimen(BIRCH)
    session.change(View(labels=False))
    session.give_up_body()
    assert session.scene == Scene(ALDER, View(labels=False))
    assert all(scene.specimen != BIRCH for scene in session.history.past)
    session.undo()
    assert session.scene == Scene(ALDER, View())
    assert not session.undo()


def test_a_first_body_that_cannot_be_built_is_followed_by_alder() -> None:
    session = Session(BIRCH)
    session.give_up_body()
    assert session.specimen == ALDER
    session.give_up_body()
    assert session.specimen == ALDER


def test_a_side_that_cannot_lie_up_leaves_the_body_that_is_here(alder: Body) -> None:
    bent = Specimen(table_break_deg=20.0)
    session = Session(bent, View(portal=Placement()))
    session.take_body(replace(alder, specimen=bent.facing_up("left")))
    session.place_portal(Placement(side="right"))
    assert session.needs_body()
    session.give_up_body()
    assert not session.needs_body()


def test_a_scene_that_this_body_cannot_hold_changes_nothing(alder: Body) -> None:
    session = Session(view=View(portal=Placement()))
    session.take_body(alder)
    before, docking = session.scene, session.docking
    with pytest.raises(FurcalError, match=r"^a.toml, \[view\], shown: accessory_obturator_left: "):
        session.open_scene(ALDER, View(shown=frozenset({"accessory_obturator_left"})), "a.toml, [view]")
    with pytest.raises(FurcalError, match=r"^a.toml, \[view\], portal: radius_mm = 0: "):
        session.open_scene(ALDER, View(portal=Placement(radius_mm=0.0)), "a.toml, [view]")
    assert (session.scene, session.docking, session.history.past) == (before, docking, [])


@pytest.mark.parametrize(
    "view", [View(shown=frozenset({"accessory_obturator_left"})), View(portal=Placement(radius_mm=0.0))]
)
def test_a_scene_that_its_own_body_cannot_hold_is_as_if_never_opened(alder: Body, view: View) -> None:
    session = Session(view=View(portal=Placement()))
    session.take_body(alder)
    session.change(session.view.lifted(1))
    before, past = session.scene, list(session.history.past)
    session.open_scene(BIRCH, view, "a.toml")
    session.change(session.view.lifted(1))
    with pytest.raises(FurcalError, match=r"^a.toml, "):
        session.judge(replace(alder, specimen=BIRCH))
    assert session.scene == before
    assert session.history.past == past
    assert session.docking is not None
    assert not session.needs_body()


def test_a_scene_that_fits_stays_and_is_judged_once(alder: Body) -> None:
    view = View(portal=Placement(at=0.2), highlighted=frozenset({"femoral_left"}))
    session = Session()
    session.take_body(alder)
    session.open_scene(LARCH, view, "a.toml")
    larch = replace(alder, specimen=LARCH)
    session.judge(larch)
    session.take_body(larch)
    assert session.scene == Scene(LARCH, view)
    assert session.docking is not None
    session.undo()
    assert session.scene == Scene(ALDER, View())


def test_a_scene_whose_body_cannot_be_built_is_as_if_never_opened(alder: Body) -> None:
    session = Session()
    session.take_body(alder)
    session.open_scene(BIRCH, View(labels=False), "a.toml")
    session.give_up_body()
    assert session.scene == Scene(ALDER, View())
    assert not session.history.past
