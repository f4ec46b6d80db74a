"""Slides read back: order, words, notes in the notes field, alternative text, nothing outside a slide; whole or not."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from pptx import Presentation

from lessons.caution import CAUTION
from tests.export.handing import (
    CONTROLS,
    HOSTILE,
    LEFTWARD,
    LONG_WORD,
    OUTSIDE,
    asking,
    check_full_disk,
    check_interrupt,
    check_missing,
    hand_out,
    lesson,
    step,
)
from viewer.export.lesson.letters import width_of
from viewer.export.lesson.mappicture import map_words

PICTURE = 13  # the kind of a shape that is a picture
EMU = 12700  # of the format in a point
RAISED = 0.667  # size of raised numbers, as the programs draw them


def slides_of(path: Path) -> list[Any]:
    """The slides, each checked: every shape lies on it, and its words fit into their box."""
    file = Presentation(str(path))
    assert file.slide_width is not None
    assert file.slide_height is not None
    assert file.slide_width * 9 == file.slide_height * 16
    for slide in file.slides:
        for shape in slide.shapes:
            assert min(shape.left, shape.top) >= 0
            assert shape.left + shape.width <= file.slide_width
            assert shape.top + shape.height <= file.slide_height
            if shape.has_text_frame:
                assert needed(shape) <= shape.height.pt + 0.1
    return list(file.slides)


def needed(shape: Any) -> float:
    """Height of a shape's words in points, were they set in the widest of the common fonts."""
    high = 0.0
    for paragraph in shape.text_frame.paragraphs:
        room = shape.width.pt - int(paragraph._p.pPr.get("marL", "0")) / EMU
        widths = [(letter, width_of(letter, bool(run.font.bold)) * run.font.size.pt *
                   (RAISED if run.font._element.get("baseline") else 1.0))
                  for run in paragraph.runs for letter in run.text]  # fmt: skip
        lines, used, word = 1, 0.0, 0.0
        for letter, wide in [*widths, (" ", 0.0)]:
            if letter != " ":
                word += wide
                continue
            if used and used + word > room:
                lines, used = lines + 1, 0.0
            lines, used, word = lines + int(word // room), used + word % room + wide, 0.0
        high += (
            paragraph.space_before.pt if high and paragraph.space_before else 0.0
        ) + lines * paragraph.line_spacing.pt
    return high


def words(slide: Any) -> str:
    return "\n".join(shape.text_frame.text for shape in slide.shapes if shape.has_text_frame)


def told(slide: Any) -> list[str]:
    """Alternative texts of the pictures of a slide."""
    return [s._element.nvPicPr.cNvPr.get("descr") for s in slide.shapes if s.shape_type == PICTURE]


def notes(slide: Any) -> str:
    return str(slide.notes_slide.notes_text_frame.text)


def test_order_words_notes_and_pictures(tmp_path: Path) -> None:
    given = lesson(
        tmp_path,
        step(tmp_path, 1, words="One. [one]\n\n- Two [one][two]\n- Three", transition="cut",
             notes="Secret notes 1. [one]\n- Twice."),
        asking(tmp_path, 2), step(tmp_path, 3, body_map="femoral_left"),
    )  # fmt: skip
    path = hand_out(given, "slides", tmp_path)
    head, first, question, answer, third = slides_of(path)
    assert [slide.shapes.title.text for slide in (head, first, question, answer, third)] == [
        "A small lesson", "Title of step 1", "Title of step 2", "Title of step 2", "Title of step 3"
    ]  # fmt: skip
    for said in ("For a resident, 7 minutes, 3 steps", "Say what is seen.", "Say what is not.", CAUTION):
        assert said in words(head)
    assert "One.1\nTwo1,2\nThree" in words(first)
    assert "[1] First source" in words(first)
    assert "[2] Second source" in words(first)
    assert "Words of step 2." in words(question)
    assert "Question 2?" in words(question)
    assert "Hidden" not in words(question)
    assert "Question 2?\nHidden answer 2.2" in words(answer)
    assert "[2] Second source" in words(answer)
    assert "Secret" not in "".join(words(slide) for slide in (head, first, question, answer, third))

    assert notes(first) == "Secret notes 1. [1]\n- Twice.\n[1] First source, doi:10.1000/ab(c)1.\n\nTransition: cut"
    assert notes(question) == (
        "Secret notes 2.\n\nAnswer: Hidden answer 2. [1]\n[1] Second source, javascript:alert(1)\n\nTransition: fly"
    )
    assert notes(answer) == "Secret notes 2."
    assert [told(slide) for slide in (head, first, question, answer, third)] == [
        [], ["Seen on picture 1."], ["Seen on picture 2."], ["Seen on picture 2."],
        ["Seen on picture 3.", map_words("femoral_left", given.steps[2].specimen)],
    ]  # fmt: skip
    assert "Areas are our own construction" in words(third)
    about = Presentation(str(path)).core_properties
    assert (about.title, about.subject, about.author) == ("A small lesson", "About it.", "furcal")


def test_the_picture_takes_two_thirds_and_keeps_its_shape(tmp_path: Path) -> None:
    _, slide = slides_of(hand_out(lesson(tmp_path, step(tmp_path, 1)), "slides", tmp_path, None))
    picture = next(shape for shape in slide.shapes if shape.shape_type == PICTURE)
    assert picture.width.pt / 960.0 == pytest.approx(0.65, abs=0.02)
    wide, high = picture.image.size
    assert picture.width / picture.height == pytest.approx(wide / high, rel=0.01)
    assert wide >= 1280  # nine pixels for ten of a screen 1920 wide
    beside = [shape for shape in slide.shapes if shape.has_text_frame and "Words" in shape.text_frame.text]
    assert beside[0].left >= picture.left + picture.width


@pytest.mark.parametrize(("count", "several"), [(20, False), (35, False), (90, True), (130, True), (400, True)])
def test_words_are_never_smaller_than_16_and_go_on_on_the_next_slide(tmp_path: Path, count: int, several: bool) -> None:
    said = " ".join(f"w{k}ord" for k in range(count))
    given = lesson(tmp_path, step(tmp_path, 1, words=said, body_map="femoral_left"))
    slides = slides_of(hand_out(given, "slides", tmp_path))[1:]
    sizes, read = set(), ""
    for slide in slides:
        for shape in slide.shapes:
            if shape.has_text_frame and re.search(r"w\d", shape.text_frame.text):
                read += f" {shape.text_frame.text}"
                sizes |= {run.font.size.pt for line in shape.text_frame.paragraphs for run in line.runs}
    assert min(sizes) >= 16.0
    assert read.split() == said.split()
    assert (len(slides) > 1) is several
    assert sum(len(told(slide)) for slide in slides) == len(slides) + 1  # one body map, on one of them


def test_a_question_comes_right_before_its_answer_however_long_the_step_is(tmp_path: Path) -> None:
    given = lesson(tmp_path, asking(tmp_path, 1, words="many words " * 50, body_map="femoral_left"))
    slides = slides_of(hand_out(given, "slides", tmp_path))[1:]
    assert len(slides) >= 3
    *_, question, answer = slides
    assert "Question 1?" in words(question)
    assert "Hidden answer 1." in words(answer)
    assert not any("Question" in words(slide) or "Hidden" in words(slide) for slide in slides[:-2])
    assert notes(slides[0]).endswith("Transition: fly")
    assert "Answer: Hidden" in notes(question)


def test_many_sources_have_a_slide_of_their_own(tmp_path: Path) -> None:
    sources = {f"s{k}": f"Source number {k}, {'of a journal ' * 5}" for k in range(30)}
    given = lesson(tmp_path, step(tmp_path, 1, words=" ".join(f"x [s{k}]" for k in range(30))), sources=sources)
    slides = slides_of(hand_out(given, "slides", tmp_path))
    assert "The sources stand on the next" in words(slides[1])
    after = " ".join(words(slide) for slide in slides[2:])
    for k in range(30):
        assert f"[{k + 1}] Source number {k}," in " ".join(after.split())


def test_hostile_words_come_out_as_text(tmp_path: Path) -> None:
    hostile = step(
        tmp_path, 1, title=f"{HOSTILE} {'W' * 80}", notes=f"{HOSTILE}\n{CONTROLS}\ud800",
        words=f"{HOSTILE}\n\n{LONG_WORD} [one]\n\n- {LEFTWARD} [two]\n- {OUTSIDE}\n\n{CONTROLS}",
        question=f"{HOSTILE}?", answer=f"{LEFTWARD} {'w' * 300}", picture_says=f"{HOSTILE}{CONTROLS}",
    )  # fmt: skip
    given = lesson(tmp_path, hostile, title=HOSTILE, about=CONTROLS, objectives=(LONG_WORD, LEFTWARD, CONTROLS),
                   sources={"one": f"{HOSTILE} {'s' * 300}", "two": LEFTWARD})  # fmt: skip
    path = hand_out(given, "slides", tmp_path)
    slides = slides_of(path)
    said = "".join(words(slide) for slide in slides)
    for text in (HOSTILE, LEFTWARD, OUTSIDE, "bell␇ escape␛[31m turn end wide mark", f"{HOSTILE}?", "w" * 300):
        assert text in said
    body = "".join(s.text_frame.text for slide in slides for s in slide.shapes if s.has_text_frame and s.left.pt > 600)
    assert LONG_WORD in body.replace("\n", "")
    assert HOSTILE in notes(slides[-1])
    assert Presentation(str(path)).core_properties.title == HOSTILE
    with zipfile.ZipFile(path) as file:
        assert file.testzip() is None
        for name in file.namelist():
            if name.endswith((".xml", ".rels")):
                ET.fromstring(file.read(name))
        targets = [rel for name in file.namelist() if name.endswith(".rels") for rel in ET.fromstring(file.read(name))]
    assert not any(rel.get("TargetMode") == "External" for rel in targets)


def test_text_that_runs_from_right_to_left_is_told_so(tmp_path: Path) -> None:
    given = lesson(tmp_path, step(tmp_path, 1, words=f"{LEFTWARD} [one]\n\nPlain."))
    _, slide = slides_of(hand_out(given, "slides", tmp_path))
    ways = {
        line.text: line._p.pPr.get("rtl")
        for shape in slide.shapes if shape.has_text_frame for line in shape.text_frame.paragraphs
    }  # fmt: skip
    assert ways[f"{LEFTWARD}1"] == "1"
    assert ways["Plain."] is None


def test_a_full_disk_the_keyboard_and_a_missing_package_leave_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = lesson(tmp_path, step(tmp_path, 1), step(tmp_path, 2))
    check_full_disk(given, "slides", tmp_path)
    check_interrupt(given, "slides", tmp_path)
    check_missing(given, "slides", "pptx", tmp_path, monkeypatch)
