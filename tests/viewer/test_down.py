"""What is drawn of the opened canal and down a portal, counted in pixels of small pictures of the average adult."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from lessons.view import THEMES, Camera, Placement, View
from meshes.body import Body
from meshes.contact import dock
from meshes.portal import place
from tests.viewer.conftest import Pixels
from tests.viewer.test_scene import differing

L2_3 = Placement(level="L2-3")
PSOAS = "psoas_major_left"


class Bench:
    """A studio on the average adult; `shot` is one view as pixels (240, 320, 3)."""

    def __init__(self, studio: Any, body: Body) -> None:
        self.studio, self.body, self.scene = studio, body, studio.scene

    def marks(self, view: View) -> Any:
        from viewer.portalparts import marks_of

        return marks_of(dock(self.body, place(self.body, *astuple(view.portal))) if view.portal else None)

    def shot(self, view: View) -> Pixels:
        marks = self.marks(view)
        self.scene.show(view, marks)
        self.scene.look_from(self.studio._eye(view, marks.portal if marks else None))
        self.studio.window.Render()
        return np.asarray(self.studio._pixels())

    def share_of(self, name: str, view: View, where: NDArray[np.bool_] | None = None) -> float:
        """Share of the pixels (of those asked for) in which a structure is seen."""
        changed = np.abs(self.shot(view).astype(int) - self.shot(view.with_state(name, "off"))).max(axis=2) > 12
        return float((changed if where is None else changed[where]).mean())


@pytest.fixture(scope="module")
def bench(alder: Body) -> Iterator[Bench]:
    from viewer.studio import Studio

    with Studio(alder, (160, 120)) as studio:
        yield Bench(studio, alder)


def disc_of_picture(share: float) -> NDArray[np.bool_]:
    """The pixels within a share of half the height from the middle of a picture."""
    y, x = np.mgrid[0:240, 0:320]
    inside: NDArray[np.bool_] = np.hypot(x - 159.5, y - 119.5) < share * 120.0
    return inside


#: Inside the ring, which stands at half of the half height.
BOTTOM = disc_of_picture(0.48)
#: The same in perspective, where the ring at the skin stands there, and that at the end a good half as high.
PERSPECTIVE_BOTTOM = disc_of_picture(0.24)


# --- the opened canal


@pytest.mark.parametrize("theme", THEMES)
def test_lifting_the_bodies_shows_the_dural_sac_from_in_front(bench: Bench, theme: str) -> None:
    near = Camera("free", (0.0, -1500.0, 75.0), (0.0, 15.0, 75.0), (0.0, 0.0, 1.0), True, 60.0)
    view = View(camera=near, dissection="vertebrae", labels=False, theme=theme)
    # In 120 mm of height a sac of 13 mm fills 13 / 160 of the width, less what nerves cross it.
    assert bench.share_of("dural_sac", view) < 0.005
    assert bench.share_of("dural_sac", view.lifted()) > 0.06
    assert bench.share_of("l3", view.lifted()) > 0.03  # arch and processes are still there behind it
    for root in ("l2_root_left", "l3_root_right", "l4_ganglion_left"):
        assert bench.share_of(root, view.lifted()) > bench.share_of(root, view)


def test_putting_the_bodies_back_puts_back_the_same_picture(bench: Bench) -> None:
    whole = View(camera=Camera("front"), dissection="vertebrae", labels=False)
    before = bench.shot(whole)
    triangles = bench.scene.triangles()
    assert bench.scene.show(whole.lifted()).removed  # the discs and the ligament in front
    assert set(bench.scene.looks) == {
        i for i, s in bench.body.structures.items() if whole.lifted().visibility(s) != "off"
    }
    assert bench.scene.triangles() < triangles
    assert differing(bench.shot(whole), before) == 0
    assert bench.scene.triangles() == triangles


def test_an_opened_vertebra_rides_with_the_body_and_is_there_only_behind_its_cut(bench: Bench) -> None:
    view = View(camera=Camera("front"), dissection="dura", labels=False)
    opened = bench.shot(view)
    shift = np.array([0.0, 0.0, 30.0])
    surfaces = {i: s.moved(s.vertices + shift) for i, s in bench.body.surfaces.items()}
    marks, places = bench.body.landmarks, bench.body.landmarks.frames.items()
    points = {name: point + shift for name, point in marks.points.items()}
    frames = {name: replace(frame, origin=frame.origin + shift) for name, frame in places}
    try:
        bench.scene.set_body(
            replace(bench.body, surfaces=surfaces, landmarks=replace(marks, points=points, frames=frames))
        )
        assert differing(bench.shot(view), opened) < 0.002 * opened[..., 0].size  # the eye rides along
    finally:
        bench.scene.set_body(bench.body)
    bench.shot(view)
    body_and_tip = np.stack([marks["body_l3_centre"], marks["spinous_tip_l3"]])
    assert bench.scene.holds("l3", body_and_tip).tolist() == [False, True]
    assert bench.scene.holds("sacrum", body_and_tip).all()


# --- down the portal


def down(where: Placement, parallel: bool = True, **words: Any) -> View:
    return View(camera=Camera("portal", parallel=parallel), portal=where, labels=False, **words)


@pytest.mark.parametrize("parallel", [True, False])
@pytest.mark.parametrize("dissection", ["skin", "external_oblique", "psoas"])
def test_the_disc_is_seen_at_the_bottom_where_soft_tissue_would_hide_it(
    bench: Bench, parallel: bool, dissection: str
) -> None:
    view = down(L2_3, parallel, dissection=dissection)
    bottom = BOTTOM if parallel else PERSPECTIVE_BOTTOM
    assert bench.share_of("disc_l2_3", view, bottom) > 0.25
    eye = bench.studio._eye(view, bench.marks(view).portal)
    turned = Camera("free", tuple(eye.position), tuple(eye.focus), tuple(eye.up), parallel, eye.half_height_mm)
    if dissection != "psoas":
        assert bench.share_of("disc_l2_3", replace(view, camera=turned), bottom) < 0.02


def test_the_channel_is_as_open_after_another_view_as_at_first(alder: Body) -> None:
    """What VTK keeps of a mesh that has been drawn once must not move the channel."""
    from viewer.studio import Studio

    view = down(L2_3, dissection="external_oblique")
    shots = []
    for before in ([], [view.seen_from("side_lying")]):
        with Studio(alder, (160, 120)) as studio:
            fresh = Bench(studio, alder)
            shots.append([fresh.shot(v) for v in (*before, view)][-1])
    assert differing(shots[0], shots[1]) == 0


def ring_in(picture: Pixels) -> NDArray[np.bool_]:
    """The pixels of the accent colour of the light theme, however it is lit."""
    from viewer.palette import THEMES as COLOURS

    red, _, blue = COLOURS["light"].accent
    found: NDArray[np.bool_] = (picture[..., 1] < 60) & (picture[..., 0] > 0.45 * red) & (picture[..., 2] > 0.45 * blue)
    return found


@pytest.mark.parametrize("radius_mm", [6.0, 11.0])
@pytest.mark.parametrize("level", ["L1-2", "L4-5"])
@pytest.mark.parametrize("dissection", ["skin", "psoas"])
def test_the_clear_field_is_as_wide_as_the_channel(bench: Bench, dissection: str, level: str, radius_mm: float) -> None:
    """The ring's inner edge is the radius by the scale of the picture, all the way round, over lumps of skin too."""
    view = down(Placement(level=level, radius_mm=radius_mm), dissection=dissection)
    ring = ring_in(bench.shot(view))
    per_mm = 120.0 / bench.studio._eye(view, bench.marks(view).portal).half_height_mm
    y, x = np.mgrid[0:240, 0:320]
    off, angle = np.hypot(x - 159.5, y - 119.5), np.arctan2(y - 119.5, x - 159.5)
    just_inside = (off > radius_mm * per_mm - 3.0) & (off < radius_mm * per_mm - 1.0)
    just_outside = (off > radius_mm * per_mm + 1.0) & (off < radius_mm * per_mm + 3.0)
    assert ring[just_outside].mean() > 0.95
    # What else has the accent colour inside is the rim of what is touched, in a few places.
    whole_turn = np.round(angle / (2.0 * np.pi) * 24.0).astype(int) % 24
    clear = [not ring[just_inside & (whole_turn == part)].any() for part in range(24)]
    assert sum(clear) > 12


