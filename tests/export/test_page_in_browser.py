"""The page of a lesson in a real browser: how one steps, what it says, and how it fits whoever reads it."""

from __future__ import annotations

from pathlib import Path

import pytest

from lessons.caution import CAUTION
from tests.export.page_course import PHONE, standing
from tests.export.page_driver import Keys, Page, browser

# --- stepping


def test_keys_and_buttons_step(page: Page, sheet: Path) -> None:
    page.open(sheet)
    assert standing(page) == ("1 of 5", "#front")
    for key in (Keys.PAGE_DOWN, Keys.PAGE_UP, Keys.ARROW_RIGHT, Keys.ARROW_LEFT, Keys.SPACE):
        page.press(key)
        back = key in (Keys.PAGE_UP, Keys.ARROW_LEFT)
        assert standing(page) == (("1 of 5", "#front") if back else ("2 of 5", "#lit"))
    page.press(Keys.END)
    assert standing(page) == ("5 of 5", "#down")
    assert page.attribute("fp-next", "disabled")
    page.press(Keys.PAGE_DOWN)
    assert standing(page) == ("5 of 5", "#down")
    page.click("fp-back")
    assert standing(page) == ("4 of 5", "#docked")
    page.click("fp-next")
    assert standing(page) == ("5 of 5", "#down")
    page.press(Keys.HOME, Keys.PAGE_UP)
    assert standing(page) == ("1 of 5", "#front")
    assert page.attribute("fp-back", "disabled")


def test_a_space_on_a_button_presses_the_button_once(page: Page, sheet: Path) -> None:
    page.open(sheet, at="film")
    page.run("document.getElementById('fp-next').focus();")
    page.press(Keys.SPACE)
    assert standing(page) == ("4 of 5", "#docked")


def test_a_question_waits_and_then_shows_its_answer(page: Page, sheet: Path) -> None:
    page.open(sheet, at="lit")
    words = page.text("fp-words")
    assert "Which nerve?" in words
    assert "Femoral." not in words
    assert "Lu S" not in words  # its source would give it away
    page.press(Keys.PAGE_DOWN)
    assert standing(page) == ("2 of 5", "#lit")
    assert "Femoral.1" in page.text("fp-words")
    assert "Lu S" in page.text("fp-words")
    page.press(Keys.PAGE_DOWN)
    assert standing(page) == ("3 of 5", "#film")
    page.press(Keys.PAGE_UP)
    assert "Femoral.1" in page.text("fp-words")  # who comes back finds it shown
    page.open(sheet, at="lit").click("fp-answer")
    assert "Femoral.1" in page.text("fp-words")
    assert page.run("return document.activeElement.textContent;") == "Answer"
    assert not page.shown("fp-answer")


def test_a_link_leads_to_its_step(page: Page, sheet: Path) -> None:
    assert standing(page.open(sheet, at="docked")) == ("4 of 5", "#docked")
    page.run("location.hash = 'film';")
    page.wait(lambda: page.text("fp-count") == "3 of 5")
    assert standing(page.open(sheet, at="no_such_step")) == ("1 of 5", "#front")
    assert standing(page.open(sheet, at="%E0%A4%A")) == ("1 of 5", "#front")


def test_the_list_of_steps_leads_to_each(page: Page, sheet: Path) -> None:
    page.open(sheet).click("fp-list-button")
    assert page.attribute("fp-list-button", "aria-expanded") == "true"
    links = page.driver.find_elements("css selector", "#fp-list a")
    assert [link.text.split("\n")[-1] for link in links] == [
        "In front",
        "The femoral nerve",
        "On a film",
        "A portal",
        "Down it",
    ]
    assert [link.get_attribute("aria-current") for link in links] == ["step", None, None, None, None]
    links[3].click()
    assert standing(page) == ("4 of 5", "#docked")
    assert not page.shown("fp-list")
    page.click("fp-list-button").press(Keys.ESCAPE)
    assert not page.shown("fp-list")


# --- for whoever cannot see it, or holds a phone


def test_it_is_told_to_whoever_cannot_see_it(page: Page, sheet: Path) -> None:
    page.open(sheet, at="lit")
    assert page.run("return document.documentElement.lang;") == "en"
    assert page.attribute("fp-words", "aria-live") == "polite"
    assert page.attribute("fp-canvas", "role") == "img"
    assert "lit: Femoral nerve" in page.attribute("fp-canvas", "aria-label")
    assert page.driver.title == "2. The femoral nerve - A small lesson"
    headings = page.run(
        "return [...document.querySelectorAll('#fp-app h1, #fp-app h2')].map((e) => e.tagName + e.textContent);"
    )
    assert headings == ["H1A small lesson", "H2The femoral nerve"]
    nameless = page.run("return [...document.querySelectorAll('#fp-app button')].filter((b) => !b.hidden && "
                        "!(b.getAttribute('aria-label') || b.textContent).trim()).length;")  # fmt: skip
    assert nameless == 0
    page.press(Keys.TAB)
    outline = page.run("return getComputedStyle(document.activeElement).outlineStyle;")
    assert outline == "solid"


