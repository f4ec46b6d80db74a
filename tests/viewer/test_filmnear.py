"""A film of the part of the body where some wires run: they are on it, and large, with what is counted from."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from lessons.film import Film
from lessons.spot.bank import bundled_items
from lessons.spot.item import Item
from lessons.spot.sitting import asked_view, explained_view
from meshes.body import Body
from meshes.curves import Array
from meshes.film.filmed import FIELD_MM, Filmed, wired_nerves
from viewer.filmer import Filmer, lines_on
from viewer.filmnear import LEAST_MM, ROOM_MM, near
from viewer.overlay import Shape, Spot, Stroke
from viewer.palette import THEMES
from viewer.spotshots import Sitter

WIRES = [one for one in bundled_items() if one.kind == "wire" and one.view.film is not None]
SIDE = 300


@pytest.fixture(scope="module")
def filmed(alder: Body) -> Filmed:
    return Filmed.of(alder)


def away_mm(beam: Any, points: Array) -> float:
    """How far inside the edge of a film the outermost of some points falls, mm on the detector; negative beyond it."""
    pixels = beam.project(np.atleast_2d(points))
    return float(min(pixels.min() + 0.5, (np.array([beam.width, beam.height]) - 0.5 - pixels).min()) * beam.pixel_mm)


@pytest.mark.parametrize("view", ["front", "left", "right"])
def test_every_wire_has_a_film_that_shows_it_large_and_s1_and_the_crest_with_it(view: str, filmed: Filmed) -> None:
    body = filmed.body
    hip, top = body.landmarks["hip_centre_left"][2], body.landmarks["body_t12_centre"][2]
    gains = []
    for name in wired_nerves(body):
        side = body.structures[name].side
        if side not in ("left", "right") or view not in ("front", side):
            continue
        beam = filmed.beam(view, size=SIDE, **near(filmed.body, view, [name]))
        field = beam.pixel_mm * beam.width
        grown = beam.magnification(body.landmarks["body_l4_centre"])
        assert LEAST_MM * 1.3 < field <= FIELD_MM
        points = body.centrelines[name].points
        kept = points[(points[:, 2] <= top) & (points[:, 2] >= hip)]
        seen = [*(kept if len(kept) else points), *(body.landmarks[n] for n in ("s1_endplate_centre",
                f"iliac_crest_top_{side}"))]  # fmt: skip
        room = away_mm(beam, np.stack(seen))
        assert room >= (0.99 * ROOM_MM * grown if field < FIELD_MM else 0.0), name
        gains.append(FIELD_MM / field)
    assert min(gains) >= 1.0
    assert np.median(gains) > 1.5


def test_a_nerve_that_goes_on_into_the_thigh_is_followed_to_the_hip_joint(filmed: Filmed) -> None:
    body, name = filmed.body, "lateral_femoral_cutaneous_left"
    points = body.centrelines[name].points
    assert points[:, 2].min() < body.landmarks["symphysis_bottom"][2] - 40.0
    beam = filmed.beam("front", size=SIDE, **near(filmed.body, "front", [name]))
    assert away_mm(beam, points) < 0.0, "its end is off the film"
    assert away_mm(beam, body.landmarks["asis_left"]) > 10.0
    assert away_mm(beam, body.landmarks["hip_centre_left"]) > 10.0


def test_for_nobody_the_film_is_whole(filmed: Filmed) -> None:
    assert near(filmed.body, "front", []) == near(filmed.body, "front", ["accessory_obturator_left"]) == {}
    filmer = Filmer()
    whole = filmer.exposed(filmed.body, Film(), None, SIDE).beam
    assert whole.pixel_mm * whole.width == pytest.approx(FIELD_MM)
    part = filmer.exposed(filmed.body, Film(around=frozenset({"femoral_left"})), None, SIDE).beam
    assert part.pixel_mm < 0.6 * whole.pixel_mm, "what is kept of one film is not taken for another"
    crowd = Film("left", crowd=True)
    narrow = filmer.exposed(filmed.body, crowd, None, SIDE).beam
    same = filmer.exposed(filmed.body, replace(crowd, around=frozenset({"femoral_left"})), None, SIDE).beam
    assert same.pixel_mm == narrow.pixel_mm


# --- items


@pytest.mark.parametrize("item", WIRES, ids=lambda item: item.id)
def test_a_wire_item_is_filmed_round_its_wire_while_it_is_asked_and_explained(item: Item) -> None:
    asked, explained = asked_view(item).film, explained_view(item).film
    assert item.view.film is not None
    assert asked is not None
    assert asked == explained
    assert asked == replace(item.view.film, around=frozenset() if asked.crowd else asked_view(item).highlighted)
    assert asked.crowd or asked.around


def test_what_an_item_says_itself_stays_and_other_kinds_keep_the_whole_film() -> None:
    plain = next(one for one in WIRES if one.view.film is not None and not one.view.film.crowd)
    film = plain.view.film
    assert film is not None
    own = replace(film, around=frozenset({"obturator_left"}))
    assert asked_view(replace(plain, view=replace(plain.view, film=own))).film == own
    for item in bundled_items():
        if item.kind != "wire":
            assert asked_view(item).film == item.view.film


# --- marks


def test_marks_lie_on_the_wire_of_the_film_that_is_drawn(alder: Body, monkeypatch: pytest.MonkeyPatch) -> None:
    """The line over a lit wire and the question mark of the paper stand in the picture of the part."""
    drawn: list[list[Shape]] = []

    def kept(film: Any, shapes: Any) -> Any:
        from PIL.Image import new

        drawn.append(list(shapes))
        return new("RGB", film.shape[::-1])

    monkeypatch.setattr("viewer.filmpicture.film_picture", kept)
    filmed = Filmed.of(alder)
    for name in ("wire_genitofemoral_right_side", "wire_l3_ramus_left_front", "wire_femoral_left_front"):
        item = next(one for one in WIRES if one.id == name)
        drawn.clear()
        with Sitter((SIDE, SIDE)) as sitter:
            sitter.asked(item, printed=True)
        film, (wire,) = asked_view(item).film, asked_view(item).highlighted
        assert film is not None
        line = (
            lines_on(filmed.beam(film.view, size=SIDE, **near(filmed.body, film.view, [wire])), alder, [wire])[wire]
            + 0.5
        )
        whole = lines_on(filmed.beam(film.view, size=SIDE), alder, [wire])[wire] + 0.5
        lit = next(s for s in drawn[0] if isinstance(s, Stroke) and s.colour == THEMES["dark"].accent)
        assert np.abs(np.array(lit.points) - line).max() < 1e-6
        assert np.abs(np.array(lit.points) - whole).max() > 20.0
        spot = next(s for s in drawn[0] if isinstance(s, Spot))
        assert np.hypot(*(line - (spot.x, spot.y)).T).min() < 1.0
        assert 0.0 < spot.x < SIDE
        assert 0.0 < spot.y < SIDE
