"""A hand-out read back: its words and where they stand, outline, fonts, pictures in words, links; whole or not."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from PIL import ImageFont
from pypdf import PdfReader

from lessons.caution import CAUTION
from lessons.lesson import Step
from lessons.view import View
from meshes.body import Body
from tests.export.handing import (
    CONTROLS,
    HOSTILE,
    LEFTWARD,
    LONG_WORD,
    OUTSIDE,
    asking,
    check_full_disk,
    check_interrupt,
    hand_out,
    lesson,
    step,
)
from viewer.export.lesson.letters import HEAVY, LAST_RESORT, REGULAR, font_file
from viewer.export.lesson.mappicture import map_words

A4 = (595.28, 841.89)
#: No letter nearer to the edge of the paper than that, points.
EDGE = 25.0
#: Left of it stand picture, sources and notes, right of it the words.
COLUMN_X = 400.0


@dataclass(frozen=True)
class Word:
    """Text as it stands on a page: its lower left corner and size in points, and its font."""

    text: str
    x: float
    y: float
    size: float
    font: str


def words_on(page: Any) -> list[Word]:
    found: list[Word] = []

    def seen(text: str, _: Any, tm: list[float], font: Any, size: float) -> None:
        if text.strip():
            found.append(Word(text.strip(), tm[4], tm[5], size, str(font["/BaseFont"])))

    page.extract_text(visitor_text=seen)
    return found


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


def texts(reader: PdfReader) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def alternatives(reader: PdfReader) -> list[str]:
    """Alternative texts of all pictures, in order."""
    tree: Any = reader.trailer["/Root"]["/StructTreeRoot"]  # type: ignore[index]
    document = tree["/K"][0].get_object()
    return [str(figure.get_object()["/Alt"]) for figure in document["/K"]]


def test_every_word_in_order_and_the_answers_after_all_questions(tmp_path: Path) -> None:
    given = lesson(tmp_path, asking(tmp_path, 1), step(tmp_path, 2, words="One.\n\n- Two [one][two]\n- Three"),
                   asking(tmp_path, 3))  # fmt: skip
    pages = texts(PdfReader(hand_out(given, "pdf", tmp_path)))
    whole = " ".join(pages)
    order = [
        "A small lesson", "For a resident, 7 minutes, 3 steps", "About it.", "Say what is seen.", "Say what is not.",
        "1. Title of step 1 2", "2. Title of step 2 2", "3. Title of step 3 3",
        "1. Title of step 1", "Words of step 1.", "Question 1?", "2. Title of step 2", "One.", "Two", "1,2", "Three",
        "[1] First source", "[2] Second source", "3. Title of step 3", "Words of step 3.", "Question 3?",
        "Answers", "1. Title of step 1", "Hidden answer 1.", "[2] Second source", "3. Title of step 3",
        "Hidden answer 3.",
    ]  # fmt: skip
    place = 0
    for words in order:
        place = whole.index(words, place) + 1
    assert not any("Hidden" in page for page in pages[:-1])
    assert "Hidden answer 1.2 [2]" in pages[-1]
    assert "Secret" not in whole
    for number, page in enumerate(pages, start=1):
        assert CAUTION in page
        assert f"{number} / {len(pages)}" in page
    assert len(pages) == 4


def test_outline_language_title_and_links(tmp_path: Path) -> None:
    given = lesson(tmp_path, step(tmp_path, 1), step(tmp_path, 2, words="See this. [one] And that. [two]"),
                   asking(tmp_path, 3))  # fmt: skip
    reader = PdfReader(hand_out(given, "pdf", tmp_path))
    marks = [mark for mark in reader.outline if not isinstance(mark, list)]
    assert [(mark.title, reader.get_destination_page_number(mark)) for mark in marks] == [
        ("1. Title of step 1", 1), ("2. Title of step 2", 1), ("3. Title of step 3", 2), ("Answers", 3),
    ]  # fmt: skip
    below = next(mark for mark in reader.outline if isinstance(mark, list))
    assert [(mark.title, reader.get_destination_page_number(mark)) for mark in below if not isinstance(mark, list)] == [
        ("3. Title of step 3", 3)
    ]
    root: Any = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    assert reader.metadata is not None
    assert (reader.metadata.title, reader.metadata.author) == ("A small lesson", "furcal")
    links = [note.get_object() for page in reader.pages for note in page.get("/Annots", [])]
    addresses = {link["/A"]["/URI"] for link in links if "/A" in link and "/URI" in link["/A"]}
    assert addresses == {"https://doi.org/10.1000/ab(c)1"}
    pages = {page.indirect_reference: number for number, page in enumerate(reader.pages) if page.indirect_reference}
    leads = [(number, pages[note.get_object()["/Dest"][0]])
             for number, page in enumerate(reader.pages) for note in page.get("/Annots", [])
             if "/Dest" in note.get_object()]  # fmt: skip
    # From the list of steps to the steps, from a question to its answer, from the answer back.
    assert {(0, 1), (0, 2), (2, 3), (3, 2)} <= set(leads)


def test_fonts_are_embedded(tmp_path: Path) -> None:
    given = lesson(tmp_path, step(tmp_path, 1, words=f"{OUTSIDE} plain", question=f"{OUTSIDE}?"))
    reader = PdfReader(hand_out(given, "pdf", tmp_path))
    names = set()
    for page in reader.pages:
        fonts: Any = page["/Resources"]["/Font"]  # type: ignore[index]
        for font in fonts.values():
            below = font.get_object()["/DescendantFonts"][0].get_object()
            assert len(below["/FontDescriptor"]["/FontFile2"].get_data()) > 1000
            assert "/ToUnicode" in font.get_object()
            names.add(str(below["/BaseFont"]).partition("+")[2])
    assert names == {"DejaVuSansBook", "DejaVuSansBold", "LastResortHigh-Efficiency"}


def test_pictures_are_told_in_words(tmp_path: Path) -> None:
    given = lesson(tmp_path, step(tmp_path, 1, body_map="femoral_left"), step(tmp_path, 2))
    reader = PdfReader(hand_out(given, "pdf", tmp_path))
    told = map_words("femoral_left", given.steps[0].specimen)
    assert alternatives(reader) == ["Seen on picture 1.", told, "Seen on picture 2."]
    assert "Areas are our own construction" in texts(reader)[1]
    pictures = [image.image for page in reader.pages for image in page.images]
    assert sum(image is not None and image.size == (120, 72) for image in pictures) == 2
    assert len(pictures) == 3


@pytest.mark.parametrize(
    ("lengths", "pages"),
    [
        ([10, 10], [[1, 2]]),
        ([10, 10, 10], [[1, 2], [3]]),
        ([10, 300, 10], [[1], [2], [3]]),
        ([160, 10, 10], [[1, 2], [3]]),
    ],
)
def test_two_steps_a_page_where_they_fit_and_no_heading_without_its_picture(
    tmp_path: Path, lengths: list[int], pages: list[list[int]]
) -> None:
    steps = [step(tmp_path, k, words="word " * count) for k, count in enumerate(lengths, start=1)]
    reader = PdfReader(hand_out(lesson(tmp_path, *steps), "pdf", tmp_path))
    found = [
        [int(n) for n in re.findall(r"(\d)\. Title of step \d(?! \(continued)", text)] for text in texts(reader)[1:]
    ]
    assert found == pages
    for page, numbers in zip(reader.pages[1:], found, strict=True):
        assert len(page.images) == len(numbers)
    assert sum(len(re.findall(r"\bword\b", text)) for text in texts(reader)) == sum(lengths)


def test_too_many_words_and_sources_go_on_on_the_next_page(tmp_path: Path) -> None:
    sources = {f"s{k}": f"Source number {k}, {'of a journal ' * 9}" for k in range(60)}
    cited = " ".join(f"Figure {k}. [s{k}]" for k in range(60))
    given = lesson(tmp_path, step(tmp_path, 1, words=cited + " more" * 400), step(tmp_path, 2), sources=sources)
    reader = PdfReader(hand_out(given, "pdf", tmp_path))
    whole = squeezed(" ".join(texts(reader)))
    for k in range(60):
        assert f"[{k + 1}]Sourcenumber{k}," in whole
    assert whole.count("more") == 400
    assert "1.Titleofstep1(continued)" in whole
    check_edges(reader)


def check_edges(reader: PdfReader) -> None:
    """Every letter stands on the paper, with room to the edge; widths are those of the fonts' own files."""
    files = {"DejaVuSansBook": REGULAR, "DejaVuSansBold": HEAVY, "LastResortHigh-Efficiency": LAST_RESORT}
    basic = ImageFont.Layout.BASIC
    fonts = {name: ImageFont.truetype(str(font_file(file)), 1000, layout_engine=basic) for name, file in files.items()}
    for page in reader.pages:
        for word in words_on(page):
            wide = fonts[word.font.partition("+")[2]].getlength(word.text) * word.size / 1000.0
            assert word.x >= EDGE, word
            assert word.x + wide <= A4[0] - EDGE, word
            assert EDGE / 2.0 <= word.y <= A4[1] - EDGE - 0.5 * word.size, word


