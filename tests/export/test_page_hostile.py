"""The page of a lesson and whoever means it ill: nothing is fetched, nothing foreign runs, words stay words."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

from meshes.specimen import ALDER
from tests.export.handing import HOSTILE, LEFTWARD, LONG_WORD, OUTSIDE, lesson, step
from tests.export.page_course import PHONE, written
from tests.export.page_driver import Keys, Page

# --- alone in the world


def test_nothing_is_fetched_and_nothing_is_complained_of(page: Page, sheet: Path) -> None:
    page.open(sheet)
    for _ in range(6):
        page.press(Keys.PAGE_DOWN)
    assert page.rest().text("fp-count") == "5 of 5"
    asked = page.asked_for()
    assert [address for address in asked if not address.startswith("data:")] == [sheet.as_uri()]
    fetched = page.run("return performance.getEntriesByType('resource').map((e) => e.name);")
    assert [name for name in fetched if not name.startswith("data:")] == []
    assert page.said() == []


def test_an_injected_script_does_not_run_and_nothing_can_be_fetched(page: Page, sheet: Path, tmp_path: Path) -> None:
    tricked = tmp_path / "tricked.html"
    text = sheet.read_text(encoding="utf-8")
    injected = "<script>window.ran = 'script'</script><img src='data:,' onerror=\"window.ran = 'handler'\">"
    tricked.write_text(text.replace("<body>", f"<body>{injected}"), encoding="utf-8")
    page.open(tricked)
    assert page.run("return window.ran;") is None
    refused = " ".join(page.said())
    assert "Content Security Policy" in refused
    assert "inline script" in refused or "inline event handler" in refused
    assert page.text("fp-count") == "1 of 5"  # our own runs all the same
    asked = "const done = arguments[0]; fetch('data:,x').then(() => done('fetched'), () => done('refused'));"
    assert page.driver.execute_async_script(asked) == "refused"
    set_markup = (
        "try { document.body.insertAdjacentHTML('beforeend', '<p>'); return 'taken'; } catch (e) { return e.name; }"
    )
    assert page.run(set_markup) == "TypeError"


# --- hostile words


def test_hostile_words_are_shown_and_do_nothing(page: Page, tmp_path: Path) -> None:
    tags = '</script><script>window.ran=1</script><img src=x onerror="window.ran=2"></p></body><!-- \u2028 &lt;b&gt;'
    for hard in (f"{HOSTILE} {tags}", LONG_WORD, LEFTWARD, OUTSIDE):
        who = replace(ALDER, name=hard[:40])
        own = step(
            tmp_path, 0, title=hard, words=f"{hard} [one]\n\n- {hard}", question=hard, answer=hard, picture_says=hard,
            specimen=who,
        )  # fmt: skip
        made = lesson(
            tmp_path, own, step(tmp_path, 1, specimen=who), title=hard, about=hard, objectives=(hard,),
            sources={"one": hard},
        )  # fmt: skip
        path = written(made, tmp_path / "hard.html")
        plain = " ".join(hard.split())
        for size in ((1280, 800), PHONE):
            page.open(path, size, touch=size == PHONE).press(Keys.PAGE_DOWN)
            assert page.run("return window.ran;") is None
            assert page.text("fp-title") == hard
            words = " ".join(page.text("fp-words").split())
            assert words.count(plain) == 8  # title, about, objective, paragraph, item, question, answer, source
            assert page.attribute("fp-picture", "alt") == hard
            assert page.run("return document.querySelectorAll('#fp-app img, #fp-app script').length;") == 1
            assert page.run("return document.documentElement.scrollWidth;") <= size[0]
            assert page.run("const w = document.getElementById('fp-words'); return w.scrollWidth - w.clientWidth;") <= 0
            assert page.shown("fp-next")
            page.click("fp-list-button")
            listed = page.run("const l = document.getElementById('fp-list'); return l.scrollWidth - l.clientWidth;")
            assert listed <= 0
        assert page.said() == []


def test_words_from_right_to_left_stand_on_the_right(page: Page, tmp_path: Path) -> None:
    path = written(lesson(tmp_path, step(tmp_path, 0, words=LEFTWARD), step(tmp_path, 1)), tmp_path / "rtl.html")
    page.open(path)
    ways = page.run(
        "return [...document.querySelectorAll('#fp-words > p[dir]')].map((e) => getComputedStyle(e).direction);"
    )
    assert ways == ["rtl"]


def test_the_table_is_plain_data(sheet: Path) -> None:
    text = sheet.read_text(encoding="utf-8")
    start = text.index('<script type="application/json" id="fp-table">') + len(
        '<script type="application/json" id="fp-table">'
    )
    assert json.loads(text[start : text.index("</script>", start)])["title"] == "A small lesson"
