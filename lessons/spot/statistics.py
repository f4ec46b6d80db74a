"""What a class's results say about the items and about what the class does not know.

How hard each item is, whether it tells the good from the others, what is taken instead, which objectives fail. Scores
are counted in whole millionths, so that sums are exact and "no spread" is never a matter of rounding. What cannot be
computed is None, with a sentence that says why. The bounds of `FLAGS` and of a distractor are from memory, as they are
commonly taught beside the NBME Item-Writing Guide (November 2020).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt

from lessons.spot.item import OBJECTIVES, QUARTERS, Chosen, Item, Quartered
from lessons.spot.response import Arranged, Clicked, Picked, Placed, Quarter, Response, Said, Segments, Skipped
from lessons.spot.results import Given, Result
from meshes.errors import FurcalError, shown

#: A share that knows an item below which it is too hard, and above which it is too easy.
DIFFICULTY = (0.3, 0.8)
#: An item tells the good from the others above this.
DISCRIMINATION = 0.2
#: A distractor that a smaller share takes does not do its work.
FUNCTIONING = 0.05
#: An objective fails where less than this share is right: our judgement, no source.
OBJECTIVE_FAILS = 0.5
#: Fewer candidates flag no item and no option: one of them more or less would change it. Our judgement, no source.
FLAGGED_FROM = 20
#: Wrong answers in free words that are told, the most frequent first.
INSTEAD_MOST = 5
#: Scores are counted in these.
UNIT = 1_000_000
FLAGS = {
    "reversed": "those who do well elsewhere miss it: look whether the key is wrong",
    "weak": f"does not tell the good from the others (point-biserial not above {DISCRIMINATION:g})",
    "too_hard": f"too hard (fewer than {100 * DIFFICULTY[0]:.0f} of 100 know it)",
    "too_easy": f"too easy (more than {100 * DIFFICULTY[1]:.0f} of 100 know it)",
    "distractors": f"has options that fewer than {100 * FUNCTIONING:.0f} of 100 take",
}
KR20, ALPHA = "KR-20", "Cronbach's alpha"


@dataclass(frozen=True)
class Distractor:
    """A wrong option and who took it.

    share          : of all candidates
    discrimination : point-biserial correlation of taking it with the score of all other items; below 0 where it works
    """

    option: str
    taken: int
    share: float
    discrimination: float | None = None

    @property
    def functions(self) -> bool:
        """Whether it does its work."""
        return self.share >= FUNCTIONING


@dataclass(frozen=True)
class ItemReport:
    """What a class says about one item.

    right, skipped : candidates who know it, and who gave no answer
    difficulty     : share of candidates who know it; an easy item has a high one
    discrimination : point-biserial correlation of knowing it with the score of all other items
    with_itself    : the same with the score of all items, this one too; always the higher
    distractors    : its wrong options, where it has options
    instead        : what else was answered, the most frequent first
    flags          : words of `FLAGS`; none in a class of fewer than `FLAGGED_FROM`
    says           : why a figure is None
    """

    id: str
    kind: str
    objective: str
    right: int
    skipped: int
    difficulty: float
    discrimination: float | None
    with_itself: float | None
    distractors: tuple[Distractor, ...]
    instead: tuple[tuple[str, int], ...]
    flags: tuple[str, ...]
    says: str = ""

    @property
    def never_taken(self) -> tuple[str, ...]:
        """Options that nobody took."""
        return tuple(d.option for d in self.distractors if not d.taken)


@dataclass(frozen=True)
class Reliability:
    """How far the score of this paper would come out alike again: KR-20, or alpha where scores are right in part."""

    name: str
    value: float | None
    says: str = ""


@dataclass(frozen=True)
class ObjectiveReport:
    """An objective: its items, answers asked for, and how many were right."""

    objective: str
    items: tuple[str, ...]
    asked: int
    right: int

    @property
    def share(self) -> float:
        """The share that is right."""
        return self.right / self.asked

    @property
    def fails(self) -> bool:
        """Whether less than half is right."""
        return self.share < OBJECTIVE_FAILS


@dataclass(frozen=True)
class Report:
    """A class's report; items in the order of the paper, objectives with the weakest first.

    scores : candidate -> sum of scores
    """

    paper: str
    candidates: int
    items: tuple[ItemReport, ...]
    reliability: Reliability
    objectives: tuple[ObjectiveReport, ...]
    scores: Mapping[str, float] = field(default_factory=dict)

    @property
    def flags_items(self) -> bool:
        """Whether the class is large enough to flag items and options."""
        return self.candidates >= FLAGGED_FROM

    @property
    def says(self) -> str:
        """Why no item is flagged, where the class is too small for it."""
        return "" if self.flags_items else f"fewer than {FLAGGED_FROM} candidates: no item and no option is flagged"

    @property
    def by_chance(self) -> float:
        """How far a share of one half moves by chance alone in 95 of 100 classes of this size."""
        return min(0.5, 1.96 * sqrt(0.25 / self.candidates))


def class_report(results: Sequence[Result], paper_items: Iterable[Item] = ()) -> Report:
    """The report of a class that sat one paper.

    paper_items : the paper's items, which tell the options that nobody took; without them an item's options are those
                  that were taken
    An item that a candidate did not answer counts as not known. Raises FurcalError for results that are no class.
    """
    _check_class(results)
    written = {item.id: item for item in paper_items}
    given = _given_by_item(results, written)
    totals = [sum(_units(row[n]) for row in given.values()) for n in range(len(results))]
    items = tuple(_item_report(item, row, totals, len(given), written.get(item)) for item, row in given.items())
    total_by = {result.candidate: total / UNIT for result, total in zip(results, totals, strict=True)}
    return Report(
        results[0].paper,
        len(results),
        items,
        reliability([[_units(answer) for answer in row] for row in given.values()]),
        _objectives(items, len(results)),
        total_by,
    )


def _check_class(results: Sequence[Result]) -> None:
    if not results:
        raise FurcalError("a class has at least one result; name its files.")
    first, seen = results[0], set()
    for result in results:
        if (result.paper, result.paper_hash) != (first.paper, first.paper_hash):
            raise FurcalError(
                f"candidate {result.candidate} sat the paper {shown(result.paper)} and candidate {first.candidate} "
                f"{shown(first.paper)}; make a report for each paper."
            )
        if result.number in seen:
            raise FurcalError(f"candidate {result.candidate} stands in two results; keep one of them.")
        seen.add(result.number)


def _given_by_item(results: Sequence[Result], written: Mapping[str, Item]) -> dict[str, list[Given | None]]:
    """Item -> what each candidate answered, in the order of the candidates; None for one who did not reach it."""
    by_candidate = [{answer.item: answer for answer in result.answers} for result in results]
    items = dict.fromkeys(written)
    for result, answers in zip(results, by_candidate, strict=True):
        for item in answers:
            if written and item not in written:
                raise FurcalError(
                    f"candidate {result.candidate} answered {shown(item)}, which is not in this paper; "
                    "give the paper that was sat."
                )
        items.update(dict.fromkeys(answers))
    return {item: [answers.get(item) for answers in by_candidate] for item in items}


def _units(answer: Given | None) -> int:
    return 0 if answer is None else round(answer.score * UNIT)


# --- one item


def _item_report(
    name: str, row: Sequence[Given | None], totals: Sequence[int], items: int, written: Item | None
) -> ItemReport:
    count, answers = len(row), [answer for answer in row if answer is not None]
    knows = [int(answer is not None and answer.right) for answer in row]
    rest = [total - _units(answer) for total, answer in zip(totals, row, strict=True)]
    apart, says = discrimination(knows, rest) if items > 1 else (None, "there is no other item to compare it with")
    distractors = tuple(_distractor(option, row, rest) for option in _wrong_options(answers, written))
    skipped = count - sum(not isinstance(answer.response, Skipped) for answer in answers)
    # an item that nobody of the class reached has no answer to tell its kind
    kind, objective = (written.kind, written.objective) if written else (answers[0].kind, answers[0].objective)
    difficulty = sum(knows) / count
    return ItemReport(
        name, kind, objective, sum(knows), skipped, difficulty, apart, discrimination(knows, totals)[0], distractors,
        _instead(answers), _flags(difficulty, apart, distractors, count), says,
    )  # fmt: skip


def _flags(
    difficulty: float, apart: float | None, distractors: Sequence[Distractor], candidates: int
) -> tuple[str, ...]:
    if candidates < FLAGGED_FROM:
        return ()
    # 95 of 100 items that have nothing to do with the rest lie within so much of 0: below it something is amiss.
    chance = 1.96 / sqrt(max(1, candidates - 1))
    better = any((d.discrimination or 0) > max(DISCRIMINATION, chance, apart or 0) for d in distractors)
    is_reversed = better or (apart is not None and apart < -chance)
    found = {
        "reversed": is_reversed,
        "weak": apart is not None and apart <= DISCRIMINATION and not is_reversed,
        "too_hard": difficulty < DIFFICULTY[0],
        "too_easy": difficulty > DIFFICULTY[1],
        "distractors": any(not d.functions for d in distractors),
    }
    return tuple(flag for flag in FLAGS if found[flag])


def discrimination(known: Sequence[int], score: Sequence[int]) -> tuple[float | None, str]:
    """The point-biserial correlation of two whole-numbered columns, or None and why."""
    count = len(known)
    if count < 2:
        return None, "one candidate alone cannot be compared"
    spread_known, spread_score = _spread(known), _spread(score)
    if not spread_known:
        return None, "everybody knows it" if known[0] else "nobody knows it"
    if not spread_score:
        return None, "all candidates have the same score"
    together = count * sum(k * s for k, s in zip(known, score, strict=True)) - sum(known) * sum(score)
    return max(-1.0, min(1.0, together / sqrt(spread_known * spread_score))), ""


def _spread(values: Sequence[int]) -> int:
    """The population variance times the square of the count: exact."""
    return len(values) * sum(v * v for v in values) - sum(values) ** 2


def _is_option(response: Response) -> bool:
    return isinstance(response, (Picked, Quarter))


def _wrong_options(answers: Sequence[Given], written: Item | None) -> tuple[str, ...]:
    """The paper's wrong options; without the paper those that were taken."""
    picked = sorted({words_of(a.response) for a in answers if not a.right and _is_option(a.response)})
    if written is None:
        return tuple(picked)
    options = _options(written)
    for option in picked:
        if option not in options:
            raise FurcalError(f"item {written.id}: {shown(option)} was taken, which the paper does not offer; "
                              "give the paper that was sat.")  # fmt: skip
    return options