def test_hostile_words_come_out_as_text(tmp_path: Path) -> None:
    hostile = step(
        tmp_path, 1, title=f"{HOSTILE} {'W' * 80}",
        words=f"{HOSTILE}\n\n{LONG_WORD} [one]\n\n- {LEFTWARD} [two]\n- {OUTSIDE}\n\n{CONTROLS}",
        question=f"{HOSTILE}?", answer=f"{LEFTWARD} {'w' * 300}", picture_says=HOSTILE,
    )  # fmt: skip
    given = lesson(tmp_path, hostile, title=HOSTILE, about=CONTROLS, objectives=(LONG_WORD, LEFTWARD, CONTROLS),
                   sources={"one": f"{HOSTILE} {'s' * 300}", "two": LEFTWARD})  # fmt: skip
    reader = PdfReader(hand_out(given, "pdf", tmp_path))
    check_edges(reader)
    first = reader.get_destination_page_number(reader.outline[0])  # type: ignore[arg-type]
    assert first is not None
    head = squeezed("".join(re.sub(r"\b\d+ / \d+\b", "", text.replace(CAUTION, "")) for text in texts(reader)[:first]))
    answers = squeezed(texts(reader)[-1])
    column = "".join(squeezed(word.text) for page in reader.pages[first:-1] for word in words_on(page)
                     if word.x > COLUMN_X and word.size > 7.0)  # fmt: skip
    script, controls = squeezed(HOSTILE), "bell␇escape␛[31mturnendwidemark"
    assert reader.metadata is not None
    assert reader.metadata.title == HOSTILE
    assert alternatives(reader) == [HOSTILE]
    assert head.count(script) == 2  # the title, and the step's in the list
    assert f"W{first + 1}" in head  # its page, after all that the objectives take
    assert controls in head
    assert LONG_WORD in head
    for words in (script, LONG_WORD, controls, "漢字", "😀", f"{script}?"):
        assert words in column
    for word in LEFTWARD.split():
        assert word in column
        assert word in head
        assert word in answers
    assert "w" * 300 in answers


def test_the_body_itself_is_drawn(alder: Body, tmp_path: Path) -> None:
    on_body = Step("body", "The body", view=View(highlighted=frozenset({"femoral_left"})), words="Here.")
    reader = PdfReader(hand_out(lesson(tmp_path, on_body), "pdf", tmp_path, (200, 120)))
    assert alternatives(reader) == [
        f"{alder.specimen.name} from in front, a little from the left; dissected to the psoas; lit: Femoral nerve."
    ]
    image = reader.pages[1].images[0].image
    assert image is not None
    assert image.size == (200, 120)
    colours = image.convert("RGB").getcolors(1 << 16)
    assert colours is not None
    assert len(colours) > 500


def test_a_full_disk_and_the_keyboard_leave_nothing_behind(tmp_path: Path) -> None:
    given = lesson(tmp_path, step(tmp_path, 1), step(tmp_path, 2))
    check_full_disk(given, "pdf", tmp_path)
    check_interrupt(given, "pdf", tmp_path)