@pytest.mark.parametrize("parallel", [True, False])
def test_the_outermost_ring_takes_half_of_the_height(bench: Bench, parallel: bool) -> None:
    ring = ring_in(bench.shot(down(L2_3, parallel, dissection="skin")))
    rows = np.flatnonzero(ring[:, 150:170].any(axis=1))
    assert (rows.max() - rows.min()) / 240.0 == pytest.approx(0.5, abs=0.06)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("level", ["L2-3", "L3-4", "L4-5"])
def test_no_muscle_is_left_inside_the_ring_and_glass_makes_no_difference_there(
    bench: Bench, level: str, side: str
) -> None:
    view = down(Placement(level=level, side=side))
    psoas = f"psoas_major_{side}"
    seen = {state: bench.shot(view.with_state(psoas, state)).astype(int) for state in ("on", "glassy", "off")}
    for state in ("on", "glassy"):
        assert not (np.abs(seen[state] - seen["off"]).max(axis=2) > 3)[BOTTOM].any()
        assert (np.abs(seen[state] - seen["off"]).max(axis=2) > 3)[~BOTTOM].mean() > 0.2


def test_muscle_that_is_deeper_than_what_is_cleared_closes_the_channel_with_one_smooth_floor(bench: Bench) -> None:
    """From in front at the edge of the disc psoas stands beside it, deeper than what is cleared."""
    view = down(Placement("L4-5", "left", "anterior", 0.0))
    solid = bench.share_of(PSOAS, view, BOTTOM)
    assert solid > 0.2
    assert bench.share_of(PSOAS, view.with_state(PSOAS, "glassy"), BOTTOM) > 0.8 * solid


