"""Doings with the film: show it, turn its beam, pick its wires."""

from __future__ import annotations

from dataclasses import replace

from lessons.film import Film
from lessons.view import View
from meshes.film.limits import FILM_VIEWS
from viewer.doing.approach import Approaches
from viewer.doing.trace import Picked
from viewer.doing.views import Views


class Films(Approaches, Views):
    """The film in place of the field, or beside it."""

    def __init__(self) -> None:
        super().__init__()
        self._last_film = Film()

    def _connect_film(self) -> None:
        film, bar = self.places.film, self.places.film_bar
        film.turned.connect(self.guarded(self._beam_turned))
        film.picked.connect(self.guarded(self._wire_picked))
        film.failed.connect(self.tell)
        bar.asked.connect(self.guarded(self._film_asked))

    def _film_states(self, view: View) -> dict[str, bool]:
        """Which of the actions of the film are on."""
        film = view.film
        return {
            "toggle_film": film is not None,
            "toggle_beside": film is not None and film.beside,
            "toggle_wires": film is not None and film.wires > 0.0,
        }

    def toggle_film(self) -> None:
        """The film in place of the field, or the field again; it comes back as it was left."""
        view = self.session.view
        if view.film is not None:
            self._last_film = view.film
            self._change_film(None)
            self.places.field.setFocus()
        else:
            name = view.camera.name if view.camera.name in FILM_VIEWS else self._last_film.view
            self._change_film(replace(self._last_film, view=name))
            self.places.film.setFocus()  # so that the arrow keys turn the beam

    def toggle_beside(self) -> None:
        """The field in 3D beside the film, or the film alone."""
        film = self.session.view.film or self._last_film
        self._change_film(replace(film, beside=not film.beside if self.session.view.film else True))

    def toggle_wires(self) -> None:
        """All wires, or none."""
        film = self.session.view.film or self._last_film
        self._change_film(replace(film, wires=0.0 if film.wires > 0.0 and self.session.view.film else 1.0))

    def see_from(self, name: str) -> None:
        """A named view; of the film as well, where it has one of that name."""
        view = self.session.view.seen_from(name)
        if view.film is not None and name in FILM_VIEWS:
            view = replace(view, film=replace(view.film, view=name, turn_deg=0.0, cranial_deg=0.0))
        self.session.change(view)

    def _change_film(self, film: Film | None, key: str = "") -> None:
        self.session.change(replace(self.session.view, film=film), key)

    def _beam_turned(self, film: Film, key: str) -> None:
        self._change_film(film, key if key.startswith("drag") else self._gesture(key))

    def _film_asked(self, film: Film, name: str) -> None:
        if name == "crowd" and film.crowd and film.view == "front":  # from in front wires of both sides lie apart
            film = replace(film, view=self._placement().side, turn_deg=0.0, cranial_deg=0.0)
        self._change_film(film, self._gesture(f"film {name}"))

    def _wire_picked(self, name: str, share: float) -> None:
        """A wire is the nerve that it lies on."""
        if not name:
            self.end_trace()
            return
        line = self._body().centrelines[name]
        self._take(Picked(name, line.at(share * line.length)))
