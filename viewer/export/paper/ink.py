"""A printed document: pages of A4 with a caution at the foot, lines of words, boxes to tick, lines to write on.

Lengths in mm, y runs down. What a candidate holds and the key to it are both set with this.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING

from lessons.caution import CAUTION
from viewer.export.lesson.letters import HEAVY, LAST_RESORT, REGULAR, as_seen, font_file, printable
from viewer.export.lesson.wrapping import (
    BULLET,
    INDENT,
    LEADING,
    RAISED,
    RAISED_BY,
    Line,
    Told,
    lines_of,
    piece_width,
    plain,
)
from viewer.palette import RGB, THEMES

if TYPE_CHECKING:
    from fpdf import FPDF
PT = 25.4 / 72.0
PAGE, LEFT, TOP, FOOT = (210.0, 297.0), 12.0, 12.0, 14.0
WIDE, HIGH = PAGE[0] - 2.0 * LEFT, PAGE[1] - TOP - FOOT
BOTTOM = TOP + HIGH
TITLE, HEADING, WORDS, SMALL = 22.0 * PT, 12.0 * PT, 9.5 * PT, 6.5 * PT
#: Where the baseline of DejaVu lies in a line, in sizes of the font.
_BASELINE = 0.97
_FAMILY, _LAST = "letters", "lastresort"
#: Side of a box to tick, and the distance of lines to write on.
BOX, RULE = 4.2, 9.0
THEME = THEMES["light"]
TEXT, QUIET, ACCENT = THEME.text, THEME.quiet, THEME.accent


class Ink:
    """One document while it is written.

    title : what stands in its properties: nothing else does, and no answer may
    texts : everything that will be written, so that letters which the fonts lack are known
    """

    def __init__(self, title: str, texts: Iterable[str]) -> None:
        self.pdf = _document(title, texts)
        self.title = title
        self._letter = cache(self._letter_width)

    def page(self) -> None:
        """Begin a page, with the caution, the title and the page's number at its foot."""
        self.pdf.add_page()
        y = PAGE[1] - FOOT + 4.0
        self.text(CAUTION, LEFT, y, SMALL, QUIET)
        number = f"{self.title}, page {self.pdf.page}"
        self.text(number, LEFT + WIDE - self.width_of(number, False) * SMALL, y, SMALL, QUIET)

    def bytes(self) -> bytes:
        """The finished document."""
        return bytes(self.pdf.output())

    # --- words

    def width_of(self, text: str, heavy: bool) -> float:
        """Width of a text in sizes of its font."""
        return sum(self._letter(letter, heavy) for letter in text)

    def _letter_width(self, letter: str, heavy: bool) -> float:
        self.pdf.set_font(_FAMILY, "B" if heavy else "", 100.0)
        return float(self.pdf.get_string_width(letter)) / (100.0 * PT)

    def broken(self, told: Iterable[Told], wide: float, size: float) -> list[Line]:
        """Paragraphs as lines."""
        return lines_of(told, wide, size, self.width_of)

    def one(self, text: str, wide: float, size: float, heavy: bool = False) -> list[Line]:
        """A paragraph as lines."""
        return self.broken([plain(text, heavy=heavy)], wide, size)

    def lines(self, lines: Iterable[Line], x: float, wide: float, y: float, size: float, colour: RGB = TEXT) -> float:
        """Write lines one below the other; the y below them."""
        for k, line in enumerate(lines):
            y += line.gap * LEADING * size if k else 0.0
            self.line(line, x, wide, y, size, colour)
            y += LEADING * size
        return y

    def line(self, line: Line, x: float, wide: float, y: float, size: float, colour: RGB = TEXT) -> None:
        """A line in its column; one that runs from right to left begins at the right edge."""
        heavy, leftward = line.told.heavy, line.told.leftward
        indent = INDENT * size if line.told.item else 0.0
        if indent and line.first:
            bullet = self.width_of(BULLET, heavy) * size
            self.text(BULLET, x + wide - bullet if leftward else x, y, size, colour, heavy)
        pen = x + wide - indent if leftward else x + indent
        for piece in line.pieces:
            run = piece_width(piece, heavy, self.width_of) * size
            start = pen - run if leftward else pen
            if piece.number:
                raised = y + (_BASELINE - RAISED * _BASELINE - RAISED_BY) * size
                self.text(piece.text, start, raised, RAISED * size, ACCENT)
            else:
                self.text(as_seen(piece.text, leftward), start, y, size, colour, heavy)
            pen += -run if leftward else run

    def text(self, text: str, x: float, y: float, size: float, colour: RGB = TEXT, heavy: bool = False) -> None:
        """A text that begins at a place."""
        wide = self.width_of(text, heavy) * size  # measuring sets a font too
        self.pdf.set_font(_FAMILY, "B" if heavy else "", size / PT)
        self.pdf.set_text_color(*colour)
        self.pdf.set_xy(x, y)
        self.pdf.cell(wide, LEADING * size, text)

    # --- drawn

    def box(self, x: float, y: float, wide: float = BOX, high: float = BOX, thick: float = 0.3) -> None:
        """An empty box to tick or to write in."""
        self.pdf.set_draw_color(*TEXT)
        self.pdf.set_line_width(thick)
        self.pdf.rect(x, y, wide, high)

    def rule(self, x: float, y: float, wide: float, thick: float = 0.2, colour: RGB = TEXT) -> None:
        """A line to write on, or between stations."""
        self.pdf.set_draw_color(*colour)
        self.pdf.set_line_width(thick)
        self.pdf.line(x, y, x + wide, y)

    def image(self, image: BytesIO, x: float, y: float, wide: float, high: float, says: str) -> None:
        """A picture in a thin frame; `says` is read to whoever cannot see it, and gives nothing away."""
        self.pdf.image(image, x, y, wide, high, alt_text=printable(says))
        self.box(x, y, wide, high, 0.15)


def _document(title: str, texts: Iterable[str]) -> FPDF:
    from fpdf import FPDF, ViewerPreferences
    from fpdf.fonts import TTFFont

    pdf = FPDF(unit="mm", format="A4")
    pdf.set_auto_page_break(False)
    pdf.set_margin(0.0)
    pdf.c_margin = 0.0
    pdf.add_font(_FAMILY, "", font_file(REGULAR))
    pdf.add_font(_FAMILY, "B", font_file(HEAVY))
    known = [font.cmap for font in pdf.fonts.values() if isinstance(font, TTFFont)]
    codes = {ord(letter) for text in texts for letter in printable(text)}
    beyond = sorted(code for code in codes if not all(code in letters for letters in known))
    if beyond:  # it has every letter there is, and takes seconds to read whole
        pdf.add_font(_LAST, "", font_file(LAST_RESORT), unicode_range=beyond)
        pdf.set_fallback_fonts([_LAST], exact_match=False)
    pdf.set_title(title)
    pdf.set_author("furcal")
    pdf.set_creator("furcal")
    pdf.set_lang("en")
    pdf.viewer_preferences = ViewerPreferences(display_doc_title=True)
    return pdf
