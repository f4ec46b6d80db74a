"""The body on the page of a lesson: drawn as the window draws it, named, turned and brought back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lessons.view import View
from meshes.body import Body
from meshes.contact import dock
from meshes.portal import place
from tests.export.page_course import PORTAL, WIDE, course, shares, standing
from tests.export.page_driver import Keys, Page, Pixels
from viewer.cameras import eye_of
from viewer.palette import THEMES, rgb_hex

# --- what is drawn


def drawn_here(view: View, body: Body, size: tuple[int, int]) -> Pixels:
    """The same view by the window's own renderer, as large as the field."""
    from viewer.portalparts import marks_of
    from viewer.studio import Studio

    with Studio(body, size) as studio:
        docked = dock(body, place(body, *astuple(PORTAL))) if view.portal else None
        marks = marks_of(docked)
        studio.scene.show(view, marks)
        region = studio.scene.region_for(view.camera)
        studio.scene.look_from(eye_of(view.camera, region, 1.0, "left", marks.portal if marks else None))
        studio.window.Render()
        image = studio._pixels().resize(size, Image.Resampling.LANCZOS)
    return np.asarray(image, dtype=np.float64)


@pytest.mark.parametrize(
    ("at", "seen"),
    [
        ("front", {"nerve": 0.004, "muscle": 0.1, "bone": 0.05}),
        ("lit", {"bone": 0.05, "marked": 0.003}),
        ("docked", {"muscle": 0.05, "marked": 0.002}),
        ("down", {"marked": 0.004}),
    ],
)
def test_the_body_is_drawn_as_the_window_draws_it(
    page: Page, sheet: Path, alder: Body, tmp_path: Path, at: str, seen: dict[str, float]
) -> None:
    here = page.open(sheet, WIDE, at).field()
    view = next(s.view for s in course(tmp_path).steps if s.id == at)
    there = drawn_here(view, alder, (here.shape[1], here.shape[0]))
    drawn, wanted = shares(here), shares(there)
    for colour, least in seen.items():
        assert wanted[colour] > least, (colour, wanted)
        assert drawn[colour] == pytest.approx(wanted[colour], rel=0.25), (colour, drawn, wanted)
    if at == "lit":  # the window tints what is lit, the page leaves it yellow where it is bare
        assert drawn["nerve"] > 0.002
    assert np.median(np.abs(here - there)) < 6.0
    assert (np.abs(here - there).max(axis=-1) > 60.0).mean() < 0.06


def test_a_lit_nerve_is_named_and_the_rest_dims(page: Page, sheet: Path) -> None:
    bare = shares(page.open(sheet, WIDE, "front").field())
    lit = shares(page.open(sheet, WIDE, "lit").field())
    assert page.rest().names() == ["Femoral n."]
    assert lit["marked"] > 0.003 > bare["marked"]
    assert lit["muscle"] < 0.02


def test_what_is_turned_out_of_sight_loses_its_name(page: Page, sheet: Path) -> None:
    page.open(sheet, WIDE, "lit")
    page.drag(420, 0).rest()  # to the other side: the spine lies between
    assert page.names() == []


def test_the_dark_page_is_dark(page: Page, sheet: Path) -> None:
    for dark, theme in ((False, THEMES["light"]), (True, THEMES["dark"])):
        here = page.open(sheet, WIDE, "lit", dark=dark).field()
        assert tuple(np.median(here[:40].reshape(-1, 3), axis=0)) == theme.background
        told = page.run("return getComputedStyle(document.getElementById('fp-words')).backgroundColor;")
        assert told == f"rgb{theme.panel}"
        ground = page.run("return getComputedStyle(document.documentElement).getPropertyValue('--accent').trim();")
        assert ground == rgb_hex(theme.accent)


# --- turning


