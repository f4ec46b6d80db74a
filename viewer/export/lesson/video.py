"""A lesson as a video: every card is held as long as it takes to read, with a cross-fade to the next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from lessons.lesson import Lesson
from meshes.errors import FurcalError
from viewer.export.lesson import Asked, Progress
from viewer.export.lesson.cardpicture import Painter
from viewer.export.lesson.cards import Card, head_cards, step_cards
from viewer.export.lesson.letters import printable
from viewer.export.lesson.mappicture import map_picture
from viewer.export.lesson.shots import Camera, shots
from viewer.export.whole import whole_file

if TYPE_CHECKING:
    from av.container import OutputContainer
    from av.video.stream import VideoStream

SIZE = (1280, 720)
#: Frames a second while one card fades into the next, and how long that takes; frames from one that is written to the
#: next while a card is held, so that a still costs little, and no player has to wait long for one.
RATE, FADE_SECONDS, HELD = 20, 0.6, 10
#: How long a card is held, a judgement: words are read at 180 a minute, for the picture is looked at meanwhile; never
#: shorter than LEAST, and a question waits for so much longer.
WORDS_A_SECOND, LEAST_SECONDS, THINK_SECONDS = 3.0, 5.0, 5.0
#: Ways to write H.264 or what most players know, best first: not every build of the library has the first.
CODECS = ("libx264", "libopenh264", "mpeg4")


def write(lesson: Lesson, target: Path, asked: Asked, progress: Progress) -> None:
    """Write the video. Raises FurcalError naming what cannot be written or shown, and a package that is missing."""
    try:
        import av
    except ImportError:
        raise FurcalError("a video needs the package av; install it with: pip install 'furcal[video]'") from None
    wide, high = asked.size or SIZE
    painter = Painter((wide - wide % 2, high - high % 2))  # the colours of a video are halved
    av.logging.set_level(av.logging.ERROR)
    with whole_file(target) as beside, av.open(f"file:{beside}", "w", format="mp4") as file:
        film = _film(file, lesson.title, painter.size)
        for card in head_cards(lesson, len(asked.numbers)):
            film.hold(painter.paint(card, None, None), seconds(card))
        with Camera(painter.picture_size()) as camera:
            for done, shot in enumerate(shots(lesson, asked.numbers), start=1):
                picture, step = camera.picture(shot), shot.step
                for card in step_cards(step, lesson):
                    high = painter.map_high(card)
                    body_map = map_picture(step.body_map, step.specimen, high) if high else None
                    film.hold(painter.paint(card, picture, body_map), seconds(card))
                progress(done / len(asked.numbers), step.title)
        film.end()


def seconds(card: Card) -> float:
    """How long a card is held."""
    return max(LEAST_SECONDS, card.read / WORDS_A_SECOND) + (THINK_SECONDS if card.kind == "question" else 0.0)


def _film(file: OutputContainer, title: str, size: tuple[int, int]) -> _Film:
    from av.codec import codecs_available
    from av.video.stream import VideoStream

    codec = next((name for name in CODECS if name in codecs_available), "")
    if not codec:
        raise FurcalError(f"the package av knows none of {', '.join(CODECS)}; install the one of PyPI: "
                          "pip install --force-reinstall av")  # fmt: skip
    options = {"preset": "veryfast", "tune": "stillimage", "crf": "20"} if codec == "libx264" else {}
    stream = file.add_stream(codec, rate=RATE, options=options)
    assert isinstance(stream, VideoStream)
    stream.width, stream.height = size
    stream.pix_fmt = "yuv420p"
    file.metadata["title"] = printable(title)
    file.metadata["artist"] = "furcal"
    return _Film(file, stream)


@dataclass
class _Film:
    """Frames as they are written."""

    file: OutputContainer
    stream: VideoStream
    frames: int = 0
    last: Image.Image | None = None

    def hold(self, picture: Image.Image, how_long: float) -> None:
        """Fade to a picture and hold it."""
        if self.last is not None:
            for between in _fade(self.last, picture):
                self._show(between, 1)
        self._show(picture, round(how_long * RATE))
        self.last = picture

    def end(self) -> None:
        """Write what the codec still holds."""
        self.file.mux(self.stream.encode(None))

    def _show(self, picture: Image.Image, count: int) -> None:
        from av import VideoFrame

        frame = VideoFrame.from_ndarray(np.asarray(picture), format="rgb24").reformat(format="yuv420p")
        for k in [*range(0, count - 1, HELD), count - 1]:
            frame.pts = self.frames + k
            self.file.mux(self.stream.encode(frame))
        self.frames += count


def _fade(before: Image.Image, after: Image.Image) -> Iterator[Image.Image]:
    """The pictures between two, slow at both ends."""
    count = round(FADE_SECONDS * RATE)
    for k in range(1, count):
        t = k / count
        yield Image.blend(before, after, t * t * (3.0 - 2.0 * t))
