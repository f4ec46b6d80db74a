"""Candidates of known ability who sit a paper of items of known difficulty, some of them planted bad.

The two-parameter logistic model: a candidate of ability t knows an item with chance 1 / (1 + exp(-a (t - b))).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lessons.spot.item import OBJECTIVES, Chosen, Item
from lessons.spot.response import Picked
from lessons.spot.results import Given, Result

RIGHT, WRONG = "right", ("wrong a", "wrong b", "wrong c")
#: A planted item and the flags one of which it must get: dice fall by chance so that the good ones lose.
PLANTED = {
    "wrong_key": ("reversed",),
    "nobody": ("too_hard",),
    "everybody": ("too_easy",),
    "by_dice": ("weak", "reversed"),
    "dead_option": ("distractors",),
}


@dataclass(frozen=True)
class Simulated:
    """A class, its paper, and what is true of it: the chance of each item to be known, as an average of the class."""

    results: tuple[Result, ...]
    items: tuple[Item, ...]
    chance: dict[str, float]


def written(name: str, objective: str = OBJECTIVES[0]) -> Item:
    return Item(name, "predict", objective, "femoral_left", "What is lost?", Chosen(RIGHT, WRONG), "Why.")


def result_of(candidate: int, picks: dict[str, str], objectives: dict[str, str] | None = None) -> Result:
    answers = tuple(
        Given(name, "predict", (objectives or {}).get(name, OBJECTIVES[0]), Picked(pick), pick == RIGHT,
              float(pick == RIGHT), 30.0)
        for name, pick in picks.items()
    )  # fmt: skip
    return Result("winter_1", "ab" * 32, str(candidate), "2026-01-20T10:15:00+00:00", answers)


def simulated(
    seed: int, candidates: int = 200, good: int = 20, hardness: tuple[float, float] = (-0.25, 0.4)
) -> Simulated:
    """A class that sits good items and the planted ones.

    hardness : b of the easiest and of the hardest good item
    """
    dice = np.random.default_rng(seed)
    ability = dice.standard_normal(candidates)
    picks: dict[str, NDArray[np.str_]] = {}
    chance: dict[str, float] = {}
    for number, b in enumerate(np.linspace(*hardness, good)):
        name = f"good_{number:02d}"
        knows = 1 / (1 + np.exp(-dice.uniform(1.2, 2.0) * (ability - b)))
        picks[name] = _picked(dice, dice.random(candidates) < knows)
        chance[name] = float(knows.mean())
    knows = dice.random(candidates) < 1 / (1 + np.exp(-1.8 * (ability + 0.4)))
    # Whoever knows picks what is true and has not got the key; the others guess among the rest, the key with them.
    picks["wrong_key"] = np.where(knows, WRONG[0], dice.choice([RIGHT, *WRONG[1:]], candidates))
    picks["nobody"] = dice.choice(WRONG, candidates)
    picks["everybody"] = np.full(candidates, RIGHT)
    picks["by_dice"] = _picked(dice, dice.random(candidates) < 0.5)
    knows = dice.random(candidates) < 1 / (1 + np.exp(-1.8 * ability))
    picks["dead_option"] = np.where(knows, RIGHT, dice.choice(WRONG[:2], candidates))
    results = tuple(
        result_of(n + 1, {name: str(column[n]) for name, column in picks.items()}) for n in range(candidates)
    )
    return Simulated(results, tuple(map(written, picks)), chance)


def _picked(dice: np.random.Generator, knows: NDArray[np.bool_]) -> NDArray[np.str_]:
    return np.where(knows, RIGHT, dice.choice(WRONG, len(knows)))
