"""An item whole as JSON and back, exactly: what a paper is frozen as."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, asdict, fields
from typing import Any

from lessons.spot.item import (
    DEPTHS,
    KINDS,
    OBJECTIVES,
    SORTS,
    Answer,
    Chosen,
    Docked,
    Item,
    Named,
    Ordered,
    Pointed,
    Quartered,
    Rooted,
)
from lessons.view import Placement, as_table, from_table
from meshes.errors import FurcalError, shown
from meshes.specimen import Specimen

_ANSWERS: Mapping[str, type] = {
    kind.__name__.lower(): kind for kind in (Named, Pointed, Rooted, Ordered, Chosen, Quartered, Docked)
}
_TEXTS = ("id", "kind", "objective", "structure", "ask", "explain", "vignette", "depth", "where")
_KEYS = (*_TEXTS, "answer", "specimen", "view", "lit", "own", "made")


def item_json(item: Item) -> dict[str, Any]:
    """Every field of an item; the answer with its sort."""
    sort = next(name for name, kind in _ANSWERS.items() if type(item.answer) is kind)
    specimen = {**asdict(item.specimen), "variants": sorted(item.specimen.variants)}
    return {
        **{key: getattr(item, key) for key in _TEXTS},
        "answer": {"sort": sort, **_plain(_said(item.answer))},
        "specimen": specimen,
        "view": as_table(item.view),
        "lit": list(item.lit),
        "own": dict(item.own),
        "made": item.made,
    }


def item_from_json(table: Any, where: str) -> Item:
    """The item of such a table. Raises FurcalError naming the place for anything that `item_json` does not write."""
    wrong = FurcalError(f"{where}: is not an item as furcal writes it, but {shown(table)}; take the file as it was "
                        "written.")  # fmt: skip
    if not isinstance(table, Mapping) or set(table) != set(_KEYS):
        raise wrong
    try:
        item = _item(table)
    except (FurcalError, KeyError, TypeError, ValueError, AttributeError):
        raise wrong from None
    legal = item.kind in KINDS and item.objective in OBJECTIVES and item.depth in DEPTHS
    # What is read must be all that stands there: then whatever the reader overlooks cannot be there.
    if not legal or type(item.answer) not in SORTS[item.kind] or item_json(item) != table:
        raise wrong
    return item


def _item(table: Mapping[str, Any]) -> Item:
    if not all(isinstance(table[key], str) for key in _TEXTS) or not isinstance(table["made"], bool):
        raise TypeError
    return Item(
        **{key: table[key] for key in _TEXTS},
        answer=_answer(table["answer"]),
        specimen=_made(Specimen, {**table["specimen"], "variants": frozenset(_texts(table["specimen"]["variants"]))}),
        view=from_table(table["view"]),
        lit=tuple(_texts(table["lit"])),
        own={str(key): str(value) for key, value in table["own"].items()},
        made=table["made"],
    )


def _answer(table: Mapping[str, Any]) -> Answer:
    kind = _ANSWERS[table["sort"]]
    given: dict[str, Any] = {k: tuple(_texts(v)) if isinstance(v, list) else v for k, v in table.items() if k != "sort"}
    if kind is Docked:
        given["start"] = _made(Placement, given["start"])
    if kind is Quartered:
        given = {**_defaults(Quartered), **given}
    made: Answer = _made(kind, given)
    return made


def _said(answer: Answer) -> dict[str, Any]:
    """The fields of an answer; of the portal of a quarter only what is not usual, as papers were frozen before."""
    table = asdict(answer)
    if isinstance(answer, Quartered):
        usual = _defaults(Quartered)
        return {key: value for key, value in table.items() if key not in usual or value != usual[key]}
    return table


def _defaults(kind: Any) -> dict[str, Any]:
    return {f.name: f.default for f in fields(kind) if f.default is not MISSING}


#: What a field may hold, by its annotation.
_LEGAL: Mapping[str, tuple[type, ...]] = {
    "str": (str,),
    "float": (int, float),
    "int | None": (int, type(None)),
    "tuple[str, ...]": (tuple,),
    "frozenset[str]": (frozenset,),
    "Placement": (Placement,),
}


def _made(kind: Any, given: Mapping[str, Any]) -> Any:
    """The value of a class whose every field is given and of its type."""
    types = {f.name: _LEGAL[str(f.type)] for f in fields(kind)}
    if set(given) != set(types) or any(type(value) not in types[key] for key, value in given.items()):
        raise TypeError
    return kind(**given)


def _texts(values: list[Any]) -> list[str]:
    if not all(isinstance(value, str) for value in values):
        raise TypeError
    return values


def _plain(table: dict[str, Any]) -> dict[str, Any]:
    """Tuples as lists, as JSON has them."""
    return {key: list(value) if isinstance(value, tuple) else value for key, value in table.items()}
