"""The page of a lesson as a file: what it holds, what it lets run, how its meshes are thinned and packed."""

from __future__ import annotations

import base64
import hashlib
import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.caution import CAUTION
from lessons.film import Film
from lessons.lesson import Lesson, Step
from lessons.prose import source
from lessons.view import Camera, Placement, View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import Specimen
from meshes.structures import SIDES
from tests.export.handing import HOSTILE, LEFTWARD, OUTSIDE, lesson, ready_to_draw, step
from viewer.export.lesson import Asked, export_lesson
from viewer.export.lesson.pageparts import library
from viewer.export.lesson.pageparts.paper import json_text, page_text, rule

SMALL = (160, 90)
LARCH = Specimen(name="Larch", variants=frozenset(f"accessory_obturator_{side}" for side in SIDES))


class Elements(HTMLParser):
    """Every element of a page with its attributes and the text right inside it, as a browser would tell them apart."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[str, dict[str, str | None], list[str]]] = []
        self._inside = False
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs), []))
        self._inside = True

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002  (the name is the parser's)
        self._inside = False

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.found[-1][2].append(data)

    def texts(self, tag: str) -> list[tuple[dict[str, str | None], str]]:
        """Attributes and text of every element of a kind."""
        return [(attributes, "".join(text)) for name, attributes, text in self.found if name == tag]


def table_of(page: str) -> dict[str, Any]:
    """What the page's scripts read."""
    (text,) = [text for attributes, text in Elements(page).texts("script") if attributes.get("id") == "fp-table"]
    table: dict[str, Any] = json.loads(text)
    return table


def export(made: Lesson, target: Path, numbers: tuple[int, ...] | None = None) -> str:
    """The page as text."""
    ready_to_draw()
    wanted = tuple(range(len(made.steps))) if numbers is None else numbers
    export_lesson(made, "page", target, Asked(wanted, SMALL), lambda *_: None)
    return target.read_text(encoding="utf-8")


def body_steps() -> tuple[Step, ...]:
    """A front view, a lit nerve beside a portal, the opened canal, a film, the same body with one nerve more."""
    lit = View(
        Camera("left", on=frozenset({"disc_l4_5"}), half_height_mm=60.0),
        highlighted=frozenset({"femoral_left"}), portal=Placement("L4-5"),
    )  # fmt: skip
    return (
        Step(
            "front", "In front", view=View(Camera("front")), words="Words. [common_practice]", body_map="femoral_left"
        ),
        Step("lit", "Lit", view=lit, words="One [moro_2003].", question="Which?", answer="This. [lu_2011]"),
        Step("open", "Open", view=View(Camera("front"), dissection="dura", colouring="by_nerve")),
        Step("film", "Film", view=replace(lit, film=Film("front"))),
        Step("more", "More", specimen=LARCH, view=View(Camera("front"))),
    )


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("page")
    return export(lesson(folder, *body_steps()), folder / "page.html")


# --- the library


def test_the_library_is_what_was_checked() -> None:
    table = library.table()
    for row in table["files"]:
        assert hashlib.sha256((library.FOLDER / row["name"]).read_bytes()).hexdigest() == row["sha256"], row["name"]
    assert {row["name"] for row in table["files"]} == {p.name for p in library.FOLDER.iterdir()} - {"three.toml"}
    assert table["licence"] == "MIT"
    assert (library.FOLDER / table["licence_file"]).read_text(encoding="utf-8").startswith("The MIT License")
    assert table["version"] in table["from"]
    number = table["version"].split(".")[1]
    assert f'"{number}"' in library.library_script()  # upstream's own number of its release


def test_another_library_is_not_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "three"
    shutil.copytree(library.FOLDER, folder)
    (folder / "three.core.min.js").write_bytes((folder / "three.core.min.js").read_bytes() + b" ")
    monkeypatch.setattr(library, "FOLDER", folder)
    library.table.cache_clear()
    with pytest.raises(FurcalError, match=r"three\.core\.min\.js.*install furcal again"):
        library.library_script.__wrapped__()
    library.table.cache_clear()


def test_the_licence_goes_with_the_page(exported: str) -> None:
    assert "SPDX-License-Identifier: MIT" in exported


