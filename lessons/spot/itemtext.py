"""An item as text, and as a row for programs."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from lessons.prose import MARK, prose
from lessons.spot.item import Answer, Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.quarters import portal_words
from meshes.structures import side_of

WIDTH = 100


def sources_of(item: Item) -> tuple[str, ...]:
    """Keys of the sources that an item's explanation cites, in the order they come."""
    return tuple(dict.fromkeys(MARK.findall(item.explain)))


def row(item: Item) -> dict[str, Any]:
    """What `furcal items list --json` gives of an item."""
    return {
        "id": item.id,
        "kind": item.kind,
        "objective": item.objective,
        "structure": item.structure,
        "source": list(sources_of(item)),
        "depth": item.depth,
    }


def as_text(item: Item) -> str:
    """The item to read, its answer and its explanation with the sources."""
    told = prose(item.explain, "", item.own)
    lines = [f"{item.id}: {item.kind}, {item.objective}, {item.depth}, about {item.structure}"]
    lines += [line for text in (item.vignette, item.ask) for line in _wrapped(text)]
    lines += [line for text in answer_lines(item.answer) for line in _wrapped(text, "  ")]
    lines += [line for text in _accepted(item) for line in _wrapped(text, "  ")]
    lines += [line for paragraph in told.paragraphs for line in _wrapped(paragraph.plain)]
    lines += [line for n, text in enumerate(told.sources, start=1) for line in _wrapped(f"[{n}] {text}", "  ")]
    return "\n".join(lines)


def _accepted(item: Item) -> Iterator[str]:
    """The names that are taken where one is to be typed, each once: without its side where that may be left out."""
    if isinstance(item.answer, Named):
        from lessons.spot.qti import accepted_names

        names: dict[str, str] = {}
        for name in accepted_names(item):
            bare = name.casefold().removeprefix(f"{side_of(item.answer.mark)} ")
            names.setdefault(bare, name)
        if names:
            yield f"accepted, with its side, a slip or in another order too: {'; '.join(names.values())}"


def answer_lines(answer: Answer) -> Iterator[str]:
    """What is right, and for a choice what is offered beside it."""
    match answer:
        case Named(mark):
            yield f"right: the name of {mark}"
        case Pointed(target, within_mm):
            yield f"right: within {within_mm:g} mm of {target}"
        case Rooted(roots):
            yield f"right: {', '.join(roots)}"
        case Ordered(right):
            yield f"right: {', '.join(right)}"
        case Chosen(right_option, wrong):
            yield f"right: {right_option}"
            yield from (f"wrong: {option}" for option in wrong)
        case Quartered(disc, side, quarters) as asked:
            yield f"right: quarter {' or '.join(quarters)} of {disc}, from the {side}, for {_clear(asked)}"
        case Docked(start, clear_mm):
            what = f"{start.level} {start.side}, {start.approach}"
            yield f"right: a portal at {what} that keeps every nerve at least {clear_mm:g} mm away"


def _clear(asked: Quartered) -> str:
    room = f" by {asked.clear_mm:g} mm" if asked.clear_mm else ""
    return f"{portal_words(asked)}, clear of {' and '.join(asked.clear_of)}{room}"


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent) if text else []
