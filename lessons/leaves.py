"""An approach walked, leaf by leaf for the window and for pictures: a leaf is one layer of the portal's way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from lessons.readout import capital, layer_name
from lessons.view import View
from lessons.walk import Step, Walk
from lessons.walktext import Line, citations, head_lines, level_lines, near_lines, range_text, stage_lines, whole_lines
from meshes.structures import Structure


@dataclass(frozen=True)
class Leaf:
    """One layer of an approach.

    name       : in words, with its side where that is not the docked one
    from_mm, to_mm : depth along the portal's axis, from the skin
    by_rim     : only the portal's rim meets it
    dissection : the layer of the dissection with which it lies open
    opens      : whether it is more than a nerve, fat between two layers, or a boundary without thickness
    at_risk    : ids of what is touched or close where the axis is in it, the worst first
    touched    : whether any of them is touched
    near, books : what lies near, and what the books say, each a line with its mark
    """

    id: str
    name: str
    from_mm: float
    to_mm: float
    by_rim: bool
    dissection: str
    opens: bool
    at_risk: tuple[str, ...]
    touched: bool
    near: tuple[Line, ...]
    books: tuple[Line, ...]

    @property
    def depth(self) -> str:
        """Its depth in words."""
        start, end = f"{self.from_mm:.1f}", f"{self.to_mm:.1f}"
        return f"{start} mm" if start == end else f"{start} to {end} mm"


@dataclass(frozen=True)
class Leaves:
    """A whole walk for the window.

    head    : the approach in one line, then who lies there, the path, and whether the disc is reached
    rest    : blocks of lines that belong to no layer: (title, lines)
    sources : a citation for every key in brackets
    """

    head: tuple[str, ...]
    leaves: tuple[Leaf, ...]
    rest: tuple[tuple[str, tuple[Line, ...]], ...]
    sources: tuple[str, ...]


def leaves_of(walked: Walk) -> Leaves:
    """The walk leaf by leaf. What lies open with no layer of its own lies open with the one before."""
    leaves, dissection, told = [], "skin", set[str]()
    for step in walked.steps:
        dissection = step.dissection or dissection
        # A step of the books that goes through several layers is told at the first.
        fresh = [stage for stage in step.told if stage.name not in told]
        told |= {stage.name for stage in fresh}
        books = tuple(line for stage in fresh for line in stage_lines(stage, walked))
        leaves.append(_leaf(step, walked, dissection, books))
    level = walked.docking.portal.level
    rest = {
        "Steps of the books that this path does not meet, or that the body does not show": [
            line for stage in walked.not_met for line in stage_lines(stage, walked)
        ],
        f"At {level}": list(level_lines(walked)),
        "Of the whole approach": list(whole_lines(walked)),
        "How often it was reported after this approach": [("", line) for line in range_text(walked)],
    }
    blocks = tuple((title, tuple(lines)) for title, lines in rest.items() if lines)
    return Leaves(tuple(head_lines(walked)), tuple(leaves), blocks, tuple(citations(walked)))


def _leaf(step: Step, walked: Walk, dissection: str, books: tuple[Line, ...]) -> Leaf:
    layer, structures = step.layer, walked.docking.ready.body.structures
    return Leaf(
        id=layer.id,
        name=capital(layer_name(layer, walked.docking.portal)),
        from_mm=layer.from_mm,
        to_mm=layer.to_mm,
        by_rim=layer.by == "rim",
        dissection=dissection,
        opens=bool(step.dissection) and (layer.id in structures or layer.to_mm > layer.from_mm),
        at_risk=tuple(c.id for c in step.at_risk),
        touched=any(c.touched for c in step.at_risk),
        near=tuple(near_lines(step)),
        books=books,
    )


def opened_at(view: View, leaf: Leaf, structures: tuple[Structure, ...] = ()) -> View:
    """The view dissected to a leaf, with what is at risk there lit."""
    return replace(view.dissected_to(leaf.dissection, structures), highlighted=frozenset(leaf.at_risk))


def stops(leaves: tuple[Leaf, ...]) -> Iterator[tuple[str, list[Leaf]]]:
    """Leaves that lie open with the same layer of the dissection, one after the other: (layer, leaves).

    Nerves, and fasciae with nothing near, open nothing of their own and are no stop.
    """
    own = [leaf for leaf in leaves if leaf.at_risk or leaf.opens]
    for dissection, group in groupby(own, key=lambda leaf: leaf.dissection):
        yield dissection, list(group)
