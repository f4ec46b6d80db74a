"""What was drawn once stays uploaded: one mapper for each detail of each mesh, for as long as it may come back."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from vtkmodules.vtkCommonCore import vtkCommand, vtkLookupTable
from vtkmodules.vtkCommonDataModel import vtkPolyData
from vtkmodules.vtkRenderingCore import vtkMapper

from lessons.view import Camera, State, View
from meshes.body import Body
from tests.viewer.conftest import Bench
from tests.viewer.test_scene import differing
from viewer.portalparts import Marks
from viewer.twomeshes import TwoMeshes

Meshes = Callable[[bool], vtkPolyData]
FRONT = View(camera=Camera("front"), labels=False)


def pair() -> Meshes:
    """A full mesh and a light one, the same whenever they are asked for."""
    meshes = {False: vtkPolyData(), True: vtkPolyData()}
    return meshes.__getitem__


def mesh_of(two: TwoMeshes) -> vtkPolyData:
    mesh = two.actor.GetMapper().GetInputDataObject(0, 0)
    assert isinstance(mesh, vtkPolyData)
    return mesh


@given(st.lists(st.tuples(st.integers(0, 2), st.booleans()), max_size=20), st.booleans())
def test_each_mesh_of_each_detail_keeps_its_mapper_however_they_take_turns(
    turns: list[tuple[int, bool]], light: bool
) -> None:
    meshes = [pair() for _ in range(3)]
    two = TwoMeshes(meshes[0], light)
    actor, mappers = two.actor, {(0, light): two.actor.GetMapper()}
    for k, light in [*turns, *turns]:
        two.reshape(meshes[k])
        two.use(light)
        assert mesh_of(two) is meshes[k](light)
        assert mappers.setdefault((k, light), two.actor.GetMapper()) is two.actor.GetMapper()
        assert two.actor is actor
    assert len(set(mappers.values())) == len(mappers), "and none stands for two"


def test_a_detail_is_made_only_when_it_is_used() -> None:
    asked: list[bool] = []
    meshes = pair()

    def made(light: bool) -> vtkPolyData:
        asked.append(light)
        return meshes(light)

    two = TwoMeshes(made, light=True)
    two.use(True)
    assert set(asked) == {True}
    two.use(False)
    assert set(asked) == {True, False}


def test_what_is_forgotten_does_not_come_back_and_is_let_go() -> None:
    gone: list[str] = []
    first, second = pair(), pair()
    two = TwoMeshes(first, False)
    for light in (True, False):
        two.use(light)
        two.actor.GetMapper().AddObserver(vtkCommand.DeleteEvent, lambda *_: gone.append("mapper"))
    old = two.actor.GetMapper()
    two.forget(None)
    two.reshape(second)
    assert gone == ["mapper"], "the one that is not drawn; we hold the other"
    two.reshape(first)
    assert two.actor.GetMapper() is not old
    assert mesh_of(two) is first(False)


def table() -> vtkLookupTable:
    made = vtkLookupTable()
    made.SetNumberOfTableValues(2)
    return made


def test_colours_reach_mappers_that_are_there_and_those_to_come() -> None:
    two, later = TwoMeshes(pair(), False), pair()
    two.use(True)
    colours = table()
    two.colour_by(colours)
    assert [coloured(m) for m in every(two, later)] == [colours] * 4
    other = table()
    two.colour_by(other)
    assert [coloured(m) for m in every(two, later)] == [other] * 4
    two.colour_by(None)
    assert [coloured(m) for m in every(two, pair())] == [None] * 4


def every(two: TwoMeshes, others: Meshes) -> list[vtkMapper]:
    """The mappers of both details of its meshes, then of others; all is then as before."""
    own, mappers = two._meshes, []
    for meshes in (own, others):
        two.reshape(meshes)
        for light in (True, False):
            two.use(light)
            mappers.append(two.actor.GetMapper())
    two.reshape(own)
    assert len(set(mappers)) == 4
    return mappers


def coloured(mapper: vtkMapper) -> vtkLookupTable | None:
    """The table that a mapper colours by; None for one colour."""
    if not mapper.GetScalarVisibility():
        return None
    assert mapper.GetScalarRange() == (0.0, 1.0)
    found = mapper.GetLookupTable()
    assert isinstance(found, vtkLookupTable)
    return found


# --- in a scene


def mappers(bench: Bench) -> dict[str, vtkMapper]:
    return {name: part.actor.GetMapper() for name, part in bench.scene._parts.items()}


def test_a_motion_ends_on_the_mappers_it_began_with(bench: Bench) -> None:
    bench.scene.show(replace(FRONT, highlighted=frozenset({"femoral_left"})))
    rim = bench.scene._parts["femoral_left"]._rim
    rest, rim_rest = mappers(bench), rim.actor.GetMapper()
    bench.scene.set_moving(True)
    moving, rim_moving = mappers(bench), rim.actor.GetMapper()
    bench.scene.set_moving(False)
    assert mappers(bench) == rest
    assert rim.actor.GetMapper() is rim_rest
    bench.scene.set_moving(True)
    assert mappers(bench) == moving
    assert rim.actor.GetMapper() is rim_moving
    assert not set(rest.values()) & set(moving.values())


def test_what_is_put_away_comes_back_on_the_same_mapper_pixel_for_pixel(bench: Bench) -> None:
    deep = replace(FRONT, dissection="external_oblique", highlighted=frozenset({"femoral_left"}))
    picture, before = bench.shot(deep), mappers(bench)
    for other in (replace(FRONT, dissection="skin"), FRONT.lifted(3), deep.with_state("psoas", "glassy")):
        assert differing(bench.shot(other), picture) > 0
        again = bench.shot(deep)
        assert np.array_equal(again, picture), other
        assert {name: mappers(bench)[name] for name in before} == before


def test_what_is_put_away_is_out_of_the_picture(bench: Bench) -> None:
    without = bench.shot(FRONT.with_state("psoas", "off"))
    bench.shot(FRONT)
    assert np.array_equal(bench.shot(FRONT.with_state("psoas", "off")), without)


@pytest.mark.parametrize("state", ["glassy", "on"])
def test_glass_comes_back_in_its_order(bench: Bench, state: State) -> None:
    muscles = ["psoas_major_left", "psoas_major_right", "external_oblique_left", "external_oblique_right"]
    everything = replace(FRONT, dissection="external_oblique").with_state(muscles, state)
    before = bench.shot(everything)
    for muscle in muscles:
        bench.shot(everything.with_state(muscle, "off"))
        assert np.array_equal(bench.shot(everything), before), muscle


def test_another_body_takes_new_mappers_and_the_first_one_looks_as_before(bench: Bench, body: Body) -> None:
    picture, before = bench.shot(FRONT), mappers(bench)
    first = bench.scene._meshes
    wide = {i: s.moved(s.vertices * np.array([1.2, 1.0, 1.0])) for i, s in body.surfaces.items()}
    bench.scene.set_body(replace(body, surfaces=wide))
    assert differing(bench.shot(FRONT), picture) > 0
    assert not set(mappers(bench).values()) & set(before.values())
    bench.scene.set_body(body, first)
    assert np.array_equal(bench.shot(FRONT), picture)


def test_the_order_of_drawing_holds_every_actor_once(bench: Bench, body: Body) -> None:
    """Whatever is put in order, taken out or marked: the renderer's own list names each actor once, and no other."""
    from tests.viewer.test_cameras import portal

    marks = Marks(portal(), {"femoral_left": body.centrelines["femoral_left"].points[20]}, {})
    for view, marked in ((FRONT, None), (FRONT.with_state("psoas", "glassy"), marks), (FRONT.lifted(3), None)):
        bench.scene.show(view, marked)
        for moving in (True, False):
            bench.scene.set_moving(moving)
            bench.window.Render()
            drawn = bench.scene.renderer.GetViewProps()
            held = [drawn.GetItemAsObject(i) for i in range(drawn.GetNumberOfItems())]
            assert len(held) == len(set(held))
            of_parts = [actor for name in bench.scene.looks for actor in bench.scene._parts[name].actors]
            assert set(of_parts) <= set(held)
            assert len(held) == len(of_parts) + (5 if marked else 0)  # two walls, two rings, a collar
