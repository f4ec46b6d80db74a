"""Pictures of items: as the learner sees them, as they are explained, and as they are printed with lettered spots.

While an item is asked its picture names nothing: neither the specimen, whose name tells its variants, nor the layer
that it is dissected to, which may be what is marked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import astuple, replace
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

import numpy as np

from lessons.scenefile import check_ids, portal_error
from lessons.spot.item import Item, Quartered
from lessons.spot.onbody import lying
from lessons.spot.sitting import asked_view, explained_view
from lessons.view import Camera, View
from meshes.body import Body, load_body
from meshes.contact import Docking, dock
from meshes.errors import FurcalError
from meshes.portal import place
from viewer.cameras import Array, Eye, projected
from viewer.display import prepare_offscreen
from viewer.overlay import Shape, Words
from viewer.picture import TEXT, checked_target, notes_of, write_png
from viewer.spotmarks import QUESTION, Sight, disc_of, film_mark, found_spots, lies_across, quarter_lines, spot_shapes
from viewer.studio import Studio

if TYPE_CHECKING:
    from PIL.Image import Image

    from lessons.film import Film
    from lessons.spot.response import Clicked
    from meshes.film.filmed import Exposed
    from meshes.portal import Portal

#: Stands on a picture in place of the specimen's name.
NOBODY = "Specimen"
WHITE = (255, 255, 255)
#: Side of the detector where the quarters of a disc are asked for on a film, mm.
NEAR_MM = 170.0
#: Share of the width that a film takes where the field stands beside it.
FILM_SHARE = 0.58
#: What is drawn over a picture beside what it says of itself: (eye, size, height of the words) -> shapes.
Over = Callable[[Eye, tuple[int, int], float], list[Shape]]


def write_item_picture(item: Item, target: Path, size: tuple[int, int], explained: bool = False) -> None:
    """Write one item as a PNG. Raises FurcalError naming what cannot be written or shown."""
    checked_target(target)
    prepare_offscreen()
    with Sitter(size) as sitter:
        image = sitter.explained(item) if explained else sitter.asked(item)
    write_png(image, target)


class Sitter:
    """Draws items; close it, or use it in a `with`. Items of one specimen one after the other are quick.

    size : of its pictures, width and height, pixels
    text : height of their words, as a share of their height
    """

    def __init__(self, size: tuple[int, int], text: float = TEXT) -> None:
        self.size, self.text = size, text
        self._studio: ItemStudio | None = None
        self._body: Body | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: object, trace: TracebackType | None) -> None:
        self._drop_studio()

    def asked(self, item: Item, spots: Sequence[Clicked] = (), printed: bool = False) -> Image:
        """The item as the learner sees it; the quarters of its disc are drawn where it asks for one.

        spots   : lettered on the picture, A first, where a point item is printed
        printed : a question mark stands at what is lit, for paper may know no colours
        """
        body, answer, view = self.body(item), item.answer, self.view(item)
        over: list[Over] = []
        points = [spot.point_mm for spot in spots]
        if isinstance(answer, Quartered):
            over.append(lambda eye, size, text: quarter_lines(body, answer.disc, answer.side, eye, size, text))
        elif printed and view.film is None and len(view.highlighted) == 1:
            marked = self._sight(item, view).best(min(view.highlighted), ())
            if marked is not None:
                at = [marked[0].point_mm]
                over.append(lambda eye, size, text: spot_shapes(at, eye, size, text, QUESTION))
        if spots:
            over.append(lambda eye, size, text: spot_shapes(points, eye, size, text))
        return self._picture(item, view, over, printed)

    def explained(self, item: Item, bare: bool = False) -> Image:
        """The item as it is explained: what it is about lit and named, and of quarters the right ones.

        bare : without notes, where it is small
        """
        view, answer = explained_view(item), item.answer
        if not isinstance(answer, Quartered) or view.film is not None:
            return self._picture(item, view, [] if bare else None)
        body = self.body(item)

        def quarters(eye: Eye, size: tuple[int, int], text: float) -> list[Shape]:
            return quarter_lines(body, answer.disc, answer.side, eye, size, text, answer.right)

        return self._picture(item, replace(view, camera=self.view(item).camera), [quarters])

    def spots(self, item: Item, seed: int) -> tuple[Clicked, ...]:
        """Lettered spots for the printed picture of a point item, A first. Raises FurcalError where it has no room."""
        return found_spots(item, self._sight(item, self.view(item)), seed)

    def pixels(self, item: Item, points: Sequence[Sequence[float]] | Array) -> Array:
        """Where points (n, 3), mm, lie on the item's picture: (n, 2) pixels from its upper left corner."""
        body, view = self.body(item), self.view(item)
        eye, _ = self._in_studio(body).seen(view, _docking(body, view, item))
        return projected(np.asarray(points, dtype=float), eye, self.size)

    def body(self, item: Item) -> Body:
        """The body of an item's specimen, lying as its portal wants it. Raises FurcalError for an id that it lacks."""
        view = asked_view(item)
        specimen = lying(item)
        if self._body is None or self._body.specimen != specimen:
            self._drop_studio()
            self._body = load_body(specimen)
        check_ids(view, self._body, f"{item.where or item.id}, view")
        return self._body

    def view(self, item: Item) -> View:
        """The view of an item that is asked; a disc whose quarters are asked for is seen from a side."""
        view, answer = asked_view(item), item.answer
        if not isinstance(answer, Quartered) or view.film is not None:
            return view
        body, disc = self.body(item), disc_of(answer.disc)
        eye, _ = self._in_studio(body).seen(view, _docking(body, view, item))
        if lies_across(body, disc, eye):
            return view
        return replace(view, camera=Camera(answer.side, on=frozenset({disc}), half_height_mm=60.0))

    # --- inside

    def _sight(self, item: Item, view: View) -> Sight:
        """What can be seen in a view of an item."""
        body = self.body(item)
        studio = self._in_studio(body)
        eye, looks = studio.seen(view, _docking(body, view, item))
        return Sight(body, view, looks, eye, studio.depth(eye), studio.letters)

    def _picture(self, item: Item, view: View, over: list[Over] | None, printed: bool = False) -> Image:
        """A view as a picture; `over` is None where its notes may stand on it."""
        from PIL.Image import new

        body = self.body(item)
        docking = _docking(body, view, item)
        if view.film is None:
            return self._in_studio(body).drawn(view, docking, over)
        wide, high = self.size
        side = min(wide, high) if not view.film.beside else min(high, round(FILM_SHARE * wide))
        film = _film(body, view, docking, side, item, bare=over is not None, printed=printed)
        picture, room = new("RGB", self.size, WHITE), wide - side
        if not view.film.beside:
            picture.paste(film, (room // 2, (high - side) // 2))
            return picture
        studio = ItemStudio(body, (room, high), text=self.text)
        try:
            picture.paste(studio.drawn(replace(view, film=None), docking, over), (0, 0))
        finally:
            studio.close()
        picture.paste(film, (room, (high - side) // 2))
        return picture

    def _in_studio(self, body: Body) -> ItemStudio:
        if self._studio is None:
            self._studio = ItemStudio(body, self.size, text=self.text)
        return self._studio

    def _drop_studio(self) -> None:
        if self._studio is not None:
            self._studio.close()
            self._studio = None


class ItemStudio(Studio):
    """A studio whose pictures may keep their notes back, and have more drawn over them."""

    over: list[Over] | None = None

    def drawn(self, view: View, docking: Docking | None, over: list[Over] | None) -> Image:
        """One view as an RGB picture; None for one that may tell of itself what it likes."""
        self.over = over
        return self.picture(view, docking)

    def seen(self, view: View, docking: Docking | None) -> tuple[Eye, dict[str, bool]]:
        """From where a view is seen, and what is drawn of the body, without drawing it: id -> whether it is solid."""
        from viewer.portalparts import marks_of

        marks = marks_of(docking)
        self.scene.show(view, marks)
        solid = {i: look.opacity >= 1.0 for i, look in self.scene.looks.items() if i in self.body.structures}
        return self._eye(view, marks.portal if marks else None), solid

    def depth(self, eye: Eye) -> Array:
        """How far from the eye what was shown last is drawn: (height, width) mm, first row on top."""
        from viewer.seen import drawn_depth

        self.scene.look_from(eye)
        self.window.Render()
        return drawn_depth(self.window, self.renderer)

    @property
    def letters(self) -> float:
        """Height of the words, pixels of what is drawn."""
        return self._text

    def _overlay(self, view: View, eye: Eye, marked: Mapping[str, str]) -> list[Shape]:
        shapes = super()._overlay(view, eye, marked)
        if self.over is None:
            return shapes
        notes = "  ·  ".join(notes_of(self.body, view))
        shapes = [shape for shape in shapes if not (isinstance(shape, Words) and shape.text == notes)]
        return shapes + [more for add in self.over for more in add(eye, self.big, self._text)]


def _docking(body: Body, view: View, item: Item) -> Docking | None:
    if view.portal is None:
        return None
    try:
        return dock(body, place(body, *astuple(view.portal)))
    except FurcalError as error:
        raise portal_error(error, f"{item.where or item.id}, view") from None


def _film(body: Body, view: View, docking: Docking | None, side: int, item: Item, bare: bool, printed: bool) -> Image:
    """The film of a view, `side` pixels a side; `bare` without the specimen's name, `printed` with a question mark."""
    from viewer.filmer import Filmer, lines_on, lit_shapes, named_shapes, nerves_of
    from viewer.filmmarks import film_shapes
    from viewer.filmpicture import TEXT, film_picture
    from viewer.painter import text_width

    assert view.film is not None
    disc = disc_of(item.answer.disc) if isinstance(item.answer, Quartered) else ""
    film, filmer, size = replace(view.film, quarters=view.film.quarters or bool(disc)), Filmer(), (side, side)
    portal = docking.portal if docking is not None else None
    exposed = _near(body, film, disc, portal, side) if disc else filmer.exposed(body, film, portal, side)
    text = TEXT * side
    told = replace(body, specimen=replace(body.specimen, name=NOBODY)) if bare else body
    shapes = lit_shapes(exposed, body, film, view.highlighted, side, side / 240.0)
    shapes += film_shapes(exposed.beam, size, told, film, portal, text, text_width, disc)
    if view.labels and film.wires > 0.0:
        shapes += named_shapes(exposed.beam, size, body, film, text, text_width)
    for name in sorted(view.highlighted & set(body.centrelines)) if printed and film.wires > 0.0 else ():
        lines = {n: (line + 0.5) * side / exposed.beam.width for n, line in
                 lines_on(exposed.beam, body, [*nerves_of(body, film), name]).items()}  # fmt: skip
        others = [line for n, line in lines.items() if n != name]
        shapes += film_mark(lines[name], np.concatenate([*others, np.zeros((0, 2))]), size, 1.2 * text)
    return film_picture(filmer.picture(exposed, film, grain=True), shapes)


def _near(body: Body, film: Film, disc: str, portal: Portal | None, side: int) -> Exposed:
    """A film of a disc and what is beside it: on one of the trunk its quarters would be too small to be told apart."""
    from meshes.film.filmed import Filmed, expose, portal_metal, wires
    from viewer.filmer import nerves_of

    filmed = Filmed.of(body)
    middle = body.surfaces[disc].vertices.mean(axis=0)
    beam = filmed.beam(film.view, film.turn_deg, film.cranial_deg, size=side, centre_mm=middle, field_mm=NEAR_MM)
    laid = wires(body, nerves_of(body, film), film.gauge_mm) if film.wires > 0.0 else None
    return expose(filmed, beam, laid, portal_metal(portal) if portal is not None else None)
