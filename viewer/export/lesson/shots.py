"""The pictures of a lesson, step by step, drawn off-screen: what every kind of hand-out begins with."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import astuple, dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from PIL import Image, ImageOps

from lessons.lesson import Lesson, Step
from lessons.onbody import check_on, lying
from meshes.body import Body, load_body
from meshes.contact import Docking, dock
from meshes.errors import FurcalError
from meshes.portal import place
from viewer.filmview import draw_view
from viewer.palette import RGB, THEMES
from viewer.picture import TEXT, VIEW_WORDS, dissection_words
from viewer.studio import Studio

#: Height of the words in pictures that are printed small, as a share of their height.
PRINTED_TEXT = 1 / 30


@dataclass(frozen=True)
class Shot:
    """One step on its body.

    number  : of the step, from 0
    docking : what its portal meets, or None
    """

    number: int
    step: Step
    body: Body
    docking: Docking | None


class Camera:
    """Draws the steps of a lesson; close it, or use it in a `with`. Steps of one body one after the other are quick.

    size : of its pictures, width and height, pixels
    text : height of their words, as a share of their height
    """

    def __init__(self, size: tuple[int, int], text: float = TEXT) -> None:
        self.size, self.text = size, text
        self._studio: Studio | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: object, trace: TracebackType | None) -> None:
        self._drop()

    def picture(self, shot: Shot) -> Image.Image:
        """The step as an RGB picture: its own picture, its film, or the body."""
        step = shot.step
        if step.picture is not None:
            return _own_picture(step.picture, self.size, THEMES[step.view.theme].background)
        if step.view.film is not None:
            return draw_view(shot.body, step.view, shot.docking, self.size)
        return self._in_studio(shot.body).picture(step.view, shot.docking)

    def _in_studio(self, body: Body) -> Studio:
        if self._studio is None or self._studio.body.specimen != body.specimen:
            self._drop()
            self._studio = Studio(body, self.size, text=self.text)
        return self._studio

    def _drop(self) -> None:
        if self._studio is not None:
            self._studio.close()
            self._studio = None


def shots(lesson: Lesson, numbers: Iterable[int]) -> Iterator[Shot]:
    """Steps on their bodies, in order. Raises FurcalError for a step that its body cannot show, naming it."""
    body: Body | None = None
    for number in numbers:
        step = lesson.steps[number]
        specimen = lying(step)
        if body is None or body.specimen != specimen:
            body = load_body(specimen)
        check_on(step, body, lesson.where(number))
        portal = step.view.portal
        yield Shot(number, step, body, dock(body, place(body, *astuple(portal))) if portal else None)


def _own_picture(path: Path, size: tuple[int, int], ground: RGB) -> Image.Image:
    """A picture file, as large as it fits. Raises FurcalError for one that is cut off or too large to be drawn."""
    try:
        with Image.open(path) as own:
            return ImageOps.pad(own.convert("RGB"), size, color=ground)
    except (OSError, ValueError, Image.DecompressionBombError) as error:
        raise FurcalError(f"{path}: this picture cannot be read ({error}); save it again as PNG or JPEG.") from None


def seen_words(shot: Shot) -> str:
    """What the picture of a step shows, for whoever cannot see it."""
    step, view, body = shot.step, shot.step.view, shot.body
    if step.picture is not None:
        return step.picture_says
    if view.film is not None:
        words = [f"Simulated radiograph of {body.specimen.name}, {view.film.words}"]
        if view.film.wires > 0.0:
            words.append("nerves as wires")
    else:
        words = [f"{body.specimen.name} {VIEW_WORDS[view.camera.name].lower()}", dissection_words(view)]
    if view.highlighted:
        names = sorted(body.structures[i].name for i in view.highlighted)
        words.append(f"lit: {', '.join(dict.fromkeys(names))}")
    if view.portal is not None:
        p = view.portal
        words.append(
            f"a portal of radius {p.radius_mm:g} mm docked at {p.level} from the {p.side}, {p.approach} approach"
        )
    return f"{'; '.join(words)}."
