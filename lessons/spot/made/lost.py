"""Items about what a hurt nerve costs: what is lost, which test shows it, and from the complaint back to the nerve.

All follows from the tables of supply and the nerves that this body has. A thing is surely lost where no row says that
it is so in some people, or in some books, only; it is surely kept where no row of what is lost speaks of it at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache, partial

from lessons.sites import by_hand
from lessons.spot.made.draft import Asked, Draft, Making, in_text, option
from lessons.spot.made.seen import view_of
from lessons.spot.made.told import sourced
from lessons.supplytext import degree_of
from lessons.view import Camera, View
from meshes.lesion import Loss, cut_in, loss
from meshes.structures import SIDES, Structure
from meshes.supply import Muscle, supply

#: So many findings make a complaint.
FINDINGS = 3


@dataclass(frozen=True)
class Hurt:
    """A nerve of a body cut where a place of its way begins."""

    structure: Structure
    place: str
    loss: Loss

    @property
    def key(self) -> str:
        """For ids."""
        return f"{self.structure.id}_{self.place}"

    @property
    def words(self) -> str:
        """The lesion within a sentence."""
        return f"{in_text(self.structure)} is cut {supply().sites[self.place].name.split(',')[0]}"


def hurts(asked: Asked) -> list[Hurt]:
    """Every named nerve of the body at every place of its way, where at each something else is lost."""
    if not asked.hurts:
        asked.hurts.extend(_hurts(asked))
    return asked.hurts


def _hurts(asked: Asked) -> Iterator[Hurt]:
    for side in SIDES:
        for name, nerve in supply().nerves.items():
            id_ = f"{name}_{side}"
            structure = asked.body.structures.get(id_)
            if structure is None or structure.group == "root":
                continue
            before: Loss | None = None
            for place in nerve.way:
                found = loss(id_, asked.body.structures, cut_in(id_, place))
                if found != before:
                    yield Hurt(structure, place, found)
                before = found


def weak_surely(hurt: Loss) -> dict[str, list[Muscle]]:
    """Movement, tested by hand -> the prime movers that surely lose by it."""
    s = supply()
    by: dict[str, list[str]] = {}
    for one in hurt.motor:
        by.setdefault(s.muscles[one.row.muscle].movement, []).append(one.row.muscle)
    found = {}
    for movement in by:
        rows = [one for one in hurt.motor if s.muscles[one.row.muscle].movement == movement]
        sure = [one for one in rows if not one.row.variable and not one.row.disputed]
        movers = [s.muscles[one.row.muscle] for one in sure if s.muscles[one.row.muscle].prime]
        if movers and by_hand(movement) and "strong" not in degree_of(movement, sure, s):
            found[movement] = movers
    return found


def weak_perhaps(hurt: Loss) -> set[str]:
    """Every movement in which a muscle takes part that may lose."""
    muscles = [supply().muscles[one.row.muscle] for one in hurt.motor]
    return {movement for m in muscles for movement in (m.movement, *m.also)}


def numb_surely(hurt: Loss) -> tuple[str, ...]:
    """Patches of skin that are surely lost, and by this nerve alone."""
    s = supply()
    return tuple(
        one.row.patch for one in hurt.skin
        if not one.row.variable and not one.partial and not s.patches[one.row.patch].dispute
    )  # fmt: skip


def numb_perhaps(hurt: Loss) -> set[str]:
    """Patches that may be lost, and those that share a border with one."""
    lost = {one.row.patch for one in hurt.skin}
    s = supply()
    return lost | {p for p, patch in s.patches.items() if set(patch.overlaps) & lost} | {
        other for p in lost for other in s.patches[p].overlaps
    }  # fmt: skip


def jerks_surely(hurt: Loss) -> tuple[str, ...]:
    """Reflexes of which both limbs, or one surely, are cut."""
    s = supply()
    sure = [one.row.reflex for one in hurt.reflexes if not one.row.disputed and not s.reflexes[one.row.reflex].dispute]
    return tuple(dict.fromkeys(sure))


# --- what is lost


def predict_items(asked: Asked) -> Iterator[Making]:
    """Which movement, which skin, which reflex a hurt nerve costs."""
    for hurt in hurts(asked):
        for movement in weak_surely(hurt.loss):
            yield f"{hurt.key}_{movement.replace(' ', '_')}", partial(_movement, asked, hurt, movement)
        for patch in numb_surely(hurt.loss):
            yield f"{hurt.key}_{patch}", partial(_skin, asked, hurt, patch)
        for reflex in jerks_surely(hurt.loss):
            yield f"{hurt.key}_{reflex}", partial(_reflex, asked, hurt, reflex)


def _movement(asked: Asked, hurt: Hurt, movement: str) -> Draft | None:
    kept = [m for m in _movements() if m not in weak_perhaps(hurt.loss)]
    return _of_loss(
        asked,
        hurt,
        "predict",
        movement,
        "Which movement of this body becomes weaker?",
        movement,
        kept,
        _why_weak(hurt, movement),
    )


@cache
def _movements() -> tuple[str, ...]:
    return tuple(dict.fromkeys(m.movement for m in supply().muscles.values() if by_hand(m.movement)))


def _why_weak(hurt: Hurt, movement: str) -> str:
    rows = [one for one in hurt.loss.motor if supply().muscles[one.row.muscle].movement == movement]
    names = ", ".join(supply().muscles[one.row.muscle].name for one in rows)
    why = sourced(f"Served beyond the lesion, for {movement}: {names}", (k for r in rows for k in r.row.source))
    test = supply().muscles[rows[0].row.muscle]
    return f"{why} {sourced(test.test, test.source)}"


def _skin(asked: Asked, hurt: Hurt, patch: str) -> Draft | None:
    s = supply()
    kept = [row.name for p, row in s.patches.items() if p not in numb_perhaps(hurt.loss) and not row.dispute]
    why = _why_numb(hurt, patch)
    ask = "Which nerve territory of the skin of this body becomes numb?"
    return _of_loss(asked, hurt, "predict", patch, ask, s.patches[patch].name, kept, why)


def _why_numb(hurt: Hurt, patch: str) -> str:
    row = next(one.row for one in hurt.loss.skin if one.row.patch == patch)
    skin = supply().patches[patch]
    where = sourced(f"Touch it here: {skin.test_at}", skin.source)
    return f"{sourced(f'This skin hangs on it: {skin.name}', row.source)} {where}"


def _reflex(asked: Asked, hurt: Hurt, reflex: str) -> Draft | None:
    s = supply()
    lost = {one.row.reflex for one in hurt.loss.reflexes}
    kept = [row.name for r, row in s.reflexes.items() if r not in lost]
    why = _why_gone(hurt, reflex)
    ask = "Which reflex of this body becomes weaker or is lost?"
    return _of_loss(asked, hurt, "predict", reflex, ask, s.reflexes[reflex].name, kept, why)


def _why_gone(hurt: Hurt, reflex: str) -> str:
    row = next(one.row for one in hurt.loss.reflexes if one.row.reflex == reflex)
    jerk = supply().reflexes[reflex]
    return f"{sourced(f'The {jerk.name} runs by this nerve', row.source)} {sourced(jerk.how, jerk.source)}"


def _of_loss(
    asked: Asked, hurt: Hurt, kind: str, key: str, ask: str, right: str, kept: list[str], why: str
) -> Draft | None:
    pool = tuple(dict.fromkeys(option(words) for words in kept if option(words) != option(right)))
    view = _view(asked, hurt)
    if view is None:
        return None
    return Draft(
        kind, f"{hurt.key}_{key.replace(' ', '_')}", "loss" if kind == "predict" else "examination", hurt.structure.id,
        ask, why, view, asked.body.specimen, None, option(right), pool, f"On this body {hurt.words}.",
        "understand" if kind == "predict" else "apply", (hurt.structure.id,),
    )  # fmt: skip


def _view(asked: Asked, hurt: Hurt) -> View | None:
    view = view_of(asked, hurt.structure.id)
    return view and replace(view, highlighted=frozenset({hurt.structure.id}))


# --- which test shows it


def examine_items(asked: Asked) -> Iterator[Making]:
    """Which test shows that a nerve is hurt."""
    for hurt in hurts(asked):
        for movement in weak_surely(hurt.loss):
            yield f"{hurt.key}_{movement.replace(' ', '_')}", partial(_strength, asked, hurt, movement)
        for patch in numb_surely(hurt.loss):
            yield f"{hurt.key}_{patch}", partial(_touch, asked, hurt, patch)


def _strength(asked: Asked, hurt: Hurt, movement: str) -> Draft | None:
    s = supply()
    mover = weak_surely(hurt.loss)[movement][0]
    tests: dict[str, set[str]] = {}
    for m in s.muscles.values():
        if by_hand(m.movement) and m.prime and not m.test.startswith("Tested with"):
            tests.setdefault(m.test, set()).update((m.movement, *m.also))
    kept = [test for test, shows in tests.items() if not shows & weak_perhaps(hurt.loss)]
    if mover.test not in tests:
        return None
    ask = "Which test of strength shows the loss on this body?"
    return _of_loss(asked, hurt, "examine", movement, ask, mover.test, kept, _why_weak(hurt, movement))


def _touch(asked: Asked, hurt: Hurt, patch: str) -> Draft | None:
    s = supply()
    kept = [row.test_at for p, row in s.patches.items() if p not in numb_perhaps(hurt.loss) and not row.dispute]
    ask = "Where do you touch this body to show the loss in the skin of this nerve?"
    return _of_loss(asked, hurt, "examine", patch, ask, s.patches[patch].test_at, kept, _why_numb(hurt, patch))


# --- from the complaint to the nerve


def find_items(asked: Asked) -> Iterator[Making]:
    """Which nerve explains what a patient has lost."""
    for hurt in hurts(asked):
        if complaint(hurt.loss):
            yield hurt.key, partial(_found, asked, hurt)


def complaint(hurt: Loss) -> tuple[tuple[str, str], ...]:
    """The findings that are told of a patient: part of the table of supply and id, of each part at most so many."""
    every = [
        *(("weak", movement) for movement in weak_surely(hurt)), *(("lost", reflex) for reflex in jerks_surely(hurt)),
        *(("numb", patch) for patch in numb_surely(hurt)),
    ]  # fmt: skip
    return tuple(every[:FINDINGS])


def in_words(finding: tuple[str, str]) -> str:
    """A finding within a sentence."""
    part, id_ = finding
    if part == "weak":
        return f"{id_} is weak"
    if part == "lost":
        return f"the {supply().reflexes[id_].name} is less or lost"
    return f"the skin is numb here: {supply().patches[id_].name}"


def explains(found: Loss, finding: tuple[str, str]) -> bool:
    """Whether a lesion may cost what was found."""
    part, id_ = finding
    if part == "weak":
        return id_ in weak_perhaps(found)
    if part == "lost":
        return any(one.row.reflex == id_ for one in found.reflexes)
    return id_ in numb_perhaps(found)


def _found(asked: Asked, hurt: Hurt) -> Draft | None:
    told = complaint(hurt.loss)
    side = hurt.structure.side
    # No nerve that explains all of it at any place of its way stands beside it: a branch of it, or what it comes from.
    rivals: dict[str, bool] = {}
    for other in hurts(asked):
        if other.structure.side == side and other.structure.id != hurt.structure.id:
            all_of_it = all(explains(other.loss, finding) for finding in told)
            rivals[other.structure.name] = rivals.get(other.structure.name, False) or all_of_it
    kept = [option(name) for name, fits in rivals.items() if not fits]
    said = "; ".join(in_words(finding) for finding in told)
    why = " ".join(
        _why_weak(hurt, i) if part == "weak" else _why_gone(hurt, i) if part == "lost" else _why_numb(hurt, i)
        for part, i in told
    )
    return Draft(
        "find", hurt.key, "examination", hurt.structure.id,
        "Which one nerve of this body, when it is hurt, explains it all?", why,
        View(camera=Camera("front"), labels=False), asked.body.specimen, None, option(hurt.structure.name), tuple(kept),
        f"In a patient built as this body the {side} side shows: {said}.", "apply", (hurt.structure.id,),
    )  # fmt: skip
