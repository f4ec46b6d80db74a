"""The view of a step: what its table says, laid over the view of the step before."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, replace
from itertools import combinations
from typing import Any

from lessons.film import Film
from lessons.scenefile import check_view
from lessons.view import Camera, Placement, View, checked, made_of
from meshes.errors import FurcalError, shown, unknown_word

#: Dark or light, and English or Latin, are the reader's choice.
READERS_OWN = ("theme", "language")
KEYS = tuple(f.name for f in fields(View) if f.name not in READERS_OWN)
#: One word of these stands in one of them at a time.
STATES = ("glassy", "hidden", "shown")
#: Keys that are laid over the step before key by key, and taken away by `false`.
PARTS: dict[str, Any] = {"portal": Placement, "film": Film}
Report = Callable[[FurcalError], None]


def laid_over(before: View, table: Any, where: str, report: Report) -> View:
    """The view of the step before with what a step's table says instead.

    report : is handed every error, named with its place; what was wrong stays as before
    """
    if not isinstance(table, Mapping):
        report(FurcalError(f"{where}: must be a table."))
        return before
    view = before
    for key, value in table.items():
        try:
            made = _with_key(view, key, value, where)
            check_view(made, where)
        except FurcalError as error:
            report(error)
        else:
            view = made
    for wrong in _twice(table, where):
        report(wrong)
    return view


def _twice(table: Mapping[str, Any], where: str) -> Iterator[FurcalError]:
    """Words that one table puts under two of STATES: nobody can tell which of them is meant."""
    given = {key: table[key] for key in STATES if isinstance(table.get(key), list)}
    for one, other in combinations(given, 2):
        both = [word for word in given[one] if word in given[other]]
        if both:
            yield FurcalError(f"{where}, {other}: {shown(both[0])} is listed under {one} too; keep one.")


def _with_key(view: View, key: str, value: Any, where: str) -> View:
    if key not in KEYS:
        if key in READERS_OWN:
            raise FurcalError(f"{where}, {key}: is the reader's choice, not the lesson's; take it out.")
        raise unknown_word(key, KEYS, "key", where)
    if key == "camera":
        return replace(view, camera=_camera(value, f"{where}, camera"))
    if key in PARTS:
        return replace(view, **{key: _part(getattr(view, key), key, value, f"{where}, {key}")})
    given = checked({key: value}, View, where)
    if key in STATES:
        words = given[key]
        others = {name: getattr(view, name) - words for name in STATES if name != key}
        return _replaced(view, {**others, **given}, where)
    return _replaced(view, given, where)


def _replaced(view: View, given: dict[str, Any], where: str) -> View:
    kept = {f.name: getattr(view, f.name) for f in fields(View)}
    made: View = made_of(View, {**kept, **given}, where)
    return made


def _camera(value: Any, where: str) -> Camera:
    table = {"name": value} if isinstance(value, str) else value
    made: Camera = made_of(Camera, checked(table, Camera, where), where)
    return made


def _part(before: Any, key: str, value: Any, where: str) -> Any:
    if value is False:
        return None
    if value is True:
        return before or PARTS[key]()
    kind = PARTS[key]
    kept = {f.name: getattr(before, f.name) for f in fields(kind)} if before is not None else {}
    return made_of(kind, {**kept, **checked(value, kind, where)}, where)
