"""A nerve's whole way, place by place: what happens there, how deep it lies, and in which approach it is in danger.

Places are found on the body (meshes/places.py); what happens there is told by the phrases of the nerve's own table,
each where its waypoint lies; danger is that of the table of the approaches. A layer of an approach stands for the
places that are met where it is crossed; a row for a level, for the place in which the nerve comes to that height.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from lessons.caution import CAUTION
from lessons.readout import WIDTH, capital, named
from meshes.body import Body
from meshes.branches import parts_of_way
from meshes.curves import Centreline
from meshes.places import Place, place_at, places_of
from meshes.risk import approach_risk
from meshes.story import NO_PUBLICATION, Story, citation, story
from meshes.structures import Structure, level_key, segments
from meshes.tables import cited
from meshes.told import Told


@dataclass(frozen=True)
class Danger:
    """In which approach a nerve is in danger at a place: at which layer or at which level; the other one is empty."""

    approach: str
    layer: str
    level: str
    says: str
    source: str
    basis: str


@dataclass(frozen=True)
class Passage:
    """A nerve in one place. `source`: the keys that `says` rests on, joined by +."""

    place: Place
    says: str
    source: str
    at_risk_in: tuple[Danger, ...]


@dataclass(frozen=True)
class Way:
    """A nerve's way. `through`: what its fibres run through before, from the root."""

    structure: Structure
    told: Story
    through: tuple[Structure, ...]
    passages: tuple[Passage, ...]


def way_of(body: Body, nerve: str) -> Way:
    """The whole way of a nerve of a body. Raises FurcalError as `places_of` does."""
    places = places_of(body, nerve)
    structure, variants = body.structures[nerve], body.specimen.variants
    phrases = list(_phrases(structure, variants, body.centrelines[nerve].length))
    rows = list(_dangers(structure, places, body))
    passages = []
    for place in places:
        here = [(says, source) for arc, says, source in phrases if _where(says, arc, places) is place]
        says, source = _joined(here) if here else (place.site.says, place.site.source)
        passages.append(Passage(place, says, source, tuple(danger for at, danger in rows if at == place)))
    through = tuple(body.structures[part] for part in parts_of_way(nerve, body.structures)[:-1])
    return Way(structure, story(structure, variants), through, tuple(passages))


def _where(says: str, arc_mm: float, places: tuple[Place, ...]) -> Place:
    """Where a phrase is told: at its waypoint, but what names the ligament at the ligament, some millimetres on."""
    named_here = (p for p in places if p.site.key == "ligament" and p.site.name in says)
    return next(named_here, place_at(places, arc_mm))


def _joined(phrases: Sequence[tuple[str, str]]) -> tuple[str, str]:
    keys = dict.fromkeys(key.strip() for _, source in phrases for key in source.split("+"))
    return "; ".join(dict.fromkeys(says for says, _ in phrases)), "+".join(keys)


# --- what happens where


def _phrases(structure: Structure, variants: Container[str], length_mm: float) -> Iterator[tuple[float, str, str]]:
    """Arc length, phrase and source of every waypoint that tells something.

    Waypoints stand on the average adult; another body's nerve passes them at the same shares of its length.
    """
    from meshes.reference import all_courses, reference

    bare = structure.id.removesuffix(f"_{structure.side}") if structure.side else structure.id
    course = all_courses()[bare]
    when = next((v for v in course.when if v in variants or f"{v}_{structure.side}" in variants), "")
    line = _line(reference().courses, course.structure.id, when)
    for point in course.when[when] if when else course.way:
        if point.says:
            yield line.nearest(point.point) / line.length * length_mm, point.says, point.source


def _line(courses: Sequence[Any], name: str, when: str) -> Centreline:
    line: Centreline = next(c.line for c in courses if c.structure.id == name and c.when == when)
    return line


# --- danger


def _dangers(structure: Structure, places: tuple[Place, ...], body: Body) -> Iterator[tuple[Place, Danger]]:
    for approach, risk in approach_risk().items():
        for stage in risk.stages:
            if _names(stage.at_risk, structure):
                danger = _danger(approach, stage.told, layer=stage.name)
                yield from ((place, danger) for place in places if set(place.site.crossed) & set(stage.crosses))
        for row in risk.at:
            if _names(row.at_risk, structure):
                yield _at_height(row.level, structure, places, body), _danger(approach, row.told, level=row.level)


def _danger(approach: str, told: Told, layer: str = "", level: str = "") -> Danger:
    return Danger(approach, layer, level, told.says, told.source, told.basis)


