"""What was asked, as JSON: kept beside an answer, which can then be read when the item has long been changed."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from lessons.spot.item import Answer, Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted

#: The word for each sort of answer.
SORT_WORDS: dict[type, str] = {
    Named: "named", Pointed: "pointed", Rooted: "rooted", Ordered: "ordered", Chosen: "chosen",
    Quartered: "quartered", Docked: "docked",
}  # fmt: skip


def asked_json(item: Item) -> dict[str, Any]:
    """The item's words and what is right; not the view, which no reader of answers needs."""
    return {
        "kind": item.kind,
        "objective": item.objective,
        "structure": item.structure,
        "depth": item.depth,
        "vignette": item.vignette,
        "ask": item.ask,
        "answer": answer_json(item.answer),
    }


def answer_json(answer: Answer) -> dict[str, Any]:
    """The sort of the answer, and its values."""
    values = {key: list(value) if isinstance(value, tuple) else value for key, value in asdict(answer).items()}
    return {"sort": SORT_WORDS[type(answer)], **values}