@pytest.mark.parametrize("theme", THEMES)
def test_what_lies_beside_the_ring_steps_back_but_not_what_is_touched(bench: Bench, theme: str) -> None:
    from viewer.palette import THEMES as COLOURS

    view = down(L2_3, theme=theme, dissection="vertebrae")
    picture, background = bench.shot(view).astype(float), np.array(COLOURS[theme].background, dtype=float)
    looks = bench.scene.looks
    assert looks["l2"].behind == COLOURS[theme].background
    assert looks["genitofemoral_left"].behind is None
    beside = bench.shot(replace(view, highlighted=frozenset({"genitofemoral_left"}))).astype(float)
    assert bench.scene.looks["l2"].behind is None  # a trace has its own quiet colours
    assert not np.array_equal(picture, beside)
    bone = np.abs(picture - bench.shot(view.with_state("l3", "off")).astype(float)).max(axis=2) > 12
    y, x = np.mgrid[0:240, 0:320]
    off = np.hypot(x - 159.5, y - 119.5)
    far = {where: np.abs(picture[bone & ring] - background).mean() for where, ring in
           (("inside", off < 55.0), ("beside", (off > 70.0) & (off < 100.0)))}  # fmt: skip
    assert far["beside"] < 0.75 * far["inside"]


def test_there_are_no_collars_down_the_portal(bench: Bench) -> None:
    parts = bench.scene._portal
    bench.shot(down(L2_3))
    assert not [collar for collar in parts._collars if collar in parts._shown]
    bench.shot(down(L2_3).seen_from("left"))
    assert [collar for collar in parts._collars if collar in parts._shown]


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("level", ["L1-2", "L2-3", "L3-4", "L4-5"])
def test_a_numeral_is_whole_and_beside_what_is_touched_or_in_the_way(bench: Bench, level: str, side: str) -> None:
    from viewer.quarters import quarter_marks

    view = down(Placement(level=level, side=side))
    marks = bench.marks(view)
    dots, bare = quarter_marks(bench.body, marks.portal)
    _, numerals = quarter_marks(bench.body, marks.portal, marks.ids)
    assert dots is not None
    assert bare is not None
    for shape in (dots, bare, *([numerals] if numerals else [])):
        off = np.linalg.norm(np.cross(shape.vertices - marks.portal.end_mm, marks.portal.direction), axis=1)
        assert off.max() < marks.portal.radius_mm
    ink = np.abs(bench.shot(view).astype(int) - [38, 58, 66]).max(axis=2) < 30
    assert (ink & BOTTOM).any() == (numerals is not None)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("level", ["L1-2", "L2-3", "L3-4", "L4-5"])
def test_what_is_seen_in_the_ring_is_named_first_and_pointed_at_there(bench: Bench, level: str, side: str) -> None:
    from viewer.seen import IN_RING, anchors, drawn_depth

    view = down(Placement(level=level, side=side))
    marks = bench.marks(view)
    bench.shot(view)
    eye, depth = bench.studio._eye(view, marks.portal), drawn_depth(bench.studio.window, bench.studio.renderer)
    scene = bench.scene
    found = anchors(scene.looks, bench.body, eye, depth, view, marks.words, holds=scene.holds, bore=scene.bore)
    named = {a.id: a for a in found}
    inside = {i for i, a in named.items() if np.hypot(a.x - 159.5, a.y - 119.5) < 60.5}
    assert {i for i, a in named.items() if a.priority == IN_RING} <= inside
    beside = [v.lower() for v in marks.portal.level.split("-")]
    for name in (*marks.ids, marks.portal.disc, beside[0], f"l{beside[1]}"):
        if bench.share_of(name, view, BOTTOM) > (0.01 if name in marks.ids else 0.10):
            assert name in named, name
            assert named[name].priority == IN_RING, name


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("side", ["left", "right"])
def test_a_touched_nerve_and_the_bone_that_bars_the_way_are_seen_in_the_ring(
    bench: Bench, theme: str, side: str
) -> None:
    clear = down(Placement(side=side, at=0.35, cranial_deg=7.0), theme=theme)
    assert f"femoral_{side}" in bench.marks(clear).touched
    assert bench.share_of(f"femoral_{side}", clear, BOTTOM) > 0.02
    assert bench.share_of(f"hip_{side}", down(Placement(side=side), theme=theme), BOTTOM) > 0.2


