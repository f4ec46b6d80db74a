"""A lesson as slides (.pptx) that a speaker can change: picture, words, sources, and what to say in the notes field."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from PIL.Image import Image

from lessons.lesson import Lesson
from meshes.errors import FurcalError
from viewer.export.lesson import Asked, Progress
from viewer.export.lesson.cards import BOARD, PICTURE, SIZE, Box, Card, Text, head_cards, said, step_cards
from viewer.export.lesson.encoded import encoded
from viewer.export.lesson.letters import printable
from viewer.export.lesson.mappicture import map_picture, map_words
from viewer.export.lesson.shots import PRINTED_TEXT, Camera, Shot, seen_words, shots
from viewer.export.lesson.wrapping import BULLET, INDENT, LEADING, Line, Piece
from viewer.export.whole import whole_file
from viewer.palette import RGB, THEMES

if TYPE_CHECKING:
    from pptx.presentation import Presentation
    from pptx.shapes.base import BaseShape
    from pptx.slide import Slide
    from pptx.text.text import Font, TextFrame, _Paragraph
    from pptx.util import Length

#: On the speaker's machine; no wider than the letters that the cards are measured with.
FONT = "Arial"
#: Pixels a point of the body map.
MAP_PX = 3.0
#: The template's layout with a title and nothing else.
_TITLE_ONLY = 5
#: How high raised numbers stand, in thousandths of a per cent: the program takes two thirds of the size by itself.
_BASELINE = "30000"


def write(lesson: Lesson, target: Path, asked: Asked, progress: Progress) -> None:
    """Write the slides. Raises FurcalError naming what cannot be written or shown, and a package that is missing."""
    try:
        from pptx import Presentation
    except ImportError:
        raise FurcalError(
            "slides need the package python-pptx; install it with: pip install 'furcal[slides]'"
        ) from None
    show = _Show(Presentation(), lesson)
    with whole_file(target) as beside, Camera(asked.size or SIZE, PRINTED_TEXT) as camera:
        show.begin(len(asked.numbers))
        for done, shot in enumerate(shots(lesson, asked.numbers), start=1):
            show.step(shot, camera.picture(shot))
            progress(done / len(asked.numbers), shot.step.title)
        show.file.save(str(beside))


@dataclass
class _Show:
    """The slides as they are made."""

    file: Presentation
    lesson: Lesson

    def begin(self, steps: int) -> None:
        """Shape and properties of the file, and the first slide."""
        from pptx.util import Pt

        self.file.slide_width, self.file.slide_height = Pt(BOARD.wide), Pt(BOARD.high)
        told = self.file.core_properties
        # The format allows 255 letters.
        told.title, told.subject = (printable(text)[:255] for text in (self.lesson.title, self.lesson.about))
        told.author = told.last_modified_by = "furcal"
        told.language = "en"
        for card in head_cards(self.lesson, steps):
            self._slide(card)

    def step(self, shot: Shot, picture: Image) -> None:
        """The slides of a step."""
        step = shot.step
        file = encoded(picture)
        for card in step_cards(step, self.lesson):
            slide = self._slide(card)
            if card.pictured:
                file.seek(0)
                _picture(slide, file, picture.size, PICTURE, seen_words(shot))
            if card.map_box:
                image = map_picture(step.body_map, step.specimen, round(card.map_box.high * MAP_PX))
                _picture(slide, encoded(image), image.size, card.map_box, map_words(step.body_map, step.specimen))
            frame = slide.notes_slide.notes_text_frame
            assert frame is not None  # the template's notes page has one
            frame.text = said(step, self.lesson, card.opens, card.kind == "question")

    def _slide(self, card: Card) -> Slide:
        theme = THEMES["light"]
        slide: Slide = self.file.slides.add_slide(self.file.slide_layouts[_TITLE_ONLY])
        title = slide.shapes.title
        assert title is not None  # so is that layout
        _place(title, card.title.box)
        _write(title.text_frame, card.title, theme.text, theme.text)
        heavy = theme.text if card.kind == "head" else theme.accent
        for text, colour, strong in (
            (card.words, theme.text, heavy),
            (card.foot, theme.quiet, theme.text),
            (card.map_caution, theme.quiet, theme.text),
        ):
            if text is not None and text.lines:
                b = text.box
                shape = slide.shapes.add_textbox(*_lengths(b))
                _write(shape.text_frame, text, colour, strong)
        return slide


def _lengths(box: Box) -> tuple[Length, Length, Length, Length]:
    from pptx.util import Pt

    return Pt(box.x), Pt(box.y), Pt(box.wide), Pt(box.high)


def _place(shape: BaseShape, box: Box) -> None:
    shape.left, shape.top, shape.width, shape.height = _lengths(box)


def _picture(slide: Slide, file: BytesIO, size: tuple[int, int], box: Box, told: str) -> None:
    """A picture in the middle of its box, told in words."""
    scale = min(box.wide / size[0], box.high / size[1])
    wide, high = size[0] * scale, size[1] * scale
    at = Box(box.x + 0.5 * (box.wide - wide), box.y + 0.5 * (box.high - high), wide, high)
    picture = slide.shapes.add_picture(file, *_lengths(at))
    picture._element._nvXxPr.cNvPr.set("descr", printable(told))


def _write(frame: TextFrame, text: Text, colour: RGB, heavy: RGB) -> None:
    """Lines as paragraphs that the program breaks itself."""
    from pptx.enum.text import MSO_ANCHOR, MSO_AUTO_SIZE
    from pptx.util import Pt

    frame.auto_size, frame.word_wrap, frame.vertical_anchor = MSO_AUTO_SIZE.NONE, True, MSO_ANCHOR.TOP
    frame.margin_left = frame.margin_right = frame.margin_top = frame.margin_bottom = Pt(0)
    for k, (_, group) in enumerate(groupby(text.lines, key=lambda line: id(line.told))):
        lines = list(group)
        paragraph = frame.paragraphs[0] if k == 0 else frame.add_paragraph()
        _shape(paragraph, lines[0], text.size, bool(k))
        for piece in _whole(lines):
            run = paragraph.add_run()
            run.text = piece.text
            _dress(run.font, piece, text.size, lines[0].told.heavy, heavy if lines[0].told.heavy else colour)


def _shape(paragraph: _Paragraph, line: Line, size: float, gap: bool) -> None:
    """Distance of its lines, bullet and direction."""
    from pptx.enum.text import PP_ALIGN
    from pptx.oxml.xmlchemy import OxmlElement
    from pptx.util import Pt

    paragraph.line_spacing = Pt(LEADING * size)
    paragraph.space_before = Pt(line.gap * LEADING * size if gap else 0.0)
    paragraph.alignment = PP_ALIGN.RIGHT if line.told.leftward else PP_ALIGN.LEFT
    shape = paragraph._p.get_or_add_pPr()
    if line.told.leftward:
        shape.set("rtl", "1")
    stands_in = int(Pt(INDENT * size)) if line.told.item else 0
    shape.set("marL", str(stands_in))
    shape.set("indent", str(-stands_in if line.first else 0))
    if line.told.item and line.first:
        bullet = OxmlElement("a:buChar")
        bullet.set("char", BULLET)
    else:
        bullet = OxmlElement("a:buNone")
    shape.append(bullet)


def _whole(lines: Iterable[Line]) -> list[Piece]:
    """The pieces of lines of one paragraph, put together again."""
    found: list[Piece] = []
    divides = True
    for line in lines:
        if not divides:
            found.append(Piece(" "))
        found += line.pieces
        divides = line.divides
    return found


def _dress(font: Font, piece: Piece, size: float, bold: bool, colour: RGB) -> None:
    from pptx.dml.color import RGBColor
    from pptx.util import Pt

    font.name, font.size, font.bold = FONT, Pt(size), bold and not piece.number
    font.color.rgb = RGBColor(*(THEMES["light"].accent if piece.number else colour))
    if piece.number:
        font._element.set("baseline", _BASELINE)
