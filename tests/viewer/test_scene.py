"""The scene: only the difference is drawn, and nothing see-through is lost."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from lessons.view import THEMES, Camera, Placement, View
from meshes.body import Body
from meshes.surfaces import Surface
from tests.viewer.conftest import Bench, Pixels
from viewer.palette import THEMES as COLOURS
from viewer.palette import contrast

FRONT = View(camera=Camera("front"), labels=False)


def differing(a: Pixels, b: Pixels, step: int = 12) -> int:
    """How many pixels differ by more than a step in any colour."""
    return int((np.abs(a.astype(int) - b.astype(int)).max(axis=2) > step).sum())


def test_the_first_view_adds_what_is_seen_and_the_same_view_does_nothing(bench: Bench, body: Body) -> None:
    change = bench.scene.show(FRONT)
    assert set(change.added) == {s.id for s in body.structures.values() if FRONT.visibility(s) != "off"}
    assert bench.scene.show(FRONT).count == 0
    assert bench.scene.show(replace(FRONT, camera=Camera("back"))).count == 0


def test_only_the_difference_is_touched(bench: Bench) -> None:
    bench.scene.show(FRONT)
    glassy = FRONT.with_state("psoas_major_left", "glassy")
    assert bench.scene.show(glassy).restyled == ("psoas_major_left",)
    gone = bench.scene.show(glassy.with_state("psoas_major_left", "off"))
    assert (gone.added, gone.restyled, gone.removed) == ((), (), ("psoas_major_left",))
    nerves = bench.scene.show(replace(FRONT, colouring="by_nerve"))
    assert set(nerves.added) == {"psoas_major_left"}
    assert all(i.split("_left")[0].split("_right")[0] in NERVES for i in nerves.restyled)


NERVES = {"femoral", "obturator", "iliohypogastric", "dural_sac"}


def test_what_is_drawn_is_what_the_renderer_holds(bench: Bench) -> None:
    views = [FRONT.lifted(n) for n in (-9, 3, -2, 9, -5)] + [FRONT.with_state("psoas", "glassy"), FRONT]
    for view in views:
        bench.scene.show(view)
        assert bench.scene.renderer.GetActors().GetNumberOfItems() == len(bench.scene.looks)


def test_under_the_skin_nothing_else_is_drawn_and_fat_has_the_skins_shape(bench: Bench) -> None:
    bench.scene.show(replace(FRONT, dissection="skin"))
    assert list(bench.scene.looks) == ["skin"]
    skin = bench.shot(replace(FRONT, dissection="skin"))
    fat = bench.shot(replace(FRONT, dissection="fat"))
    assert list(bench.scene.looks) == ["fat"]
    background = np.array(COLOURS["light"].background)
    body_of_skin, body_of_fat = ((p != background).any(axis=2) for p in (skin, fat))
    assert (body_of_skin == body_of_fat).mean() > 0.99
    assert differing(skin, fat) > 0.9 * body_of_skin.sum()


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("muscle", ["psoas_major_right", "external_oblique_left"])
def test_muscle_pixels_are_there_solid_and_glassy(bench: Bench, theme: str, muscle: str) -> None:
    """Multisampling with depth peeling once dropped every translucent mesh without a word: so pixels are counted."""
    view = replace(FRONT, dissection="external_oblique", theme=theme)
    without = bench.shot(view.with_state(muscle, "off"))
    solid = differing(bench.shot(view), without)
    glassy = differing(bench.shot(view.with_state(muscle, "glassy")), without, step=6)
    assert solid > 0.01 * without[..., 0].size
    assert glassy > 0.9 * solid


def test_several_glassy_muscles_are_all_there(bench: Bench) -> None:
    muscles = ["psoas_major_left", "psoas_major_right", "external_oblique_left", "external_oblique_right"]
    view = replace(FRONT, dissection="external_oblique")
    everything = view.with_state(muscles, "glassy")
    for muscle in muscles:
        seen = differing(bench.shot(everything), bench.shot(everything.with_state(muscle, "off")), step=4)
        assert seen > 0.01 * 160 * 120, muscle


def test_a_nerve_shows_through_a_glassy_muscle_and_not_through_a_solid_one(bench: Bench) -> None:
    others = {s.id for s in bench.scene.body.structures.values()} - {"psoas_major_left", "obturator_left"}
    view = FRONT.with_state(others, "off")
    seen = {}
    for state in ("on", "glassy", "off"):
        shown = view.with_state("psoas_major_left", state)
        seen[state] = differing(bench.shot(shown), bench.shot(shown.with_state("obturator_left", "off")))
    assert seen["on"] < 0.8 * seen["off"]
    assert seen["glassy"] > 0.95 * seen["off"]


@pytest.mark.parametrize("theme", THEMES)
def test_a_drawn_outline_stands_out_from_the_background(bench: Bench, theme: str) -> None:
    """Each solid alone on the background: along its rim some pixel has at least 3:1 (WCAG 2.2, 1.4.11)."""
    ground = COLOURS[theme].background
    everything = [s.id for s in bench.scene.body.structures.values()]
    for name in ("femoral_left", "hip_left", "psoas_major_left", "aorta", "inferior_vena_cava", "l3"):
        alone = replace(FRONT, theme=theme, dissection="vessels").with_state(set(everything) - {name}, "off")
        picture = bench.shot(alone)
        inside = (np.abs(picture.astype(int) - np.array(ground)).max(axis=2)) > 12
        colours = picture[inside]
        ratios = np.array([contrast(tuple(int(v) for v in c), ground) for c in colours[:: max(1, len(colours) // 400)]])  # type: ignore[arg-type]
        assert ratios.max() >= 3.0, (name, ratios.max())


def test_the_light_copy_is_used_while_moving_and_the_full_mesh_at_rest(bench: Bench) -> None:
    bench.scene.show(replace(FRONT, dissection="external_oblique"))
    full = bench.scene.triangles()
    bench.scene.set_moving(True)
    light = bench.scene.triangles()
    assert light < 0.7 * full
    bench.scene.show(FRONT)
    bench.scene.set_moving(False)
    bench.scene.show(replace(FRONT, dissection="external_oblique"))
    assert bench.scene.triangles() == full


def test_a_portal_that_changes_sides_makes_the_psoas_of_its_side_glassy(bench: Bench) -> None:
    for side, other in (("left", "right"), ("right", "left"), ("left", "right")):
        bench.scene.show(replace(FRONT, portal=Placement(side=side)).with_state("psoas", "on"))
        bench.scene.show(replace(FRONT, dissection="psoas", portal=Placement(side=side)))
        looks = bench.scene.looks
        assert looks[f"psoas_major_{side}"].opacity < 1.0
        assert looks[f"psoas_major_{other}"].opacity == 1.0
    bench.scene.show(replace(FRONT, dissection="psoas", portal=Placement(side="left")))
    bench.scene.show(replace(FRONT, dissection="psoas", portal=Placement(side="right")))
    assert bench.scene.looks["psoas_major_left"].opacity == 1.0
    assert bench.scene.looks["psoas_major_right"].opacity < 1.0


def test_another_body_moves_what_is_shown_and_drops_what_it_lacks(bench: Bench, body: Body) -> None:
    before = bench.shot(FRONT)
    structures = {k: v for k, v in body.structures.items() if k != "aorta"}
    surfaces = {k: Surface(s.vertices + np.array([15.0, 0, 0]), s.faces) for k, s in body.surfaces.items()}
    surfaces.pop("aorta")
    bench.scene.show(replace(FRONT, dissection="vessels"))
    bench.scene.set_body(replace(body, structures=structures, surfaces=surfaces))
    moved_back = bench.shot(FRONT)
    assert "aorta" not in bench.scene.looks
    assert differing(before, moved_back) < 0.1 * before[..., 0].size  # the region moves along, so does the eye
    bench.scene.set_body(body)
    assert differing(bench.shot(FRONT), before) == 0


def test_a_portal_comes_and_goes_and_marks_what_it_touches(bench: Bench, body: Body) -> None:
    from tests.viewer.test_cameras import portal
    from viewer.portalparts import Marks

    plain = bench.shot(FRONT)
    marks = Marks(portal(), {"femoral_left": body.centrelines["femoral_left"].points[20]}, {})
    bench.scene.show(FRONT, marks)
    held = bench.scene.renderer.GetActors().GetNumberOfItems()
    assert held == len(bench.scene.looks) + 1 + 5  # the rim of the nerve; two walls, two rings, a collar
    assert bench.scene.looks["femoral_left"].ringed
    bench.window.Render()
    whole = replace(FRONT, portal=Placement()).with_state("psoas", "on")
    assert differing(bench.shot(whole), plain) == 0


def test_glassy_actors_are_drawn_from_the_back_to_the_front(bench: Bench) -> None:
    from viewer.cameras import eye_of

    muscles = ["psoas_major_left", "psoas_major_right"]
    bench.scene.show(FRONT.with_state(muscles, "glassy"))
    for name, last in (("left", "psoas_major_left"), ("right", "psoas_major_right")):
        bench.scene.look_from(eye_of(Camera(name), bench.scene.region, 1.3))
        actors = bench.scene.renderer.GetActors()
        held = [actors.GetItemAsObject(i) for i in range(actors.GetNumberOfItems())]
        places = {m: held.index(bench.scene._parts[m].actor) for m in muscles}
        assert max(places, key=lambda m: places[m]) == last


def test_a_fading_layer_thins_out_and_is_gone_and_comes_back_solid(alder: Body) -> None:
    from viewer.studio import Studio

    with Studio(alder, (80, 60)) as studio:
        assert_fades(studio.scene, studio.renderer)


def assert_fades(scene: Any, renderer: Any) -> None:
    view = View(dissection="psoas")
    scene.show(view)
    psoas = scene._parts["psoas_major_left"].actor
    change = scene.show(replace(view, dissection="iliacus_quadratus"), fades=True)
    assert "psoas_major_left" in change.removed
    assert "psoas_major_left" not in scene.looks
    solid = []
    for share in (0.0, 0.5, 0.9):
        scene.fade(share)
        assert renderer.HasViewProp(psoas)
        solid.append(psoas.GetProperty().GetOpacity())
    assert solid == pytest.approx([1.0, 0.5, 0.1])
    scene.fade(1.0)
    assert not renderer.HasViewProp(psoas)
    assert not scene.is_fading
    scene.show(view, fades=True)
    assert psoas.GetProperty().GetOpacity() == 0.0
    scene.show(view)  # any other picture ends it
    assert psoas.GetProperty().GetOpacity() == 1.0
    assert renderer.HasViewProp(psoas)


@pytest.mark.parametrize("word", ["femoral_left", "nerves_left"])
def test_what_the_portal_meets_is_off_where_it_or_its_side_is_hidden(bench: Bench, body: Body, word: str) -> None:
    from tests.viewer.test_cameras import portal
    from viewer.portalparts import Marks

    marks = Marks(portal(), {"femoral_left": body.centrelines["femoral_left"].points[20]}, {})
    bench.scene.show(FRONT, marks)
    assert "femoral_left" in bench.scene.looks
    bench.scene.show(replace(FRONT, hidden=frozenset({word})), marks)
    assert "femoral_left" not in bench.scene.looks
    bench.scene.show(replace(FRONT, hidden=frozenset({"nerves_right"})), marks)
    assert "femoral_left" in bench.scene.looks
