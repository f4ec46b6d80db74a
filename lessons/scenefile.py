"""A scene as a small TOML file: who lies on the table, and what is seen.

One format for what a person saves and for what a lesson's step shows:

    furcal_scene = 1        # the number of this schema
    [specimen]              # the keys of a specimen file; without them, Alder
    [view]                  # the fields of a View that differ from the default

A specimen drawn by a seed is written as it was built, every drawn value beside its seed, so that the scene stays the
same however a later release draws.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lessons.caution import CAUTION
from lessons.filehead import check_schema, check_small
from lessons.view import NERVE_WORDS, View, as_table
from lessons.view import from_table as view_from
from lessons.wholetext import write_text
from meshes.errors import FurcalError, unknown_word
from meshes.opening import BODIES
from meshes.specimen import ALDER, Specimen
from meshes.specimen import from_table as specimen_from
from meshes.structures import DISSECTION
from meshes.tables import parsed_toml, read_text

if TYPE_CHECKING:
    from meshes.body import Body

SCHEMA = 1
MARK = "furcal_scene"
#: A scene is a few hundred bytes; what is larger than this is some other file.
SIZE_MAX_BYTES = 1_000_000
#: What stands for many structures at once.
LAYER_WORDS = (*DISSECTION, BODIES, *NERVE_WORDS)
#: Fields of a View that hold ids; the first three also take the word of a layer.
WORD_SETS = ("glassy", "hidden", "shown", "highlighted", "named")
#: Drawn by a seed, so written with one even where they are as Alder's.
DRAWN = ("name", "sex", "stature_mm", "psoas_scale", "variants")
#: Further from the body than this stands no eye and no point, and no picture is higher or lower, mm.
FAR_MM = 1e5
HALF_HEIGHT_MIN_MM = 0.1
#: Option of `furcal dock` -> field of `Placement`, for the portal's own errors.
PORTAL_KEYS = {
    "--at": "at", "--radius": "radius_mm", "--depth": "depth_mm", "--cranial": "cranial_deg",
    "--anterior": "anterior_deg",
}  # fmt: skip


@dataclass(frozen=True)
class SceneFile:
    """What a scene file holds."""

    specimen: Specimen = ALDER
    view: View = field(default_factory=View)


# --- reading


def read_scene(path: Path) -> SceneFile:
    """A scene from a file. Raises FurcalError naming file, place and remedy."""
    return scene_from(_table_of(path), str(path))


def read_either(path: Path) -> SceneFile | Specimen:
    """A scene or a specimen, told apart by `furcal_scene`. Raises FurcalError as the readers of both do."""
    table = _table_of(path)
    return scene_from(table, str(path)) if MARK in table else specimen_from(table, str(path))


def scene_from_text(text: str, where: str) -> SceneFile:
    """The same from the text of a file; `where` names it in errors."""
    return scene_from(parsed_toml(text, where), where)


def scene_from(table: Mapping[str, Any], where: str) -> SceneFile:
    """A scene from the table of a file, checked as far as it can be without its body."""
    check_schema(table, where, MARK, SCHEMA, "scene file")
    for key in table:
        if key not in (MARK, "specimen", "view"):
            raise unknown_word(key, (MARK, "specimen", "view"), "key", where)
    given = table.get("specimen", {})
    if not isinstance(given, Mapping):
        raise FurcalError(f"{where}, specimen: must be a table.")
    specimen = specimen_of(given, f"{where}, [specimen]")
    view = view_from(table.get("view", {}), f"{where}, [view]")
    check_view(view, f"{where}, [view]")
    return SceneFile(specimen, view)


def specimen_of(table: Mapping[str, Any], where: str) -> Specimen:
    """The specimen of a scene: as from a specimen file, but without a name it is Alder."""
    return specimen_from(table if "seed" in table else {"name": ALDER.name, **table}, where)


def _table_of(path: Path) -> dict[str, Any]:
    check_small(path, SIZE_MAX_BYTES, "scene")
    return parsed_toml(read_text(path), str(path))


def check_view(view: View, where: str) -> None:
    """Raise FurcalError for an id that no body has, and for numbers that no camera or portal can have."""
    for key, word in _words_of(view):
        if word not in known_ids():
            legal = [*LAYER_WORDS, *sorted(known_ids())] if key in WORD_SETS[:3] else sorted(known_ids())
            raise unknown_word(word, legal, "structure", f"{where}, {key}")
    camera = view.camera
    for word in sorted(camera.on - known_ids() - known_landmarks()):
        legal = [*sorted(known_ids()), *sorted(known_landmarks())]
        raise unknown_word(word, legal, "structure or landmark", f"{where}, camera, on")
    points = [(f"camera, {key}", getattr(camera, key)) for key in ("position_mm", "focus_mm", "up")]
    for key, point in [*points, *(("measured", point) for point in view.measured)]:
        far = max(abs(n) for n in point)
        if far > FAR_MM:
            raise FurcalError(f"{where}, {key}: {far:g} is more than {FAR_MM:g}; bring it nearer.")
    if camera.half_height_mm and not HALF_HEIGHT_MIN_MM <= camera.half_height_mm <= FAR_MM:
        raise FurcalError(
            f"{where}, camera, half_height_mm: {camera.half_height_mm:g} is outside {HALF_HEIGHT_MIN_MM:g} to "
            f"{FAR_MM:g}; 0 fits the picture to the body."
        )
    if view.portal is not None:
        from meshes.portal import check_numbers

        p = view.portal
        try:
            check_numbers(p.at, p.radius_mm, p.depth_mm, p.cranial_deg, p.anterior_deg)
        except FurcalError as error:
            raise portal_error(error, where) from None


# --- a scene and its body


@cache
def known_ids() -> frozenset[str]:
    """The id of every structure that a body can have, in whatever variant."""
    from meshes.reference import all_courses, solid_rows
    from meshes.structures import other_side

    rows = [(row.structure.id, row.paired) for row in solid_rows()]
    rows += [(course.structure.id, course.paired) for course in all_courses().values()]
    return frozenset(name for bare, paired in rows for name in ({bare, other_side(bare)} if paired else {bare}))


@cache
def known_landmarks() -> frozenset[str]:
    """The name of every landmark."""
    from meshes.landmarks import landmark_rows

    return frozenset(row.name for row in landmark_rows())


def check_ids(view: View, body: Body, where: str) -> None:
    """Raise FurcalError for an id that this body lacks; `where` names the file and the view in it."""
    on = (("camera, on", word) for word in sorted(view.camera.on - known_landmarks()))
    for key, word in (*_words_of(view), *on):
        if word not in body.structures:
            raise FurcalError(
                f"{where}, {key}: {word}: this specimen has no such structure; give the specimen that variant "
                "or take the word out."
            )


def portal_error(error: FurcalError, where: str) -> FurcalError:
    """What `meshes.portal` says of a portal, with the keys of a file for the options of the command line."""
    said = re.sub(r"(--[a-z]+) ", lambda m: f"{PORTAL_KEYS[m[1]]} = " if m[1] in PORTAL_KEYS else m[0], str(error))
    return FurcalError(f"{where}, portal: {said}")


def _words_of(view: View) -> Iterator[tuple[str, str]]:
    """Every id that a view names, with the field that names it; words of layers are left out where they are legal."""
    for key in WORD_SETS:
        for word in sorted(getattr(view, key)):
            if key not in WORD_SETS[:3] or word not in LAYER_WORDS:
                yield key, word
    if view.film is not None:
        yield from (("film, nerves", word) for word in sorted(view.film.nerves))
        yield from (("film, around", word) for word in sorted(view.film.around))


# --- writing


def write_scene(path: Path, specimen: Specimen, view: View) -> None:
    """Write a scene, whole or not at all. Raises FurcalError naming the file."""
    if path.resolve().is_dir():
        raise FurcalError(f"{path}: is a folder; name a file in it.")
    write_text(path, text_of(specimen, view))


def text_of(specimen: Specimen, view: View) -> str:
    """The text of a scene file."""
    import tomlkit

    file = tomlkit.document()
    file.add(tomlkit.comment("A scene of furcal: a specimen, and what is seen of it."))
    file.add(tomlkit.comment(CAUTION))
    file.add(MARK, tomlkit.item(SCHEMA))
    for name, table in (("specimen", specimen_table(specimen)), ("view", as_table(view))):
        if table:
            file.add(tomlkit.nl())
            file.add(name, tomlkit.item(_tables_last(table)))
    return tomlkit.dumps(file)


def _tables_last(table: Mapping[str, Any]) -> dict[str, Any]:
    """What follows the header of a TOML table belongs to it: so tables inside a table come last."""
    return dict(sorted(table.items(), key=lambda pair: isinstance(pair[1], Mapping)))


def specimen_table(specimen: Specimen) -> dict[str, Any]:
    """A specimen as the keys of its file: what differs from Alder, and with a seed also what the seed draws.

    `up` and `table_break_deg` mean nothing but side-lying, where alone a file may give them.
    """
    table: dict[str, Any] = {}
    for f in fields(Specimen):
        value, usual = getattr(specimen, f.name), getattr(ALDER, f.name)
        if f.name in ("up", "table_break_deg") and specimen.posture != "side_lying":
            continue
        drawn = specimen.seed is not None and f.name in DRAWN and value not in ("", 0.0)
        if value != usual or drawn:
            table[f.name] = dict.fromkeys(sorted(value), True) if f.name == "variants" else value
    return table
