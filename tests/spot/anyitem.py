"""Items of every kind, for property tests; and a small bank of one item of each kind and objective."""

from __future__ import annotations

from itertools import product
from typing import Any

from hypothesis import strategies as st

from lessons.film import Film
from lessons.spot.bank import OPTIONS, ORDER
from lessons.spot.item import (
    DEPTHS,
    KINDS,
    OBJECTIVES,
    QUARTERS,
    SORTS,
    WITHIN_MM,
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
from lessons.view import Camera, Placement, View
from meshes.structures import LEVELS, SEGMENTS, SIDES
from tests.lessons.anyview import IDS, lines, placements, specimens, views, words

#: Words that differ whatever their case.
options = st.lists(words, min_size=OPTIONS[0], max_size=OPTIONS[1], unique_by=str.casefold)
_ANSWERS: dict[type, st.SearchStrategy[Answer]] = {
    Named: st.builds(Named, IDS),
    Pointed: st.builds(Pointed, IDS, st.floats(*WITHIN_MM)),
    Rooted: st.builds(Rooted, st.lists(st.sampled_from(SEGMENTS), min_size=1, unique=True).map(tuple)),
    Ordered: st.builds(Ordered, st.lists(words, min_size=ORDER[0], max_size=ORDER[1], unique=True).map(tuple)),
    Chosen: options.map(lambda found: Chosen(found[0], tuple(found[1:]))),
    Quartered: st.builds(
        Quartered,
        st.sampled_from(LEVELS),
        st.sampled_from(SIDES),
        st.lists(st.sampled_from(QUARTERS), min_size=1, max_size=3, unique=True).map(tuple),
    ),
    Docked: st.builds(Docked, placements, st.floats(0.0, 20.0)),
}
ids = st.from_regex(r"[a-z][a-z0-9_]{0,12}", fullmatch=True)


@st.composite
def items(draw: st.DrawFn, kind: str | None = None) -> Item:
    """Any item, as a bank may hold it."""
    kind = kind or draw(st.sampled_from(KINDS))
    return Item(
        draw(ids), kind, draw(st.sampled_from(OBJECTIVES)), draw(IDS), draw(words),
        draw(st.one_of(*(_ANSWERS[sort] for sort in SORTS[kind]))), draw(words), draw(specimens()), draw(views()),
        draw(lines), draw(st.sampled_from(DEPTHS)), draw(st.lists(IDS, max_size=2).map(tuple)),
        draw(st.dictionaries(ids, words, max_size=2)), draw(lines), draw(st.booleans()),
    )  # fmt: skip


#: A plain answer of every kind.
PLAIN: dict[str, Answer] = {
    "name": Named("femoral_left"),
    "point": Pointed("femoral_left", 6.0),
    "trace": Rooted(("L2", "L3", "L4")),
    "order": Ordered(("Genitofemoral", "Femoral", "Obturator")),
    "quarter": Quartered("L4-5", "left", ("II", "III")),
    "dock": Docked(Placement()),
    "wire": Named("femoral_left"),
}


def item(name: str, kind: str = "name", **more: Any) -> Item:
    """A plain item of a kind; `more` as in Item."""
    given: dict[str, Any] = {
        "objective": "course",
        "structure": "femoral_left",
        "ask": f"Seen from in front. What of {name}?",
        "answer": PLAIN.get(kind) or Chosen(f"Right {name}", tuple(f"Wrong {name} {k}" for k in range(3))),
        "explain": f"Explained {name}. [common_practice]",
        "view": View(Camera("front"), film=Film() if kind == "wire" else None),
        **more,
    }
    return Item(name, kind, given.pop("objective"), given.pop("structure"), given.pop("ask"), given.pop("answer"),
                given.pop("explain"), **given)  # fmt: skip


def bank(structures: tuple[str, ...] = ("femoral_left", "obturator_left", "ilioinguinal_left")) -> list[Item]:
    """An item of every kind, objective and structure."""
    return [
        item(f"{kind}_{objective}_{structure}", kind, objective=objective, structure=structure, depth=DEPTHS[n % 3])
        for n, (kind, objective, structure) in enumerate(product(KINDS, OBJECTIVES, structures))
    ]
