"""A small lesson on Alder, written as a page: what the tests of the page step through."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from lessons.film import Film
from lessons.lesson import Lesson, Step
from lessons.view import Camera, Placement, View
from tests.export.handing import lesson, ready_to_draw
from tests.export.page_driver import Page, Pixels
from viewer.export.lesson import Asked, export_lesson

#: Wide enough that a step is as high as it says, and the field holds a square.
WIDE, PHONE = (900, 540), (390, 844)
PORTAL = Placement("L3-4", at=0.375, radius_mm=9.0)
FRONT = View(Camera("front", half_height_mm=140.0))
LIT = View(
    Camera("left", on=frozenset({"disc_l4_5"}), half_height_mm=60.0),
    highlighted=frozenset({"femoral_left"}),
    hidden=frozenset({"psoas_major_left", "iliacus_left", "hip_left"}),
)


def course(folder: Path) -> Lesson:
    """A lesson on the body: a front view, a lit nerve with a question, a film, a portal from outside and down it."""
    docked = View(Camera("front", on=frozenset({"disc_l3_4"}), turn_deg=40.0, half_height_mm=90.0), portal=PORTAL)
    return lesson(
        folder,
        Step("front", "In front", view=FRONT, body_map="femoral_left",
             words="First. [common_practice]\n\n- an item\n- and another [moro_2003]"),
        Step("lit", "The femoral nerve", view=LIT, words="Look.", question="Which nerve?", answer="Femoral. [lu_2011]"),
        Step("film", "On a film", view=replace(FRONT, film=Film("front"))),
        Step("docked", "A portal", view=docked),
        Step("down", "Down it", view=replace(docked, camera=Camera("portal"))),
        objectives=("Say where the femoral nerve lies.",),
    )  # fmt: skip


def written(made: Lesson, target: Path) -> Path:
    """The lesson as a page, its stills small."""
    ready_to_draw()
    export_lesson(made, "page", target, Asked(tuple(range(len(made.steps))), (320, 180)), lambda *_: None)
    return target


def standing(page: Page) -> tuple[str, str]:
    """The count, and the step in the address."""
    return page.text("fp-count"), str(page.run("return location.hash;"))


def shares(pixels: Pixels) -> dict[str, float]:
    """How much of a picture has the colours of nerves, of muscle, of bone and of what is marked, 0..1."""
    r, g, b = np.moveaxis(pixels / 255.0, -1, 0)
    high, low = pixels.max(axis=-1) / 255.0, pixels.min(axis=-1) / 255.0
    rich = (high - low) / np.maximum(high, 1e-6)
    lit = high > 0.25
    found = {
        "nerve": lit & (rich > 0.6) & (r > g) & (g > 0.6 * r) & (b < 0.5 * g),
        "muscle": lit & (rich > 0.3) & (rich < 0.8) & (r > 1.35 * g) & (g > 0.8 * b) & (g < 1.9 * b),
        "bone": lit & (rich > 0.06) & (rich < 0.32) & (r >= g) & (g > b),
        "marked": lit & (r > 2.2 * g) & (b > 1.6 * g),
    }
    return {name: float(mask.mean()) for name, mask in found.items()}