def test_a_touched_vessel_is_seen_though_its_layer_is_off_unless_it_is_hidden_by_name(bench: Bench) -> None:
    view = down(Placement(level="L3-4", at=0.9), dissection="psoas")
    assert "aorta" in bench.marks(view).touched
    bench.shot(view)
    assert "aorta" in bench.scene.looks
    for word in ("aorta", "vessels"):
        bench.shot(view.with_state(word, "off"))
        assert "aorta" not in bench.scene.looks
    bench.shot(view.seen_from("left"))
    assert "aorta" in bench.scene.looks
    bench.shot(replace(view.seen_from("left"), dissection="skin"))
    assert "aorta" not in bench.scene.looks  # wrapped, it could not be seen
    bench.shot(replace(view.seen_from("left"), portal=None))
    assert "aorta" not in bench.scene.looks


def test_from_elsewhere_nothing_is_cleared_and_the_shaders_are_the_plain_ones(bench: Bench) -> None:
    side = View(camera=Camera("left"), portal=L2_3, labels=False)
    before = bench.shot(side)
    bench.shot(down(L2_3))
    assert bench.scene.bore is not None
    assert any(look.cleared for look in bench.scene.looks.values())
    assert differing(bench.shot(side), before) == 0
    assert bench.scene.bore is None
    assert not any(look.cleared for look in bench.scene.looks.values())
    actors = bench.scene.renderer.GetActors()
    held = [actors.GetItemAsObject(i) for i in range(actors.GetNumberOfItems())]
    psoas = bench.scene._parts[PSOAS].actor
    assert psoas in held
    assert psoas.GetShaderProperty().GetNumberOfShaderReplacements() == 1


def test_points_of_a_muscle_inside_the_channel_are_not_there(bench: Bench) -> None:
    from viewer.bore import PAST_END_MM

    view = down(L2_3)
    bench.shot(view)
    portal = bench.marks(view).portal
    inside = portal.end_mm - 10.0 * portal.direction
    across = np.cross(portal.direction, [0.0, 0.0, 1.0])
    past = [portal.end_mm + (PAST_END_MM + mm) * portal.direction for mm in (-1.0, 1.0)]
    points = np.stack([inside, inside + 12.0 * across, *past])
    assert bench.scene.holds(PSOAS, points).tolist() == [False, True, False, True]
    assert bench.scene.holds("disc_l2_3", points).all()


def test_the_light_copy_of_a_sawn_vertebra_keeps_its_cut_with_no_gap_around_it(alder: Body) -> None:
    from meshes.opening import cut_faces, opened
    from viewer.sawn import lightly_sawn, sawn

    surface = opened(alder, "l3")
    cut = cut_faces(alder, "l3", surface)
    rim = {tuple(v) for v in surface.vertices[np.unique(surface.faces[cut])]}
    for made, texture in (sawn(surface, cut), lightly_sawn(surface, cut)):
        assert len(texture) == len(made.vertices)
        # Every corner of the cut is there twice: for the cut, and for what it closes.
        used = made.vertices[np.unique(made.faces)]
        where, count = np.unique(used, axis=0, return_counts=True)
        assert {tuple(v) for v in where[count == 2]} == rim
    assert len(lightly_sawn(surface, cut)[0].faces) < 0.5 * len(surface.faces)


def test_no_white_of_what_is_whole_is_seen_on_a_cut(alder: Body) -> None:
    """The picture of spongy bone has a white corner for the rest of the bone; no cut passes over it."""
    from meshes.opening import cut_faces, opened, opening
    from viewer.sawn import PLAIN, TEXELS, sawn

    for name in opening().cuts:
        surface = opened(alder, name)
        made, texture = sawn(surface, cut_faces(alder, name, surface))
        up = texture[len(surface.vertices) :, 1]
        assert len(made.vertices) > len(surface.vertices)
        # Four times the corner on either side, for the picture is seen from afar, where texels run together.
        assert up.min() > 4.0 * PLAIN / TEXELS
        assert up.max() < 1.0 - 4.0 * PLAIN / TEXELS
