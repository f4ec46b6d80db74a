"""Items of a learner's own bank, with ids under which a record can keep them beside those of any other bank.

The id of such an item is `own:ID:DIGEST`, the digest one of what is asked and what is right. So it can be no id of
furcal's own, nor of an item of another bank that asks something else, and a bank may be renamed, moved and added to
without losing what a learner knows of it. An item whose question or answer is changed is another item, and asked anew.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import fields, is_dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from lessons.spot.bank import read_banks
from lessons.spot.item import Item

OWN = "own"
#: What of an item makes it another one; not how it is shown, explained or filed.
ASKED_KEYS = ("kind", "vignette", "ask", "answer", "specimen")
DIGITS = 12


def own_items(paths: Iterable[Path]) -> tuple[Item, ...]:
    """The items of several files, by the ids that a record keeps. Raises FurcalError, the first thing that is wrong."""
    return tuple(replace(item, id=kept_id(item)) for item in read_banks(paths))


def kept_id(item: Item) -> str:
    """The id of an item of an own bank in a record."""
    asked = json.dumps([type(item.answer).__name__, *(_said(getattr(item, key)) for key in ASKED_KEYS)], sort_keys=True)
    return f"{OWN}:{item.id}:{sha256(asked.encode()).hexdigest()[:DIGITS]}"


def _said(value: Any) -> Any:
    """A value as JSON holds it, without what is usual: a key that furcal may know one day changes no id."""
    if is_dataclass(value):
        table = {f.name: (getattr(value, f.name), f.default) for f in fields(value)}
        return {name: _said(own) for name, (own, usual) in table.items() if own != usual}
    if isinstance(value, (frozenset, tuple)):
        return [_said(one) for one in (sorted(value) if isinstance(value, frozenset) else value)]
    return value