def test_the_first_screen_says_what_it_is_for(page: Page, sheet: Path) -> None:
    page.open(sheet)
    words = page.text("fp-words")
    assert "Say where the femoral nerve lies." in words
    assert "For a resident, 7 minutes, 5 steps." in words
    assert page.run("return [...document.querySelectorAll('#fp-words sup')].map((e) => e.textContent);") == ["1", "2"]
    assert page.run("return document.querySelectorAll('#fp-words .sources li').length;") == 2
    alt = page.run("return document.querySelector('#fp-words .map img').alt;")
    assert alt.startswith("Skin of nerves, left.")
    assert page.run(
        "const i = document.querySelector('#fp-words .map img'); return i.complete && i.naturalWidth > 100;"
    )


@pytest.mark.parametrize("size", [PHONE, (844, 390), (320, 568), (768, 1024), (1280, 800)])
def test_it_fits_and_its_caution_is_always_there(page: Page, sheet: Path, size: tuple[int, int]) -> None:
    page.open(sheet, size, touch=size[0] < 900)
    for at in ("front", "lit", "film"):
        page.run("location.hash = arguments[0];", at)
        assert page.text("fp-caution") == CAUTION
        for name in ("fp-caution", "fp-next", "fp-back", "fp-words", "fp-stage", "fp-larger"):
            box = page.run("const b = document.getElementById(arguments[0]).getBoundingClientRect();"
                           "return [b.left, b.top, b.right, b.bottom];", name)  # fmt: skip
            assert 0 <= box[0] < box[2] <= size[0], (at, name, box)
            assert 0 <= box[1] < box[3] <= size[1], (at, name, box)
        for name in ("fp-next", "fp-back", "fp-larger", "fp-list-button"):
            box = page.run(
                "const b = document.getElementById(arguments[0]); return [b.offsetWidth, b.offsetHeight];", name
            )
            assert min(box) >= 44, (name, box)
        assert page.run("return document.documentElement.scrollWidth;") <= size[0]


def test_a_finger_that_goes_aside_steps(page: Page, sheet: Path) -> None:
    page.open(sheet, PHONE, touch=True).swipe("fp-words", -120)
    page.wait(lambda: standing(page) == ("2 of 5", "#lit"))
    page.swipe("fp-words", 120)
    page.wait(lambda: standing(page) == ("1 of 5", "#front"))
    page.swipe("fp-canvas", -90)  # over the body it turns
    page.wait(lambda: page.shown("fp-return"))
    assert standing(page) == ("1 of 5", "#front")


def test_paper_holds_every_step(page: Page, sheet: Path) -> None:
    page.open(sheet)
    page.command("Emulation.setEmulatedMedia", media="print")
    try:
        assert not page.shown("fp-app")
        assert page.shown("fp-print")
        titles = page.run("return [...document.querySelectorAll('#fp-print h2')].map((e) => e.textContent);")
        assert titles == ["1. In front", "2. The femoral nerve", "3. On a film", "4. A portal", "5. Down it"]
        assert "Femoral.1" in page.text("fp-print")
        assert page.text("fp-print").count(CAUTION) == 6
        assert (
            page.run(
                "return [...document.querySelectorAll('#fp-print .shown')].filter((i) => i.naturalWidth > 200).length;"
            )
            == 5
        )
    finally:
        page.command("Emulation.setEmulatedMedia", media="")


def test_without_3d_each_step_shows_its_picture_and_says_why(sheet: Path) -> None:
    with browser("--disable-3d-apis") as page:
        page.open(sheet, at="lit")
        assert "cannot draw the body in 3D" in page.text("fp-why")
        assert page.shown("fp-why")
        assert page.shown("fp-picture")
        assert not page.shown("fp-canvas")
        assert "lit: Femoral nerve" in page.attribute("fp-picture", "alt")
        assert page.run("return document.getElementById('fp-picture').naturalWidth;") == 320
        page.press(Keys.PAGE_DOWN, Keys.PAGE_DOWN)
        assert standing(page) == ("3 of 5", "#film")
        assert "radiograph" in page.attribute("fp-picture", "alt")
        assert not page.shown("fp-other")