# --- what may run


def test_the_rule_lets_our_own_run_and_nothing_else(exported: str) -> None:
    elements = Elements(exported)
    (policy,) = [a["content"] for a, _ in elements.texts("meta") if a.get("http-equiv") == "Content-Security-Policy"]
    assert policy is not None
    rules = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    scripts = [text for attributes, text in elements.texts("script") if attributes.get("type") is None]
    ((_, style),) = elements.texts("style")
    assert rules == {
        "default-src": "'none'",
        "script-src": " ".join(_hashed(script) for script in scripts),
        "style-src": _hashed(style),
        "img-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
        "require-trusted-types-for": "'script'",
    }
    assert len(scripts) == 2
    names = [name for _, attributes, _ in elements.found for name in attributes]
    assert not [name for name in names if name.startswith("on") or name in ("src", "href", "style")]


def test_the_rule_comes_before_what_it_rules(exported: str) -> None:
    tags = [tag for tag, _, _ in Elements(exported).found]
    assert tags.index("meta") < tags.index("style") < tags.index("script")
    assert exported.index("Content-Security-Policy") < exported.index("<style>")


def _hashed(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


@given(st.dictionaries(st.text(), st.text() | st.integers(), max_size=4))
def test_words_cannot_leave_the_table(words: dict[str, str | int]) -> None:
    text = json_text({**words, "last": HOSTILE + "</script><!--<script>\u2028\u2029&amp;"})
    assert not set(text) & set("<>&\u2028\u2029")
    assert json.loads(text) == {**words, "last": HOSTILE + "</script><!--<script>\u2028\u2029&amp;"}


def test_hostile_words_add_no_element_and_stay_what_they_are(tmp_path: Path) -> None:
    tags = "</script><script>window.ran=1</script><img src=x onerror=window.ran=1> @@SCRIPT@@"
    hard = f"{HOSTILE} {tags} {LEFTWARD} {OUTSIDE}"
    own = step(tmp_path, 0)
    tame = export(lesson(tmp_path, own), tmp_path / "tame.html")
    hostile = replace(own, title=hard, words=hard, notes=hard, question=hard, answer=hard, picture_says=hard)
    wild = export(lesson(tmp_path, hostile, title=hard, about=hard, objectives=(hard,), sources={"one": hard}),
                  tmp_path / "wild.html")  # fmt: skip
    shapes = [[(tag, attributes) for tag, attributes, _ in Elements(page).found] for page in (tame, wild)]
    assert shapes[0] == shapes[1]
    table = table_of(wild)
    plain = " ".join(hard.split())
    told = table["steps"][0]
    assert (table["title"], table["about"], table["objectives"]) == (hard, hard, [hard])
    assert (told["title"], told["question"], told["seen"]) == (hard, plain, hard)
    assert "".join(told["words"][0]["runs"]) == hard
    assert hard not in json.dumps([told["words"], told["answer"]])  # quotes are escaped there: it is no vacuous search
    assert "notes" not in told


def test_what_only_the_speaker_sees_is_not_handed_out(tmp_path: Path) -> None:
    page = export(lesson(tmp_path, step(tmp_path, 3)), tmp_path / "page.html")
    assert "Words of step 3" in page
    assert "Secret notes" not in page


# --- what it tells


def test_the_words_of_every_step_with_their_sources(exported: str) -> None:
    table = table_of(exported)
    assert table["caution"] == CAUTION
    assert [s["id"] for s in table["steps"]] == ["front", "lit", "open", "film", "more"]
    lit = table["steps"][1]
    assert lit["words"] == [{"item": False, "runs": ["One", 1, "."]}]
    assert lit["answer"] == [{"item": False, "runs": ["This.", 2]}]
    assert lit["sources"] == [source("moro_2003", {}), source("lu_2011", {})]
    assert lit["first"] == 1  # the answer's source is not told before the answer
    assert [s["kind"] for s in table["steps"]] == ["body", "body", "body", "film", "body"]
    assert "femoral nerve" in lit["seen"].lower()
    assert "radiograph" in table["steps"][3]["seen"]
    assert "radiograph" not in table["steps"][3]["seen3d"]
    assert table["steps"][0]["map"]["says"].startswith("Skin of nerves, left.")
    assert "Saphenous" in table["steps"][0]["map"]["says"]
    assert [s["map"] for s in table["steps"][1:]] == [None] * 4


def test_only_the_steps_that_were_asked_for(tmp_path: Path) -> None:
    made = lesson(tmp_path, *(step(tmp_path, k) for k in range(4)))
    table = table_of(export(made, tmp_path / "page.html", (1, 3)))
    assert [s["id"] for s in table["steps"]] == ["step_1", "step_3"]
    assert len(table["pictures"]) == 2


def test_each_picture_is_a_picture(exported: str) -> None:
    from io import BytesIO

    from PIL import Image

    table = table_of(exported)
    for address in table["pictures"]:
        kind, held = address.split(",", 1)
        with Image.open(BytesIO(base64.b64decode(held))) as image:
            assert kind == f"data:image/{(image.format or '').lower()};base64"
            assert image.size == SMALL


def test_the_parts_are_what_the_view_shows(exported: str, alder: Body, larch: Body) -> None:
    table = table_of(exported)
    names = [one["name"].lower() for one in table["structures"]]
    for told, asked in zip(table["steps"], body_steps(), strict=True):
        body = larch if asked.specimen == LARCH else alder
        view = replace(asked.view, film=None)
        shown = {s.name.lower(): s for s in body.structures.values() if view.visibility(s) != "off"}
        rows = {names[part["is"]]: part for part in told["parts"]}
        assert set(shown) <= set(rows)
        if view.portal is None:
            assert set(shown) == set(rows)
        for name, structure in shown.items():
            row = rows[name]
            assert row.get("glassy", False) == (view.visibility(structure) == "glassy"), name
            assert row.get("traced", False) == (structure.id in view.highlighted), name
            assert row.get("dimmed", False) == (bool(view.highlighted) and structure.id not in view.highlighted), name
            assert row.get("opened", False) == view.is_opened(structure), name


def test_equal_meshes_are_held_once(exported: str) -> None:
    steps = table_of(exported)["steps"]
    alders, larches = ({part["mesh"] for part in step["parts"]} for step in (steps[0], steps[4]))
    assert len(alders & larches) > 0.8 * len(alders)
    assert alders != larches


def test_a_page_is_light(exported: str) -> None:
    assert len(exported.encode()) < 5_000_000


# --- whole or not at all


@pytest.mark.parametrize("stop", [KeyboardInterrupt, FurcalError, OSError])
def test_what_is_stopped_leaves_the_old_page(tmp_path: Path, stop: type[BaseException]) -> None:
    made, target = lesson(tmp_path, step(tmp_path, 0), step(tmp_path, 1)), tmp_path / "out" / "page.html"
    target.parent.mkdir()
    target.write_text("old", encoding="utf-8")
    told: list[float] = []

    def interrupt(share: float, _: str) -> None:
        told.append(share)
        if len(told) == 2:
            raise stop

    ready_to_draw()
    with pytest.raises(stop):
        export_lesson(made, "page", target, Asked((0, 1), SMALL), interrupt)
    assert told == [0.5, 1.0]
    assert [p.name for p in target.parent.iterdir()] == ["page.html"]
    assert target.read_text(encoding="utf-8") == "old"


def test_a_picture_that_is_none_is_told_with_its_step(tmp_path: Path) -> None:
    bad = step(tmp_path, 0)
    assert bad.picture is not None
    bad.picture.write_bytes(b"no picture at all")
    with pytest.raises(FurcalError, match=r"step 1 \(step_0\), picture: .* save it anew"):
        export(lesson(tmp_path, bad), tmp_path / "page.html")
    assert not (tmp_path / "page.html").exists()


def test_marks_in_the_frame_are_all_filled() -> None:
    text = page_text({"title": "@@STYLE@@"})
    assert text.count("@@") == 2  # those of the title, which is no mark


@pytest.mark.parametrize("change", [str.upper, lambda text: text + " "])
def test_the_rule_knows_every_letter(change: Callable[[str], str]) -> None:
    assert rule("style", "script") != rule("style", change("script"))
    assert rule("style", "script") != rule(change("style"), "script")
