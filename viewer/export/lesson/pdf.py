"""A lesson as a hand-out on A4: picture, words, sources and space for notes; answers on the last pages."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from lessons.caution import CAUTION
from lessons.lesson import Lesson
from viewer.export.lesson import Asked, Progress
from viewer.export.lesson import pdfpages as at
from viewer.export.lesson.encoded import encoded
from viewer.export.lesson.letters import HEAVY, LAST_RESORT, REGULAR, as_seen, font_file, printable
from viewer.export.lesson.mappicture import map_aspect, map_picture, map_words
from viewer.export.lesson.shots import PRINTED_TEXT, Camera, Shot, seen_words, shots
from viewer.export.lesson.wrapping import BULLET, INDENT, LEADING, RAISED, RAISED_BY, Line, lines_of, piece_width, plain
from viewer.export.whole import whole_file
from viewer.palette import RGB, THEMES

if TYPE_CHECKING:
    from fpdf import FPDF

#: Pixels of a picture: 198 a inch on paper.
SIZE = (1000, 600)
#: Pixels a mm of the body map.
MAP_PX = 12
#: Where the baseline of DejaVu lies in a line, in sizes of the font.
_BASELINE = 0.97
_FAMILY, _LAST = "letters", "lastresort"
#: Addresses in a source, and characters that may stand in one.
_ADDRESS = re.compile(r"\b(?:doi:\s*(10\.\d+/\S+)|(https?://\S+))", re.IGNORECASE)
_SAFE = "/:.;()_-~%?&=#+,@"


def write(lesson: Lesson, target: Path, asked: Asked, progress: Progress) -> None:
    """Write the hand-out. Raises FurcalError naming what cannot be written or shown."""
    size = asked.size or SIZE
    scale = min(at.PICTURE[0] / size[0], at.PICTURE[1] / size[1])
    pdf = _document(lesson)
    pages = at.pages_of(lesson, asked.numbers, size[1] * scale, _measure(pdf))
    with whole_file(target) as beside, Camera(size, PRINTED_TEXT) as camera:
        drawn = _Drawn(pdf, lesson, asked, pages, scale, camera, progress)
        drawn.draw()
        beside.write_bytes(pdf.output())


def _document(lesson: Lesson) -> FPDF:
    from fpdf import FPDF, ViewerPreferences
    from fpdf.fonts import TTFFont

    pdf = FPDF(unit="mm", format="A4")
    pdf.set_auto_page_break(False)
    pdf.set_margin(0.0)
    pdf.c_margin = 0.0
    pdf.add_font(_FAMILY, "", font_file(REGULAR))
    pdf.add_font(_FAMILY, "B", font_file(HEAVY))
    known = [font.cmap for font in pdf.fonts.values() if isinstance(font, TTFFont)]
    beyond = sorted(code for code in _codes(lesson) if not all(code in letters for letters in known))
    if beyond:  # it has every letter there is, and takes seconds to read whole
        pdf.add_font(_LAST, "", font_file(LAST_RESORT), unicode_range=beyond)
        pdf.set_fallback_fonts([_LAST], exact_match=False)
    pdf.set_title(printable(lesson.title))
    pdf.set_subject(printable(lesson.about))
    pdf.set_author("furcal")
    pdf.set_creator("furcal")
    pdf.set_lang("en")
    pdf.viewer_preferences = ViewerPreferences(display_doc_title=True)
    return pdf


def _codes(lesson: Lesson) -> set[int]:
    """Numbers of the letters that a lesson brings."""
    texts = [lesson.title, lesson.about, *lesson.objectives, *lesson.sources.values()]
    texts += [text for step in lesson.steps for text in (step.title, step.words, step.question, step.answer)]
    return {ord(letter) for text in texts for letter in printable(text)}


def _measure(pdf: FPDF) -> Callable[[str, bool], float]:
    """Widths of texts in sizes of the font, as this document will show them."""

    @cache
    def letter(one: str, heavy: bool) -> float:
        pdf.set_font(_FAMILY, "B" if heavy else "", 100.0)
        return float(pdf.get_string_width(one)) / (100.0 * at.PT)

    return lambda text, heavy: sum(letter(one, heavy) for one in text)


@dataclass
class _Drawn:
    """Draws what `pdfpages` has laid out."""

    pdf: FPDF
    lesson: Lesson
    asked: Asked
    pages: at.Pages
    scale: float
    camera: Camera
    progress: Progress

    def __post_init__(self) -> None:
        self.theme = THEMES["light"]
        self.colours = {"text": self.theme.text, "quiet": self.theme.quiet, "accent": self.theme.accent}
        self.width_of = _measure(self.pdf)
        self.links: dict[tuple[str, int], int] = {}
        self.page_count = len(self.pages.head) + len(self.pages.steps) + len(self.pages.answers)

    def draw(self) -> None:
        """Every page."""
        pictures = shots(self.lesson, self.asked.numbers)
        for page in self.pages.head:
            self._page()
            for placed in page:
                self._placed(placed)
        self._head_caution()
        done = count(1)
        for blocks in self.pages.steps:
            self._page()
            for k, block in enumerate(blocks):
                if k:
                    self._rule(block.top - at.BETWEEN / 2.0, thick=0.5)
                self._block(block, next(pictures) if block.first else None)
                if block.first:
                    title = self.lesson.steps[self.asked.numbers[block.place]].title
                    self.progress(next(done) / len(self.asked.numbers), title)
        for page in self.pages.answers:
            self._page()
            for placed in page:
                self._placed(placed)

    # --- pages

    def _page(self) -> None:
        self.pdf.add_page()
        y = at.PAGE[1] - at.FOOT + 4.0
        number = f"{self.pdf.page} / {self.page_count}"
        wide = self.width_of(number, False) * at.SMALL
        self._text(CAUTION, at.LEFT, y, at.SMALL, self.theme.quiet)
        self._text(number, at.LEFT + at.WIDE - wide, y, at.SMALL, self.theme.quiet)

    def _head_caution(self) -> None:
        """The caution once in the size of the words, at the foot of the head."""
        lines = lines_of([plain(CAUTION, heavy=True)], at.WIDE, at.WORDS, self.width_of)
        last = max(placed.top for placed in self.pages.head[-1])
        y = at.TOP + at.HIGH - len(lines) * LEADING * at.WORDS
        if y > last + 3.0 * at.WORDS:
            for k, line in enumerate(lines):
                self._line(line, at.LEFT, at.WIDE, y + k * LEADING * at.WORDS, at.WORDS, self.theme.text)

    def _placed(self, placed: at.Placed) -> None:
        item = placed.item
        if placed.begins and item.anchor:
            self._arrive(item.anchor, placed.top)
            kind, place = item.anchor
            if kind == "answers":
                self.pdf.start_section("Answers")
            elif kind == "answer":
                self.pdf.start_section(printable(self._named(place)), level=1)
        cites = None if item.cites is None else self._link(("cited", item.cites))
        self._line(placed.line, at.LEFT, at.WIDE, placed.top, item.size, self.colours[item.colour], cites)
        if placed.ends and item.mark:
            wide = self.width_of(item.mark, False) * item.size
            self._text(item.mark, at.LEFT + at.WIDE - wide, placed.top, item.size, self.colours[item.colour])
        if item.goes is not None:
            self.pdf.link(at.LEFT, placed.top, at.WIDE, LEADING * item.size, self._link(("step", item.goes)))

    def _named(self, place: int) -> str:
        number = self.asked.numbers[place]
        return f"{number + 1}. {self.lesson.steps[number].title}"

    # --- steps

    def _block(self, block: at.Block, shot: Shot | None) -> None:
        y = block.top
        if block.first:
            self._arrive(("step", block.place), y)
            self.pdf.start_section(printable(self._named(block.place)))
        y = self._lines(block.heading, at.LEFT, at.WIDE, y, at.HEADING) + at.AIR / 2.0
        under = self._picture(shot, y) + at.AIR / 2.0 if shot is not None else y
        aside = self._column(block, y)
        y = under
        if block.sources:
            y = self._sources(block, y)
        self._notes(y, aside, block.top + block.height)

    def _column(self, block: at.Block, y: float) -> float:
        """The words and the map; how far down they reach."""
        cited = self._link(("sources", block.place))
        for k, line in enumerate(block.words):
            y += line.gap * LEADING * at.WORDS if k else 0.0
            colour = self.theme.text
            if line.told.pieces[0].text == at.THINK_FIRST:
                colour = self.theme.quiet
                self.pdf.link(at.COLUMN_X, y, at.COLUMN, LEADING * at.WORDS, self._link(("answer", block.place)))
            elif line.told.heavy:
                colour = self.theme.accent
            self._line(line, at.COLUMN_X, at.COLUMN, y, at.WORDS, colour, cited)
            y += LEADING * at.WORDS
        return self._map(block, y + at.AIR / 2.0) if block.has_map else y

    def _map(self, block: at.Block, y: float) -> float:
        step = self.lesson.steps[self.asked.numbers[block.place]]
        high = at.COLUMN / map_aspect()
        image = map_picture(step.body_map, step.specimen, round(high * MAP_PX))
        told = map_words(step.body_map, step.specimen)
        self.pdf.image(encoded(image), at.COLUMN_X, y, at.COLUMN, high, alt_text=told)
        return self._lines(block.caution, at.COLUMN_X, at.COLUMN, y + high + 1.0, at.SMALL, self.theme.quiet)

    def _picture(self, shot: Shot, y: float) -> float:
        wide, high = (n * self.scale for n in self.camera.size)
        image = self.camera.picture(shot)
        self.pdf.image(encoded(image), at.LEFT, y, wide, high, alt_text=printable(seen_words(shot)))
        return y + high

    def _sources(self, block: at.Block, y: float) -> float:
        if block.first or ("sources", block.place) not in self.links:
            self._arrive(("sources", block.place), y)
        for k, line in enumerate(block.sources):
            y += line.gap * LEADING * at.SMALL if k else 0.0
            self._line(line, at.LEFT, at.PICTURE[0], y, at.SMALL, self.theme.quiet)
            address = address_of(line.told.pieces[0].text)
            if address:
                self.pdf.link(at.LEFT, y, at.PICTURE[0], LEADING * at.SMALL, address)
            y += LEADING * at.SMALL
        return y

    def _notes(self, top: float, aside: float, bottom: float) -> None:
        """Ruled lines down to the bottom; across the page below what stands aside."""
        y = top + at.RULE
        while y <= bottom:
            self._rule(y, at.WIDE if y - at.RULE >= aside else at.PICTURE[0])
            y += at.RULE

    def _rule(self, y: float, wide: float = at.WIDE, thick: float = 0.1) -> None:
        self.pdf.set_draw_color(*self.theme.line)
        self.pdf.set_line_width(thick)
        self.pdf.line(at.LEFT, y, at.LEFT + wide, y)

    # --- links

    def _link(self, name: tuple[str, int]) -> int:
        if name not in self.links:
            self.links[name] = self.pdf.add_link(page=1)
        return self.links[name]

    def _arrive(self, name: tuple[str, int], y: float) -> None:
        self.pdf.set_link(self._link(name), y=y, page=self.pdf.page)

    # --- lines

    def _lines(
        self, lines: list[Line], x: float, wide: float, y: float, size: float, colour: RGB | None = None
    ) -> float:
        for k, line in enumerate(lines):
            y += line.gap * LEADING * size if k else 0.0
            self._line(line, x, wide, y, size, colour or self.theme.text)
            y += LEADING * size
        return y

    def _line(
        self, line: Line, x: float, wide: float, y: float, size: float, colour: RGB, cites: int | None = None
    ) -> None:
        """A line in its column; one that runs from right to left begins at the right edge."""
        heavy, leftward = line.told.heavy, line.told.leftward
        indent = INDENT * size if line.told.item else 0.0
        if indent and line.first:
            bullet = self.width_of(BULLET, heavy) * size
            self._text(BULLET, x + wide - bullet if leftward else x, y, size, colour, heavy)
        way = -1.0 if leftward else 1.0
        pen = x + wide - indent if leftward else x + indent
        for piece in line.pieces:
            run = piece_width(piece, heavy, self.width_of) * size
            start = pen - run if leftward else pen
            if piece.number:
                raised = y + (_BASELINE - RAISED * _BASELINE - RAISED_BY) * size
                self._text(piece.text, start, raised, RAISED * size, self.theme.accent)
                if cites is not None:
                    self.pdf.link(start, y, run, LEADING * size, cites)
            else:
                self._text(as_seen(piece.text, leftward), start, y, size, colour, heavy)
            pen += way * run

    def _text(self, text: str, x: float, y: float, size: float, colour: RGB, heavy: bool = False) -> None:
        wide = self.width_of(text, heavy) * size  # measuring sets a font too
        self.pdf.set_font(_FAMILY, "B" if heavy else "", size / at.PT)
        self.pdf.set_text_color(*colour)
        self.pdf.set_xy(x, y)
        self.pdf.cell(wide, LEADING * size, text)


def address_of(source: str) -> str:
    """The address that a source names, by DOI or in full; empty without one."""
    match = _ADDRESS.search(source)
    if not match:
        return ""
    doi, address = match.groups()
    return quote(f"https://doi.org/{doi}" if doi else address, safe=_SAFE).rstrip(".,;)")
