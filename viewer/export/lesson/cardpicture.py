"""A card painted as a picture."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image, ImageDraw, ImageFont

from viewer.export.lesson.cards import BOARD, PICTURE, Box, Card, Text
from viewer.export.lesson.letters import as_seen, font, width_of
from viewer.export.lesson.wrapping import BULLET, INDENT, LEADING, RAISED, RAISED_BY, Line
from viewer.palette import RGB, THEMES

#: Where the baseline lies in a line, in sizes of the font.
BASELINE = 0.97


@dataclass(frozen=True)
class Painter:
    """Paints cards of one size (width and height, pixels) in one theme."""

    size: tuple[int, int]
    theme: str = "light"

    @property
    def scale(self) -> float:
        """Pixels a point."""
        return min(self.size[0] / BOARD.wide, self.size[1] / BOARD.high)

    def picture_size(self) -> tuple[int, int]:
        """Pixels of a step's picture that fills its place."""
        return round(PICTURE.wide * self.scale), round(PICTURE.high * self.scale)

    def map_high(self, card: Card) -> int:
        """Pixels of the height of a card's body map."""
        return max(1, round(card.map_box.high * self.scale)) if card.map_box else 0

    def paint(self, card: Card, picture: Image.Image | None, body_map: Image.Image | None) -> Image.Image:
        """The card with the pictures of its step."""
        theme = THEMES[self.theme]
        board = Image.new("RGB", self.size, theme.panel)
        if picture is not None and card.pictured:
            self._laid(board, picture, PICTURE)
        if body_map is not None and card.map_box:
            self._laid(board, body_map, card.map_box)
        draw = ImageDraw.Draw(board)
        heavy = theme.text if card.kind == "head" else theme.accent
        self._text(draw, card.title, theme.text, theme.text)
        self._text(draw, card.words, theme.text, heavy)
        for small in (card.foot, card.map_caution):
            if small is not None:
                self._text(draw, small, theme.quiet, theme.text)
        return board

    def _corner(self) -> tuple[float, float]:
        """Where the board begins on a picture of another shape."""
        return 0.5 * (self.size[0] - self.scale * BOARD.wide), 0.5 * (self.size[1] - self.scale * BOARD.high)

    def _laid(self, board: Image.Image, picture: Image.Image, box: Box) -> None:
        """A picture in the middle of its box."""
        left, top = self._corner()
        scale = min(box.wide * self.scale / picture.width, box.high * self.scale / picture.height)
        size = max(1, round(picture.width * scale)), max(1, round(picture.height * scale))
        if size != picture.size:
            picture = picture.resize(size, Image.Resampling.LANCZOS)
        x = left + (box.x + 0.5 * box.wide) * self.scale - 0.5 * size[0]
        y = top + (box.y + 0.5 * box.high) * self.scale - 0.5 * size[1]
        board.paste(picture, (round(x), round(y)))

    def _text(self, draw: ImageDraw.ImageDraw, text: Text, colour: RGB, heavy: RGB) -> None:
        y = text.box.y
        for k, line in enumerate(text.lines):
            y += line.gap * LEADING * text.size if k else 0.0
            self._line(draw, line, text, y, heavy if line.told.heavy else colour)
            y += LEADING * text.size

    def _line(self, draw: ImageDraw.ImageDraw, line: Line, text: Text, y: float, colour: RGB) -> None:
        heavy, leftward = line.told.heavy, line.told.leftward
        size, base = text.size, y + BASELINE * text.size
        indent = INDENT * size if line.told.item else 0.0
        pen = text.box.x + (text.box.wide - indent if leftward else indent)
        if indent and line.first:
            bullet = text.box.x + (text.box.wide - width_of(BULLET) * size if leftward else 0.0)
            self._letters(draw, BULLET, (bullet, base), self._font(size, heavy), colour)
        for piece in line.pieces:
            letters = self._font(RAISED * size if piece.number else size, heavy and not piece.number)
            run = letters.getlength(piece.text) / self.scale  # at small sizes letters stand on whole pixels
            start = pen - run if leftward else pen
            if piece.number:
                accent = THEMES[self.theme].accent
                self._letters(draw, piece.text, (start, base - RAISED_BY * size), letters, accent)
            else:
                self._letters(draw, as_seen(piece.text, leftward), (start, base), letters, colour)
            pen += -run if leftward else run

    def _font(self, size: float, heavy: bool) -> ImageFont.FreeTypeFont:
        return font(max(1, round(size * self.scale)), heavy)

    def _letters(
        self,
        draw: ImageDraw.ImageDraw,
        text: str,
        at: tuple[float, float],
        letters: ImageFont.FreeTypeFont,
        colour: RGB,
    ) -> None:
        left, top = self._corner()
        draw.text((left + at[0] * self.scale, top + at[1] * self.scale), text, fill=colour, font=letters, anchor="ls")
