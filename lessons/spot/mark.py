"""Marking: what a response to an item is worth, and one plain sentence that says what was answered and what is right.

Nothing here explains; that is the item's own text. A name is judged in words (`lessons.spot.names`), a click in mm
along the surface of what was clicked (`lessons.spot.along`), a portal on the body (`meshes.contact`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple
from itertools import combinations
from typing import TYPE_CHECKING

from lessons.readout import QUARTERS_RUN, named, small
from lessons.spot.item import Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.names import is_called
from lessons.spot.onbody import lying
from lessons.spot.response import Arranged, Clicked, Picked, Placed, Quarter, Response, Said, Segments, Skipped, fits
from lessons.spot.verdict import Verdict
from lessons.spot.wordbook import known_structures
from lessons.view import Placement
from meshes.errors import FurcalError

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.contact import Contact, Docking
    from meshes.structures import Structure

#: Each vessel or viscus that a portal touches takes off so much; and a wrong portal gets at most so much.
OTHERS_COST, WRONG_MOST = 0.25, 0.5
#: So far short of the clearance asked for a wrong portal is worth nothing, mm.
SHORT_MM = 10.0
#: Longer answers are shown by their start.
_SHOWN = 60


def marked(item: Item, response: Response, body: Body | None = None) -> Verdict:
    """What a response is worth.

    body : the item's body, lying as `lessons.spot.onbody.lying` says; built or fetched where it is not given and
           a place on it counts
    Raises FurcalError for a response of another sort than the item asks for, and for an id that the body lacks.
    """
    if not fits(response, item.answer):
        raise FurcalError(
            f"{item.where or item.id}: the answer is of another sort than the item asks for; answer anew."
        )
    if isinstance(response, Skipped):
        return Verdict(False, 0.0, f"Not answered; {_right(item, _structures(item, body))}.")
    match item.answer, response:
        case Named(mark), Said(words):
            return _named(mark, words, _structures(item, body))
        case Pointed() as asked, Clicked() as click:
            own = _body(item, body)
            _structures(item, own)
            return _pointed(asked, click, own)
        case Rooted(roots), Segments(said):
            return _rooted(roots, said)
        case Ordered(right), Arranged(words_):
            return _ordered(right, words_)
        case Chosen() as chosen, Picked(option):
            return _graded(option == chosen.right, option, chosen.right)
        case Quartered() as asked, Quarter(quarter):
            return _quartered(asked, quarter)
        case Docked() as asked, Placed(portal):
            return _docked(asked, portal, _body(item, body))
    raise FurcalError(f"{item.where or item.id}: the item cannot be marked.")


def _body(item: Item, body: Body | None) -> Body:
    """The body of the item, as it lies: a body of another posture would be another answer."""
    from meshes.body import load_body

    return body if body is not None and body.specimen == lying(item) else load_body(lying(item))


def _structures(item: Item, body: Body | None) -> Mapping[str, Structure]:
    """The structures whose names count: those of the body, and of any body where none is given."""
    structures = body.structures if body is not None else known_structures()
    for id_ in (getattr(item.answer, key) for key in ("mark", "target") if hasattr(item.answer, key)):
        if id_ not in structures:
            raise FurcalError(f"{item.where or item.id}: {id_}: this specimen has no such structure; name another.")
    return structures


def _right(item: Item, structures: Mapping[str, Structure]) -> str:
    """What is right, within a sentence."""
    match item.answer:
        case Named(id_) | Pointed(id_, _):
            return f"it is the {small(named(structures[id_]))}"
        case Rooted(words):
            return f"right is {listed(words)}"
        case Ordered(words):
            return f"right is {', '.join(words)}"
        case Chosen(right, _):
            return f"right is: {_bare(right)}"
        case Quartered() as asked:
            return f"right is {_quarters(asked)}"
        case Docked() as asked:
            return f"asked for is a portal that reaches the {asked.start.level} disc and touches no nerve"


def listed(words: Sequence[str]) -> str:
    """Words in a row: L2, L3 and L4."""
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))


def _bare(words: str) -> str:
    """An option without the full stop that it may end with."""
    return words.strip().rstrip(".")


def _quoted(words: str) -> str:
    text = " ".join(words.split())
    return f'"{text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."}"'


def _graded(right: bool, said: str, key: str) -> Verdict:
    if right:
        return Verdict(True, 1.0, f"Right: {_bare(key)}.")
    return Verdict(False, 0.0, f"Answered: {_bare(said)}; right is: {_bare(key)}.")


# --- words


def _named(mark: str, words: str, structures: Mapping[str, Structure]) -> Verdict:
    own = small(named(structures[mark]))
    if is_called(words, mark, structures):
        return Verdict(True, 1.0, f"Right: it is the {own}.")
    said = _quoted(words) if words.strip() else "nothing"
    return Verdict(False, 0.0, f"Answered: {said}; it is the {own}.")


def _rooted(roots: tuple[str, ...], said: tuple[str, ...]) -> Verdict:
    own, given = set(roots), set(said)
    score = len(own & given) / max(len(own | given), 1)
    if own == given:
        return Verdict(True, 1.0, f"Right: {listed(roots)}.")
    return Verdict(False, score, f"Answered: {listed(said) or 'none'}; right is {listed(roots)}.")


def _ordered(right: tuple[str, ...], said: tuple[str, ...]) -> Verdict:
    if said == right:
        return Verdict(True, 1.0, f"Right: {', '.join(right)}.")
    return Verdict(False, in_order(right, said), f"Answered: {', '.join(said) or 'none'}; right is {', '.join(right)}.")


def in_order(right: tuple[str, ...], said: tuple[str, ...]) -> float:
    """The share of pairs that stand in the right order (1 minus Kendall's distance); 0 where words are missing."""
    if sorted(right) != sorted(said) or len(right) < 2:
        return float(right == said)
    at = {word: i for i, word in enumerate(said)}
    pairs = list(combinations(right, 2))
    return sum(at[a] < at[b] for a, b in pairs) / len(pairs)


def _quarters(asked: Quartered) -> str:
    return f"quarter {' or '.join(asked.right)} ({QUARTERS_RUN})"


def _quartered(asked: Quartered, quarter: str) -> Verdict:
    if quarter in asked.right:
        return Verdict(True, 1.0, f"Right: quarter {quarter} of the {asked.disc} disc.")
    return Verdict(False, 0.0, f"Answered: quarter {quarter}; right is {_quarters(asked)}.")


# --- places on the body


def _pointed(asked: Pointed, click: Clicked, body: Body) -> Verdict:
    import numpy as np

    from lessons.spot.along import along_mm

    target = small(named(body.structures[asked.target]))
    if click.structure == asked.target:
        return Verdict(True, 1.0, f"Right: this is the {target}.")
    if click.structure not in body.structures:
        return Verdict(False, 0.0, f"Answered: nothing of this body; asked for is the {target}.")
    clicked = small(named(body.structures[click.structure]))
    away = along_mm(body, click.structure, np.array(click.point_mm), asked.target, asked.within_mm)
    if away <= asked.within_mm:
        return Verdict(True, 1.0, f"Right: the {target} is {away:.0f} mm from there along the {clicked}.")
    return Verdict(
        False, 0.0, f"Answered: the {clicked}, more than {asked.within_mm:g} mm from the {target} along its surface."
    )


def _docked(asked: Docked, portal: Placement, body: Body) -> Verdict:
    from meshes.contact import dock
    from meshes.portal import place

    changed = _changed(asked.start, portal)
    if changed:
        return Verdict(False, 0.0, changed)
    try:
        docking = dock(body, place(body, *astuple(portal)))
    except FurcalError as error:
        return Verdict(False, 0.0, f"The portal cannot be placed so: {str(error).rstrip('.')}.")
    if not docking.access.reaches_disc:
        bone = small(named(docking.access.barred[0]))
        return Verdict(False, 0.0, f"The {bone} bars the way to the {portal.level} disc.")
    return _reached(asked, docking)


def _changed(start: Placement, portal: Placement) -> str:
    """What makes a portal another one than was asked for: elsewhere, narrower or less deep; "" where nothing does."""
    for word in ("level", "side", "approach"):
        if getattr(portal, word) != getattr(start, word):
            return f"Answered: {word} {getattr(portal, word)}; asked for is {word} {getattr(start, word)}."
    for key, word in (("radius_mm", "narrower"), ("depth_mm", "less deep")):
        if getattr(portal, key) < getattr(start, key) - 1e-6:
            return f"The portal is {word} ({getattr(portal, key):g} mm) than asked for ({getattr(start, key):g} mm)."
    return ""


def _reached(asked: Docked, docking: Docking) -> Verdict:
    """A portal that reaches its disc, by the least clearance and by what else it touches."""
    worst = docking.nerves[0]
    others = [contact for contact in (*docking.vessels, *docking.viscera) if contact.touched]
    least = worst.clearance_mm
    if least >= asked.clear_mm and not worst.touched:
        score = max(1.0 - OTHERS_COST * len(others), WRONG_MOST)
        also = f", but touches the {_list_of(others)}" if others else ""
        return Verdict(True, score, f"The portal reaches the disc {least:.1f} mm clear of every nerve{also}.")
    score = WRONG_MOST * max(0.0, 1.0 - max(asked.clear_mm - least, 0.0) / SHORT_MM)
    nerve = small(named(worst.structure))
    if worst.touched:
        return Verdict(False, score, f"The portal touches the {_list_of(c for c in docking.nerves if c.touched)}.")
    return Verdict(
        False,
        score,
        f"The portal passes {least:.1f} mm from the {nerve}; asked for are at least {asked.clear_mm:g} mm.",
    )


def _list_of(contacts: Iterable[Contact]) -> str:
    """Names of what is touched, the worst first, three at most."""
    names = list(dict.fromkeys(small(named(c.structure)) for c in contacts))
    more = [f"{len(names) - 3} more"] if len(names) > 3 else []
    return listed([*names[:3], *more])