def test_turning_changes_the_picture_and_back_to_the_step_restores_it(page: Page, sheet: Path) -> None:
    before = page.open(sheet, WIDE, "front").field()
    assert not page.shown("fp-return")
    ways: list[Callable[[], Page]] = [
        lambda: page.drag(120, 30),
        lambda: page.press(Keys.ARROW_LEFT, Keys.ARROW_UP, shift=True),
        lambda: page.press("+", "+"),
        lambda: page.click("fp-smaller"),
    ]
    for way in ways:
        way()
        assert page.shown("fp-return")
        assert (np.abs(page.field() - before).max(axis=-1) > 30.0).mean() > 0.02
        assert standing(page) == ("1 of 5", "#front")
        page.click("fp-return")
        assert (page.field() == before).all()
        assert not page.shown("fp-return")


def test_arrow_keys_turn_only_while_they_are_asked_to(page: Page, sheet: Path) -> None:
    page.open(sheet, at="front").click("fp-keys")
    assert page.attribute("fp-keys", "aria-pressed") == "true"
    page.press(Keys.ARROW_RIGHT)
    assert standing(page) == ("1 of 5", "#front")
    assert page.shown("fp-return")
    page.press(Keys.PAGE_DOWN)
    assert standing(page) == ("2 of 5", "#lit")
    page.click("fp-keys").press(Keys.ARROW_LEFT)
    assert standing(page) == ("1 of 5", "#front")


WATCHED = """
const marks = () => [...document.querySelectorAll('#fp-names .small')].map((e) => e.textContent + e.getAttribute('x'));
window.seen = new Set();
const watch = new MutationObserver(() => window.seen.add(marks().join()));
watch.observe(document.getElementById('fp-names'), {childList: true});
"""


@pytest.mark.parametrize("moves", [True, False])
def test_who_may_move_is_flown_to_the_same_picture(page: Page, sheet: Path, moves: bool) -> None:
    still = page.open(sheet, WIDE, "lit").field()
    page.open(sheet, WIDE, "front", moves=moves).rest().run(WATCHED)
    page.press(Keys.PAGE_DOWN)
    flown = page.field()
    assert (np.abs(flown - still).max(axis=-1) > 8.0).mean() < 0.001
    between = page.run("return [...window.seen].filter((marks) => marks).length;")  # how the orientation mark lay
    assert (between >= 3) if moves else (between == 1), between


def test_a_tap_names_what_it_meets(page: Page, sheet: Path) -> None:
    page.open(sheet, WIDE, "lit").rest()
    spot = page.run(
        "const named = [...document.querySelectorAll('#fp-names text')].find((t) => t.textContent === 'Femoral n.');"
        "const dot = named.nextElementSibling.getBoundingClientRect(); return [dot.left + 2, dot.top + 2];"
    )
    for kind in ("mousePressed", "mouseReleased"):
        page.command("Input.dispatchMouseEvent", type=kind, x=spot[0], y=spot[1], button="left", clickCount=1)
    assert page.text("fp-told").startswith("Left femoral nerve") or page.text("fp-told").startswith("Femoral nerve")


def test_a_film_stands_in_place_of_the_body_and_can_be_made_larger(page: Page, sheet: Path) -> None:
    page.open(sheet, at="film")
    assert page.shown("fp-picture")
    assert not page.shown("fp-canvas")
    assert "radiograph" in page.attribute("fp-picture", "alt")
    wide = page.run("return document.getElementById('fp-picture').clientWidth;")
    page.click("fp-larger").press("+")
    assert page.run("return document.getElementById('fp-picture').clientWidth;") > 1.3 * wide
    page.click("fp-return")
    assert page.run("return document.getElementById('fp-picture').clientWidth;") == wide
    page.click("fp-other").rest()
    assert page.shown("fp-canvas")
    assert shares(page.field())["muscle"] > 0.03
    assert "radiograph" not in page.attribute("fp-canvas", "aria-label")
    page.click("fp-other")
    assert page.shown("fp-picture")
