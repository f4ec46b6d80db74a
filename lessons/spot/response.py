"""What a learner answers, as values and as JSON: for the record, for results and for statements."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from lessons.spot.item import QUARTERS, Answer, Chosen, Docked, Named, Ordered, Pointed, Quartered, Rooted
from lessons.view import Placement, Triple, checked, made_of
from meshes.errors import FurcalError, shown, unknown_word
from meshes.structures import SEGMENTS


@dataclass(frozen=True)
class Said:
    """Typed words: to a `Named`."""

    words: str


@dataclass(frozen=True)
class Clicked:
    """A structure and a point of its surface, mm: to a `Pointed`."""

    structure: str
    point_mm: Triple


@dataclass(frozen=True)
class Segments:
    """To a `Rooted`."""

    roots: tuple[str, ...]


@dataclass(frozen=True)
class Arranged:
    """To an `Ordered`: all its words."""

    words: tuple[str, ...]


@dataclass(frozen=True)
class Picked:
    """One option in its own words: to a `Chosen`."""

    option: str


@dataclass(frozen=True)
class Quarter:
    """To a `Quartered`."""

    quarter: str


@dataclass(frozen=True)
class Placed:
    """To a `Docked`."""

    portal: Placement


@dataclass(frozen=True)
class Skipped:
    """No answer: the learner went on, or the time of a station was over."""


Response = Said | Clicked | Segments | Arranged | Picked | Quarter | Placed | Skipped
#: No click is further away than this.
FAR_MM = 1e6
#: What answers what.
FITTING: Mapping[type, type] = {
    Named: Said, Pointed: Clicked, Rooted: Segments, Ordered: Arranged, Chosen: Picked, Quartered: Quarter,
    Docked: Placed,
}  # fmt: skip
_KEYS: Mapping[type, str] = {
    Said: "said", Clicked: "clicked", Segments: "segments", Arranged: "arranged", Picked: "picked",
    Quarter: "quarter", Placed: "placed", Skipped: "skipped",
}  # fmt: skip


def response_json(response: Response) -> dict[str, Any]:
    """One key, the sort of the response, and its value."""
    value: Any
    match response:
        case Said(words) | Picked(words) | Quarter(words):
            value = words
        case Clicked(structure, point):
            value = {"structure": structure, "point_mm": [round(x, 2) for x in point]}
        case Segments(words_) | Arranged(words_):
            value = list(words_)
        case Placed(portal):
            value = asdict(portal)
        case Skipped():
            value = True
    return {_KEYS[type(response)]: value}


def response_of(table: Any, where: str) -> Response:
    """The response of a JSON value. Raises FurcalError for what is none, naming the place."""
    if not isinstance(table, Mapping) or len(table) != 1:
        raise FurcalError(f"{where}: expected an object with one key, found {shown(table)}.")
    key, value = next(iter(table.items()))
    match key:
        case "said" | "picked" | "quarter":
            if not isinstance(value, str):
                raise FurcalError(f"{where}, {key}: expected a text, found {shown(value)}.")
            if key == "quarter" and value not in QUARTERS:
                raise unknown_word(value, QUARTERS, "quarter", where)
            return Said(value) if key == "said" else Picked(value) if key == "picked" else Quarter(value)
        case "clicked":
            return _clicked(value, f"{where}, clicked")
        case "segments" | "arranged":
            return _listed(key, value, f"{where}, {key}")
        case "placed":
            made: Placement = made_of(Placement, checked(value, Placement, f"{where}, placed"), f"{where}, placed")
            return Placed(made)
        case "skipped":
            return Skipped()
    raise unknown_word(key, tuple(_KEYS.values()), "response", where)


def _clicked(value: Any, where: str) -> Clicked:
    if not isinstance(value, Mapping) or set(value) != {"structure", "point_mm"}:
        raise FurcalError(f"{where}: expected structure and point_mm, found {shown(value)}.")
    point = value["point_mm"]
    good = isinstance(point, list) and len(point) == 3 and all(is_number(x, -FAR_MM, FAR_MM) for x in point)
    if not good or not isinstance(value["structure"], str):
        raise FurcalError(f"{where}: expected an id and three numbers, found {shown(value)}.")
    return Clicked(value["structure"], (float(point[0]), float(point[1]), float(point[2])))


def is_number(value: Any, low: float, high: float) -> bool:
    """Whether a value of JSON is a number between two bounds."""
    # a whole number may have more digits than a float can tell, so it is compared, not converted
    return isinstance(value, (int, float)) and not isinstance(value, bool) and low <= value <= high


def _listed(key: str, value: Any, where: str) -> Segments | Arranged:
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        raise FurcalError(f"{where}: expected a list of texts, found {shown(value)}.")
    if key == "arranged":
        return Arranged(tuple(value))
    for root in value:
        if root not in SEGMENTS:
            raise unknown_word(root, SEGMENTS, "segment", where)
    return Segments(tuple(value))


def fits(response: Response, answer: Answer) -> bool:
    """Whether a response is of the sort that an answer asks for; no answer always is."""
    return isinstance(response, (Skipped, FITTING[type(answer)]))
