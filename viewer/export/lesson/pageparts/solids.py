"""What of a body a step shows: each structure with its mesh, its colour and how it is drawn."""

from __future__ import annotations

from typing import Any

from lessons.view import View
from meshes.body import Body
from meshes.curves import Array, Centreline
from meshes.opening import cut_faces, opened
from meshes.structures import Structure
from meshes.surfaces import Surface
from viewer.actors import Look, material, mixed, paint_of, stem
from viewer.bore import FLOOR_OPACITY, FLOOR_SHADE, bore_of, cut_across
from viewer.export.lesson.pageparts.packing import Store
from viewer.export.lesson.pageparts.thinning import thinned, with_thinned
from viewer.fibres import bundle_coordinates, course_of, end_share, sheet_coordinates
from viewer.palette import PRINT, rgb_hex
from viewer.part import BAND_MM
from viewer.portalparts import COLLAR_MM, PLAIN_COLLAR_MM, Marks
from viewer.quarters import quarter_marks
from viewer.sawn import sawn
from viewer.scene import FAT, Scene


class Solids:
    """Thins and packs the meshes of bodies as steps ask for them, each once."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self._body: Body | None = None
        self._made: dict[tuple[str, bool], int] = {}
        self._thin: dict[str, Surface] = {}

    def parts(self, scene: Scene, view: View, names: dict[str, int]) -> list[dict[str, Any]]:
        """Every structure that a scene shows in this view.

        names : id -> its number on the page; what is new is given the next one
        """
        body = scene.body
        if body is not self._body:
            self._body, self._made, self._thin = body, {}, {}
        rows = []
        for name, seen in scene.looks.items():
            structure = FAT if name == FAT.id else body.structures[name]
            number = names.setdefault(name, len(names))
            rows.append(
                {"is": number, "mesh": self._mesh(body, structure, seen.opened), **_drawn(structure, seen, view)}
            )
        return rows

    def _mesh(self, body: Body, structure: Structure, is_opened: bool) -> int:
        key = (structure.id, is_opened)
        if key not in self._made:
            self._made[key] = self.store.add(*self._shape(body, structure, is_opened))
        return self._made[key]

    def _shape(self, body: Body, structure: Structure, is_opened: bool) -> tuple[Surface, Array | None, Array | None]:
        name = "skin" if structure.id == FAT.id else structure.id
        if name not in self._thin:
            self._thin[name] = thinned(body, name)
        surface = self._thin[name]
        if is_opened:
            whole = with_thinned(body, name, surface)
            left = opened(whole, name)
            return *sawn(left, cut_faces(whole, name, left)), None
        return surface, _texture(surface, structure, body.centrelines.get(name)), _tendon(surface, structure)


def floors(scene: Scene, marks: Marks | None, store: Store) -> list[dict[str, Any]]:
    """What closes the view down the portal, and the quarters marked on its disc, as `viewer.scene` draws them."""
    bore = bore_of(marks.portal if marks else None)
    if bore is None or marks is None:
        return []
    body, rows = scene.body, []
    for name in body.ids("muscle"):
        if name in scene.looks and bore.may_end_in(body.surfaces[name]):
            cut = cut_across(body.surfaces[name], bore.end_mm, bore.way)
            if len(cut.faces):
                seen = scene.looks[name]
                colour = rgb_hex(mixed(seen.colour, (0, 0, 0), FLOOR_SHADE))
                rows.append({"mesh": store.add(cut), "colour": colour, "kind": "floor",
                             "opacity": 1.0 if seen.opacity >= 1.0 else FLOOR_OPACITY})  # fmt: skip
    if marks.portal.disc in scene.looks:
        over = [name for name in marks.ids if name in scene.looks]
        for kind, shape in zip(("dots", "numerals"), quarter_marks(body, marks.portal, over), strict=True):
            if shape is not None:
                rows.append({"mesh": store.add(shape), "kind": kind})
    return rows


def channel(marks: Marks, body: Body) -> dict[str, Any]:
    """The portal in numbers: where it stands, where clearing ends, and the collars on what it touches."""
    portal, bore = marks.portal, bore_of(marks.portal)
    assert bore is not None
    return {
        "entry": numbers(portal.entry_mm),
        "end": numbers(portal.end_mm),
        "way": numbers(portal.direction, 6),
        "radius": portal.radius_mm,
        "clear": numbers(bore.end_mm),
        "collars": [collar(point, body.centrelines.get(name)) for name, point in marks.touched.items()],
    }


def collar(point: Array, line: Centreline | None) -> list[float]:
    """Middle, axis and radius of a collar around a tube at its nearest point; around the point where it is no tube."""
    import numpy as np

    if line is None:
        return [*numbers(point), 0.0, 0.0, 1.0, PLAIN_COLLAR_MM]
    i = int(np.argmin(np.linalg.norm(line.points - point, axis=1)))
    i = min(max(i, 1), len(line.points) - 2)
    axis = line.points[i + 1] - line.points[i - 1]
    return [*numbers(line.points[i]), *numbers(axis / np.linalg.norm(axis), 6), float(line.radius[i]) + COLLAR_MM]


def numbers(values: Array, digits: int = 3) -> list[float]:
    """A point or a direction as the page holds it."""
    return [round(float(v), digits) for v in values]


def _drawn(structure: Structure, seen: Look, view: View) -> dict[str, Any]:
    """How one structure is drawn, as short as it can be said: what is not said is not so."""
    paint = PRINT["fat"] if structure.id == FAT.id else paint_of(structure, view.colouring).colour
    surface = material(structure)
    row: dict[str, Any] = {"colour": rgb_hex(paint), "shine": surface.shine, "grip": surface.grip}
    marks = {
        "glassy": seen.opacity < 1.0,
        "banded": seen.banded,
        "dimmed": _is_dimmed(structure, view),
        "traced": seen.shines,
        "cleared": seen.cleared,
        "behind": seen.behind is not None,
        "opened": seen.opened,
        "fibres": bool(surface.fibres),
    }
    row |= {word: True for word, holds in marks.items() if holds}
    return row | ({"rim": seen.rim_mm} if seen.ringed else {})


def _is_dimmed(structure: Structure, view: View) -> bool:
    return bool(view.highlighted) and structure.id not in view.highlighted and structure.id != FAT.id


def _texture(surface: Surface, structure: Structure, line: Centreline | None) -> Array | None:
    fibres = material(structure).fibres
    if fibres == "bundle":
        return bundle_coordinates(surface)
    if fibres == "sheet":
        return sheet_coordinates(surface, course_of(stem(structure.id)).lean_deg)
    if line is not None and structure.kind == "nerve":
        return _along(surface, line)
    return None


def _along(surface: Surface, line: Centreline) -> Array:
    """Texture coordinates (v, 2) that count bands along a nerve."""
    import numpy as np
    from scipy.spatial import cKDTree

    nearest = cKDTree(line.points).query(surface.vertices)[1]
    return np.stack([line.arc[nearest] / BAND_MM, np.zeros(len(nearest))], axis=1)


def _tendon(surface: Surface, structure: Structure) -> Array | None:
    import numpy as np

    start = course_of(stem(structure.id)).tendon_from
    if not material(structure).fibres or start >= 1.0:
        return None
    out: Array = np.clip((end_share(surface) - start) / (1.0 - start), 0.0, 1.0)
    return out
