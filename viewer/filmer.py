"""Takes the films that the window shows: what was made ready, laid and exposed is kept while it stays the same."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from lessons.film import Film
from meshes.body import Body
from meshes.curves import Array
from meshes.film.beam import Beam
from meshes.film.crossings import Ready
from meshes.film.develop import Picture, Response, developed
from meshes.film.filmed import Exposed, Filmed, expose, portal_metal, wired_nerves, wires
from meshes.film.limits import GAUGE_MM
from meshes.portal import Portal
from viewer.columns import Width
from viewer.filmnear import near
from viewer.overlay import Shape, Stroke
from viewer.palette import THEMES

#: Quanta a mm2 of the detector in the open beam: what a side film needs is more, for the body is wider there.
PHOTONS = {"front": 6e5, "left": 2.5e6, "right": 2.5e6}
#: Side of the detector, mm, for L4 to S1 alone, and how far in front of the spine its middle lies.
CROWD_FIELD_MM, CROWD_AHEAD_MM = 230.0, 26.0


class Filmer:
    """Keeps one body, one set of wires, one portal and one exposure."""

    def __init__(self) -> None:
        self._filmed: Filmed | None = None
        self._laid: tuple[object, Ready | None] = (None, None)
        self._portal: tuple[Portal | None, Ready | None] = (None, None)
        self._exposed: tuple[object, Exposed | None] = (None, None)

    def exposed(self, body: Body, film: Film, portal: Portal | None, size: int, roughly: bool = False) -> Exposed:
        """What a film's beam met, on a detector of so many pixels a side; roughly while it is being turned.

        Raises FurcalError for a beam from inside the body.
        """
        filmed = self._ready(body)
        asked = (
            id(filmed),
            portal,
            size,
            roughly,
            replace(film, wires=0.0, quarters=False, beside=False),
            film.wires > 0.0,
        )
        if self._exposed[0] != asked:
            beam = filmed.beam(film.view, film.turn_deg, film.cranial_deg, size=size, **part_of(body, film))
            laid = self._wires(body, film) if film.wires > 0.0 else None
            self._exposed = (asked, expose(filmed, beam, laid, self._metal(portal), roughly=roughly))
        exposed = self._exposed[1]
        assert exposed is not None
        return exposed

    def picture(self, exposed: Exposed, film: Film, grain: bool) -> Picture:
        """The film (h, w), 0 black to 1 white; with the grain of its quanta, or without while it moves."""
        response = Response(photons=PHOTONS[film.view] if grain else 0.0, seed=1)
        return developed(exposed.passed(film.wires), exposed.beam.pixel_mm, response, exposed.bare)

    def _ready(self, body: Body) -> Filmed:
        if self._filmed is None or self._filmed.body is not body:
            self._filmed = Filmed.of(body)
        return self._filmed

    def _wires(self, body: Body, film: Film) -> Ready | None:
        # Where they crowd on a film of a quarter of the field, wires are half as thick.
        gauge = max(GAUGE_MM[0], 0.5 * film.gauge_mm) if film.crowd_side else film.gauge_mm
        asked = (id(body), gauge, film.nerves, film.crowd_side)
        if self._laid[0] != asked:
            self._laid = (asked, wires(body, nerves_of(body, film), gauge))
        return self._laid[1]

    def _metal(self, portal: Portal | None) -> Ready | None:
        if self._portal[0] is not portal:
            self._portal = (portal, portal_metal(portal) if portal is not None else None)
        return self._portal[1]


def nerves_of(body: Body, film: Film) -> list[str]:
    """The nerves of a body that carry wires on a film."""
    laid = [name for name in wired_nerves(body) if not film.nerves or name in film.nerves]
    return [name for name in laid if film.crowd_side in ("", body.structures[name].side)]


def part_of(body: Body, film: Film) -> dict[str, Any]:
    """Middle and side of the detector where a film shows a part of the body; nothing where it shows the whole."""
    return narrowed(body) if film.crowd_side else near(body, film.view, film.around)


def narrowed(body: Body) -> dict[str, Any]:
    """Middle and side of a detector that sees L4 to S1 alone, and room in front for the list of the wires."""
    middle = 0.5 * (body.landmarks["body_l4_centre"] + body.landmarks["s1_endplate_centre"])
    return {"centre_mm": middle - np.array([0.0, CROWD_AHEAD_MM, 0.0]), "field_mm": CROWD_FIELD_MM}


def named_shapes(
    beam: Beam, size: tuple[int, int], body: Body, film: Film, text: float, width_of: Width
) -> list[Shape]:
    """Names of the wires: beside the film, or as a numbered list where they crowd."""
    from lessons.filmcrowd import CROWD_LEVELS, crowd
    from viewer.crowdmarks import crowd_shapes
    from viewer.filmmarks import wire_names

    nerves = nerves_of(body, film)
    if not film.crowd_side:
        return wire_names(beam, size, body, nerves, text, width_of)
    rows = {level: crowd(body, film.crowd_side, level, beam, nerves) for level in CROWD_LEVELS}
    return crowd_shapes(beam, size, body, rows, text, width_of)


def lines_on(beam: Beam, body: Body, names: list[str]) -> dict[str, Array]:
    """Middle lines of nerves on a film: id -> (m, 2) columns and rows, pixels of the detector."""
    return {name: beam.project(body.centrelines[name].points) for name in names}


def nearest_wire(lines: dict[str, Array], spot: tuple[float, float], slack_px: float) -> tuple[str, float] | None:
    """The wire next to a spot (column, row) and the share of its points at which it is; None beyond the slack."""
    best: tuple[float, str, float] | None = None
    for name, line in lines.items():
        start, step = line[:-1], np.diff(line, axis=0)
        along = np.clip(
            ((np.asarray(spot) - start) * step).sum(axis=1) / np.maximum((step**2).sum(axis=1), 1e-12), 0.0, 1.0
        )
        away = np.linalg.norm(start + along[:, None] * step - np.asarray(spot), axis=1)
        i = int(np.argmin(away))
        if away[i] <= slack_px and (best is None or away[i] < best[0]):
            best = (float(away[i]), name, (i + float(along[i])) / max(1, len(step)))
    return None if best is None else (best[1], best[2])


def lit_shapes(exposed: Exposed, body: Body, film: Film, lit: frozenset[str], side: float, width: float) -> list[Shape]:
    """Lines over the wires of the nerves that are traced, on a picture `side` pixels a side."""
    scale = side / exposed.beam.width
    names = [name for name in nerves_of(body, replace(film, nerves=frozenset())) if name in lit]
    return [
        Stroke(tuple(((c + 0.5) * scale, (r + 0.5) * scale) for c, r in line.tolist()), THEMES["dark"].accent, width)
        for line in lines_on(exposed.beam, body, names).values()
    ]
