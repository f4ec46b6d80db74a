"""The marks on a film: where they point, that they stay on it and clear of each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lessons.caution import CAUTION
from lessons.film import Film
from lessons.filmcrowd import CROWD_LEVELS, crowd
from meshes.body import Body
from meshes.film.beam import Beam, beam_for
from meshes.film.filmed import wired_nerves
from meshes.film.limits import FILM_VIEWS
from meshes.portal import place
from viewer.columns import Width
from viewer.crowdmarks import crowd_shapes
from viewer.filmmarks import film_shapes, named_wires, on_picture, wire_names
from viewer.overlay import Box, Shape, Spot, Stroke, Words
from viewer.painter import text_width

SIZE = (900, 900)
TEXT = 25.0
WIDTH: Width = text_width


def beam(view: str, turn_deg: float = 0.0, parallel: bool = False, size: int = 450) -> Beam:
    return beam_for(
        view, turn_deg, centre_mm=np.array([0.0, 0.0, 40.0]), source_to_centre_mm=780.0, field_mm=560.0, size=size,
        parallel=parallel,
    )  # fmt: skip


def words_of(shapes: list[Shape]) -> list[str]:
    return [s.text for s in shapes if isinstance(s, Words)]


def at(shapes: list[Shape], text: str) -> Words:
    (found,) = [s for s in shapes if isinstance(s, Words) and s.text == text]
    return found


def extent(words: Words) -> tuple[float, float, float, float]:
    wide = WIDTH(words.text, words.height)
    left = words.x - wide * {"left": 0.0, "centre": 0.5, "right": 1.0}[words.align]
    return left, words.y - words.height / 2, left + wide, words.y + words.height / 2


@pytest.mark.parametrize("view", FILM_VIEWS)
@pytest.mark.parametrize("turn", [0.0, 8.0, 45.0, 180.0])
@pytest.mark.parametrize("text", [12.0, 25.0])
def test_all_words_stay_on_the_film_and_apart(alder: Body, view: str, turn: float, text: float) -> None:
    shapes = film_shapes(beam(view, turn), SIZE, alder, Film(view, turn), None, text, WIDTH)
    boxes = [extent(s) for s in shapes if isinstance(s, Words)]
    for a in boxes:
        assert min(a) >= 0.0
        assert max(a) <= 900.0
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (a, b)


def test_a_film_says_what_it_is(alder: Body) -> None:
    said = words_of(film_shapes(beam("left", 8.0), SIZE, alder, Film("left", 8.0), None, TEXT, WIDTH))
    assert "Left lateral, turned 8°" in said
    assert "Alder, side-lying" in said
    assert "synthetic" in said
    assert CAUTION in said


def test_a_narrow_film_breaks_the_caution_and_keeps_every_word(alder: Body) -> None:
    shapes = film_shapes(beam("front"), (420, 420), alder, Film(), None, 20.0, WIDTH)
    lines = [s for s in shapes if isinstance(s, Words) and s.text in CAUTION and s.align == "centre" and s.text != "L"]
    assert len(lines) > 1
    assert " ".join(s.text for s in lines) == CAUTION


@pytest.mark.parametrize(("turn", "at_right"), [(0.0, True), (20.0, True), (180.0, False), (-170.0, False)])
def test_the_letter_stands_at_the_patients_left(alder: Body, turn: float, at_right: bool) -> None:
    taken = beam("front", turn)
    letter = at(film_shapes(taken, SIZE, alder, Film("front", turn), None, TEXT, WIDTH), "L")
    left, right = on_picture(taken, SIZE, np.stack([alder.landmarks["asis_left"], alder.landmarks["asis_right"]]))
    assert (letter.x > 450.0) == at_right == (left[0] > right[0])


@pytest.mark.parametrize("view", ["left", "right"])
def test_a_side_film_shows_where_the_front_is(alder: Body, view: str) -> None:
    taken = beam(view)
    shapes = film_shapes(taken, SIZE, alder, Film(view), None, TEXT, WIDTH)
    ends = np.stack([alder.landmarks["disc_l4_5_anterior"], alder.landmarks["disc_l4_5_posterior"]])
    front, back = on_picture(taken, SIZE, ends)
    assert (at(shapes, "Front").x < 450.0) == (front[0] < back[0])
    assert "L" not in words_of(shapes)


@pytest.mark.parametrize("parallel", [False, True])
@pytest.mark.parametrize("view", FILM_VIEWS)
def test_the_scale_is_as_long_as_it_says_at_the_spine(alder: Body, view: str, parallel: bool) -> None:
    taken = beam(view, parallel=parallel)
    shapes = film_shapes(taken, SIZE, alder, Film(view), None, TEXT, WIDTH)
    (told,) = [w for w in words_of(shapes) if w.endswith("mm at the spine")]
    bar = [s for s in shapes if isinstance(s, Stroke) and len(s.points) == 4][-1]
    length = bar.points[2][0] - bar.points[1][0]
    middle, mm = alder.landmarks["disc_l4_5_centre"], float(told.split()[0])
    ends = on_picture(taken, SIZE, np.stack([middle - 0.5 * mm * taken.u, middle + 0.5 * mm * taken.u]))
    assert length == pytest.approx(float(np.linalg.norm(ends[1] - ends[0])), rel=1e-6)
    assert ("parallel beam" in words_of(shapes)) == parallel


def test_quarters_lie_on_the_disc_from_front_to_back(alder: Body) -> None:
    portal, taken = place(alder, "L3-4", "left", "lateral", 0.5, 11.0), beam("left")
    shapes = film_shapes(taken, SIZE, alder, Film("left", quarters=True), portal, TEXT, WIDTH)
    names = [at(shapes, name).x for name in ("I", "II", "III", "IV")]
    front, back = on_picture(
        taken, SIZE, np.stack([alder.landmarks["disc_l3_4_anterior"], alder.landmarks["disc_l3_4_posterior"]])
    )[:, 0]
    assert names == sorted(names)
    steps = (np.array(names) - front) / (back - front)
    assert steps == pytest.approx([0.125, 0.375, 0.625, 0.875], abs=0.06)
    plain = film_shapes(taken, SIZE, alder, Film("left"), portal, TEXT, WIDTH)
    assert "IV" not in words_of(plain)


def test_the_quarters_of_a_disc_without_a_portal_are_those_of_one_that_stands_on_it(alder: Body) -> None:
    film, taken = Film("left", quarters=True), beam("left")
    portal = place(alder, "L3-4", "left", "lateral", 0.5, 11.0)
    alone = film_shapes(taken, SIZE, alder, film, None, TEXT, WIDTH, "disc_l3_4")
    assert alone == film_shapes(taken, SIZE, alder, film, portal, TEXT, WIDTH)
    assert len(alone) > len(film_shapes(taken, SIZE, alder, film, None, TEXT, WIDTH))


def test_no_quarters_where_they_lie_behind_one_another(alder: Body) -> None:
    portal = place(alder, "L3-4", "left", "lateral", 0.5, 11.0)
    shapes = film_shapes(beam("front"), SIZE, alder, Film(quarters=True), portal, TEXT, WIDTH)
    assert "IV" not in words_of(shapes)
    assert len(shapes) > len(film_shapes(beam("front"), SIZE, alder, Film(), portal, TEXT, WIDTH))  # its border


@pytest.mark.parametrize("view", FILM_VIEWS)
def test_names_point_at_their_wires_and_stay_apart(alder: Body, view: str) -> None:
    taken, nerves = beam(view), wired_nerves(alder)
    shapes = wire_names(taken, SIZE, alder, nerves, TEXT, WIDTH)
    boxes = [(s.left, s.top, s.right, s.bottom) for s in shapes if isinstance(s, Box)]
    assert len(boxes) >= 8
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] + 1.0 or b[3] <= a[1] + 1.0
    lines = [on_picture(taken, SIZE, alder.centrelines[name].points) for name in named_wires(alder, nerves)]
    for spot in [s for s in shapes if isinstance(s, Spot)]:
        assert min(float(np.linalg.norm(line - (spot.x, spot.y), axis=1).min()) for line in lines) < 1e-6


def test_what_makes_up_a_nerve_is_named_only_when_nothing_else_is_there(alder: Body) -> None:
    assert named_wires(alder, ["femoral_left", "l3_ramus_left"]) == ["femoral_left"]
    assert named_wires(alder, ["l3_ramus_left", "dural_sac"]) == ["l3_ramus_left"]


@pytest.mark.parametrize("view", ["left", "right"])
def test_the_crowd_film_numbers_its_wires_where_they_are(alder: Body, view: str) -> None:
    taken = beam(view)
    rows = {level: crowd(alder, view, level, taken) for level in CROWD_LEVELS}
    shapes = crowd_shapes(taken, SIZE, alder, rows, TEXT, WIDTH)
    spots = {(round(s.x, 3), round(s.y, 3)) for s in shapes if isinstance(s, Spot)}
    assert len(spots) == sum(map(len, rows.values()))
    for row in (row for found in rows.values() for row in found):
        # A wire is seen beside the line through the disc at most as far as that plane is seen aslant.
        x = float(on_picture(taken, SIZE, row.point_mm[None])[0, 0])
        assert min(abs(x - spot[0]) for spot in spots) < 12.0
    for words in (s for s in shapes if isinstance(s, Words)):
        left, top, right, bottom = extent(words)
        assert min(left, top) >= 0.0
        assert max(right, bottom) <= 900.0


@pytest.mark.parametrize("side", ["left", "right"])
def test_wires_follow_one_another_as_published(alder: Body, side: str) -> None:
    """Lu 2011 (BMC Musculoskelet Disord 12:76, 15 plexuses): seen from the side L2 lies in front and L5 behind.

    Davis 2011 (J Bone Joint Surg Am 93(16):1482, 18 plexuses): at L4-5 the femoral nerve lies at or behind mid-disc.
    Uribe 2010 (J Neurosurg Spine 13(2):260), from memory: there the genitofemoral nerve lies in quarter I.
    """
    shares = {row.id: row.share for row in crowd(alder, side, "L4-5", beam(side))}
    order = [shares[f"{name}_{side}"] for name in ("lateral_femoral_cutaneous", "femoral", "l4_ramus", "l5_root")]
    assert order == sorted(order, reverse=True)  # L2-L3, L2-L4, L4, L5
    assert shares[f"femoral_{side}"] <= 0.5
    assert shares[f"genitofemoral_{side}"] >= 0.75
    lower = {row.id: row.share for row in crowd(alder, side, "L5-S1", beam(side))}
    assert lower[f"femoral_{side}"] > lower[f"furcal_{side}"] > lower[f"l5_ramus_{side}"]


def test_a_parallel_film_shows_shares_as_they_are(alder: Body) -> None:
    """Rays along the disc's own left axis carry no wire forwards or back."""
    frame = alder.landmarks.frames["disc_l4_5"]
    flat = beam("left", parallel=True)
    down = frame.axes[0] * np.sign(float(frame.axes[0] @ flat.direction))
    taken = replace(flat, direction=down, u=frame.axes[1], v=-frame.axes[2])
    for row in crowd(alder, "left", "L4-5", taken):
        assert row.on_film == pytest.approx(row.share, abs=1e-9)
