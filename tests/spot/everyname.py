"""Every structure that any body can have, and every name that tables give it."""

import re
from dataclasses import replace

from lessons.find import short_names
from lessons.spot.wordbook import bare_id, synonyms
from meshes.reference import all_courses, solid_rows
from meshes.structures import Structure, other_side


def everything() -> dict[str, Structure]:
    """Every structure that any body can have, both sides."""
    rows = [(row.structure, row.paired) for row in solid_rows()]
    rows += [(course.structure, course.paired) for course in all_courses().values()]
    found = {s.id: s for s, _ in rows}
    for s, paired in rows:
        if paired:
            found[other_side(s.id)] = replace(s, id=other_side(s.id), side="right")
    return found


EVERY = everything()


def without_side(name: str) -> str:
    """A name without the word of its side."""
    return re.sub(r"^(left|right) | (sinist|dext)\w+$", "", name)


def published(s: Structure) -> set[str]:
    """Names that tables of the body, the short forms and the table of synonyms give, straight from them."""
    short = {form for form, ids in short_names().items() if bare_id(s) in ids}
    return {s.name, s.latin, *short, *synonyms().also.get(bare_id(s), ())}


def owners() -> dict[str, set[str]]:
    """Ids without their side by each name that they have."""
    found: dict[str, set[str]] = {}
    for s in EVERY.values():
        for name in published(s):
            found.setdefault(without_side(name.casefold()), set()).add(bare_id(s))
    return found


OWNERS = owners()
BY_TWO = {name for name, ids in OWNERS.items() if len(ids) > 1}
NAMES = sorted((name, s.id) for s in EVERY.values() for name in published(s))
OWN_NAMES = [(name, id_) for name, id_ in NAMES if len(OWNERS[without_side(name.casefold())]) == 1]
#: Of the right side only what has no twin: both are called the same.
ONCE = [
    (name, id_)
    for name, id_ in OWN_NAMES
    if EVERY[id_].side != "right" or name not in published(EVERY[other_side(id_)])
]