def _at_height(level: str, structure: Structure, places: tuple[Place, ...], body: Body) -> Place:
    """The place in which a nerve first comes to the height of a disc, or nearest to it."""
    line = body.centrelines[structure.id]
    height = float(body.landmarks[f"disc_{level_key(level)}_centre"][2])
    return place_at(places, float(line.arc[np.argmin(np.abs(line.points[:, 2] - height))]))


def _names(words: Sequence[str], structure: Structure) -> bool:
    """Whether a row names a nerve; what leaves at the level is any ganglion or ramus."""
    bare = structure.id.removesuffix(f"_{structure.side}")
    return bare in words or re.sub(r"^l\d_", "exiting_", bare) in words


# --- telling it


def way_json(way: Way) -> dict[str, Any]:
    """The answer for programs."""
    structure = way.structure
    return {
        "id": structure.id, "name": structure.name, "latin": structure.latin, "side": structure.side,
        "roots": list(segments(structure.roots)),
        "prose": " ".join(way.told.sentences),
        "sources": [{"key": source.key, "cite": source.text} for source in way.told.sources],
        "through": [part.id for part in way.through],
        "places": [_place_json(passage) for passage in way.passages],
    }  # fmt: skip


def _place_json(passage: Passage) -> dict[str, Any]:
    place = passage.place
    return {
        "place": place.place, "name": place.site.name,
        "from_mm": place.from_mm, "to_mm": place.to_mm, "depth_mm": list(place.depth_mm),
        "says": passage.says, "source": passage.source,
        "at_risk_in": [
            {
                "approach": d.approach, "layer": d.layer or None, "level": d.level or None,
                "says": d.says, "source": d.source, "basis": d.basis,
            }
            for d in passage.at_risk_in
        ],
    }  # fmt: skip


def way_text(way: Way) -> str:
    """The whole answer as plain text, at most 100 columns."""
    structure, own = way.structure, segments(way.structure.roots)
    name = named(structure)
    head = [f"{capital(name)} ({structure.latin})"]
    if own:
        head.append(f"{structure.roots_are or ('Roots' if len(own) > 1 else 'Root')}: {', '.join(own)}")
    if way.through:
        head.append(f"Most of its fibres come by: {', '.join(part.name for part in way.through)}")
    rows = ["Its way, mm along it; how deep: mm from the nearest skin to its middle"]
    for passage in way.passages:
        rows += _told(passage)
    keys = dict.fromkeys(key for p in way.passages for text in _source_texts(p) for key in _keys(text))
    keys |= dict.fromkeys(source.key for source in way.told.sources)
    cites = [f"  {key}: {citation(key)}" for key in keys if key not in NO_PUBLICATION]
    blocks = [
        head,
        [" ".join(way.told.sentences)],
        rows,
        ["Sources", *cites],
        CAUTION.replace("; ", ";\n").splitlines(),
    ]
    return "\n\n".join("\n".join(_wrapped(line) for line in block) for block in blocks)


def _told(passage: Passage) -> Iterator[str]:
    place = passage.place
    span, deep = f"{place.from_mm:4.0f} -{place.to_mm:4.0f}", f"{place.depth_mm[0]:.0f} to {place.depth_mm[1]:.0f} deep"
    yield f"  {span}  {place.site.name}, {deep}"
    yield f"      {passage.says} {_mark(passage.source)}"
    for danger in passage.at_risk_in:
        where = f"at {danger.level}" if danger.level else danger.layer
        yield f"      at risk, {danger.approach} approach, {where}: {danger.says} {_mark(danger.source, danger.basis)}"


def _mark(source: str, basis: str = "") -> str:
    """Source keys in brackets, with "teaching text" where no paper was read."""
    words = [key.replace("_", " ") if key in NO_PUBLICATION else key for key in _keys(source)]
    return f"[{', '.join([*words, *(['teaching text'] if basis == 'secondary' else [])])}]"


def _source_texts(passage: Passage) -> Iterator[str]:
    yield passage.source
    yield from (danger.source for danger in passage.at_risk_in)


def _keys(source: str) -> tuple[str, ...]:
    return cited({"source": source}, source)


def _wrapped(line: str) -> str:
    indent = " " * (len(line) - len(line.lstrip()) + 2) if line.startswith(" ") else ""
    return textwrap.fill(line, WIDTH, subsequent_indent=indent, break_long_words=False) if len(line) > WIDTH else line
