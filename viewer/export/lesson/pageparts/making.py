"""A lesson's page put together, step by step, as one table that its scripts read."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import replace
from typing import Any

from lessons.lesson import Lesson
from meshes.body import Body
from viewer.actors import DIMMED, GLASSY_OPACITY
from viewer.cameras import FAR_MM, PERSPECTIVE_DEG
from viewer.export.lesson import Asked, Progress
from viewer.export.lesson.pageparts.eyes import eye_numbers, followed
from viewer.export.lesson.pageparts.images import jpeg, map_of, own_picture, textures
from viewer.export.lesson.pageparts.naming import step_names
from viewer.export.lesson.pageparts.packing import PER_TILE, Store
from viewer.export.lesson.pageparts.solids import Solids, channel, floors, numbers
from viewer.export.lesson.pageparts.telling import lesson_words, step_words
from viewer.export.lesson.shots import Camera, Shot, seen_words, shots
from viewer.palette import PRINT, THEMES, rgb_hex
from viewer.portalparts import QUARTER_INK, THICK, THICK_DOWN, marks_of
from viewer.scene import LIGHTS, reach_of
from viewer.shine import OPACITY as SHINE_OPACITY
from viewer.studio import Studio

#: Still pictures of steps, and films: width and height, pixels.
STILL, FILM, FILM_BESIDE = (960, 540), (1000, 1000), (1600, 928)
STILL_QUALITY = 68


class Making:
    """Draws steps and gathers what the page needs of them. Close it, or use it in a `with`."""

    def __init__(self, lesson: Lesson, asked: Asked) -> None:
        self.lesson, self.asked = lesson, asked
        self.store = Store()
        self._solids = Solids(self.store)
        self._pictures: dict[str, int] = {}
        self._maps: dict[tuple[str, Any], dict[str, str]] = {}
        self._names: dict[str, int] = {}
        self._says: dict[int, dict[str, str]] = {}
        self._studio: Studio | None = None
        self._open = ExitStack()

    def __enter__(self) -> Making:
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def table(self, progress: Progress) -> dict[str, Any]:
        """Everything that the page shows. Raises FurcalError for a step that its body cannot show."""
        steps = []
        for done, shot in enumerate(shots(self.lesson, self.asked.numbers), start=1):
            steps.append(self._step(shot))
            progress(done / len(self.asked.numbers), shot.step.title)
        return {
            **lesson_words(self.lesson),
            "steps": steps,
            "meshes": self.store.rows,
            "squeezed": self.store.squeezed(),
            "pictures": list(self._pictures),
            "structures": [self._says[number] for number in range(len(self._names))],
            "textures": textures(_covers(steps)),
            "themes": {name: _theme(theme) for name, theme in THEMES.items()},
            "looks": _constants(),
        }

    def _step(self, shot: Shot) -> dict[str, Any]:
        step, body = shot.step, shot.body
        view = replace(step.view, film=None)
        marks = marks_of(shot.docking)
        studio = self._studio_for(body)
        kind = "picture" if step.picture else "film" if step.view.film else "body"
        if kind == "body":
            still = jpeg(studio.picture(view, shot.docking), STILL_QUALITY)
        else:
            still = self._instead(shot)
            studio.scene.show(view, marks)
        scene = studio.scene
        parts = self._solids.parts(scene, view, self._names)
        for name, number in self._names.items():
            if number not in self._says:
                self._says[number] = _said(name, body)
        eye = eye_numbers(view, scene, marks.portal if marks else None)
        return {
            **step_words(step, self.lesson),
            "kind": kind,
            "picture": self._pictures.setdefault(still, len(self._pictures)),
            "seen": seen_words(shot),
            "seen3d": seen_words(replace(shot, step=replace(step, view=view, picture=None))),
            "map": self._map(shot),
            "eye": eye,
            "centre": numbers(scene.region.centre),
            "reach": round(reach_of(body, scene.region.centre), 1),
            "parts": parts,
            "portal": channel(marks, body) if marks else None,
            "down": view.looks_down,
            "floors": floors(scene, marks, self.store) if view.looks_down else [],
            "names": step_names(view, scene, marks.words if marks else {}, eye["high"], self._names),
            "measured": [list(point) for point in view.measured],
            "follow": followed(step, body),
        }

    def _instead(self, shot: Shot) -> str:
        """What stands in place of the body: the step's own picture, or its film."""
        step = shot.step
        if step.picture is not None:
            return own_picture(step.picture, self.lesson.where(shot.number))
        assert step.view.film is not None
        size = self.asked.size or (FILM_BESIDE if step.view.film.beside else FILM)
        with Camera(size) as camera:
            return jpeg(camera.picture(shot))

    def _map(self, shot: Shot) -> dict[str, str] | None:
        key = (shot.step.body_map, shot.body.specimen)
        if not shot.step.body_map:
            return None
        if key not in self._maps:
            self._maps[key] = map_of(*key)
        return self._maps[key]

    def _studio_for(self, body: Body) -> Studio:
        if self._studio is None or self._studio.body is not body:
            self._open.close()
            self._studio = self._open.enter_context(Studio(body, self.asked.size or STILL))
        return self._studio


def _said(name: str, body: Body) -> dict[str, str]:
    structure = body.structures.get(name)
    if structure is None:
        return {"name": "Subcutaneous fat", "roots": ""}
    return {"name": structure.name[:1].upper() + structure.name[1:], "roots": structure.roots}


def _covers(steps: list[dict[str, Any]]) -> set[str]:
    """Which textures the parts of all steps ask for."""
    asked = {"fibres": "fibres", "banded": "bands", "opened": "spongy"}
    words = {word for step in steps for part in step["parts"] for word in part}
    return {texture for word, texture in asked.items() if word in words}


def _theme(theme: Any) -> dict[str, Any]:
    colours = ("background", "text", "quiet", "line", "accent", "panel")
    return {**{name: rgb_hex(getattr(theme, name)) for name in colours}, "edge": theme.edge}


def _constants() -> dict[str, Any]:
    """What the window draws with, so that the page looks like it."""
    return {
        "dimmed": DIMMED, "glassy": GLASSY_OPACITY, "shine": SHINE_OPACITY, "per_tile": PER_TILE,
        "lights": [[*position, strength] for position, strength in LIGHTS], "far": FAR_MM, "open": PERSPECTIVE_DEG,
        "ring": THICK, "ring_down": THICK_DOWN, "ink": rgb_hex(QUARTER_INK), "portal": rgb_hex(PRINT["portal"]),
        "tendon": rgb_hex(PRINT["tendon"]),
    }  # fmt: skip