def _distractor(option: str, row: Sequence[Given | None], rest: Sequence[int]) -> Distractor:
    takes = [
        int(a is not None and not a.right and _is_option(a.response) and words_of(a.response) == option) for a in row
    ]
    return Distractor(option, sum(takes), sum(takes) / len(row), discrimination(takes, rest)[0])


def _instead(answers: Sequence[Given]) -> tuple[tuple[str, int], ...]:
    """What was answered wrongly in free words, by a click or in another order: the most frequent first."""
    wrong = [a.response for a in answers if not a.right and not _is_option(a.response)]
    found = Counter(words_of(response) for response in wrong if not isinstance(response, Skipped))
    return tuple(sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))[:INSTEAD_MOST])


def _options(item: Item) -> tuple[str, ...]:
    """The wrong options of an item, as its responses name them."""
    match item.answer:
        case Chosen(_, wrong):
            return wrong
        case Quartered(_, _, right):
            return tuple(quarter for quarter in QUARTERS if quarter not in right)
    return ()


def words_of(response: Response) -> str:
    """A response in a few words, so that equal ones are counted together."""
    match response:
        case Said(words):
            return " ".join(words.casefold().split())
        case Picked(words) | Quarter(words):
            return words
        case Clicked(structure):
            return structure
        case Segments(words_):
            return " ".join(words_)
        case Arranged(words_):
            return ", ".join(words_)
        case Placed(portal):
            return f"{portal.level} {portal.side} {portal.approach}"
        case Skipped():
            return ""


# --- the paper as a whole


def reliability(columns: Sequence[Sequence[int]]) -> Reliability:
    """KR-20 where every score is all or nothing, else Cronbach's alpha.

    columns : for each item the candidates' scores in `UNIT`
    """
    name = KR20 if all(score in (0, UNIT) for column in columns for score in column) else ALPHA
    items, candidates = len(columns), len(columns[0])
    if items < 2:
        return Reliability(name, None, "one item alone has no reliability.")
    if candidates < 2:
        return Reliability(name, None, "one candidate alone tells nothing about reliability.")
    total = _spread([sum(row) for row in zip(*columns, strict=True)])
    if not total:
        return Reliability(name, None, "all candidates have the same score, so there is no spread to explain.")
    return Reliability(name, items / (items - 1) * (1 - sum(_spread(column) for column in columns) / total))


def _objectives(items: Sequence[ItemReport], candidates: int) -> tuple[ObjectiveReport, ...]:
    found = []
    for objective in OBJECTIVES:
        of = [item for item in items if item.objective == objective]
        if of:
            names = tuple(item.id for item in of)
            found.append(ObjectiveReport(objective, names, len(of) * candidates, sum(item.right for item in of)))
    return tuple(sorted(found, key=lambda o: o.share))
