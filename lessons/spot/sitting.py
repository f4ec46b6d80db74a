"""How an item is shown while it is asked and while it is explained, and the order of what is offered.

While it is asked nothing on the screen may give it away: no names, nerves of one colour, one mark.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256
from random import Random

from lessons.spot.item import Chosen, Docked, Item, Named, Ordered, Pointed
from lessons.view import View
from meshes.lesion import ids_of

#: Colours of nerves while something is asked: one for all of them, so that colour is no cue.
COLOURING = "print"


def asked_view(item: Item) -> View:
    """The view while the item is asked."""
    view = replace(item.view, labels=False, named=frozenset(), colouring=COLOURING)
    match item.answer:
        case Named(mark):
            view = replace(view, highlighted=frozenset({mark}))
        case Docked(start):
            view = replace(view, portal=start)
    film = view.film
    if item.kind == "wire" and film is not None and not film.crowd and not film.around:
        view = replace(view, film=replace(film, around=view.highlighted))  # else its wire would look small
    return view


def explained_view(item: Item) -> View:
    """The view while it is explained: what was marked or asked for lit and named, else what the item is about."""
    lit = frozenset(item.lit or _asked_for(item)) or asked_view(item).highlighted
    return replace(asked_view(item), labels=True, highlighted=lit, named=lit)


def _asked_for(item: Item) -> tuple[str, ...]:
    match item.answer:
        case Named(mark):
            return (mark,)
        case Pointed(target):
            return (target,)
    return (item.structure,) if item.structure in ids_of(item.specimen) else ()


def offered(item: Item, seed: int) -> tuple[str, ...]:
    """Options of a choice, or words to be put in order, shuffled: the same for the same item and seed.

    Words to be ordered are never offered in their right order, nor in its reverse: who knows only the two ends of the
    way, and not which comes first, would be right with one turn.
    """
    dice = Random(int.from_bytes(sha256(f"{seed} {item.id}".encode()).digest()[:8], "big"))
    match item.answer:
        case Chosen():
            words = list(item.answer.options)
            dice.shuffle(words)
            return tuple(words)
        case Ordered(right):
            words = list(right)
            told = {right, right[::-1]} if len(set(right)) > 2 else {right}
            while len(set(right)) > 1 and tuple(words) in told:
                dice.shuffle(words)
            return tuple(words)
    return ()
